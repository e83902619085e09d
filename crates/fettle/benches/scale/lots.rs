//! Numbers drawn from a seed, and words made of them.

/// A stream of numbers that is the same everywhere (splitmix64).
#[derive(Clone, Debug)]
pub(crate) struct Lots(u64);

const HEADS: [&str; 16] = [
    "bar", "cor", "dun", "fen", "gal", "hol", "ker", "lor", "mar", "nor", "pel", "quil", "ros",
    "sal", "tor", "ven",
];
const MIDDLES: [&str; 16] = [
    "a", "ae", "ba", "da", "e", "gi", "i", "ka", "lo", "mi", "no", "o", "ra", "si", "to", "u",
];
const TAILS: [&str; 16] = [
    "ck", "dor", "fen", "gard", "hald", "kin", "low", "mere", "ness", "rick", "sand", "ster",
    "thorn", "vik", "wen", "zell",
];

impl Lots {
    pub(crate) const fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut it = self.0;
        it = (it ^ (it >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        it = (it ^ (it >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        it ^ (it >> 31)
    }

    /// A number below this one, which is not 0.
    pub(crate) const fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    pub(crate) fn one_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    pub(crate) fn pick<'t, T>(&mut self, from: &'t [T]) -> &'t T {
        &from[self.below(from.len() as u64) as usize]
    }

    /// So many different ones of these, or all where there are fewer, in their order.
    pub(crate) fn some<T: Clone>(&mut self, from: &[T], many: usize) -> Vec<T> {
        let mut left = many.min(from.len());
        let mut picked = Vec::with_capacity(left);
        for (at, it) in from.iter().enumerate() {
            if self.below((from.len() - at) as u64) < left as u64 {
                picked.push(it.clone());
                left -= 1;
            }
        }
        picked
    }

    /// Minutes around these.
    pub(crate) fn minutes(&mut self, around: f64) -> f64 {
        (around * (0.6 + self.below(100) as f64 / 100.0) * 10.0).round() / 10.0
    }
}

/// An invented word, one of 4096.
pub(crate) fn word(n: u64) -> String {
    let [head, middle, tail] = [n, n / 16, n / 256].map(|part| (part % 16) as usize);
    format!("{}{}{}", HEADS[head], MIDDLES[middle], TAILS[tail])
}

/// The same with a capital letter, for a name.
pub(crate) fn name(n: u64) -> String {
    let word = word(n);
    let mut letters = word.chars();
    let first = letters.next().map(|it| it.to_ascii_uppercase());
    first.into_iter().chain(letters).collect()
}

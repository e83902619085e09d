//! What is thrown: numbers from a seed, and what somebody might type.

/// A stream of numbers that is the same everywhere (splitmix64).
#[derive(Debug)]
pub(crate) struct Dice(u64);

/// What no form expects, and what some do.
const TYPED: [&str; 40] = [
    "",
    " ",
    "0",
    "1",
    "2",
    "3",
    "7",
    "-1",
    "1,5",
    "0.5",
    "12.50",
    "1/125",
    "1e999",
    "NaN",
    "99999999999999999999999999",
    "79228162514264337593543950335",
    "2026-11-25",
    "2026-12-24",
    "2026-02-30",
    "0001-01-01",
    "9999-12-31",
    "yes",
    "no",
    "not-looked",
    "Ada Wren",
    "ada@wren.example",
    "the wind pawl",
    "‘ünïcödé’ ⚙",
    "'; DROP TABLE visit; --",
    "<script>alert(1)</script>",
    "\"&quot;&amp;",
    "a\nb\tc",
    "nothing\0here",
    "../../etc",
    "corran-66",
    "EUR",
    "proved",
    "home",
    "\u{202e}sdrawkcab",
    "1 2 3",
];

impl Dice {
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

    pub(crate) const fn below(&mut self, end: usize) -> usize {
        (self.next() % end as u64) as usize
    }

    pub(crate) const fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    pub(crate) fn pick<'t, T>(&mut self, from: &'t [T]) -> &'t T {
        &from[self.below(from.len())]
    }

    /// Anything that a hand or a program might put into a field.
    pub(crate) fn typed(&mut self) -> String {
        if self.one_in(60) {
            return "x".repeat(70_000);
        }
        (*self.pick(&TYPED)).to_owned()
    }

    /// What a field of this kind is made for.
    pub(crate) fn fitting(&mut self, kind: &str, name: &str) -> String {
        let number = |dice: &mut Self| {
            let numbers = [
                "1", "2", "3", "12", "0.5", "1.25", "40", "125", "0.01", "-0.3",
            ];
            (*dice.pick(&numbers)).to_owned()
        };
        match kind {
            "date" => format!("2026-{:02}-{:02}", 1 + self.below(12), 1 + self.below(28)),
            "number" => number(self),
            "email" => "ada@wren.example".to_owned(),
            "tel" => "0123 456".to_owned(),
            _ if name.contains("serial") => format!("K {}", 100 + self.below(40)),
            _ if self.one_in(3) => number(self),
            _ => (*self.pick(&[
                "the pawl",
                "Ada Wren",
                "it hangs",
                "clean and oil",
                "A1",
                "EUR",
                "25",
                "XTS",
            ]))
            .to_owned(),
        }
    }

    /// Bytes of a file: what some form is made for, or not.
    pub(crate) fn file(&mut self, files: &[(&'static str, Vec<u8>)]) -> (String, Vec<u8>) {
        let (name, bytes) = self.pick(files);
        let mut bytes = bytes.clone();
        if self.one_in(4) && !bytes.is_empty() {
            let at = self.below(bytes.len());
            if self.one_in(2) {
                bytes.truncate(at);
            } else {
                bytes[at] ^= 1 << self.below(8);
            }
        }
        let name = if self.one_in(5) {
            self.typed().replace(['\r', '\n', '"', '\0'], "")
        } else {
            (*name).to_owned()
        };
        (name, bytes)
    }
}

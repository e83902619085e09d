//! A set of small numbers.

/// Which removals, by their place in the notes.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Set(Vec<u64>);

impl Set {
    /// The empty set of numbers below `count`.
    pub(crate) fn below(count: usize) -> Self {
        Self(vec![0; count.div_ceil(64)])
    }

    /// Whether the number is in it.
    pub(crate) fn has(&self, n: usize) -> bool {
        self.0[n / 64] >> (n % 64) & 1 == 1
    }

    /// Puts a number in; whether it is new.
    pub(crate) fn add(&mut self, n: usize) -> bool {
        let new = !self.has(n);
        self.0[n / 64] |= 1 << (n % 64);
        new
    }

    /// Puts all of another set in.
    pub(crate) fn add_all(&mut self, other: &Self) {
        for (word, more) in self.0.iter_mut().zip(&other.0) {
            *word |= more;
        }
    }

    /// Whether each of its numbers is in one of two others.
    pub(crate) fn is_within(&self, one: &Self, other: &Self) -> bool {
        let words = self.0.iter().zip(one.0.iter().zip(&other.0));
        words.into_iter().all(|(mine, (a, b))| mine & !(a | b) == 0)
    }

    /// Its bits, 64 a word, the lowest numbers first.
    pub(crate) fn words(&self) -> &[u64] {
        &self.0
    }

    /// The numbers in it, in their order.
    pub(crate) fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        let bits = |word: u64| {
            std::iter::successors(Some(word), |left| Some(left & left.wrapping_sub(1)))
                .take_while(|left| *left != 0)
        };
        let words = self.0.iter().enumerate();
        words.flat_map(move |(at, word)| {
            bits(*word).map(move |left| at * 64 + left.trailing_zeros() as usize)
        })
    }

    /// How many.
    pub(crate) fn len(&self) -> usize {
        self.0.iter().map(|word| word.count_ones() as usize).sum()
    }
}

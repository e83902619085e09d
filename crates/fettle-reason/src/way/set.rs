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

    /// Whether all of another set are in it.
    pub(crate) fn holds(&self, other: &Self) -> bool {
        self.0
            .iter()
            .zip(&other.0)
            .all(|(mine, theirs)| theirs & !mine == 0)
    }

    /// The numbers in it, in their order.
    pub(crate) fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().enumerate().flat_map(|(at, word)| {
            (0..64)
                .filter(move |bit| word >> bit & 1 == 1)
                .map(move |bit| at * 64 + bit)
        })
    }

    /// How many.
    pub(crate) fn len(&self) -> usize {
        self.0.iter().map(|word| word.count_ones() as usize).sum()
    }
}

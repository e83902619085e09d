//! How far long work has come.

/// What is being done, and how much of it is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// What, in a word: `journal`, `files`.
    pub doing: &'static str,
    /// How many are done.
    pub done: u64,
    /// Of how many.
    pub of: u64,
}

impl Step {
    pub(crate) const fn new(doing: &'static str, done: u64, of: u64) -> Self {
        Self { doing, done, of }
    }
}

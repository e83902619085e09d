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
    /// So many of so many are done of this.
    #[must_use]
    pub const fn new(doing: &'static str, done: u64, of: u64) -> Self {
        Self { doing, done, of }
    }
}

/// What is told how far work has come.
pub(crate) type Progress<'p> = dyn FnMut(Step) + 'p;

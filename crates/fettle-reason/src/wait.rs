//! What a removal waits for: the one rule of what can come off.

/// What must be off before a part can come off, by parts or by their numbers.
///
/// Everything in `after`, and where there are alternatives one group of `either` wholly.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wait<'r, P> {
    pub(crate) after: &'r [P],
    pub(crate) either: &'r [Vec<P>],
}

impl<P> Wait<'_, P> {
    /// Whether nothing is waited for any more.
    pub(crate) fn is_over(&self, off: impl Fn(&P) -> bool) -> bool {
        self.after.iter().all(&off) && self.has_way(off)
    }

    /// Whether one of the alternatives is wholly off, or none is asked.
    pub(crate) fn has_way(&self, off: impl Fn(&P) -> bool) -> bool {
        self.either.is_empty() || self.either.iter().any(|group| group.iter().all(&off))
    }
}

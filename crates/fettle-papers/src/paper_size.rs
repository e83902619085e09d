//! The sheets a paper is printed on.

/// The size of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum PaperSize {
    /// ISO 216 A4, 210 × 297 mm.
    #[default]
    A4,
    /// North American letter, 215.9 × 279.4 mm.
    Letter,
}

impl PaperSize {
    /// The name the typesetter knows it by.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }

    /// Its width and height in millimetres.
    pub(crate) const fn sides_mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

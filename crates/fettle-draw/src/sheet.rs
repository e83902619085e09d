//! Where a drawing is to stand, and the colours that follow from it.

/// The ground a drawing is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sheet {
    /// Paper: plain colours and a named font, for a file that stands alone.
    #[default]
    Light,
    /// Inline on a page: colours come from the page's custom properties `--ink`, `--rule` and
    /// `--paper`, so that a dark sheet darkens the drawing too; the font is the page's.
    Inherit,
}

/// What a stroke or a fill is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    Ink,
    Rule,
    Paper,
}

impl Sheet {
    pub(crate) fn tone(self, tone: Tone) -> &'static str {
        match (self, tone) {
            (Self::Light, Tone::Ink) => "#16263d",
            (Self::Light, Tone::Rule) => "#8b95a5",
            (Self::Light, Tone::Paper) => "#ffffff",
            (Self::Inherit, Tone::Ink) => "var(--ink, #16263d)",
            (Self::Inherit, Tone::Rule) => "var(--rule, #8b95a5)",
            (Self::Inherit, Tone::Paper) => "var(--paper, #fbf9f4)",
        }
    }

    pub(crate) fn font(self) -> &'static str {
        match self {
            Self::Light => "Libertinus Serif",
            Self::Inherit => "inherit",
        }
    }
}

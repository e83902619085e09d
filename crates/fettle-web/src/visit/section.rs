//! The stretches of a visit's page, in the order of the work.

use fettle_bench::{Stage, VisitView};

/// One stretch of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Section {
    Arrived,
    LookedOver,
    Cause,
    Quote,
    Apart,
    Repaired,
    PutBack,
    Proof,
    Bill,
    Papers,
    Home,
}

/// How a stretch stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Standing {
    Done,
    Now,
    /// Its turn has not come; it can be opened all the same.
    Later,
}

impl Section {
    pub(crate) const ALL: [Self; 11] = [
        Self::Arrived,
        Self::LookedOver,
        Self::Cause,
        Self::Quote,
        Self::Apart,
        Self::Repaired,
        Self::PutBack,
        Self::Proof,
        Self::Bill,
        Self::Papers,
        Self::Home,
    ];

    /// Its name in an address.
    pub(crate) fn id(self) -> &'static str {
        match self {
            Self::Arrived => "arrived",
            Self::LookedOver => "looked-over",
            Self::Cause => "cause",
            Self::Quote => "quote",
            Self::Apart => "apart",
            Self::Repaired => "repaired",
            Self::PutBack => "put-back",
            Self::Proof => "proof",
            Self::Bill => "bill",
            Self::Papers => "papers",
            Self::Home => "home",
        }
    }

    pub(crate) fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|section| section.id() == id)
    }

    pub(crate) fn title(self) -> &'static str {
        match self {
            Self::Arrived => "Arrived",
            Self::LookedOver => "Looked over",
            Self::Cause => "Cause",
            Self::Quote => "Quote",
            Self::Apart => "Apart",
            Self::Repaired => "Repaired",
            Self::PutBack => "Put back",
            Self::Proof => "Settings and proof",
            Self::Bill => "Bill and payments",
            Self::Papers => "Papers",
            Self::Home => "Home",
        }
    }

    /// The stretch whose turn it is; `None` when the camera is home.
    pub(crate) fn now(view: &VisitView) -> Option<Self> {
        match view.line.stage {
            Stage::Arrived => Some(Self::LookedOver),
            Stage::LookedOver if view.faults.is_empty() => Some(Self::Cause),
            Stage::LookedOver | Stage::Quoted => Some(Self::Quote),
            Stage::Agreed => Some(Self::Apart),
            Stage::Apart if view.pieces.iter().any(|piece| piece.returned.is_some()) => {
                Some(Self::PutBack)
            }
            Stage::Apart if !view.works.is_empty() || !view.parts.is_empty() => {
                Some(Self::Repaired)
            }
            Stage::Apart => Some(Self::Apart),
            Stage::Together => Some(Self::Proof),
            Stage::Proved => Some(Self::Papers),
            Stage::Packed | Stage::ReturnedUnrepaired => Some(Self::Home),
            Stage::Home => None,
        }
    }

    /// How it stands in this visit.
    pub(crate) fn standing(self, view: &VisitView) -> Standing {
        match Self::now(view) {
            None => Standing::Done,
            Some(now) if self == now => Standing::Now,
            Some(now) if self < now => Standing::Done,
            Some(_) => Standing::Later,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_section_is_found_by_its_name() {
        for section in Section::ALL {
            assert_eq!(Section::from_id(section.id()), Some(section));
        }
        assert_eq!(Section::from_id("nowhere"), None);
    }
}

//! Things that one may choose from the service notes or write in one's own words.

use fettle_bench::Term;
use fettle_notes::ServiceNotes;
use maud::{Markup, html};

use crate::form;

/// What kind of thing a field names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Of {
    Fault,
    Work,
    Part,
}

impl Of {
    /// The id of the list that fields offer.
    pub(crate) fn list(self) -> &'static str {
        match self {
            Self::Fault => "notes-faults",
            Self::Work => "notes-works",
            Self::Part => "notes-parts",
        }
    }

    fn names(self, notes: &ServiceNotes) -> Vec<(&str, &str)> {
        match self {
            Self::Fault => notes
                .faults
                .iter()
                .map(|(id, it)| (id.as_str(), it.name.as_str()))
                .collect(),
            Self::Work => notes
                .works
                .iter()
                .map(|(id, it)| (id.as_str(), it.name.as_str()))
                .collect(),
            Self::Part => notes
                .parts
                .iter()
                .map(|(id, it)| (id.as_str(), it.name.as_str()))
                .collect(),
        }
    }

    /// The list itself, once a page.
    pub(crate) fn offers(self, notes: Option<&ServiceNotes>) -> Markup {
        match notes {
            Some(notes) => form::offers(
                self.list(),
                self.names(notes).into_iter().map(|(_, name)| name),
            ),
            None => html! { datalist id=(self.list()) {} },
        }
    }

    /// The term for what was typed: the notes' own when they have one of that name or id.
    pub(crate) fn term(self, notes: Option<&ServiceNotes>, text: &str) -> Term {
        let known = notes.and_then(|notes| {
            self.names(notes)
                .into_iter()
                .find(|(id, name)| *id == text || name.eq_ignore_ascii_case(text))
        });
        match known {
            Some((id, name)) => Term::known(id, name),
            None => Term::own(text),
        }
    }
}

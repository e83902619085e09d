//! What the bench knows already, as rows of a table are held against it.

use std::sync::Arc;

use fettle_bench::{Bench, BenchError, Currency, Index, Term};
use fettle_notes::{FaultKind, ServiceNotes};

use crate::map::plain;

/// A bench as a plan sees it.
#[derive(Clone, Debug)]
pub struct Known {
    /// What stands in the record.
    pub(crate) index: Index,
    /// The service notes that can be used.
    notes: Vec<Arc<ServiceNotes>>,
    /// What the bench reckons in.
    pub(crate) currency: Currency,
}

impl Known {
    /// Reads what a plan needs of a bench.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn read(bench: &Bench) -> Result<Self, BenchError> {
        let models = bench.models();
        let notes = models.into_iter().filter_map(|model| model.notes).collect();
        Ok(Self::of(bench.index()?, notes, bench.settings()?.currency))
    }

    /// A bench that knows this, whose notes are these, and which reckons in this currency.
    #[must_use]
    pub const fn of(index: Index, notes: Vec<Arc<ServiceNotes>>, currency: Currency) -> Self {
        Self {
            index,
            notes,
            currency,
        }
    }

    /// The notes with this id.
    pub(crate) fn notes(&self, id: &str) -> Option<&ServiceNotes> {
        self.notes
            .iter()
            .map(Arc::as_ref)
            .find(|notes| notes.model.id.as_str() == id)
    }

    /// The notes of a model by its maker and name. The maker may be missing where one model alone is called so, or stand before the
    /// model.
    pub(crate) fn notes_of(&self, maker: &str, model: &str) -> Option<&ServiceNotes> {
        let (maker, model) = (plain(maker), plain(model));
        let mut fitting = self.notes.iter().map(Arc::as_ref).filter(|notes| {
            let (its_maker, its_name) = (plain(&notes.model.maker), plain(&notes.model.name));
            let alone = model == its_name && (maker.is_empty() || maker == its_maker);
            alone || format!("{maker}{model}") == format!("{its_maker}{its_name}")
        });
        let found = fitting.next();
        found.filter(|_| fitting.next().is_none())
    }
}

/// Maker and name, as the record names the model of a part.
pub(crate) fn model_name(notes: &ServiceNotes) -> String {
    let name = format!("{} {}", notes.model.maker, notes.model.name);
    name.trim().to_owned()
}

/// The notes' part of that id or name, else own words.
pub(crate) fn part(notes: Option<&ServiceNotes>, text: &str) -> Term {
    let parts = notes.into_iter().flat_map(|notes| notes.parts.iter());
    term(
        parts.map(|(id, part)| (id.as_str(), part.name.as_str())),
        text,
    )
}

/// The notes' work of that id or name, else own words.
pub(crate) fn work(notes: Option<&ServiceNotes>, text: &str) -> Term {
    let works = notes.into_iter().flat_map(|notes| notes.works.iter());
    term(
        works.map(|(id, work)| (id.as_str(), work.name.as_str())),
        text,
    )
}

/// The notes' fault of that id or name, else own words; and whether it is a cause.
pub(crate) fn fault(notes: Option<&ServiceNotes>, text: &str) -> (Term, bool) {
    let faults = || notes.into_iter().flat_map(|notes| notes.faults.iter());
    let term = term(
        faults().map(|(id, fault)| (id.as_str(), fault.name.as_str())),
        text,
    );
    let is_cause = faults()
        .any(|(id, fault)| term.id.as_deref() == Some(id.as_str()) && fault.is == FaultKind::Cause);
    (term, is_cause)
}

fn term<'n>(mut names: impl Iterator<Item = (&'n str, &'n str)>, text: &str) -> Term {
    let wanted = plain(text);
    let found = names.find(|(id, name)| plain(id) == wanted || plain(name) == wanted);
    found.map_or_else(|| Term::own(text), |(id, name)| Term::known(id, name))
}

//! What each visit adds to what is learned, kept between readings.
//!
//! A reading after a change reads anew only the visits that the journal's newer entries touched, so that it costs the same at any size of
//! the record. What is kept is a cache: [`read::sums_of`] makes it from the tables, and a test holds the two against each other after
//! every kind of change.

mod learned;

use std::{
    collections::{BTreeMap, HashMap, HashSet},
    sync::{Arc, Mutex, PoisonError},
};

use jiff::civil::Date;
use rusqlite::Connection;
use rust_decimal::Decimal;

pub(crate) use self::learned::learned;
use crate::{
    error::BenchError,
    ids::{EntryId, VisitId},
    money::Currency,
    read,
    store::Store,
    taught::Finished,
    term::Term,
    words::{FaultIs, Grade},
};

/// What one visit adds.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct VisitSum {
    pub(crate) arrived: Date,
    /// Whether it has come as far as the proof.
    pub(crate) finished: bool,
    pub(crate) unrepaired: bool,
    /// The service notes of its camera.
    pub(crate) notes_id: Option<Arc<str>>,
    pub(crate) guarantee_of: Option<VisitId>,
    /// Faults that were found, as they were recorded.
    pub(crate) faults: Vec<(FaultIs, Arc<Term>)>,
    pub(crate) quoted: Option<QuotedMinutes>,
    /// Parts fitted, taken from drawers and brought back, in pieces.
    pub(crate) parts: Vec<(Arc<str>, Grade, i64)>,
    /// Days from its arrival until it was last sent.
    pub(crate) sent_after: Option<i32>,
    /// Its bills and credit notes; `None` when exact decimals cannot hold one.
    pub(crate) charges: Option<Vec<Charge>>,
}

/// Minutes that were agreed to, and what they came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct QuotedMinutes {
    pub(crate) likely: f64,
    pub(crate) nine_in_ten: f64,
    pub(crate) took: f64,
}

/// What a bill brings, or a credit note takes back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Charge {
    pub(crate) on: Date,
    pub(crate) currency: Currency,
    pub(crate) net: Decimal,
    pub(crate) tax: Decimal,
}

/// What every visit adds, as the journal's last entry left it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Sums {
    upto: Option<EntryId>,
    visits: BTreeMap<VisitId, Arc<VisitSum>>,
    alike: Alike,
}

/// Terms and words that many visits share are kept once.
#[derive(Clone, Debug, Default)]
pub(crate) struct Alike {
    terms: HashMap<Term, Arc<Term>>,
    words: HashSet<Arc<str>>,
}

impl Alike {
    pub(crate) fn term(&mut self, term: Term) -> Arc<Term> {
        let kept = self
            .terms
            .entry(term)
            .or_insert_with_key(|it| Arc::new(it.clone()));
        Arc::clone(kept)
    }

    pub(crate) fn words(&mut self, words: &str) -> Arc<str> {
        if let Some(kept) = self.words.get(words) {
            return Arc::clone(kept);
        }
        let kept: Arc<str> = words.into();
        self.words.insert(Arc::clone(&kept));
        kept
    }
}

impl Sums {
    /// Reads what is missing up to the journal's last entry.
    fn catch_up(&mut self, connection: &Connection) -> rusqlite::Result<()> {
        let last = read::last_entry(connection)?;
        if self.upto == Some(last) {
            return Ok(());
        }
        // A record that was set back, as by a restored copy, is read anew.
        let upto = self.upto.filter(|upto| *upto < last);
        let changed = match upto {
            Some(upto) => read::visits_touched(connection, upto)?,
            None => None,
        };
        let anew = read::sums_of(connection, changed.as_ref(), &mut self.alike)?;
        match &changed {
            Some(changed) => self.visits.retain(|visit, _| !changed.contains(visit)),
            None => self.visits.clear(),
        }
        let anew = anew.into_iter().map(|(visit, sum)| (visit, Arc::new(sum)));
        self.visits.extend(anew);
        self.upto = Some(last);
        Ok(())
    }
}

impl Sums {
    /// The finished visits of cameras with these service notes, oldest first.
    pub(crate) fn finished(&self, notes_id: &str) -> Finished {
        let visits = self.visits.iter();
        let of_it =
            visits.filter(|(_, it)| it.finished && it.notes_id.as_deref() == Some(notes_id));
        of_it.map(|(visit, it)| (*visit, Arc::clone(it))).collect()
    }
}

/// The sums as last read.
#[derive(Debug, Default)]
pub(crate) struct SumsKept(Mutex<Arc<Sums>>);

impl SumsKept {
    /// The sums as they stand now.
    pub(crate) fn current(&self, store: &Store) -> Result<Arc<Sums>, BenchError> {
        // Held while reading, so that two pages after one change read it once.
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        store.read(|connection| Arc::make_mut(&mut kept).catch_up(connection))?;
        Ok(Arc::clone(&kept))
    }
}

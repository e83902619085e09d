//! What was reckoned of parts today, kept until pieces of their model come or go: a cache, held against reading anew by a test.

use std::{
    collections::{BTreeSet, HashMap},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

use fettle_reason::demand::{Pieces, Prior};
use jiff::civil::Date;

use super::Like;
use crate::{
    error::BenchError,
    ids::{EntryId, PartId},
    read,
    store::Store,
};

/// Pieces needed in so many years, told by its bits; `None` where the use cannot be reckoned with.
type Needed = Option<Arc<Pieces>>;

#[derive(Debug, Default)]
pub(crate) struct Reckoned(Mutex<Kept>);

#[derive(Debug, Default)]
struct Kept {
    upto: Option<EntryId>,
    today: Option<Date>,
    priors: HashMap<Like, Prior>,
    /// Beside the model that the part belongs to.
    pieces: HashMap<(PartId, u64), (String, Needed)>,
}

impl Reckoned {
    fn held(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Forgets what the journal's newer entries, or another day, made untrue, and gives the last entry: what is read from then on may be
    /// kept with it.
    pub(super) fn catch_up(&self, store: &Store, today: Date) -> Result<EntryId, BenchError> {
        let mut kept = self.held();
        let upto = kept.upto.filter(|_| kept.today == Some(today));
        let (last, touched) = store.read(|connection| {
            let last = read::last_entry(connection)?;
            let touched = match upto {
                Some(upto) if upto == last => Some(Some(BTreeSet::new())),
                Some(upto) if upto < last => Some(read::models_touched(connection, upto)?),
                _ => None,
            };
            Ok((last, touched.flatten()))
        })?;
        match touched {
            Some(models) => {
                kept.priors.retain(|(model, _), _| !models.contains(model));
                kept.pieces.retain(|_, (model, _)| !models.contains(model));
            }
            None => {
                kept.priors.clear();
                kept.pieces.clear();
            }
        }
        kept.upto = Some(last);
        kept.today = Some(today);
        Ok(last)
    }

    pub(super) fn prior(&self, like: &Like) -> Option<Prior> {
        self.held().priors.get(like).cloned()
    }

    pub(super) fn keep_prior(&self, at: EntryId, like: Like, prior: &Prior) {
        let mut kept = self.held();
        // Another page may have caught up with a change meanwhile.
        if kept.upto == Some(at) {
            kept.priors.insert(like, prior.clone());
        }
    }

    /// `None` when it was not reckoned yet.
    pub(super) fn pieces(&self, part: PartId, years: f64) -> Option<Needed> {
        let kept = self.held();
        let (_, needed) = kept.pieces.get(&(part, years.to_bits()))?;
        Some(needed.clone())
    }

    pub(super) fn keep_pieces(
        &self,
        at: EntryId,
        (part, years): (PartId, f64),
        model: String,
        needed: &Needed,
    ) {
        let mut kept = self.held();
        if kept.upto != Some(at) {
            return;
        }
        kept.pieces
            .insert((part, years.to_bits()), (model, needed.clone()));
    }
}

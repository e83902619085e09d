//! The lessons of each model as last learned.

use std::{
    collections::{BTreeSet, HashMap},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

use fettle_notes::ServiceNotes;
use fettle_reason::cause::Network;

use crate::{
    ids::VisitId,
    lessons::{Case, Lessons, from_cases},
    sums::VisitSum,
    view::VisitView,
};

/// Finished visits, oldest first, each with its sum: a visit that changed has another.
pub(crate) type Finished = Vec<(VisitId, Arc<VisitSum>)>;

/// What was learned, model by model.
#[derive(Debug, Default)]
pub(crate) struct Taught {
    models: Mutex<HashMap<String, Learned>>,
    /// Models whose visits say more than was learned.
    due: Mutex<BTreeSet<String>>,
    /// Held by who learns from many visits: one model at a time, for it takes a processor.
    learning: Mutex<()>,
}

#[derive(Clone, Debug)]
struct Learned {
    notes: Arc<ServiceNotes>,
    from: Finished,
    /// The case of each visit in `from`.
    cases: Vec<Arc<Case>>,
    lessons: Arc<Lessons>,
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

fn alike(one: &Finished, other: &Finished) -> bool {
    let mut pairs = one.iter().zip(other);
    one.len() == other.len()
        && pairs.all(|((a, sum), (b, as_well))| a == b && Arc::ptr_eq(sum, as_well))
}

impl Taught {
    /// The lessons if they were learned from these notes and these visits as they are.
    pub(crate) fn known(
        &self,
        id: &str,
        notes: &Arc<ServiceNotes>,
        from: &Finished,
    ) -> Option<Arc<Lessons>> {
        let models = held(&self.models);
        let learned = models.get(id)?;
        let holds = Arc::ptr_eq(&learned.notes, notes) && alike(&learned.from, from);
        holds.then(|| Arc::clone(&learned.lessons))
    }

    /// The lessons last learned from these notes, whatever happened since.
    pub(crate) fn last(&self, id: &str, notes: &Arc<ServiceNotes>) -> Option<Arc<Lessons>> {
        let models = held(&self.models);
        let learned = models.get(id)?;
        Arc::ptr_eq(&learned.notes, notes).then(|| Arc::clone(&learned.lessons))
    }

    /// Learns from these visits and keeps it; only those that changed since the last time are read.
    pub(crate) fn learn<E>(
        &self,
        id: &str,
        notes: &Arc<ServiceNotes>,
        from: Finished,
        read: impl Fn(VisitId) -> Result<VisitView, E>,
    ) -> Result<Arc<Lessons>, E> {
        let network = Network::of(notes);
        let before = held(&self.models).get(id).cloned();
        let before = before.filter(|it| Arc::ptr_eq(&it.notes, notes));
        let kept: HashMap<VisitId, (&Arc<VisitSum>, &Arc<Case>)> = before
            .iter()
            .flat_map(|it| it.from.iter().zip(&it.cases))
            .map(|((visit, sum), case)| (*visit, (sum, case)))
            .collect();
        let case = |(visit, sum): &(VisitId, Arc<VisitSum>)| match kept.get(visit) {
            Some((of, case)) if Arc::ptr_eq(of, sum) => Ok(Arc::clone(case)),
            _ => Ok(Arc::new(Case::of(notes, &network, &read(*visit)?))),
        };
        let cases: Vec<Arc<Case>> = from.iter().map(case).collect::<Result<_, E>>()?;
        let lessons = Arc::new(from_cases(notes, &network, &cases.iter().map(|it| &**it)));
        let learned = Learned {
            notes: Arc::clone(notes),
            from,
            cases,
            lessons: Arc::clone(&lessons),
        };
        held(&self.models).insert(id.to_owned(), learned);
        Ok(lessons)
    }

    /// Notes that a model's visits say more than was learned of it.
    pub(crate) fn put_off(&self, id: &str) {
        held(&self.due).insert(id.to_owned());
    }

    /// A model that was put off, unless somebody learns now.
    pub(crate) fn take_due(&self) -> Option<String> {
        let _free = self.learning.try_lock().ok()?;
        held(&self.due).pop_first()
    }

    /// Waits until nobody else learns from many visits.
    pub(crate) fn alone(&self) -> MutexGuard<'_, ()> {
        held(&self.learning)
    }
}

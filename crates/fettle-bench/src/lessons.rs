//! What finished visits taught about a model: chances and minutes.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};

use fettle_notes::{NewFigure, PartId, ServiceNotes, WorkId};
use fettle_reason::{
    LearnedMinutes,
    cause::{Evidence, Lesson, Network, learn},
    learn_minutes,
};

use crate::{
    ids::{EntryId, VisitId},
    known::known,
    view::{Piece, VisitView},
};

/// A removal is timed by the entry before it; a longer gap was a pause, in minutes and against the author's figure.
const PAUSE_MINUTES: f64 = 20.0;
const PAUSE_TIMES: f64 = 5.0;
/// Figures of which less was seen are left as the author wrote them, in cameras' worth of seeing.
const LEAST_SEEN: f64 = 1.0;

/// What the finished visits of one model taught.
#[derive(Clone, Debug, PartialEq)]
pub struct Lessons {
    /// The chances, with the network as now believed.
    pub chances: Lesson,
    /// Minutes of the removals that were timed, in the notes' order.
    pub removals: Vec<(PartId, LearnedMinutes)>,
    /// Minutes of the works that were counted, in the notes' order.
    pub works: Vec<(WorkId, LearnedMinutes)>,
}

/// Learns from finished visits of the model that the notes describe.
#[must_use]
pub fn lessons(notes: &ServiceNotes, visits: &[VisitView]) -> Lessons {
    let network = Network::of(notes);
    let cameras: Vec<Evidence> = visits
        .iter()
        .map(|visit| known(visit, notes, &network))
        .collect();
    let mut worked: HashMap<&str, Vec<f64>> = HashMap::new();
    let mut removed: HashMap<&str, Vec<f64>> = HashMap::new();
    for visit in visits {
        for kept in &visit.works {
            if let (Some(id), Some(minutes)) = (kept.what.work.id.as_deref(), kept.what.minutes) {
                worked.entry(id).or_default().push(minutes);
            }
        }
        for (piece, minutes) in timed(&visit.pieces) {
            let Some((part, removal)) = notes.removals.entry(piece) else {
                continue;
            };
            let author = removal.minutes.to_f64();
            if minutes < PAUSE_MINUTES.max(PAUSE_TIMES * author) {
                removed.entry(part.as_str()).or_default().push(minutes);
            }
        }
    }
    let of = |seen: &HashMap<&str, Vec<f64>>, id: &str| seen.get(id).cloned().unwrap_or_default();
    let removals = notes.removals.iter();
    let removals =
        removals.map(|(id, it)| (id.clone(), it.minutes.to_f64(), of(&removed, id.as_str())));
    let works = notes.works.iter();
    let works = works.map(|(id, it)| (id.clone(), it.minutes.to_f64(), of(&worked, id.as_str())));
    Lessons {
        chances: learn(&network, &cameras),
        removals: learned(removals.collect()),
        works: learned(works.collect()),
    }
}

impl Lessons {
    /// The learned figures with their places in the file of notes, and remarks that tell the author's figure, what stands behind the
    /// new one and its 90 % interval.
    #[must_use]
    pub fn figures(&self, notes: &ServiceNotes) -> Vec<NewFigure<'_>> {
        let (circumstances, faults) = (notes.circumstances.len(), notes.faults.len());
        // Which node a chance belongs to: each begins with the one without a cause.
        let nodes = self.chances.chances.iter().scan(0, |node, it| {
            *node += usize::from(it.from.is_none());
            Some((*node, it))
        });
        let chances =
            nodes.filter(|(_, it)| it.seen >= LEAST_SEEN && it.chance > 0.0 && it.chance < 1.0);
        let chances = chances.map(|(node, it)| {
            let (table, own, links) = if node <= circumstances {
                ("circumstance", "chance", "")
            } else if node <= circumstances + faults {
                ("fault", "leak", "brought_on_by")
            } else {
                ("sign", "leak", "links")
            };
            let mut place = vec![table, it.id.as_str()];
            match &it.from {
                None => place.push(own),
                Some(from) => place.extend([links, from]),
            }
            NewFigure {
                place,
                value: it.chance,
                remark: format!(
                    "was {}; {:.0} seen, 90 % within {:.2} to {:.2}",
                    it.author, it.seen, it.low, it.high
                ),
            }
        });
        let removals = self
            .removals
            .iter()
            .map(|(id, it)| timed_figure("removal", id.as_str(), it));
        let works = self
            .works
            .iter()
            .map(|(id, it)| timed_figure("work", id.as_str(), it));
        chances.chain(removals).chain(works).collect()
    }
}

fn timed_figure<'a>(table: &'a str, id: &'a str, it: &LearnedMinutes) -> NewFigure<'a> {
    NewFigure {
        place: vec![table, id, "minutes"],
        value: it.likely,
        remark: format!(
            "was {}; {} timed, 90 % within {:.1} to {:.1}",
            it.author, it.cases, it.low, it.high
        ),
    }
}

/// The kinds that have cases, each with what was learned.
fn learned<T>(kinds: Vec<(T, f64, Vec<f64>)>) -> Vec<(T, LearnedMinutes)> {
    let figures: Vec<(f64, &[f64])> = kinds
        .iter()
        .map(|(_, author, cases)| (*author, cases.as_slice()))
        .collect();
    let learned = learn_minutes(&figures);
    kinds
        .into_iter()
        .zip(learned)
        .filter(|(_, learned)| learned.cases > 0)
        .map(|((id, ..), learned)| (id, learned))
        .collect()
}

/// Minutes from each piece to the next, by the part's id. Pieces recorded in one go say nothing.
fn timed(pieces: &[Piece]) -> impl Iterator<Item = (&str, f64)> {
    pieces.windows(2).filter_map(|pair| {
        let minutes = pair[1].at.duration_since(pair[0].at).as_secs_f64() / 60.0;
        let id = pair[1].what.piece.id.as_deref()?;
        (minutes > 0.1).then_some((id, minutes))
    })
}

/// The lessons of each model as last learned, with what they were learned from.
#[derive(Debug, Default)]
pub(crate) struct Taught(Mutex<HashMap<String, Learned>>);

#[derive(Debug)]
struct Learned {
    notes: Arc<ServiceNotes>,
    from: Vec<(VisitId, EntryId)>,
    lessons: Arc<Lessons>,
}

impl Taught {
    /// The lessons if they were learned from these notes and these visits, each as its last entry left it.
    pub(crate) fn known(
        &self,
        id: &str,
        notes: &Arc<ServiceNotes>,
        from: &[(VisitId, EntryId)],
    ) -> Option<Arc<Lessons>> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let learned = all.get(id)?;
        let holds = Arc::ptr_eq(&learned.notes, notes) && learned.from == from;
        holds.then(|| Arc::clone(&learned.lessons))
    }

    pub(crate) fn keep(
        &self,
        id: &str,
        notes: Arc<ServiceNotes>,
        from: Vec<(VisitId, EntryId)>,
        lessons: Arc<Lessons>,
    ) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let learned = Learned {
            notes,
            from,
            lessons,
        };
        all.insert(id.to_owned(), learned);
    }
}

//! What finished visits taught about a model: chances and minutes.

use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};

use fettle_measure::trim;
use fettle_notes::{LimitId, NewFigure, PartId, ServiceNotes, SettingId, WorkId};
use fettle_reason::{
    EffectSeen, LearnedEffect, LearnedMinutes, LearnedSuccess,
    cause::{Evidence, Lesson, Network, learn},
    learn_effect, learn_minutes, learn_success,
};

use crate::{
    ids::{EntryId, VisitId},
    known::known,
    trim::{Seen, effects_seen, trials_of, trim_readings, trim_state},
    view::{Piece, VisitView},
    words::Found,
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
    /// Success of the works that were tried, in the notes' order.
    pub successes: Vec<(WorkId, LearnedSuccess)>,
    /// Effects of the adjusters that were tried, in the notes' order.
    pub effects: Vec<TaughtEffect>,
    /// Every removal and every work, those never timed too: they take what their author says at the bench's pace.
    every_removal: Vec<(PartId, LearnedMinutes)>,
    every_work: Vec<(WorkId, LearnedMinutes)>,
}

/// What finished visits taught of one adjuster's effect on one reading.
#[derive(Clone, Debug, PartialEq)]
pub struct TaughtEffect {
    /// The setting.
    pub setting: SettingId,
    /// The adjuster's place among the setting's, from 0.
    pub adjuster: usize,
    /// The limit whose reading it moves.
    pub limit: LimitId,
    /// The figures, in the limit's unit per turn.
    pub learned: LearnedEffect,
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
    let (every_removal, every_work) = (learned(removals.collect()), learned(works.collect()));
    Lessons {
        chances: learn(&network, &cameras),
        removals: timed_ones(&every_removal),
        works: timed_ones(&every_work),
        successes: successes(notes, visits),
        effects: effects(notes, visits),
        every_removal,
        every_work,
    }
}

/// How often each work held: a work that cures a fault found is a case for each camera on which it was done, and did not hold when a
/// visit under the guarantee of that one found such a fault again.
fn successes(notes: &ServiceNotes, visits: &[VisitView]) -> Vec<(WorkId, LearnedSuccess)> {
    let mut found_again: HashMap<VisitId, Vec<&str>> = HashMap::new();
    for visit in visits {
        if let Some(earlier) = visit.line.guarantee_of {
            let again = found_again.entry(earlier).or_default();
            again.extend(faults_found(visit));
        }
    }
    let of = |id: &WorkId| {
        let cured: Vec<&str> = notes
            .faults
            .iter()
            .filter(|(_, fault)| fault.cured_by.contains(id))
            .map(|(fault, _)| fault.as_str())
            .collect();
        let (mut held, mut failed) = (0, 0);
        for visit in visits.iter().filter(|visit| did(visit, id)) {
            let there = faults_found(visit).filter(|fault| cured.contains(fault));
            let there: Vec<&str> = there.collect();
            if there.is_empty() {
                continue;
            }
            let again = found_again.get(&visit.line.visit);
            if again.is_some_and(|again| again.iter().any(|fault| there.contains(fault))) {
                failed += 1;
            } else {
                held += 1;
            }
        }
        (held, failed)
    };
    let works = notes.works.iter().filter_map(|(id, work)| {
        let (held, failed) = of(id);
        (held + failed > 0).then(|| {
            (
                id.clone(),
                learn_success(work.success.to_f64(), held, failed),
            )
        })
    });
    works.collect()
}

fn did(visit: &VisitView, work: &WorkId) -> bool {
    let mut works = visit.works.iter();
    works.any(|kept| kept.what.work.id.as_deref() == Some(work.as_str()))
}

/// The faults of the notes that were found at a visit.
fn faults_found(visit: &VisitView) -> impl Iterator<Item = &str> {
    let found = visit.faults.iter();
    let found = found.filter(|fault| fault.what.found == Found::Found);
    found.filter_map(|fault| fault.what.fault.id.as_deref())
}

/// What the trials of finished visits taught of the adjusters.
fn effects(notes: &ServiceNotes, visits: &[VisitView]) -> Vec<TaughtEffect> {
    let mut taught = Vec::new();
    for (id, setting) in notes.settings.iter() {
        let readings = trim_readings(notes, setting);
        let seen: Vec<Seen> = visits
            .iter()
            .filter_map(|visit| {
                // Without a turn nothing is learned of what a turn does.
                let trials = Some(trials_of(visit, id)).filter(|it| it.len() > 1)?;
                let state = trim_state(notes, id, setting, &trials, None)?;
                let advice = trim::advise(&state).ok()?;
                Some(effects_seen(&state, &advice))
            })
            .flatten()
            .collect();
        for (place, adjuster) in setting.adjusters.iter().enumerate() {
            for effect in &adjuster.effects {
                let Some(reading) = readings.iter().find(|it| it.limit_id == effect.limit) else {
                    continue;
                };
                let of_it = seen
                    .iter()
                    .filter(|it| it.adjuster == adjuster.name && it.reading == reading.name);
                let cameras: Vec<EffectSeen> = of_it.map(|it| it.effect).collect();
                let learned = learn_effect(effect.per_turn, effect.rel_u, &cameras);
                if let Some(learned) = learned.filter(|it| it.cameras > 0) {
                    taught.push(TaughtEffect {
                        setting: id.clone(),
                        adjuster: place,
                        limit: effect.limit.clone(),
                        learned,
                    });
                }
            }
        }
    }
    taught
}

impl Lessons {
    /// How long a work takes, without taking apart and putting back; `None` when the notes do not know it.
    #[must_use]
    pub fn work(&self, id: &WorkId) -> Option<&LearnedMinutes> {
        let mut works = self.every_work.iter();
        works.find(|(work, _)| work == id).map(|(_, it)| it)
    }

    /// How long a part takes to come off; `None` when the notes do not say how it does.
    #[must_use]
    pub fn removal(&self, id: &PartId) -> Option<&LearnedMinutes> {
        let mut removals = self.every_removal.iter();
        removals.find(|(part, _)| part == id).map(|(_, it)| it)
    }

    /// What was learned of one adjuster's effect on one limit's reading; `None` when it was never tried.
    #[must_use]
    pub fn effect(
        &self,
        setting: &SettingId,
        adjuster: usize,
        limit: &LimitId,
    ) -> Option<&LearnedEffect> {
        self.effects
            .iter()
            .find(|it| it.setting == *setting && it.adjuster == adjuster && it.limit == *limit)
            .map(|it| &it.learned)
    }

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
        let successes = self.successes.iter().filter_map(success_figure);
        let effects = self.effects.iter().filter_map(effect_figure);
        chances
            .chain(removals)
            .chain(works)
            .chain(successes)
            .chain(effects)
            .collect()
    }
}

/// The learned figure stays within what the notes may say.
fn success_figure((id, it): &(WorkId, LearnedSuccess)) -> Option<NewFigure<'_>> {
    (it.learned > 0.0 && it.learned < 1.0).then(|| NewFigure {
        place: vec!["work", id.as_str(), "success"],
        value: it.learned,
        remark: format!(
            "was {}; {} of {} held, 90 % within {:.2} to {:.2}",
            it.author,
            it.cases - it.failed,
            it.cases,
            it.low,
            it.high
        ),
    })
}

/// Places of adjusters as the file of notes is asked for them; the adviser takes no more than four.
const PLACES: [&str; 4] = ["0", "1", "2", "3"];

fn effect_figure(it: &TaughtEffect) -> Option<NewFigure<'_>> {
    let LearnedEffect {
        author,
        per_turn,
        low,
        high,
        cameras,
        ..
    } = it.learned;
    let adjuster = PLACES.get(it.adjuster)?;
    let limit = it.limit.as_str();
    Some(NewFigure {
        place: vec![
            "setting",
            it.setting.as_str(),
            "adjusters",
            adjuster,
            "effects",
            limit,
            "per_turn",
        ],
        value: per_turn,
        remark: format!("was {author}; {cameras} tried, 90 % within {low:.3} to {high:.3}"),
    })
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

/// Those that were timed.
fn timed_ones<T: Clone>(all: &[(T, LearnedMinutes)]) -> Vec<(T, LearnedMinutes)> {
    let timed = all.iter().filter(|(_, learned)| learned.cases > 0);
    timed.cloned().collect()
}

/// The kinds, each with what was learned.
fn learned<T>(kinds: Vec<(T, f64, Vec<f64>)>) -> Vec<(T, LearnedMinutes)> {
    let figures: Vec<(f64, &[f64])> = kinds
        .iter()
        .map(|(_, author, cases)| (*author, cases.as_slice()))
        .collect();
    let learned = learn_minutes(&figures);
    kinds
        .into_iter()
        .zip(learned)
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

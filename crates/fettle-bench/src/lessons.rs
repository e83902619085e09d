//! What finished visits taught about a model: chances and minutes.

use std::collections::HashMap;

use fettle_measure::trim;
use fettle_notes::{LimitId, NewFigure, PartId, ServiceNotes, SettingId, WorkId};
use fettle_reason::{
    EffectSeen, LearnedEffect, LearnedMinutes, LearnedSuccess,
    cause::{Evidence, Lesson, Network, learn},
    learn_effect, learn_minutes, learn_success,
};

use crate::{
    ids::VisitId,
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
    let cases: Vec<Case> = visits
        .iter()
        .map(|visit| Case::of(notes, &network, visit))
        .collect();
    from_cases(notes, &network, &cases.iter())
}

/// What one finished visit says of its model: all that is learned from, and no more, for many of them are kept.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    visit: VisitId,
    guarantee_of: Option<VisitId>,
    evidence: Evidence,
    /// Works that were done, by their place in the notes, each with its minutes if they were counted.
    works: Vec<(usize, Option<f64>)>,
    /// Removals that were timed, by their place in the notes.
    removals: Vec<(usize, f64)>,
    /// Faults of the notes that were found, by their place in them.
    faults: Vec<usize>,
    /// What the trials of each setting say, by its place in the notes.
    trials: Vec<(usize, Seen)>,
}

impl Case {
    pub(crate) fn of(notes: &ServiceNotes, network: &Network, visit: &VisitView) -> Self {
        let place_of_work = |id: &str| notes.works.iter().position(|(work, _)| work.as_str() == id);
        let works = visit.works.iter().filter_map(|kept| {
            let id = kept.what.work.id.as_deref()?;
            Some((place_of_work(id)?, kept.what.minutes))
        });
        let removals = timed(&visit.pieces).filter_map(|(piece, minutes)| {
            let mut removals = notes.removals.iter();
            let place = removals.position(|(part, _)| part.as_str() == piece)?;
            let author = notes.removals.entry(piece)?.1.minutes.to_f64();
            (minutes < PAUSE_MINUTES.max(PAUSE_TIMES * author)).then_some((place, minutes))
        });
        let found = visit
            .faults
            .iter()
            .filter(|fault| fault.what.found == Found::Found);
        let faults = found.filter_map(|fault| {
            let id = fault.what.fault.id.as_deref()?;
            notes.faults.iter().position(|(it, _)| it.as_str() == id)
        });
        Self {
            visit: visit.line.visit,
            guarantee_of: visit.line.guarantee_of,
            evidence: known(visit, notes, network),
            works: works.collect(),
            removals: removals.collect(),
            faults: faults.collect(),
            trials: trials(notes, visit),
        }
    }

    fn did(&self, work: usize) -> bool {
        self.works.iter().any(|(place, _)| *place == work)
    }
}

/// What the trials of a visit say of each adjuster.
fn trials(notes: &ServiceNotes, visit: &VisitView) -> Vec<(usize, Seen)> {
    let settings = notes.settings.iter().enumerate();
    let seen = settings.filter_map(|(place, (id, setting))| {
        // Without a turn nothing is learned of what a turn does.
        let trials = Some(trials_of(visit, id)).filter(|it| it.len() > 1)?;
        let state = trim_state(notes, id, setting, &trials, None)?;
        let advice = trim::advise(&state).ok()?;
        let seen = effects_seen(&state, &advice);
        Some(seen.into_iter().map(move |seen| (place, seen)))
    });
    seen.flatten().collect()
}

/// Learns from cases, in the order of their visits.
pub(crate) fn from_cases<'c>(
    notes: &ServiceNotes,
    network: &Network,
    cases: &(impl Iterator<Item = &'c Case> + Clone),
) -> Lessons {
    let cameras: Vec<&Evidence> = cases.clone().map(|case| &case.evidence).collect();
    let mut worked = vec![Vec::new(); notes.works.len()];
    let mut removed = vec![Vec::new(); notes.removals.len()];
    for case in cases.clone() {
        for (place, minutes) in &case.works {
            worked[*place].extend(*minutes);
        }
        for (place, minutes) in &case.removals {
            removed[*place].push(*minutes);
        }
    }
    let removals = notes.removals.iter().zip(removed);
    let removals = removals.map(|((id, it), seen)| (id.clone(), it.minutes.to_f64(), seen));
    let works = notes.works.iter().zip(worked);
    let works = works.map(|((id, it), seen)| (id.clone(), it.minutes.to_f64(), seen));
    let (every_removal, every_work) = (learned(removals.collect()), learned(works.collect()));
    Lessons {
        chances: learn(network, &cameras),
        removals: timed_ones(&every_removal),
        works: timed_ones(&every_work),
        successes: successes(notes, cases),
        effects: effects(notes, cases),
        every_removal,
        every_work,
    }
}

/// How often each work held: a work that cures a fault found is a case for each camera on which it was done, and did not hold when a
/// visit under the guarantee of that one found such a fault again.
fn successes<'c>(
    notes: &ServiceNotes,
    cases: &(impl Iterator<Item = &'c Case> + Clone),
) -> Vec<(WorkId, LearnedSuccess)> {
    let mut found_again: HashMap<VisitId, Vec<usize>> = HashMap::new();
    for case in cases.clone() {
        if let Some(earlier) = case.guarantee_of {
            found_again.entry(earlier).or_default().extend(&case.faults);
        }
    }
    let of = |place: usize, id: &WorkId| {
        let cures = |fault: usize| {
            let fault = notes.faults.iter().nth(fault);
            fault.is_some_and(|(_, fault)| fault.cured_by.contains(id))
        };
        let cured: Vec<bool> = (0..notes.faults.len()).map(cures).collect();
        let (mut held, mut failed) = (0, 0);
        for case in cases.clone().filter(|case| case.did(place)) {
            let there = || case.faults.iter().filter(|fault| cured[**fault]);
            if there().next().is_none() {
                continue;
            }
            let again = found_again.get(&case.visit);
            if again.is_some_and(|again| there().any(|fault| again.contains(fault))) {
                failed += 1;
            } else {
                held += 1;
            }
        }
        (held, failed)
    };
    let works = notes.works.iter().enumerate();
    let works = works.filter_map(|(place, (id, work))| {
        let (held, failed) = of(place, id);
        (held + failed > 0).then(|| {
            (
                id.clone(),
                learn_success(work.success.to_f64(), held, failed),
            )
        })
    });
    works.collect()
}

/// What the trials of finished visits taught of the adjusters.
fn effects<'c>(
    notes: &ServiceNotes,
    cases: &(impl Iterator<Item = &'c Case> + Clone),
) -> Vec<TaughtEffect> {
    let mut taught = Vec::new();
    for (place_of_setting, (id, setting)) in notes.settings.iter().enumerate() {
        let readings = trim_readings(notes, setting);
        let seen = cases.clone().flat_map(|case| &case.trials);
        let seen: Vec<&Seen> = seen
            .filter(|(place, _)| *place == place_of_setting)
            .map(|(_, seen)| seen)
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

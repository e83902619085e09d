//! Between the trimming adviser and the record: a setting of the notes and its trials as the adviser's state.

use std::collections::BTreeMap;

use fettle_measure::trim;
use fettle_notes::{Limit, LimitId, ServiceNotes, Setting, SettingId};
use fettle_reason::EffectSeen;

use crate::{
    change::{TrialMade, TrialReading},
    lessons::Lessons,
    view::VisitView,
};

/// One reading of a setting: the limit that it is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct TrimReading {
    /// The limit of the service notes.
    pub limit_id: LimitId,
    /// What it is called, told apart from the others of its setting.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// What it should be, in the unit.
    pub target: f64,
    /// How far it may be off either way, in the unit.
    pub limit: f64,
}

/// The readings that the adjusters of a setting move, in the notes' order; yes-or-no limits are none.
#[must_use]
pub fn trim_readings(notes: &ServiceNotes, setting: &Setting) -> Vec<TrimReading> {
    let moved = |id: &LimitId| {
        let effects = setting.adjusters.iter().flat_map(|it| &it.effects);
        effects.into_iter().any(|effect| effect.limit == *id)
    };
    let mut readings: Vec<TrimReading> = notes
        .limits
        .iter()
        .filter(|(id, _)| moved(id))
        .filter_map(|(id, limit)| {
            let (target, within) = held_to(limit)?;
            Some(TrimReading {
                limit_id: id.clone(),
                name: limit.name().to_owned(),
                unit: limit.unit()?.to_owned(),
                target,
                limit: within,
            })
        })
        .collect();
    let names: Vec<String> = readings.iter().map(|it| it.name.clone()).collect();
    for reading in &mut readings {
        if names.iter().filter(|name| **name == reading.name).count() > 1 {
            reading.name = format!("{} ({})", reading.name, reading.limit_id);
        }
    }
    readings
}

/// Target and greatest deviation of what an adjuster moves, in the limit's unit.
fn held_to(limit: &Limit) -> Option<(f64, f64)> {
    match limit {
        Limit::Register(it) => Some((it.target_mm, it.limit_mm)),
        Limit::Reading(it) => Some((it.target, it.limit)),
        Limit::Rangefinder(it) => Some((0.0, it.limit_depths)),
        Limit::Meter(it) => Some((0.0, it.limit_stops)),
        // Whichever mark is read, the narrowest tolerance serves it.
        Limit::Shutter(it) => it
            .tolerances
            .iter()
            .map(|tolerance| tolerance.stops)
            .min_by(f64::total_cmp)
            .map(|stops| (0.0, stops)),
        Limit::Teeth(_) | Limit::Check(_) => None,
    }
}

/// The trials of a setting that count: from the last time it was read as found.
#[must_use]
pub fn trials_of<'a>(view: &'a VisitView, setting: &SettingId) -> Vec<&'a TrialMade> {
    let of_setting = view
        .trials
        .iter()
        .map(|kept| &kept.what)
        .filter(|trial| trial.setting.id.as_deref() == Some(setting.as_str()));
    let mut series: Vec<&TrialMade> = Vec::new();
    for trial in of_setting {
        if trial.as_found {
            series.clear();
        }
        series.push(trial);
    }
    series
}

/// What the adviser is asked: the setting's adjusters with the effects that visits taught where they did, else the notes',
/// and the trials of one series, the first as found.
///
/// A trial says nothing of a reading or an adjuster that the notes no longer have. `None` when the notes give no adjuster or no
/// reading that can be trimmed, or there is no trial.
#[must_use]
pub fn trim_state(
    notes: &ServiceNotes,
    id: &SettingId,
    setting: &Setting,
    trials: &[&TrialMade],
    lessons: Option<&Lessons>,
) -> Option<trim::State> {
    let asked = trim_readings(notes, setting);
    let said = |reading: &TrimReading| {
        let mut latest = trials.iter().rev();
        latest.find_map(|trial| of_limit(trial, &reading.limit_id))
    };
    let read: Vec<(&TrimReading, f64)> = asked
        .iter()
        .filter_map(|reading| Some((reading, said(reading)?.repeatability)))
        .collect();
    let adjusters: Vec<trim::Adjuster> = setting
        .adjusters
        .iter()
        .enumerate()
        .map(|(place, it)| trim::Adjuster {
            name: it.name.clone(),
            effects: effects(id, place, it, &read, lessons),
            backlash_turns: it.backlash_turns,
            min_turns: it.min_turns,
            max_turns: it.max_turns,
        })
        .filter(|it| !it.effects.is_empty())
        .collect();
    if adjusters.is_empty() || trials.is_empty() {
        return None;
    }
    let trials = trials
        .iter()
        .enumerate()
        .map(|(n, trial)| trim::Trial {
            turns: adjusters
                .iter()
                .map(|adjuster| {
                    if n == 0 {
                        0.0
                    } else {
                        turned(trial, &adjuster.name)
                    }
                })
                .collect(),
            readings: read
                .iter()
                .map(|(reading, _)| of_limit(trial, &reading.limit_id)?.value)
                .collect(),
        })
        .collect();
    let readings = read
        .iter()
        .map(|(reading, repeatability)| trim::Reading {
            name: reading.name.clone(),
            unit: reading.unit.clone(),
            target: reading.target,
            limit: reading.limit,
            repeatability: *repeatability,
        })
        .collect();
    Some(trim::State {
        format: trim::Format::Trim1,
        adjusters,
        readings,
        trials,
    })
}

fn effects(
    id: &SettingId,
    place: usize,
    adjuster: &fettle_notes::Adjuster,
    read: &[(&TrimReading, f64)],
    lessons: Option<&Lessons>,
) -> BTreeMap<String, trim::Effect> {
    let named = |limit: &LimitId| {
        let mut among = read.iter().map(|(reading, _)| reading);
        let reading = among.find(|reading| reading.limit_id == *limit)?;
        Some(reading.name.clone())
    };
    adjuster
        .effects
        .iter()
        .filter_map(|effect| Some((named(&effect.limit)?, effect)))
        .map(|(name, effect)| {
            let learned = lessons.and_then(|it| it.effect(id, place, &effect.limit));
            let believed = learned.map_or(
                trim::Effect {
                    per_turn: effect.per_turn,
                    rel_u: effect.rel_u,
                },
                |it| trim::Effect {
                    per_turn: it.per_turn,
                    rel_u: it.rel_u,
                },
            );
            (name, believed)
        })
        .collect()
}

fn of_limit<'a>(trial: &'a TrialMade, limit: &LimitId) -> Option<&'a TrialReading> {
    trial
        .readings
        .iter()
        .find(|one| one.limit_id == limit.as_str())
}

fn turned(trial: &TrialMade, adjuster: &str) -> f64 {
    trial
        .turned
        .iter()
        .filter(|one| one.adjuster == adjuster)
        .map(|one| one.turns)
        .sum()
}

/// What the trials of one camera say of an effect.
#[derive(Clone, Debug)]
pub(crate) struct Seen {
    /// The adjuster, as the notes call it.
    pub(crate) adjuster: String,
    /// The reading, as [`TrimReading::name`] has it.
    pub(crate) reading: String,
    pub(crate) effect: EffectSeen,
}

/// What the trials of one camera say of each effect by themselves: what was believed before them is taken out of what is
/// believed after (both normal, so their weights subtract). Effects of which the trials say next to nothing are left out.
pub(crate) fn effects_seen(state: &trim::State, advice: &trim::Advice) -> Vec<Seen> {
    /// An effect is seen when its variance fell to this part or lower.
    const SEEN: f64 = 0.7;
    let mut seen = Vec::new();
    let rows = advice.effects.iter().zip(&advice.effects_u);
    for (reading, (after, after_u)) in state.readings.iter().zip(rows) {
        let columns = after.iter().zip(after_u);
        for (adjuster, (after, after_u)) in state.adjusters.iter().zip(columns) {
            let Some(before) = adjuster.effects.get(&reading.name) else {
                continue;
            };
            let was = (before.per_turn * before.rel_u / 2.0).powi(2);
            let is = (after_u / 2.0).powi(2);
            if !(is > 0.0 && is < SEEN * was) {
                continue;
            }
            let weight = 1.0 / is - 1.0 / was;
            seen.push(Seen {
                adjuster: adjuster.name.clone(),
                reading: reading.name.clone(),
                effect: EffectSeen {
                    per_turn: (after / is - before.per_turn / was) / weight,
                    u: weight.sqrt().recip(),
                },
            });
        }
    }
    seen
}

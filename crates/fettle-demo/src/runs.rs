//! Runs of meter, register and rangefinder, and settings trimmed by trial, as a mechanic at the bench would take them.

use fettle_bench::{
    Change, Phase, ReadingTaken, Term, TrialMade, TrialReading, TrimReading, Turned, VisitId,
    meter_options, meter_reading, rangefinder_options, rangefinder_reading, register_options,
    register_reading, trim_readings, trim_state,
};
use fettle_measure::{meter, rangefinder, register, trim};
use fettle_notes::{Limit, MeterLimit, RangefinderLimit, RegisterLimit, ServiceNotes, SettingId};

use crate::lots::Lots;

/// A setting is not tried more often than this before somebody has tea.
const MOST_TRIALS: usize = 4;
/// One reading repeats to this part of what is allowed.
const REPEATS: f64 = 0.1;
/// How far an adjuster's effect differs from the notes', as a part of it: standard deviation.
const DIFFERS: f64 = 0.15;

/// A run against one limit, kept whole; `None` for limits that are read in another way.
pub(crate) fn run(
    visit: VisitId,
    phase: Phase,
    (id, limit): (&str, &Limit),
    lots: &mut Lots,
) -> Option<ReadingTaken> {
    // As it comes it may be off, as it goes it is near its place.
    let off = match phase {
        Phase::Before => lots.normal(),
        Phase::After => 0.25 * lots.normal(),
    };
    match limit {
        Limit::Register(limit) => register_run(visit, phase, id, limit, off, lots),
        Limit::Rangefinder(limit) => rangefinder_run(visit, phase, id, limit, off, lots),
        Limit::Meter(limit) => meter_run(visit, phase, id, limit, off, lots),
        Limit::Shutter(_) | Limit::Teeth(_) | Limit::Reading(_) | Limit::Check(_) => None,
    }
}

fn register_run(
    visit: VisitId,
    phase: Phase,
    id: &str,
    limit: &RegisterLimit,
    off: f64,
    lots: &mut Lots,
) -> Option<ReadingTaken> {
    let [width, height] = limit.frame_mm;
    let (w, h) = ((0.4 * width).round(), (0.4 * height).round());
    let tilt = 0.3 * off * limit.limit_mm / width * lots.between(-1.0, 1.0);
    let places = [(0.0, 0.0), (-w, h), (w, h), (w, -h), (-w, -h), (0.0, 0.0)];
    let readings: Vec<register::Reading> = (2..)
        .zip(places)
        .map(|(line, (x_mm, y_mm))| {
            let noise = 0.08 * limit.limit_mm * lots.normal();
            let depth = limit.target_mm + off * limit.limit_mm + tilt * x_mm + noise;
            register::Reading {
                line,
                x_mm,
                y_mm,
                reading_mm: (depth * 1000.0).round() / 1000.0,
            }
        })
        .collect();
    let report = register::analyse(&readings, &register_options(limit)).ok()?;
    register_reading(visit, phase, &report, Some(id)).ok()
}

fn rangefinder_run(
    visit: VisitId,
    phase: Phase,
    id: &str,
    limit: &RangefinderLimit,
    off: f64,
    lots: &mut Lots,
) -> Option<ReadingTaken> {
    let options = rangefinder_options(limit);
    let lens = options.lens().ok()?;
    let depth = limit.f * limit.coc_mm;
    let (infinity, rate) = (
        off * limit.limit_depths * depth,
        1.0 + 0.004 * lots.normal(),
    );
    let readings: Vec<rangefinder::Reading> = (2..)
        .zip(&limit.distances_m)
        .filter_map(|(line, &distance_m)| {
            let ideal = lens.extension_mm(distance_m * 1000.0)?;
            let read = infinity + rate * ideal + 0.15 * depth * lots.normal();
            Some(rangefinder::Reading {
                line,
                distance_m,
                extension_mm: (read * 1000.0).round() / 1000.0,
                vertical_arcmin: None,
            })
        })
        .collect();
    let report = rangefinder::analyse(&readings, &options).ok()?;
    rangefinder_reading(visit, phase, &report, Some(id)).ok()
}

fn meter_run(
    visit: VisitId,
    phase: Phase,
    id: &str,
    limit: &MeterLimit,
    off: f64,
    lots: &mut Lots,
) -> Option<ReadingTaken> {
    // An old cell falls behind as the light grows, which no setting takes out.
    let slope = -0.04 + 0.02 * lots.normal();
    let middle = 0.5 * (limit.from_ev + limit.to_ev);
    let (from, to) = (limit.from_ev.ceil() as i32, limit.to_ev.floor() as i32);
    let readings: Vec<meter::Reading> = (2..)
        .zip(from..=to)
        .map(|(line, ev)| {
            let true_ev = f64::from(ev);
            let error = off * limit.limit_stops + slope * (true_ev - middle) + 0.05 * lots.normal();
            meter::Reading {
                line,
                true_ev,
                indicated_ev: ((true_ev + error) * 10.0).round() / 10.0,
                resolution_stops: None,
            }
        })
        .collect();
    let report = meter::analyse(&readings, &meter_options(limit)).ok()?;
    meter_reading(visit, phase, &report, Some(id)).ok()
}

/// The trials that brought a setting inside, as the adviser led them; none where the notes give nothing to turn.
pub(crate) fn trials(
    visit: VisitId,
    notes: &ServiceNotes,
    id: &SettingId,
    lots: &mut Lots,
) -> Vec<Change> {
    let Some(setting) = notes.settings.get(id) else {
        return Vec::new();
    };
    let asked = trim_readings(notes, setting);
    if asked.is_empty() {
        return Vec::new();
    }
    let mechanism: Vec<Vec<f64>> = asked
        .iter()
        .map(|reading| {
            let per_turn = |adjuster: &fettle_notes::Adjuster| {
                let effects = adjuster.effects.iter();
                let mut of_it = effects.filter(|it| it.limit == reading.limit_id);
                of_it.next().map_or(0.0, |it| it.per_turn)
            };
            let adjusters = setting.adjusters.iter();
            adjusters
                .map(|it| per_turn(it) * (1.0 + DIFFERS * lots.normal()))
                .collect()
        })
        .collect();
    // Off by what some turns make, so that it can be turned back.
    let mut stands: Vec<f64> = setting
        .adjusters
        .iter()
        .map(|it| 0.5 * lots.between(it.min_turns.unwrap_or(-1.0), it.max_turns.unwrap_or(1.0)))
        .collect();
    let mut made: Vec<TrialMade> = Vec::new();
    let mut turned: Vec<Turned> = Vec::new();
    while made.len() <= MOST_TRIALS {
        let readings = (asked.iter().zip(&mechanism))
            .map(|(reading, effects)| read(reading, effects, &stands, lots));
        made.push(TrialMade {
            visit,
            setting: Term::known(id.as_str(), &setting.name),
            as_found: made.is_empty(),
            turned: std::mem::take(&mut turned),
            readings: readings.collect(),
            note: String::new(),
        });
        let known: Vec<&TrialMade> = made.iter().collect();
        let state = trim_state(notes, id, setting, &known, None);
        let advice = state.and_then(|state| trim::advise(&state).ok());
        let Some(advice) = advice.filter(|advice| !advice.inside) else {
            break;
        };
        for (place, turns) in advice.turns.iter().enumerate() {
            let turns = (turns * 100.0).round() / 100.0;
            if turns != 0.0 {
                stands[place] += turns;
                turned.push(Turned {
                    adjuster: setting.adjusters[place].name.clone(),
                    turns,
                });
            }
        }
        if turned.is_empty() {
            break;
        }
    }
    made.into_iter().map(Change::from).collect()
}

fn read(reading: &TrimReading, effects: &[f64], stands: &[f64], lots: &mut Lots) -> TrialReading {
    let moved: f64 = effects
        .iter()
        .zip(stands)
        .map(|(per_turn, at)| per_turn * at)
        .sum();
    let repeatability = REPEATS * reading.limit;
    let value = reading.target + moved + repeatability * lots.normal();
    let step = 0.02 * reading.limit;
    TrialReading {
        limit_id: reading.limit_id.as_str().to_owned(),
        value: Some(
            format!("{:.6}", (value / step).round() * step)
                .parse()
                .unwrap_or(value),
        ),
        repeatability,
    }
}

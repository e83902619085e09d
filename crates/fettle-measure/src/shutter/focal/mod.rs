//! Focal-plane shutters: two curtains pass sensors along the gate.
//!
//! `releases` puts the sensors' shots together, `trust` decides which show a sensor fully uncovered,
//! `passage` reads when the curtains pass, `lag` by how much later each sensor tells of it, and `run` and `shape` make of it the curtains' way over
//! the gate.

mod lag;
mod passage;
mod releases;
mod run;
mod sensor;
mod shape;
mod tail;
mod trust;

use std::collections::BTreeMap;

use lag::Flanks;
use releases::{Release, Seen};
use sensor::Sensor;
use shape::{Figures, Lit, Shape};

use super::beside::Beside;
use super::channel::{Channel, Raw};
use super::flash::{self, Full, Window};
use super::level::Pool;
use super::session::{self, Heard};
use super::size::Clock;
use super::{
    Curtain, Finding, FindingKind, Flag, Flash, Options, Position, Report, Shot, ShutterError,
    Trace, describe, lost, overview, patterns, said, speeds,
};
use crate::{Millimetres, Recording, Seconds, Stops};

/// The gate of 35 mm film, along the curtains' travel where they run sideways.
pub(super) const GATE_MM: f64 = 36.0;
/// Coverage factor of expanded uncertainties.
const K: f64 = 2.0;
/// A sensor's 10 to 90 % ramp where no shot shows it, in milliseconds.
const RAMP_MS: f64 = 0.6;

/// A recording's sensors and releases.
struct Take<'a> {
    recording: &'a Recording,
    sensors: Vec<Sensor<'a>>,
    releases: Vec<Release>,
}

/// Measures a session.
pub(super) fn analyse(session: &[Recording], options: &Options) -> Result<Report, ShutterError> {
    measured(session, options, tail::look)
}

/// The same while listening: sooner, without holding the closings against the openings.
pub(super) fn heard_so_far(
    session: &[Recording],
    options: &Options,
) -> Result<Report, ShutterError> {
    measured(session, options, |_| ())
}

fn measured(
    session: &[Recording],
    options: &Options,
    look_for_tail: fn(&mut Channel<'_>),
) -> Result<Report, ShutterError> {
    let gate = options.gate_mm.map_or(GATE_MM, Millimetres::to_mm);
    let clock = Clock::of(options);
    let mut findings = Vec::new();
    let mut takes = Vec::new();
    let beside: Vec<Beside> = session.iter().map(Beside::along_gate).collect();
    for (recording, beside) in session.iter().zip(&beside) {
        let mut heard = listen(recording, beside, options, gate, &mut findings)?;
        for sensor in &mut heard {
            look_for_tail(&mut sensor.heard.channel);
        }
        takes.push(Take {
            recording,
            sensors: heard,
            releases: Vec::new(),
        });
    }
    let is_empty = |it: &Heard<'_>| it.channel.shots.is_empty() && it.channel.cut_off.is_empty();
    if takes
        .iter()
        .flat_map(|it| &it.sensors)
        .all(|it| is_empty(&it.heard))
    {
        let heard: Vec<Heard<'_>> = takes
            .into_iter()
            .flat_map(|it| it.sensors)
            .map(|it| it.heard)
            .collect();
        return Err(describe::no_shot(session, &heard));
    }
    leave_out_blind(&mut takes, &mut findings);
    for sensor in takes.iter_mut().flat_map(|it| &mut it.sensors) {
        lost::look(&mut sensor.heard, &options.lost);
        describe::recording(&sensor.heard, &mut findings);
    }
    let pools = agree(&mut takes);
    for take in &mut takes {
        for sensor in &mut take.sensors {
            sensor.measure(pools.get(&sensor.heard.number), clock);
        }
        take.releases = releases::group(&take.sensors);
        releases::look_for_weak(&mut take.sensors, &mut take.releases);
        for sensor in &mut take.sensors {
            sensor.measure(pools.get(&sensor.heard.number), clock);
        }
    }
    let reversed = is_reversed(&takes);
    for take in &mut takes {
        drop_clicks(take, reversed);
    }
    settle_lags(&mut takes, &pools, gate, reversed);
    Ok(tell(session, &takes, options, findings, gate, reversed))
}

/// The channels of a recording with their places.
fn listen<'a>(
    recording: &'a Recording,
    beside: &'a Beside,
    options: &Options,
    gate: f64,
    findings: &mut Vec<Finding>,
) -> Result<Vec<Sensor<'a>>, ShutterError> {
    let wanted = session::wanted(recording, options)?;
    let places = &options.sensors_mm;
    let refuse = |reason: String| {
        Err(ShutterError::Option {
            option: "--sensors-mm",
            reason,
        })
    };
    if places.is_empty() {
        if !options.channels.is_empty() && wanted.len() > 1 {
            return refuse(format!(
                "say where the {} sensors stand along the gate, in the order of --channels",
                wanted.len()
            ));
        }
        let heard = session::choose(recording, beside, options, findings)?;
        let sensor = |it| Sensor::new(it, 0.5 * gate);
        return Ok(heard.into_iter().map(sensor).collect());
    }
    if places.len() != wanted.len() {
        return refuse(format!(
            "{} has {} channel{} to read, and {} place{} given: give one for each channel, without \
             the flash contact's",
            recording.name(),
            wanted.len(),
            if wanted.len() == 1 { "" } else { "s" },
            places.len(),
            if places.len() == 1 { " is" } else { "s are" },
        ));
    }
    let heard = session::listen(recording, beside, &wanted, findings);
    Ok(heard
        .into_iter()
        .filter_map(|it| {
            let index = wanted.iter().position(|number| *number == it.number)?;
            Some(Sensor::new(it, places.get(index)?.to_mm()))
        })
        .collect())
}

/// A sensor that sees no light in the whole session is dead, not capped.
fn leave_out_blind(takes: &mut [Take<'_>], findings: &mut Vec<Finding>) {
    let sees = |it: &Sensor<'_>| {
        !it.heard.channel.shots.is_empty() || !it.heard.channel.cut_off.is_empty()
    };
    let seeing: Vec<u16> = takes
        .iter()
        .flat_map(|it| &it.sensors)
        .filter(|it| sees(it))
        .map(|it| it.heard.number)
        .collect();
    for take in takes {
        let name = take.recording.name();
        take.sensors.retain(|it| {
            let kept = seeing.contains(&it.heard.number);
            if !kept {
                let number = Some(it.heard.number);
                findings.push(Finding::of_recording(
                    FindingKind::DeadChannel,
                    name,
                    number,
                ));
            }
            kept
        });
    }
}

/// Agrees the fully open level of each channel over the session: each sensor has a gain of its own.
fn agree(takes: &mut [Take<'_>]) -> BTreeMap<u16, Pool> {
    let mut numbers: Vec<u16> = takes
        .iter()
        .flat_map(|it| &it.sensors)
        .map(|it| it.heard.number)
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    let mut pools = BTreeMap::new();
    for number in numbers {
        let shots: Vec<&mut Raw> = takes
            .iter_mut()
            .flat_map(|it| &mut it.sensors)
            .filter(|it| it.heard.number == number)
            .flat_map(|it| &mut it.heard.channel.shots)
            .collect();
        trust::settle(shots);
        let mut shots = Vec::new();
        for sensor in takes.iter_mut().flat_map(|it| &mut it.sensors) {
            if sensor.heard.number == number {
                releases::undo_false_plateaus(&mut sensor.heard.channel);
                shots.extend(&sensor.heard.channel.shots);
            }
        }
        if let Some(pool) = Pool::of(shots.into_iter()) {
            pools.insert(number, pool);
        }
    }
    pools
}

/// Whether the curtains run from high `x_mm` to low: where the light comes later.
fn is_reversed(takes: &[Take<'_>]) -> bool {
    let mut sum = 0.0;
    for take in takes {
        for release in &take.releases {
            let lit: Vec<(f64, f64)> = take
                .sensors
                .iter()
                .zip(&release.seen)
                .filter_map(|(sensor, seen)| {
                    let Seen::Light(i) = seen else { return None };
                    let raw = sensor.heard.channel.shots.get(*i)?;
                    Some((
                        sensor.x,
                        raw.local.regions.first as f64 * sensor.heard.channel.signal.dt,
                    ))
                })
                .collect();
            let count = lit.len() as f64;
            let x = lit.iter().map(|it| it.0).sum::<f64>() / count;
            let time = lit.iter().map(|it| it.1).sum::<f64>() / count;
            sum += lit.iter().map(|it| (it.0 - x) * (it.1 - time)).sum::<f64>();
        }
    }
    sum < 0.0
}

/// The curtains uncover the sensors in order: light that one sensor alone saw, and not the first, is
/// a click.
fn drop_clicks(take: &mut Take<'_>, reversed: bool) {
    if take.sensors.len() < 3 {
        return;
    }
    let nearness = |x: f64| if reversed { -x } else { x };
    let sensors = &take.sensors;
    take.releases.retain(|release| {
        let lit: Vec<usize> = (0..sensors.len())
            .filter(|i| release.seen[*i] != Seen::Dark)
            .collect();
        let &[only] = lit.as_slice() else { return true };
        sensors
            .iter()
            .all(|it| nearness(it.x) >= nearness(sensors[only].x))
    });
}

/// Makes the report.
fn tell(
    session: &[Recording],
    takes: &[Take<'_>],
    options: &Options,
    mut findings: Vec<Finding>,
    gate: f64,
    reversed: bool,
) -> Report {
    let mut shots: Vec<Shot> = Vec::new();
    let mut curtains = Vec::new();
    let mut flashes: Vec<Flash> = Vec::new();
    let mut number = 0;
    let clock = Clock::of(options);
    for take in takes {
        let gains = usual_gains(take, gate, reversed);
        let mut windows = Vec::new();
        for release in &take.releases {
            number += 1;
            let lit = lit(take, release, gate, reversed);
            let dt_ms = 1e3 / take.recording.sample_rate().to_hz();
            let figures = Shape::told(&lit, gains, gate, dt_ms);
            shots.extend(shots_of(take, release, number, reversed));
            curtains.push(curtain(
                take,
                release,
                number,
                figures.as_ref(),
                gate,
                reversed,
                clock,
            ));
            windows.push(window(take, release, number, figures.as_ref()));
        }
        flashes.extend(flash::of(take.recording, options, &windows, clock));
    }
    for (n, shot) in (1..).zip(&mut shots) {
        shot.n = n;
    }
    said::note(&mut shots, &options.said);
    let centre = mark(&mut shots, options);
    let speeds = speeds::of(&centre, options);
    findings.extend(patterns::over_dial(&centre, &speeds, &curtains, options));
    Report {
        curtains,
        flash: flashes,
        ..session::report(session, findings, shots, speeds)
    }
}

/// The sensors that a release lit, with places counted from where the curtains start.
fn lit(take: &Take<'_>, release: &Release, gate: f64, reversed: bool) -> Vec<Lit> {
    let sensors = take.sensors.iter().zip(&release.seen);
    sensors
        .filter_map(|(sensor, seen)| {
            let Seen::Light(i) = seen else { return None };
            let passage = sensor.passages.get(*i).copied().flatten()?;
            let dt_ms = 1e3 * sensor.heard.channel.signal.dt;
            Some(Lit {
                x: along(sensor.x, gate, reversed),
                passage,
                ramp: sensor.ramp.map_or(RAMP_MS, |ramp| ramp * dt_ms),
                lag: sensor.lag,
            })
        })
        .collect()
}

fn along(x: f64, gate: f64, reversed: bool) -> f64 {
    if reversed { gate - x } else { x }
}

/// The curtains in the releases that three sensors or more saw.
fn shapes(take: &Take<'_>, gate: f64, reversed: bool) -> Vec<Shape> {
    let dt_ms = 1e3 / take.recording.sample_rate().to_hz();
    take.releases
        .iter()
        .map(|release| lit(take, release, gate, reversed))
        .filter(|lit| lit.len() >= 3)
        .filter_map(|lit| Shape::through(&lit, None, gate, dt_ms))
        .collect()
}

/// How the curtains gather speed in most releases; `None` where no three sensors saw one.
fn usual_gains(take: &Take<'_>, gate: f64, reversed: bool) -> Option<[f64; 2]> {
    let shapes = shapes(take, gate, reversed);
    let usual = |gain: &dyn Fn(&Shape) -> f64| {
        overview::median(&shapes.iter().map(gain).collect::<Vec<f64>>())
    };
    (!shapes.is_empty()).then(|| {
        [
            usual(&|shape| shape.first.gain()),
            usual(&|shape| shape.second.gain()),
        ]
    })
}

/// Finds how late each channel's sensor tells of the light, from all its shots.
fn settle_lags(takes: &mut [Take<'_>], pools: &BTreeMap<u16, Pool>, gate: f64, reversed: bool) {
    let shapes: Vec<Shape> = takes
        .iter()
        .flat_map(|take| shapes(take, gate, reversed))
        .collect();
    let mut flanks: BTreeMap<u16, (f64, Flanks)> = BTreeMap::new();
    for sensor in takes.iter().flat_map(|take| &take.sensors) {
        let Some(pool) = pools.get(&sensor.heard.number) else {
            continue;
        };
        let x = along(sensor.x, gate, reversed);
        let (_, flanks) = flanks
            .entry(sensor.heard.number)
            .or_insert_with(|| (x, Flanks::default()));
        let channel = &sensor.heard.channel;
        for (raw, passage) in channel.shots.iter().zip(&sensor.passages) {
            if let Some(passage) = passage {
                flanks.add(channel, raw, passage, pool.for_shot(raw.level).level);
            }
        }
    }
    let own = flanks.values().map(|(x, flanks)| {
        let usual = |of: &dyn Fn(&Shape) -> Option<f64>| {
            overview::median(&shapes.iter().filter_map(of).collect::<Vec<f64>>())
        };
        let gains = [
            usual(&|shape| shape.first.gaining_at(*x)),
            usual(&|shape| shape.second.gaining_at(*x)),
        ];
        // How curtains gather speed looks like a lag where it is not known.
        (!shapes.is_empty()).then(|| flanks.lag(gains)).flatten()
    });
    let lags = lag::agreed(&own.collect::<Vec<_>>());
    for sensor in takes.iter_mut().flat_map(|take| &mut take.sensors) {
        let mut numbered = flanks.keys().zip(&lags);
        if let Some((_, lag)) = numbered.find(|it| *it.0 == sensor.heard.number) {
            sensor.lag = *lag;
        }
    }
}

fn shots_of(take: &Take<'_>, release: &Release, number: u32, reversed: bool) -> Vec<Shot> {
    let nearness = |x: f64| if reversed { -x } else { x };
    let lit = take.sensors.iter().zip(&release.seen);
    let farthest = lit
        .filter(|(_, seen)| matches!(seen, Seen::Light(_)))
        .map(|(sensor, _)| nearness(sensor.x))
        .fold(f64::NEG_INFINITY, f64::max);
    let sensors = take.sensors.iter().zip(&release.seen);
    sensors
        .filter_map(|(sensor, seen)| {
            let shot = match seen {
                Seen::Light(i) => {
                    let raw = sensor.heard.channel.shots.get(*i)?;
                    let mut times = sensor.times.get(*i)?.clone();
                    if times.flags.contains(&Flag::NeverFullyOpen)
                        && !times.flags.contains(&Flag::E0Unknown)
                    {
                        times.flags.push(Flag::NarrowSlit);
                    }
                    sensor.heard.shot(raw, times)
                }
                Seen::CutOff(start) => sensor.heard.cut_off(*start),
                Seen::Dark => {
                    let start = release.start as f64 * sensor.heard.channel.signal.dt;
                    let mut flags = vec![Flag::CannotTell];
                    if nearness(sensor.x) > farthest {
                        flags.insert(0, Flag::Capped);
                    }
                    sensor.heard.blank(start, flags)
                }
            };
            Some(Shot {
                release: number,
                x_mm: Some(Millimetres::mm(sensor.x)),
                ..shot
            })
        })
        .collect()
}

/// What a release says of the curtains.
fn curtain(
    take: &Take<'_>,
    release: &Release,
    number: u32,
    figures: Option<&Figures>,
    gate: f64,
    reversed: bool,
    clock: Clock,
) -> Curtain {
    let mut sensors: Vec<(f64, Seen, Option<Seconds>)> = take
        .sensors
        .iter()
        .zip(&release.seen)
        .map(|(sensor, seen)| {
            let effective = match seen {
                Seen::Light(i) => sensor.times.get(*i).and_then(|times| times.effective),
                _ => None,
            };
            (sensor.x, *seen, effective.map(Seconds::s))
        })
        .collect();
    sensors.sort_by(|a, b| a.0.total_cmp(&b.0));
    let positions = sensors
        .iter()
        .map(|it| Position {
            x_mm: Millimetres::mm(it.0),
            effective_s: it.2,
        })
        .collect();
    sensors.sort_by(|a, b| along(a.0, gate, reversed).total_cmp(&along(b.0, gate, reversed)));
    let outer = (sensors.len() > 1)
        .then(|| sensors.first()?.2.zip(sensors.last()?.2))
        .flatten();
    let capped_from = closes_at(&sensors, figures, gate, reversed);
    let travel = |it: (f64, f64)| clock.seconds(1e-3 * it.0, 1e-3 * it.1);
    let first = figures.map(|it| travel(it.first_travel));
    let second = figures.map(|it| travel(it.second_travel));
    let evenness = figures
        .and_then(|it| it.evenness)
        .filter(|_| capped_from.is_none());
    Curtain {
        n: number,
        first_travel_s: first.map(|it| it.0),
        first_travel_u_s: first.map(|it| it.1 * K),
        second_travel_s: second.map(|it| it.0),
        second_travel_u_s: second.map(|it| it.1 * K),
        evenness_stops: evenness.map(|it| Stops::of(it.0)),
        evenness_u_stops: evenness.map(|it| Stops::of(K * it.1)),
        evenness_sensors_stops: outer.and_then(|(near, far)| far.error_against(near)),
        positions,
        capped: capped_from.is_some(),
        capped_from_mm: capped_from.map(|x| Millimetres::mm(along(x, gate, reversed))),
    }
}

/// Where the slit closes within the gate, from where the curtains start: by the fitted curtains, and
/// between the last sensor that saw light and the first that did not.
fn closes_at(
    sensors: &[(f64, Seen, Option<Seconds>)],
    figures: Option<&Figures>,
    gate: f64,
    reversed: bool,
) -> Option<f64> {
    let fitted = figures.and_then(|it| it.capped_from);
    let place = |it: &(f64, Seen, Option<Seconds>)| along(it.0, gate, reversed);
    let last_lit = sensors
        .iter()
        .rposition(|it| matches!(it.1, Seen::Light(_)))?;
    let lit = place(sensors.get(last_lit)?);
    let dark = sensors
        .get(last_lit + 1..)?
        .iter()
        .find(|it| it.1 == Seen::Dark)
        .map(place);
    match (fitted, dark) {
        (Some(at), Some(dark)) => Some(at.clamp(lit.min(dark), dark)),
        (None, Some(dark)) => Some(0.5 * (lit + dark)),
        (at, None) => at,
    }
}

/// When a release had the whole gate open, for the flash contact.
fn window(take: &Take<'_>, release: &Release, number: u32, figures: Option<&Figures>) -> Window {
    let dt = 1.0 / take.recording.sample_rate().to_hz();
    let start = release.start as f64 * dt;
    let ends = take
        .sensors
        .iter()
        .zip(&release.seen)
        .filter_map(|(sensor, seen)| {
            let Seen::Light(i) = seen else { return None };
            let raw = sensor.heard.channel.shots.get(*i)?;
            Some(raw.local.regions.after as f64 * dt)
        });
    let full = figures.map(|it| Full {
        from: (1e-3 * it.opened.0, 1e-3 * it.opened.1),
        to: (1e-3 * it.closes.0, 1e-3 * it.closes.1),
    });
    Window {
        n: number,
        from: start,
        to: ends.fold(start, f64::max),
        fully_open: full.map(|full| full.to.0 > full.from.0),
        full,
    }
}

/// Assigns the marks by each release's sensor nearest the gate's centre that can tell, sooner by one that
/// no bounce lit, and gives the shots of the sensor nearest the centre, which the speeds are taken from.
pub(super) fn mark(shots: &mut [Shot], options: &Options) -> Vec<Shot> {
    let gate = options.gate_mm.map_or(GATE_MM, Millimetres::to_mm);
    let off_centre = |shot: &Shot| {
        let x = shot.x_mm.map_or(0.0, Millimetres::to_mm);
        ((x - 0.5 * gate).abs(), x)
    };
    let nearer = |a: &&Shot, b: &&Shot| {
        let (a, b) = (off_centre(a), off_centre(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    };
    let mut telling: BTreeMap<u32, Shot> = BTreeMap::new();
    let mut numbers: Vec<u32> = shots.iter().map(|shot| shot.release).collect();
    numbers.dedup();
    for number in numbers {
        let of_release = shots.iter().filter(|shot| shot.release == number);
        if let Some(shot) = of_release
            .filter(|it| it.effective_s.is_some())
            .min_by(|a, b| {
                // A bounce's light may make a fast mark look like the next slower one.
                let bounced = |shot: &Shot| shot.flags.contains(&Flag::Bounce);
                bounced(a).cmp(&bounced(b)).then(nearer(a, b))
            })
        {
            telling.insert(number, without_trace(shot));
        }
    }
    let (numbers, mut marked): (Vec<u32>, Vec<Shot>) = telling.into_iter().unzip();
    speeds::mark(&mut marked, options);
    for shot in shots.iter_mut() {
        let Ok(at) = numbers.binary_search(&shot.release) else {
            continue;
        };
        let as_told = &marked[at];
        shot.marked = as_told.marked;
        shot.guessed = as_told.guessed;
        shot.told = as_told.told;
        shot.alternative = as_told.alternative;
        let has_none = as_told.marked.is_none() && shot.effective_s.is_some();
        if as_told.alternative.is_some() || (has_none && as_told.is_mark_unsure()) {
            shot.flags.push(Flag::MarkUncertain);
        }
        shot.error_stops = shot
            .effective_s
            .zip(shot.marked)
            .and_then(|(time, mark)| time.error_against(mark.nominal(options.series)));
    }
    let centre = shots.iter().min_by(nearer).map(|shot| shot.x_mm);
    let at_centre = shots.iter().filter(|shot| Some(shot.x_mm) == centre);
    at_centre.map(without_trace).collect()
}

fn without_trace(shot: &Shot) -> Shot {
    Shot {
        trace: Trace::default(),
        ..shot.clone()
    }
}

//! Parts of the plateaus so short that only their phases tell: the frequency at which all swing together, and the
//! phase of each.

use std::f64::consts::TAU;
use std::ops::RangeInclusive;

use super::fit::LEVELS;
use super::path::{self, Path, Told};
use super::{Lamp, Open};
use crate::shutter::hum::NOMINAL_HZ;
use crate::shutter::overview::median;

/// Swings in one piece, at most.
const PIECE: f64 = 3.0;
/// A lamp on the mains swings twice as fast as they do, which keep to their frequency this well.
const MAINS_HZ: [f64; 2] = [2.0 * NOMINAL_HZ[0], 2.0 * NOMINAL_HZ[1]];
const MAINS_WITHIN_HZ: f64 = 0.5;
/// Pieces of so many seconds swing together even then; half of each such window is in the next.
const WINDOW_S: f64 = 8.0;
/// What swings so well together at the mains' frequency, against any other's best, is on them.
const AS_WELL: f64 = 0.7;
/// Pieces of so many swings tell their phase by themselves; shorter ones how far it is off, once it is known ...
const WHOLE: f64 = 1.0;
/// ... as well as this, in turns.
pub(super) const VAGUE: f64 = 0.07;
/// What other harmonics and the level hide of the phase at first.
const ROUGH: f64 = 0.01;
/// Places at which a phase is tried.
const PLACES: u32 = 64;

/// The frequency near `hz`, within `reach`, at which the parts of all plateaus swing together, or those near each
/// other if it is the mains'.
pub(super) fn together(opens: &[Open], hz: f64, reach: f64, dt: f64, noise: f64) -> f64 {
    let pieces = pieces(opens, hz, dt, noise);
    let (first, last) = span(&pieces);
    let step = (0.1 / (last - first).max(1e-3)).max(reach / 50_000.0);
    let even = highest(|shift| gain(&pieces, shift), -reach..=reach, step);
    let windows = windows(&pieces);
    let near = |shift: f64| 0.5 * windows.iter().map(|it| gain(it, shift)).sum::<f64>();
    let of_mains = MAINS_HZ
        .into_iter()
        .map(|it| it - hz)
        .filter(|it| it.abs() < reach + MAINS_WITHIN_HZ)
        .map(|it| {
            let around = it - MAINS_WITHIN_HZ..=it + MAINS_WITHIN_HZ;
            highest(near, around, 0.1 / WINDOW_S)
        })
        .max_by(|a, b| a.1.total_cmp(&b.1));
    match of_mains {
        Some((shift, gain)) if gain > AS_WELL * even.1 => hz + shift,
        _ => hz + even.0,
    }
}

/// Where the function is highest, in steps over the range, and how high.
fn highest(of: impl Fn(f64) -> f64, over: RangeInclusive<f64>, step: f64) -> (f64, f64) {
    let (from, to) = over.into_inner();
    let steps = ((to - from) / step).ceil().max(1.0) as usize;
    (0..=steps)
        .map(|n| from + (to - from) * n as f64 / steps as f64)
        .map(|at| (at, of(at)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0.0, 0.0))
}

/// The times of the first piece and of the last.
fn span(pieces: &[Piece]) -> (f64, f64) {
    let ends = |(low, high): (f64, f64), it: &Piece| (low.min(it.time), high.max(it.time));
    pieces.iter().fold((f64::MAX, f64::MIN), ends)
}

/// The pieces of each window, each piece being in two.
fn windows(pieces: &[Piece]) -> Vec<&[Piece]> {
    let (first, last) = span(pieces);
    let half = 0.5 * WINDOW_S;
    let count = ((last - first) / half).max(0.0) as usize + 2;
    (0..count)
        .map(|n| {
            let from = first + half * (n as f64 - 1.0);
            let before = |time: f64| pieces.partition_point(|it| it.time < time);
            &pieces[before(from)..before(from + WINDOW_S)]
        })
        .filter(|it| !it.is_empty())
        .collect()
}

/// Whether a lamp of this frequency is on the mains.
fn is_of_mains(hz: f64) -> bool {
    MAINS_HZ.iter().any(|it| (hz - it).abs() <= MAINS_WITHIN_HZ)
}

/// The phase's path beside that of `hz`, which is 0 at `middle`, by the fundamental alone; `None` of a lamp that is
/// not on the mains.
pub(super) fn first_path(
    opens: &[Open],
    (hz, middle): (f64, f64),
    dt: f64,
    noise: f64,
) -> Option<Path> {
    if !is_of_mains(hz) {
        return None;
    }
    let pieces = pieces(opens, hz, dt, noise);
    // The amplitude, from those whose cosine and sine both show.
    let (mut square, mut weight) = (0.0, 0.0);
    for it in &pieces {
        let det = it.cc * it.ss - it.cs * it.cs;
        let weighs = det / (it.cc + it.ss);
        if weighs > 0.0 {
            let [x, y] = it.right;
            let (a, b) = ((x * it.ss - y * it.cs) / det, (y * it.cc - x * it.cs) / det);
            square += weighs * (a * a + b * b) - 2.0 * noise * noise;
            weight += weighs;
        }
    }
    let amplitude = (square / weight).max(0.0).sqrt();
    let mut told: Vec<Told> = pieces
        .iter()
        .filter(|it| it.seconds * hz >= WHOLE)
        .filter_map(|it| it.phase(amplitude, noise))
        .collect();
    for it in &mut told {
        it.turns = (it.turns - (hz * (it.time - middle)).fract()).rem_euclid(1.0);
    }
    path::unwound(&mut told);
    Path::through(&told)
}

/// The phase's path anew, told by what the pieces show beside `lamp`.
pub(super) fn path(opens: &[Open], lamp: &Lamp, dt: f64, noise: f64) -> Option<Path> {
    let mut told = Vec::new();
    let mut excess = Vec::new();
    let tells = |(from, part): &(usize, &[f64])| {
        let seconds = part.len() as f64 * dt;
        seconds * lamp.hz >= WHOLE || lamp.knows_phase(*from as f64 * dt + 0.5 * seconds)
    };
    for (from, part) in parts(opens, lamp.hz, dt).filter(tells) {
        let mut sums = [0.0; 5];
        for (n, value) in (from..).zip(part) {
            let (light, turning) = lamp.shines(n as f64 * dt);
            let off = value - (lamp.level * light - 1.0);
            let slope = TAU * lamp.level * turning;
            let terms = [slope * slope, slope * off, off * off, slope, off];
            for (sum, term) in sums.iter_mut().zip(terms) {
                *sum += term;
            }
        }
        let [ss, so, oo, s, o] = sums;
        let count = part.len() as f64;
        let level = count + (noise / LEVELS).powi(2);
        let (ss, so, oo) = (ss - s * s / level, so - s * o / level, oo - o * o / level);
        let time = (from as f64 + 0.5 * count) * dt;
        if ss > 0.0 {
            told.push(Told {
                time,
                turns: lamp.turns_beside(time) + so / ss,
                variance: noise * noise / ss,
            });
            excess.push((oo - so * so / ss) / (count - 1.0).max(1.0) / (noise * noise));
        }
    }
    let excess = median(&excess).max(1.0);
    for it in &mut told {
        it.variance *= excess;
    }
    Path::through(&told)
}

/// Sums of one piece: cosine and sine about its middle, the level eliminated.
struct Piece {
    time: f64,
    seconds: f64,
    turns: f64,
    cc: f64,
    cs: f64,
    ss: f64,
    right: [f64; 2],
}

/// The plateaus in parts of a few swings, with the first sample of each.
fn parts(opens: &[Open], hz: f64, dt: f64) -> impl Iterator<Item = (usize, &[f64])> {
    let length = ((PIECE / (hz * dt)).ceil() as usize).max(16);
    opens.iter().flat_map(move |open| {
        let parts = open.light.len().div_ceil(length).max(1);
        let each = open.light.len().div_ceil(parts).max(1);
        let from = move |n: usize| open.from + n * each;
        let chunks = open.light.chunks(each).enumerate();
        chunks.map(move |(n, part)| (from(n), part))
    })
}

fn pieces(opens: &[Open], hz: f64, dt: f64, noise: f64) -> Vec<Piece> {
    let mut pieces = Vec::new();
    for (from, part) in parts(opens, hz, dt) {
        let time = (from as f64 + 0.5 * part.len() as f64) * dt;
        let mut sums = [0.0; 8];
        for (k, value) in (from..).zip(part) {
            let (sin, cos) = (TAU * hz * (k as f64 * dt - time)).sin_cos();
            let terms = [
                cos * cos,
                cos * sin,
                sin * sin,
                cos * value,
                sin * value,
                cos,
                sin,
                *value,
            ];
            for (sum, term) in sums.iter_mut().zip(terms) {
                *sum += term;
            }
        }
        let [cc, cs, ss, cv, sv, c, s, v] = sums;
        let level = part.len() as f64 + (noise / LEVELS).powi(2);
        pieces.push(Piece {
            time,
            seconds: part.len() as f64 * dt,
            turns: hz * time,
            cc: cc - c * c / level,
            cs: cs - c * s / level,
            ss: ss - s * s / level,
            right: [cv - c * v / level, sv - s * v / level],
        });
    }
    pieces
}

impl Piece {
    /// The turns of a cosine of this amplitude at the piece's middle that fit it best, unless they are vague.
    fn phase(&self, amplitude: f64, noise: f64) -> Option<Told> {
        let [x, y] = self.right;
        let gain = |turns: f64| {
            let (sin, cos) = (TAU * turns).sin_cos();
            let square = cos * cos * self.cc - 2.0 * cos * sin * self.cs + sin * sin * self.ss;
            2.0 * amplitude * (x * cos - y * sin) - amplitude * amplitude * square
        };
        let step = f64::from(PLACES).recip();
        let places = (0..PLACES).map(|n| f64::from(n) * step);
        let best = places.max_by(|a, b| gain(*a).total_cmp(&gain(*b)))?;
        let [left, here, right] = [-step, 0.0, step].map(|it| gain(best + it));
        let bending = (2.0 * here - left - right) / (step * step);
        let variance = 2.0 * noise * noise / bending + ROUGH * ROUGH;
        (bending > 0.0 && variance < VAGUE * VAGUE).then(|| Told {
            time: self.time,
            turns: best + 0.5 * (right - left) / (step * bending),
            variance,
        })
    }
}

/// By how much one wave for all pieces lowers the squares, `shift` above the frequency.
fn gain(pieces: &[Piece], shift: f64) -> f64 {
    let (mut cc, mut cs, mut ss, mut x, mut y) = (1e-300, 0.0, 1e-300, 0.0, 0.0);
    for it in pieces {
        let (sin, cos) = (TAU * (it.turns + shift * it.time).fract()).sin_cos();
        // The wave's cosine and sine in the piece's own.
        cc += cos * cos * it.cc - 2.0 * cos * sin * it.cs + sin * sin * it.ss;
        ss += sin * sin * it.cc + 2.0 * cos * sin * it.cs + cos * cos * it.ss;
        cs += cos * sin * (it.cc - it.ss) + (cos * cos - sin * sin) * it.cs;
        x += cos * it.right[0] - sin * it.right[1];
        y += sin * it.right[0] + cos * it.right[1];
    }
    let det = (cc * ss - cs * cs).max(1e-12 * cc * ss);
    (x * x * ss - 2.0 * x * y * cs + y * y * cc) / det
}

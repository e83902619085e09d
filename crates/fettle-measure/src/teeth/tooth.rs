//! One tooth against the common form.
//!
//! A tooth that was pushed aside or leans over moves both flanks alike; wear takes from one. So the movement (place at mid height and lean) is the one
//! that leaves most of both flanks on the form, what lies outside counting more than what lies inside, since wear takes away: of the lines through
//! any two quarters of a flank, the cheapest by a capped sum of squares, then fitted to the steps it agrees with. What remains is wear or burr.

use super::form::{Form, Sample};
use super::frame::{Frame, median};

/// Deviations beyond this many standard deviations count no more.
const CAP: f64 = 3.0;
/// An outward deviation costs this much of an inward one.
const OUTWARD: f64 = 2.5;
/// What standing still is cheaper by, in squared standard deviations a step.
const STILL: f64 = 0.15;
/// The least standard deviation of a step's outline that is reckoned with.
const LEAST_SD_PX: f64 = 0.06;

/// What is read of one tooth, in pixels at the part's middle.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    pub(super) tooth: i64,
    /// Deviation from the form, normal, positive outwards: left and right flank over the form's flank steps.
    pub(super) off: [Vec<Option<f64>>; 2],
    /// The same with the movement taken off and smoothed.
    pub(super) rest: [Vec<Option<f64>>; 2],
    /// Height of the tip less the form's.
    pub(super) tip: Option<f64>,
    /// Sideways at mid height.
    pub(super) place: f64,
    /// Sideways at the tip against the foot.
    pub(super) bend: f64,
    /// Greatest loss by flank.
    pub(super) loss: [f64; 2],
    /// Greatest gain by flank or at the tip.
    pub(super) gain: f64,
    /// Part of its outline that is not dark inside and bright outside.
    pub(super) clouded: f64,
    /// Nothing of its flanks is left.
    pub(super) is_missing: bool,
}

/// Reads all teeth of a span.
pub(super) fn read(
    samples: &[Sample],
    frame: &Frame,
    form: &Form,
    teeth: &[i64],
    blur: f64,
) -> Vec<Reading> {
    let steps = form.flank.1 - form.flank.0 + 1;
    let mut sums = vec![(0.0_f64, 0.0_f64, 0_u32); teeth.len() * 2 * steps];
    let mut tops: Vec<f64> = vec![f64::NEG_INFINITY; teeth.len()];
    let mut clouded = vec![(0_u32, 0_u32); teeth.len()];
    let mut high: Vec<Vec<f64>> = vec![Vec::new(); teeth.len()];
    for s in samples {
        let Ok(i) = teeth.binary_search(&s.tooth) else {
            continue;
        };
        let height = frame.height(s.at);
        tops[i] = tops[i].max(height);
        if s.normal[1] > 0.75 && s.at[0].abs() < 0.6 * form.half_tip {
            high[i].push(height);
        }
        for (side, hand) in [(0, -1.0), (1, 1.0)] {
            // A leaning tooth's flank may lie beyond its own middle line.
            if s.normal[0] * hand < 0.35 {
                continue;
            }
            let Some((foot, off, _)) = form.off(s.at, hand) else {
                continue;
            };
            let step = ((foot - form.from) / form.step).round();
            if step >= form.flank.0 as f64
                && step <= form.flank.1 as f64
                && off.abs() < 1.6 * form.depth()
            {
                let sum = &mut sums[(i * 2 + side) * steps + step as usize - form.flank.0];
                sum.0 += off;
                sum.1 += off * off;
                sum.2 += 1;
                clouded[i].0 += u32::from(!s.is_clear);
                clouded[i].1 += 1;
            }
        }
    }
    teeth
        .iter()
        .enumerate()
        .map(|(i, tooth)| {
            let tip = median(&high[i]).map(|h| h - form.tip);
            let top = tip.map_or(tops[i], |t| form.tip + t);
            // Below a broken tip's own corner only.
            let last = form.tip.min(top) - 2.5 * blur - 2.0;
            let is_whole = top > form.tip - 1.0;
            let off = [0, 1].map(|side| {
                (0..steps)
                    .map(|j| {
                        let (sum, _, n) = sums[(i * 2 + side) * steps + j];
                        let in_sight = is_whole || form.height_of(form.flank.0 + j) < last;
                        (n > 0 && in_sight).then(|| sum / f64::from(n))
                    })
                    .collect::<Vec<_>>()
            });
            Reading {
                tooth: *tooth,
                off,
                rest: [Vec::new(), Vec::new()],
                tip,
                place: 0.0,
                bend: 0.0,
                loss: [0.0; 2],
                gain: 0.0,
                clouded: f64::from(clouded[i].0) / f64::from(clouded[i].1.max(1)),
                is_missing: top < form.root + 0.35 * form.depth(),
            }
        })
        .collect()
}

/// Standard deviation of one step's outline about its neighbours', from all teeth.
pub(super) fn step_noise(readings: &[Reading]) -> f64 {
    let mut seconds = Vec::new();
    for off in readings.iter().flat_map(|r| &r.off) {
        for w in off.windows(3) {
            if let [Some(a), Some(b), Some(c)] = w {
                seconds.push(((a - 2.0 * b + c) / 6.0_f64.sqrt()).abs());
            }
        }
    }
    (1.4826 * median(&seconds).unwrap_or(0.0)).max(LEAST_SD_PX)
}

/// Finds how the tooth was moved and what remains.
pub(super) fn settle(reading: &mut Reading, form: &Form, noise: f64) {
    let middle = f64::midpoint(form.root, form.tip);
    // Sideways movement, height about the middle, how much of it is normal to the flank, by side.
    let points: Vec<(f64, f64, f64, f64)> = [(0, -1.0), (1, 1.0)]
        .into_iter()
        .flat_map(|(side, hand)| {
            let steps = reading.off[side].iter().enumerate();
            steps.filter_map(move |(j, off)| {
                let i = form.flank.0 + j;
                let normal = hand / 1.0_f64.hypot(form.slope[i]);
                let off = (*off)?;
                Some((off / normal, form.height_of(i) - middle, normal, hand))
            })
        })
        .collect();
    let cost = |(place, lean): (f64, f64)| -> f64 {
        points
            .iter()
            .map(|(aside, height, normal, _)| {
                let off = (aside - place - lean * height) * normal / noise;
                let capped = off.powi(2).min(CAP * CAP);
                if off > 0.0 { capped * OUTWARD } else { capped }
            })
            .sum()
    };
    let quarters: Vec<(f64, f64)> = [-1.0, 1.0]
        .into_iter()
        .flat_map(|hand| {
            let flank: Vec<_> = points.iter().filter(|p| p.3 * hand > 0.0).collect();
            let size = flank.len().div_ceil(4).max(1);
            flank
                .chunks(size)
                .filter(|c| c.len() > 1)
                .filter_map(|c| {
                    let aside: Vec<f64> = c.iter().map(|p| p.0).collect();
                    let height: Vec<f64> = c.iter().map(|p| p.1).collect();
                    Some((median(&aside)?, median(&height)?))
                })
                .collect::<Vec<_>>()
        })
        .collect();
    let mut best = (0.0, 0.0);
    let mut least = cost(best) - STILL * points.len() as f64;
    for (i, a) in quarters.iter().enumerate() {
        for b in quarters.iter().skip(i + 1) {
            let rise = b.1 - a.1;
            if rise.abs() < 0.15 * form.depth() {
                continue;
            }
            let lean = (b.0 - a.0) / rise;
            let tried = (a.0 - lean * a.1, lean);
            let c = cost(tried);
            if c < least {
                (least, best) = (c, tried);
            }
        }
    }
    for _ in 0..3 {
        best = fitted(&points, best, noise).unwrap_or(best);
    }
    let (place, lean) = best;
    reading.place = place;
    reading.bend = lean * form.depth();
    for (side, hand) in [(0, -1.0), (1, 1.0)] {
        let rest: Vec<Option<f64>> = reading.off[side]
            .iter()
            .enumerate()
            .map(|(j, off)| {
                let i = form.flank.0 + j;
                let moved = (place + lean * (form.height_of(i) - middle)) * hand
                    / 1.0_f64.hypot(form.slope[i]);
                off.map(|off| off - moved)
            })
            .collect();
        let smooth: Vec<Option<f64>> = (0..rest.len()).map(|j| local(&rest, j)).collect();
        reading.loss[side] = -smooth.iter().flatten().copied().fold(0.0, f64::min);
        // A burr is narrow: what smoothing takes from it is more than the noise adds.
        reading.gain = rest.iter().flatten().copied().fold(reading.gain, f64::max);
        reading.rest[side] = smooth;
    }
    reading.gain = reading.gain.max(reading.tip.unwrap_or(0.0));
}

/// Place and lean by least squares over the steps that agree with them.
fn fitted(points: &[(f64, f64, f64, f64)], about: (f64, f64), noise: f64) -> Option<(f64, f64)> {
    let (mut s, mut sh, mut shh, mut sa, mut sah) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (aside, height, normal, _) in points {
        let off = (aside - about.0 - about.1 * height) * normal / noise;
        if off.abs() < CAP {
            let w = normal * normal;
            s += w;
            sh += w * height;
            shh += w * height * height;
            sa += w * aside;
            sah += w * aside * height;
        }
    }
    let det = s * shh - sh * sh;
    (det > 1e-6 * s * shh && s > 3.0)
        .then(|| ((sa * shh - sah * sh) / det, (s * sah - sh * sa) / det))
}

/// The value at a step by a quadratic over the seven steps about it.
fn local(values: &[Option<f64>], at: usize) -> Option<f64> {
    values.get(at).copied().flatten()?;
    let (a, b) = (at.saturating_sub(3), (at + 4).min(values.len()));
    let near: Vec<(f64, f64)> = (a..b)
        .filter_map(|i| Some((i as f64 - at as f64, values[i]?)))
        .collect();
    let moment = |p: i32, q: i32| -> f64 { near.iter().map(|(x, y)| x.powi(p) * y.powi(q)).sum() };
    let (n, m1, m2, m3, m4) = (
        near.len() as f64,
        moment(1, 0),
        moment(2, 0),
        moment(3, 0),
        moment(4, 0),
    );
    let (t0, t1, t2) = (moment(0, 1), moment(1, 1), moment(2, 1));
    if near.len() < 4 {
        return Some(t0 / n);
    }
    let det3 = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    let det = det3([n, m1, m2], [m1, m2, m3], [m2, m3, m4]);
    if det.abs() < 1e-9 {
        return Some(t0 / n);
    }
    Some(det3([t0, m1, m2], [t1, m2, m3], [t2, m3, m4]) / det)
}

//! One tooth against the common form.
//!
//! A tooth that was pushed aside or leans over moves both flanks alike; wear takes from one. So the movement (place at mid height and lean) is the one
//! that leaves most of both flanks on the form, what lies outside counting more than what lies inside, since wear takes away: of the lines through
//! any two quarters of a flank, the cheapest by a capped sum of squares, then fitted to the steps it agrees with. The outline is moved back by it and
//! read again, since on a curved flank a large movement is not what its normal distance says. What remains is wear or burr.

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

/// Blur moves an edge towards its centre of curvature by half the spread's square over the radius; a step's mean by a 24th of the step's square.
const ROUNDED: f64 = 0.5;

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

/// A tooth's movement: sideways at mid height, and how much more for each pixel of height.
#[derive(Clone, Copy, Debug, Default)]
struct Movement {
    place: f64,
    lean: f64,
}

/// Readings that find the movement: each is nearer, and the last ones change it by less than a hundredth of a pixel.
const READINGS: usize = 4;

/// Reads all teeth of a span: how each was moved and what remains.
pub(super) fn read(
    samples: &[Sample],
    frame: &Frame,
    form: &Form,
    teeth: &[i64],
    blur: f64,
) -> Vec<Reading> {
    let mut moved = vec![Movement::default(); teeth.len()];
    let mut unmoved: Option<Vec<_>> = None;
    let mut readings = Vec::new();
    for _ in 0..READINGS {
        readings = read_moved(samples, frame, form, teeth, blur, &moved);
        let noise = step_noise(&readings);
        for (reading, moved) in readings.iter_mut().zip(&mut moved) {
            settle(reading, form, noise, blur);
            // A stump's flanks are too short to tell which way it leans.
            if reading.is_missing {
                continue;
            }
            moved.place += reading.place;
            moved.lean += reading.bend / form.depth();
        }
        unmoved.get_or_insert_with(|| readings.iter().map(|r| r.off.clone()).collect());
    }
    for ((reading, moved), off) in readings
        .iter_mut()
        .zip(moved)
        .zip(unmoved.into_iter().flatten())
    {
        reading.place = moved.place;
        reading.bend = moved.lean * form.depth();
        reading.off = off;
    }
    readings
}

/// A place and a direction on a moved tooth, moved back.
fn moved_back(sample: &Sample, frame: &Frame, form: &Form, by: Movement) -> ([f64; 2], [f64; 2]) {
    let middle = f64::midpoint(form.root, form.tip);
    let [x, y] = sample.at;
    let mut at = sample.at;
    // The height is that of where the point came from.
    for _ in 0..2 {
        let above = (frame.height(at) - middle).max(form.root - middle);
        at = [x - by.place - by.lean * above, y];
    }
    let [nx, ny] = sample.normal;
    let normal = [nx, ny + by.lean * nx];
    let length = normal[0].hypot(normal[1]).max(1e-9);
    (at, normal.map(|n| n / length))
}

/// Reads all teeth with their movements taken off.
fn read_moved(
    samples: &[Sample],
    frame: &Frame,
    form: &Form,
    teeth: &[i64],
    blur: f64,
    moved: &[Movement],
) -> Vec<Reading> {
    let steps = form.flank.1 - form.flank.0 + 1;
    let mut sums = vec![(0.0_f64, 0_u32); teeth.len() * 2 * steps];
    let mut tops: Vec<f64> = vec![f64::NEG_INFINITY; teeth.len()];
    let mut clouded = vec![(0_u32, 0_u32); teeth.len()];
    let mut high: Vec<Vec<f64>> = vec![Vec::new(); teeth.len()];
    for s in samples {
        let Ok(i) = teeth.binary_search(&s.tooth) else {
            continue;
        };
        let (at, normal) = moved_back(s, frame, form, moved[i]);
        let height = frame.height(at);
        tops[i] = tops[i].max(height);
        if normal[1] > 0.75 && at[0].abs() < 0.6 * form.half_tip {
            high[i].push(height);
        }
        if normal[0] * s.hand < 0.35 {
            continue;
        }
        let Some((foot, off, _)) = form.off(at, s.hand) else {
            continue;
        };
        let step = ((foot - form.from) / form.step).round();
        if step >= form.flank.0 as f64
            && step <= form.flank.1 as f64
            && off.abs() < 1.6 * form.depth()
        {
            let side = usize::from(s.hand > 0.0);
            let sum = &mut sums[(i * 2 + side) * steps + step as usize - form.flank.0];
            sum.0 += off;
            sum.1 += 1;
            clouded[i].0 += u32::from(!s.is_clear);
            clouded[i].1 += 1;
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
                        let (sum, n) = sums[(i * 2 + side) * steps + j];
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
fn step_noise(readings: &[Reading]) -> f64 {
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
fn settle(reading: &mut Reading, form: &Form, noise: f64, blur: f64) {
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
        let lost = ROUNDED * (blur / form.step).powi(2) + 1.0 / 24.0;
        let smooth: Vec<Option<f64>> = (0..rest.len()).map(|j| local(&rest, j, lost)).collect();
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

/// The value at a step by a quadratic over the seven steps about it, and what was lost for each unit of its second derivative put back where all
/// seven are seen.
fn local(values: &[Option<f64>], at: usize, lost: f64) -> Option<f64> {
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
    let value = det3([t0, m1, m2], [t1, m2, m3], [t2, m3, m4]) / det;
    if near.len() < 7 {
        return Some(value);
    }
    let second = 2.0 * det3([n, m1, t0], [m1, m2, t1], [m2, m3, t2]) / det;
    Some(value - lost * second)
}

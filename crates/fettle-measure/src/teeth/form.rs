//! The form that the teeth have in common.
//!
//! Half the thickness over the height, the median over both flanks of all teeth, one of them mirrored: what is worn on fewer than half of the
//! flanks does not show in it.

use super::border::Border;
use super::frame::{Frame, Mark, Seen, deviation, median};

/// Heights from root to tip in steps.
const STEPS: f64 = 44.0;
/// No step is smaller, so that each has an outline point of every flank.
const LEAST_STEP_PX: f64 = 1.2;
/// Beyond this slope of half thickness over height it is no flank: it leans more than 55° over.
const STEEPEST: f64 = 1.4;
/// A step is part of the flank when this part of the flanks shows there.
const LEAST_SHARE: f64 = 0.5;
/// Outline points that the mapping is fitted to.
const FITTED: usize = 7000;

/// An outline point in its tooth.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub(super) tooth: i64,
    pub(super) pixel: [f64; 2],
    /// In the photograph.
    pub(super) outward: [f64; 2],
    /// In the tooth, the far rim taken off.
    pub(super) at: [f64; 2],
    /// Outwards, in the tooth.
    pub(super) normal: [f64; 2],
    /// Dark inside and bright outside.
    pub(super) is_clear: bool,
    /// -1 before the tooth's highest point, on the left flank's side, 1 after it.
    pub(super) hand: f64,
}

/// The outline's points in their teeth, as far down as the roots.
///
/// Which flank a point belongs to is told by the way along the outline, not by its place or the way it faces: a leaning tooth's flank may lie
/// beyond the middle line, and dirt at one flank's foot has a side that faces as the other flank does.
pub(super) fn samples(
    border: &Border,
    clear: &[bool],
    frame: &Frame,
    span: (i64, i64),
    root: f64,
    tip: f64,
) -> Vec<Sample> {
    let floor = root - 0.6 * (tip - root);
    let count = border.points.len();
    let index = |tooth: i64| usize::try_from(tooth - span.0).unwrap_or(usize::MAX);
    // Height and place along the outline of each tooth's highest point.
    let mut tops = vec![(f64::NEG_INFINITY, 0); index(span.1).saturating_add(1).min(count)];
    let mut samples: Vec<(usize, Sample)> = border
        .points
        .iter()
        .zip(&border.normals)
        .zip(clear)
        .enumerate()
        .filter_map(|(along, ((pixel, normal), is_clear))| {
            let part = frame.to_part(*pixel);
            let tooth = frame.tooth_of(part);
            let at = frame.to_tooth(tooth, part);
            (at[1] > floor && tooth >= span.0 && tooth <= span.1).then(|| {
                let way = frame.direction(tooth, *normal);
                let rim = frame.rim(*pixel, *normal);
                let at = [at[0] - rim * way[0], at[1] - rim * way[1]];
                if let Some(top) = tops.get_mut(index(tooth)) {
                    let height = frame.height(at);
                    if height > top.0 {
                        *top = (height, along);
                    }
                }
                let sample = Sample {
                    tooth,
                    pixel: *pixel,
                    outward: *normal,
                    at,
                    normal: way,
                    is_clear: *is_clear,
                    hand: 1.0,
                };
                (along, sample)
            })
        })
        .collect();
    for (along, sample) in &mut samples {
        let top = tops.get(index(sample.tooth)).map_or(0, |t| t.1);
        // The outline is closed: whichever way is shorter.
        let after = (*along + count - top) % count;
        sample.hand = if after * 2 < count { 1.0 } else { -1.0 };
    }
    samples.into_iter().map(|(_, sample)| sample).collect()
}

/// Half the thickness of a sound tooth over its height.
#[derive(Clone, Debug)]
pub(super) struct Form {
    /// Height of the first step's middle.
    pub(super) from: f64,
    pub(super) step: f64,
    /// Half thickness, one a step.
    pub(super) half: Vec<f64>,
    /// Its slope over the height.
    pub(super) slope: Vec<f64>,
    /// First and last step of the flank.
    pub(super) flank: (usize, usize),
    /// Height of the tips and the roots.
    pub(super) tip: f64,
    pub(super) root: f64,
    /// Half the width of the tip.
    pub(super) half_tip: f64,
    /// How much less the left flanks have than the right ones, their median, at the worst height once a lean of all is taken off.
    pub(super) one_sided: f64,
}

impl Form {
    /// From the teeth that are there; `None` when their flanks show too little.
    pub(super) fn of(
        samples: &[Sample],
        frame: &Frame,
        heights: (f64, f64),
        blur: f64,
        near: &[i64],
    ) -> Option<Self> {
        let (root, tip) = heights;
        let depth = tip - root;
        let step = (depth / STEPS).max(LEAST_STEP_PX);
        let from = root - 0.1 * depth + step / 2.0;
        let count = (1.15 * depth / step).ceil() as usize;
        let index = |tooth: i64| near.binary_search(&tooth).ok();
        // Sum and number a tooth, side and step.
        let mut sums = vec![(0.0_f64, 0_u32); near.len() * 2 * count];
        for sample in samples {
            let Some(tooth) = index(sample.tooth) else {
                continue;
            };
            let [x, y] = sample.at;
            let side = usize::from(sample.hand > 0.0);
            let outwards = sample.normal[0] * sample.hand;
            let bin = ((y - from) / step).round();
            if outwards < 0.35 || bin < 0.0 {
                continue;
            }
            if bin as usize >= count {
                continue;
            }
            let cell = &mut sums[(tooth * 2 + side) * count + bin as usize];
            // To the step's middle, along a flank of usual slope.
            cell.0 += x * sample.hand;
            cell.1 += 1;
        }
        let at = |side: Option<usize>, bin: usize| -> (Option<f64>, usize) {
            let values: Vec<f64> = (0..near.len() * 2)
                .filter(|i| side.is_none_or(|s| i % 2 == s))
                .map(|i| sums[i * count + bin])
                .filter(|(_, n)| *n > 0)
                .map(|(sum, n)| sum / f64::from(n))
                .collect();
            (middle(values.clone()), values.len())
        };
        let medians: Vec<(Option<f64>, usize)> = (0..count).map(|bin| at(None, bin)).collect();
        let least = (LEAST_SHARE * 2.0 * near.len() as f64).max(2.0) as usize;
        let raw: Vec<f64> = medians
            .iter()
            .map(|(m, n)| m.filter(|_| *n >= least).unwrap_or(f64::NAN))
            .collect();
        let half: Vec<f64> = (0..count).map(|i| smoothed(&raw, i)).collect();
        let slope: Vec<f64> = (0..count)
            .map(|i| {
                let (a, b) = (i.saturating_sub(2), (i + 2).min(count - 1));
                (half[b] - half[a]) / ((b - a) as f64 * step)
            })
            .collect();
        let is_flank =
            |i: usize| half[i].is_finite() && slope[i].is_finite() && slope[i].abs() < STEEPEST;
        let start = ((f64::midpoint(root, tip) - from) / step).round() as usize;
        if start >= count || !is_flank(start) {
            return None;
        }
        let first = (0..=start).rev().take_while(|i| is_flank(*i)).last()?;
        let last = (start..count).take_while(|i| is_flank(*i)).last()?;
        // Blur rounds corner and fillet.
        let margin = ((1.5 * blur + 1.0) / step).ceil() as usize;
        let flank = (first + margin, last.saturating_sub(margin));
        if flank.0 + 4 > flank.1 {
            return None;
        }
        let half_tip = (half[last] - 1.5 * blur).max(0.3 * half[last]);
        let rest: Vec<(f64, f64)> = (flank.0..=flank.1)
            .filter_map(|i| Some((i as f64, at(Some(1), i).0? - at(Some(0), i).0?)))
            .collect();
        let mut form = Self {
            from,
            step,
            half,
            slope,
            flank,
            tip,
            root,
            half_tip,
            one_sided: beyond_a_line(&rest),
        };
        form.find_heights(samples, frame, near);
        Some(form)
    }

    /// Tip and root as the median over the teeth.
    fn find_heights(&mut self, samples: &[Sample], frame: &Frame, near: &[i64]) {
        let tips = tip_heights(samples, frame, near, self);
        if let Some(tip) = middle(tips.into_iter().flatten().collect()) {
            self.tip = tip;
        }
    }

    pub(super) fn depth(&self) -> f64 {
        self.tip - self.root
    }

    pub(super) fn height_of(&self, step: usize) -> f64 {
        self.from + step as f64 * self.step
    }

    /// Half thickness and slope at a height within the flank, `None` beyond.
    fn at(&self, height: f64) -> Option<(f64, f64)> {
        let at = (height - self.from) / self.step;
        let low = at.floor();
        if low < 0.0 {
            return None;
        }
        let (i, part) = (low as usize, at - low);
        let (a, b) = (self.half.get(i)?, self.half.get(i + 1)?);
        let (c, d) = (self.slope.get(i)?, self.slope.get(i + 1)?);
        let (half, slope) = (a + (b - a) * part, c + (d - c) * part);
        (half.is_finite() && slope.is_finite()).then_some((half, slope))
    }

    /// Where on the form a place is opposite to, and how far outside of it, on the right side (`hand` 1) or the left (-1); with the normal.
    pub(super) fn off(&self, at: [f64; 2], hand: f64) -> Option<(f64, f64, [f64; 2])> {
        let (x, y) = (at[0] * hand, at[1]);
        let mut foot = y;
        let mut found = None;
        for _ in 0..4 {
            let (half, slope) = self.at(foot)?;
            let length = 1.0_f64.hypot(slope);
            let off = ((x - half) - slope * (y - foot)) / length;
            found = Some((foot, off, [hand / length, -slope / length]));
            foot = y + off * slope / length;
        }
        found
    }

    /// Outline points on flanks and tips for the mapping's fit.
    pub(super) fn marks(&self, samples: &[Sample]) -> Vec<Seen> {
        let step = samples.len().div_ceil(FITTED).max(1);
        let (low, high) = (self.height_of(self.flank.0), self.height_of(self.flank.1));
        samples
            .iter()
            .step_by(step)
            .filter_map(|s| {
                let what = if s.normal[1] > 0.85
                    && s.at[0].abs() < self.half_tip
                    && s.at[1] > f64::midpoint(self.tip, self.root)
                {
                    Mark::Tip(self.tip)
                } else {
                    let hand = s.hand;
                    if s.normal[0] * hand < 0.35 {
                        return None;
                    }
                    let (foot, off, [nx, ny]) = self.off(s.at, hand)?;
                    if foot < low || foot > high {
                        return None;
                    }
                    Mark::Flank {
                        x: s.at[0] - off * nx,
                        y: s.at[1] - off * ny,
                        nx,
                        ny,
                    }
                };
                Some(Seen {
                    at: s.pixel,
                    outward: s.outward,
                    tooth: s.tooth,
                    what,
                })
            })
            .collect()
    }
}

/// Height of each tooth's tip, the median over its middle part.
pub(super) fn tip_heights(
    samples: &[Sample],
    frame: &Frame,
    near: &[i64],
    form: &Form,
) -> Vec<Option<f64>> {
    let mut tops: Vec<Vec<f64>> = vec![Vec::new(); near.len()];
    let reach = 0.6 * form.half_tip;
    for s in samples {
        if s.normal[1] > 0.75
            && s.at[0].abs() < reach
            && let Ok(i) = near.binary_search(&s.tooth)
        {
            tops[i].push(frame.height(s.at));
        }
    }
    tops.iter().map(|heights| median(heights)).collect()
}

/// The mean of what lies within 2.5 standard deviations of the median, as the median deviation tells them: strays on fewer than half do
/// not pull, and it is steadier than the median.
pub(super) fn middle(mut values: Vec<f64>) -> Option<f64> {
    let about = median(&values)?;
    let offs: Vec<f64> = values.iter().map(|v| v - about).collect();
    let reach = 2.5 * deviation(&offs);
    values.retain(|v| (v - about).abs() <= reach);
    if values.is_empty() {
        return Some(about);
    }
    Some(values.iter().sum::<f64>() / values.len() as f64)
}

/// A quadratic over five steps (Savitzky and Golay 1964), the value itself where neighbours are missing.
fn smoothed(values: &[f64], at: usize) -> f64 {
    const WEIGHTS: [f64; 5] = [-3.0, 12.0, 17.0, 12.0, -3.0];
    let value = values[at];
    let Some(near) = at.checked_sub(2).and_then(|a| values.get(a..a + 5)) else {
        return value;
    };
    let sum: f64 = near.iter().zip(WEIGHTS).map(|(v, w)| v * w / 35.0).sum();
    if sum.is_finite() { sum } else { value }
}

/// The value farthest from the line through all, with its sign.
fn beyond_a_line(values: &[(f64, f64)]) -> f64 {
    let n = values.len() as f64;
    let (sx, sy) = values
        .iter()
        .fold((0.0, 0.0), |(a, b), (x, y)| (a + x, b + y));
    let (mx, my) = (sx / n, sy / n);
    let (sxx, sxy) = values.iter().fold((0.0, 0.0), |(a, b), (x, y)| {
        (a + (x - mx).powi(2), b + (x - mx) * (y - my))
    });
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    values
        .iter()
        .map(|(x, y)| y - my - slope * (x - mx))
        .fold(
            0.0,
            |worst: f64, v| if v.abs() > worst.abs() { v } else { worst },
        )
}

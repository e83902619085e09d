//! Heights of the outline along a row or round a centre, and what goes up and down in them.

use super::super::frame::median;

/// Heights of the profile, of all, that stand for roots and tips.
const LOW: f64 = 0.10;
const HIGH: f64 = 0.93;
/// Between this part of the depth below and above mid height it is not decided whether tooth or gap.
const HYSTERESIS: f64 = 0.12;
/// A tooth that is farther from its place than this part of the pitch is none of the row.
const STRAY: f64 = 0.2;

/// A stretch of the profile above mid height.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bump {
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Bump {
    pub(super) fn middle(&self) -> f64 {
        f64::midpoint(self.from, self.to)
    }
    pub(super) fn width(&self) -> f64 {
        self.to - self.from
    }
}

/// Heights in bins of one length.
pub(super) struct Profile {
    pub(super) from: f64,
    pub(super) step: f64,
    pub(super) heights: Vec<f64>,
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Profile {
    /// The greatest height in each bin; empty bins between full ones are bridged.
    pub(super) fn new(
        places: &[(f64, f64)],
        from: f64,
        to: f64,
        step: f64,
        round: bool,
    ) -> Option<Self> {
        let count = ((to - from) / step).ceil() as usize;
        if !(2..4_000_000).contains(&count) {
            return None;
        }
        let mut heights = vec![f64::NEG_INFINITY; count];
        for (at, height) in places {
            let bin = ((at - from) / step) as usize;
            if let Some(h) = heights.get_mut(bin.min(count - 1)) {
                *h = h.max(*height);
            }
        }
        let full: Vec<usize> = (0..count).filter(|i| heights[*i].is_finite()).collect();
        let (first, last) = (*full.first()?, *full.last()?);
        let bridge = |heights: &mut [f64], a: usize, b: usize| {
            let (from, to) = (heights[a % count], heights[b % count]);
            for i in a + 1..b {
                heights[i % count] = from + (to - from) * (i - a) as f64 / (b - a) as f64;
            }
        };
        for pair in full.windows(2) {
            bridge(&mut heights, pair[0], pair[1]);
        }
        if round {
            bridge(&mut heights, last, first + count);
        } else {
            heights.truncate(last + 1);
        }
        // A bin that has a point of the part's other side only is a hole of one bin: closed.
        let extreme = |of: &[f64], pick: fn(f64, f64) -> f64| -> Vec<f64> {
            (0..of.len())
                .map(|i| {
                    let near = of.get(i.saturating_sub(1)..(i + 2).min(of.len()));
                    near.unwrap_or(&[]).iter().copied().fold(of[i], pick)
                })
                .collect()
        };
        let heights = extreme(&extreme(&heights, f64::max), f64::min);
        let mut profile = Self {
            from,
            step,
            heights,
            low: 0.0,
            high: 0.0,
        };
        profile.find_levels()?;
        Some(profile)
    }

    pub(super) fn find_levels(&mut self) -> Option<()> {
        let mut sorted: Vec<f64> = self
            .heights
            .iter()
            .copied()
            .filter(|h| h.is_finite())
            .collect();
        sorted.sort_by(f64::total_cmp);
        let at = |part: f64| {
            sorted
                .get((part * (sorted.len() as f64 - 1.0)) as usize)
                .copied()
        };
        (self.low, self.high) = (at(LOW)?, at(HIGH)?);
        Some(())
    }

    pub(super) fn depth(&self) -> f64 {
        self.high - self.low
    }

    pub(super) fn mid(&self) -> f64 {
        f64::midpoint(self.low, self.high)
    }

    pub(super) fn at(&self, place: f64) -> Option<f64> {
        let at = ((place - self.from) / self.step).floor();
        (at >= 0.0).then_some(())?;
        self.heights.get(at as usize).copied()
    }

    /// The stretches above mid height that come from low and go back to low; `round` when the end joins the beginning.
    pub(super) fn bumps(&self, round: bool) -> Vec<Bump> {
        let count = self.heights.len();
        let (mid, slack) = (self.mid(), HYSTERESIS * self.depth());
        let begin = if round {
            (0..count)
                .find(|i| self.heights[*i] < mid - slack)
                .unwrap_or(0)
        } else {
            0
        };
        let place = |i: usize, part: f64| self.from + (i as f64 + 0.5 + part) * self.step;
        let mut is_up = self.heights.get(begin).map(|h| *h > mid).filter(|up| !up);
        let (mut rise, mut crossed) = (None, None);
        let mut bumps = Vec::new();
        let end = if round { begin + count + 1 } else { count };
        for i in begin + 1..end {
            let (before, h) = (self.heights[(i - 1) % count], self.heights[i % count]);
            let part = (mid - before) / (h - before) - 1.0;
            if before < mid && h >= mid && is_up != Some(true) {
                rise = Some(place(i, part));
            }
            if before >= mid && h < mid {
                crossed = Some(place(i, part));
            }
            if h > mid + slack && is_up != Some(true) {
                if is_up.is_none() {
                    rise = None;
                }
                is_up = Some(true);
            } else if h < mid - slack && is_up != Some(false) {
                if let (Some(true), Some(from), Some(to)) = (is_up, rise, crossed) {
                    bumps.push(Bump { from, to });
                }
                is_up = Some(false);
                rise = None;
            }
        }
        bumps
    }
}

/// The spacing that most gaps are whole multiples of; the greatest such.
pub(super) fn spacing(middles: &[f64]) -> Option<f64> {
    let gaps: Vec<f64> = middles.windows(2).map(|w| w[1] - w[0]).collect();
    let fits = |pitch: f64| {
        gaps.iter()
            .filter(|g| {
                let times = (**g / pitch).round();
                times >= 1.0 && (**g - times * pitch).abs() < 0.12 * pitch
            })
            .count()
    };
    let candidates: Vec<f64> = gaps.iter().copied().filter(|g| *g > 4.0).collect();
    let best = candidates.iter().map(|g| fits(*g)).max()?;
    let good: Vec<f64> = candidates
        .into_iter()
        .filter(|g| fits(*g) * 10 >= best * 9)
        .collect();
    let greatest = good.iter().copied().fold(0.0, f64::max);
    median(
        &good
            .into_iter()
            .filter(|g| *g > 0.85 * greatest)
            .collect::<Vec<_>>(),
    )
}

/// Each bump's place in the row, counted from the first; bumps that fall on the same place are one.
pub(super) fn places(bumps: &[Bump], pitch: f64) -> Vec<(i64, Bump)> {
    let mut placed: Vec<(i64, Bump)> = Vec::new();
    for bump in bumps {
        match placed.last_mut() {
            None => placed.push((0, *bump)),
            Some((place, last)) => {
                let on = ((bump.middle() - last.middle()) / pitch).round() as i64;
                if on >= 1 {
                    let place = *place + on;
                    placed.push((place, *bump));
                } else {
                    last.to = bump.to;
                }
            }
        }
    }
    placed
}

/// Places within the row whose bump is where and as wide as a tooth is.
pub(super) fn regular(placed: &[(i64, Bump)], pitch: f64) -> Vec<bool> {
    let widths: Vec<f64> = placed.iter().map(|(_, b)| b.width()).collect();
    let width = median(&widths).unwrap_or(0.0);
    placed
        .iter()
        .enumerate()
        .map(|(i, (place, bump))| {
            // Against the neighbours, since askew the spacing changes along the row.
            let near = placed
                .get(i.saturating_sub(3)..(i + 4).min(placed.len()))
                .unwrap_or(&[]);
            let offs: Vec<f64> = near
                .iter()
                .map(|(p, b)| b.middle() - *p as f64 * pitch)
                .collect();
            let off = bump.middle() - *place as f64 * pitch - median(&offs).unwrap_or(0.0);
            off.abs() < STRAY * pitch && bump.width() > 0.5 * width && bump.width() < 1.7 * width
        })
        .collect()
}

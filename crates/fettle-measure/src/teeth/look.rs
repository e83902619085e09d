//! The first look: which way the teeth lie, how many there are, and where.
//!
//! The height of the outline over its length (a rack) or round its centre (a gear) goes up and down once a tooth. A rack's direction is the one
//! along which tips, roots and back pile up: the sum of squares of the outline's histogram across it is greatest.

use std::f64::consts::{PI, TAU};

use super::TeethError;
use super::border::Border;
use super::frame::{Frame, Mark, Seen, median};
use super::options::{Kind, LEAST_TEETH};
use crate::spread::Fit;

/// Points of the outline that decide a rack's direction.
const LOOKED_AT: usize = 4000;
/// Heights of the profile, of all, that stand for roots and tips.
const LOW: f64 = 0.10;
const HIGH: f64 = 0.93;
/// A profile that goes up and down by less has no teeth.
const LEAST_DEPTH_PX: f64 = 6.0;
/// Between this part of the depth below and above mid height it is not decided whether tooth or gap.
const HYSTERESIS: f64 = 0.12;
/// A tooth that is farther from its place than this part of the pitch is none of the row.
const STRAY: f64 = 0.2;
/// Least pitch that is measured at all.
const LEAST_PITCH_PX: f64 = 24.0;

/// Where the teeth are.
#[derive(Debug)]
pub(super) struct Look {
    pub(super) frame: Frame,
    pub(super) seen: Vec<Seen>,
    /// The teeth that stand at mid height.
    pub(super) present: Vec<i64>,
    /// Lattice places, first and last, missing ones between included.
    pub(super) span: (i64, i64),
    /// Root and tip in the part.
    pub(super) root: f64,
    pub(super) tip: f64,
    /// Pitch at mid height.
    pub(super) pitch: f64,
    /// Whether the row goes on beyond the photograph.
    pub(super) is_cut: bool,
    /// Room for more teeth before the first and after the last.
    pub(super) room: (u32, u32),
}

/// A stretch of the profile above mid height.
#[derive(Clone, Copy, Debug)]
struct Bump {
    from: f64,
    to: f64,
}

impl Bump {
    fn middle(&self) -> f64 {
        f64::midpoint(self.from, self.to)
    }
    fn width(&self) -> f64 {
        self.to - self.from
    }
}

/// Heights in bins of one length.
struct Profile {
    from: f64,
    step: f64,
    heights: Vec<f64>,
    low: f64,
    high: f64,
}

impl Profile {
    /// The greatest height in each bin; empty bins between full ones are bridged.
    fn new(places: &[(f64, f64)], from: f64, to: f64, step: f64, round: bool) -> Option<Self> {
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

    fn find_levels(&mut self) -> Option<()> {
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

    fn depth(&self) -> f64 {
        self.high - self.low
    }

    fn mid(&self) -> f64 {
        f64::midpoint(self.low, self.high)
    }

    fn at(&self, place: f64) -> Option<f64> {
        let at = ((place - self.from) / self.step).floor();
        (at >= 0.0).then_some(())?;
        self.heights.get(at as usize).copied()
    }

    /// The stretches above mid height that come from low and go back to low; `round` when the end joins the beginning.
    fn bumps(&self, round: bool) -> Vec<Bump> {
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
fn spacing(middles: &[f64]) -> Option<f64> {
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
fn places(bumps: &[Bump], pitch: f64) -> Vec<(i64, Bump)> {
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
fn regular(placed: &[(i64, Bump)], pitch: f64) -> Vec<bool> {
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

/// Looks for a row of teeth.
pub(super) fn rack(border: &Border, size: (usize, usize)) -> Result<Look, TeethError> {
    let mut best: Option<(usize, Look)> = None;
    let mut problem = None;
    for turn in directions(border) {
        for turn in [turn, turn + PI] {
            match row(border, size, turn) {
                Ok((score, look)) => {
                    if best.as_ref().is_none_or(|(s, _)| score > *s) {
                        best = Some((score, look));
                    }
                }
                Err(error) => {
                    // What came nearest to a row says best what is wrong.
                    let rank = |e: &TeethError| match e {
                        TeethError::NoTeeth { .. } => 0,
                        TeethError::FewPixels { .. } => 1,
                        _ => 2,
                    };
                    if problem.as_ref().is_none_or(|p| rank(&error) > rank(p)) {
                        problem = Some(error);
                    }
                }
            }
        }
    }
    best.map(|(_, look)| look).ok_or(match problem {
        // Where the photograph cuts the part, its teeth may be what is cut.
        None | Some(TeethError::NoTeeth { .. }) if border.at_edge.iter().any(|n| *n > 0) => {
            TeethError::OutOfFrame { what: "the teeth" }
        }
        None => TeethError::NoTeeth {
            what: "the part has no straight row of teeth".to_owned(),
        },
        Some(problem) => problem,
    })
}

/// The directions along which most of the outline runs.
fn directions(border: &Border) -> Vec<f64> {
    let step = border.points.len().div_ceil(LOOKED_AT).max(1);
    let points: Vec<[f64; 2]> = border.points.iter().step_by(step).copied().collect();
    let score = |turn: f64, bin: f64| {
        let (sin, cos) = turn.sin_cos();
        let across = |p: &[f64; 2]| p[0] * sin - p[1] * cos;
        let (low, high) = points
            .iter()
            .map(across)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
                (l.min(v), h.max(v))
            });
        let mut bins = vec![0_u32; ((high - low) / bin).max(0.0) as usize + 1];
        for p in &points {
            if let Some(n) = bins.get_mut(((across(p) - low) / bin) as usize) {
                *n += 1;
            }
        }
        bins.iter().map(|n| f64::from(*n).powi(2)).sum::<f64>()
    };
    let coarse: Vec<f64> = (0..360)
        .map(|i| score(f64::from(i) * PI / 360.0, 4.0))
        .collect();
    let mut order: Vec<usize> = (0..360).collect();
    order.sort_by(|a, b| coarse[*b].total_cmp(&coarse[*a]));
    let mut chosen: Vec<usize> = Vec::new();
    for i in order {
        let is_apart = |j: &usize| {
            let apart = i.abs_diff(*j);
            apart.min(360 - apart) > 10
        };
        if chosen.iter().all(is_apart) {
            chosen.push(i);
        }
        if chosen.len() == 4 {
            break;
        }
    }
    chosen
        .into_iter()
        .map(|i| {
            let about = i as f64 * PI / 360.0;
            (-20..=20)
                .map(|j| about + f64::from(j) * PI / 7200.0)
                .map(|turn| (turn, score(turn, 2.0)))
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map_or(about, |(turn, _)| turn)
        })
        .collect()
}

/// Reads a row along a direction, teeth on the side to the left of it; with how many teeth are where they should be.
fn row(border: &Border, size: (usize, usize), turn: f64) -> Result<(usize, Look), TeethError> {
    let none = |what: &str| TeethError::NoTeeth {
        what: what.to_owned(),
    };
    let (sin, cos) = turn.sin_cos();
    let places_of: Vec<(f64, f64)> = border
        .points
        .iter()
        .map(|p| (p[0] * cos + p[1] * sin, p[0] * sin - p[1] * cos))
        .collect();
    let (from, to) = places_of
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| {
            (l.min(p.0), h.max(p.0))
        });
    let profile = Profile::new(&places_of, from, to, 1.0, false)
        .filter(|p| p.depth() > LEAST_DEPTH_PX)
        .ok_or_else(|| none("the part has no straight row of teeth"))?;
    let bumps = profile.bumps(false);
    let middles: Vec<f64> = bumps.iter().map(Bump::middle).collect();
    let pitch = spacing(&middles).ok_or_else(|| none("the part has no straight row of teeth"))?;
    let placed = places(&bumps, pitch);
    let is_regular = regular(&placed, pitch);
    let good = is_regular.iter().filter(|r| **r).count();
    if good < 3 || good * 3 < placed.len() * 2 {
        return Err(none(
            "the part's edge goes up and down without a regular pitch",
        ));
    }
    let ratio = profile.depth() / pitch;
    if !(0.25..1.6).contains(&ratio) {
        return Err(none(
            "what goes up and down along the part's edge is not as high as teeth are",
        ));
    }
    if pitch < LEAST_PITCH_PX {
        return Err(TeethError::FewPixels { pitch_px: pitch });
    }
    if good < LEAST_TEETH as usize {
        return Err(TeethError::TooFew { found: good as u32 });
    }
    // Stray bumps at the ends are the part's shoulders.
    let first = is_regular.iter().position(|r| *r).unwrap_or(0);
    let last = is_regular.iter().rposition(|r| *r).unwrap_or(0);
    let placed: Vec<(i64, Bump)> = placed
        .get(first..=last)
        .unwrap_or(&[])
        .iter()
        .map(|(place, bump)| (place - placed[first].0, *bump))
        .collect();
    let mid = profile.mid();
    let to_pixel = |u: f64, v: f64| [u * cos + v * sin, u * sin - v * cos];
    let start = placed.first().map_or(0.0, |(_, b)| b.middle());
    let end = placed.last().map_or(0.0, |(_, b)| b.middle());
    let centre = f64::midpoint(start, end);
    let reach = (end - start) / 2.0 + pitch;
    let mut frame = Frame::new(
        Kind::Rack,
        0,
        size,
        to_pixel(centre, mid),
        reach,
        turn,
        pitch,
    );
    frame.values[3] = centre - start;
    let mut seen = Vec::new();
    let height = |u: f64, half: f64| {
        let count = (half / profile.step).ceil() as i64;
        let near: Vec<f64> = (-count..=count)
            .filter_map(|i| profile.at(u + i as f64 * profile.step))
            .collect();
        median(&near)
    };
    for (tooth, bump) in &placed {
        let u = bump.middle();
        seen.push(Seen::new(to_pixel(u, mid), *tooth, Mark::Middle));
        if let Some(v) = height(u, bump.width() / 8.0) {
            let at = to_pixel(u, v);
            let is_at_edge = at[0] < 2.0
                || at[1] < 2.0
                || at[0] > size.0 as f64 - 2.0
                || at[1] > size.1 as f64 - 2.0;
            if is_at_edge {
                return Err(TeethError::OutOfFrame { what: "the teeth" });
            }
            seen.push(Seen::new(at, *tooth, Mark::Tip(v - mid)));
        }
    }
    for pair in placed.windows(2) {
        let ((tooth, a), (next, b)) = (pair[0], pair[1]);
        if next == tooth + 1 {
            let u = f64::midpoint(a.to, b.from);
            if let Some(v) = height(u, (b.from - a.to) / 8.0) {
                seen.push(Seen::new(to_pixel(u, v), tooth, Mark::Root(v - mid)));
            }
        }
    }
    let (first_place, last_place) = (0, placed.last().map_or(0, |(p, _)| *p));
    let present: Vec<i64> = placed.iter().map(|(p, _)| *p).collect();
    let [root, tip] = heights(&seen);
    // Gaps that go on beyond the last tooth for a whole pitch have room for another.
    let room = |from: f64, way: f64| {
        let mut teeth = 0;
        loop {
            let beyond = from + way * pitch * (f64::from(teeth) + 0.6);
            let steps = (0.8 * pitch / profile.step) as i64;
            let is_low = (0..=steps).all(|i| {
                profile
                    .at(beyond + way * i as f64 * profile.step)
                    .is_some_and(|h| h > profile.low - 0.5 * profile.depth() && h < mid)
            });
            if !is_low || teeth > 50 {
                return teeth;
            }
            teeth += 1;
        }
    };
    let room = (room(start, -1.0), room(end, 1.0));
    let is_cut = border.at_edge.iter().any(|n| *n > 0) && {
        let near_edge = |u: f64| {
            let at = to_pixel(u, profile.low);
            let margin = 0.75 * pitch;
            at[0] < margin
                || at[1] < margin
                || at[0] > size.0 as f64 - margin
                || at[1] > size.1 as f64 - margin
        };
        near_edge(start - pitch) || near_edge(end + pitch)
    };
    Ok((
        good,
        Look {
            frame,
            seen,
            present,
            span: (first_place, last_place),
            root,
            tip,
            pitch,
            is_cut,
            room,
        },
    ))
}

/// Median heights of roots and tips as seen.
fn heights(seen: &[Seen]) -> [f64; 2] {
    let of = |pick: fn(&Mark) -> Option<f64>| {
        let values: Vec<f64> = seen.iter().filter_map(|s| pick(&s.what)).collect();
        median(&values).unwrap_or(0.0)
    };
    [
        of(|m| {
            if let Mark::Root(h) = m {
                Some(*h)
            } else {
                None
            }
        }),
        of(|m| if let Mark::Tip(h) = m { Some(*h) } else { None }),
    ]
}

/// Looks for a gear.
pub(super) fn gear(border: &Border, size: (usize, usize)) -> Result<Look, TeethError> {
    let none = |what: &str| TeethError::NoTeeth {
        what: what.to_owned(),
    };
    if border.at_edge.iter().any(|n| *n > 0) {
        return Err(TeethError::OutOfFrame { what: "the gear" });
    }
    let centre = centroid(&border.points).ok_or_else(|| none("the part is no gear"))?;
    // Clockwise from above, and from the centre.
    let polar: Vec<(f64, f64)> = border
        .points
        .iter()
        .map(|p| {
            let (dx, dy) = (p[0] - centre[0], p[1] - centre[1]);
            (dx.atan2(-dy).rem_euclid(TAU), dx.hypot(dy))
        })
        .collect();
    let around = |angle: f64| {
        vec![
            1.0,
            angle.sin(),
            angle.cos(),
            (2.0 * angle).sin(),
            (2.0 * angle).cos(),
        ]
    };
    let circle = round_fit(&polar, &around).ok_or_else(|| none("the part is no gear"))?;
    let radius = circle[0];
    let wobble = circle.iter().skip(1).map(|c| c.powi(2)).sum::<f64>().sqrt();
    if wobble.is_nan() || wobble > 0.12 * radius {
        return Err(none("the part is not round"));
    }
    let mean = |angle: f64| -> f64 { around(angle).iter().zip(&circle).map(|(a, b)| a * b).sum() };
    let flat: Vec<(f64, f64)> = polar.iter().map(|(a, r)| (*a, r - mean(*a))).collect();
    let profile = Profile::new(&flat, 0.0, TAU, 1.0 / radius, true)
        .filter(|p| p.depth() > LEAST_DEPTH_PX)
        .ok_or_else(|| none("the part is round but has no teeth"))?;
    let bumps = profile.bumps(true);
    let middles: Vec<f64> = bumps.iter().map(|b| b.middle() * radius).collect();
    let spaced =
        spacing(&middles).ok_or_else(|| none("the part is round but has no teeth"))? / radius;
    let placed = places(&bumps, spaced);
    let is_regular = regular(&placed, spaced);
    let good = is_regular.iter().filter(|r| **r).count();
    let (Some(first), Some(last)) = (placed.first(), placed.last()) else {
        return Err(none("the part is round but has no teeth"));
    };
    let closing = (first.1.middle() + TAU - last.1.middle()) / spaced;
    let count = last.0 + closing.round() as i64;
    if good < 4 || good * 3 < placed.len() * 2 || (closing - closing.round()).abs() > 0.35 {
        return Err(none(
            "the part's rim goes up and down without a regular pitch",
        ));
    }
    if spaced * radius < LEAST_PITCH_PX {
        return Err(TeethError::FewPixels {
            pitch_px: spaced * radius,
        });
    }
    if !(5..=1000).contains(&count) {
        return Err(TeethError::NoTeeth {
            what: format!(
                "{count} teeth are counted round it, of which from 5 to 1000 can be measured"
            ),
        });
    }
    // Tooth 0 is the one nearest to the top.
    let upward = placed
        .iter()
        .min_by(|a, b| {
            let off = |bump: &Bump| {
                let m = bump.middle().rem_euclid(TAU);
                m.min(TAU - m)
            };
            off(&a.1).total_cmp(&off(&b.1))
        })
        .unwrap_or(first);
    let (zero, turn) = (upward.0, upward.1.middle());
    let mut frame = Frame::new(
        Kind::Gear,
        count as u32,
        size,
        centre,
        radius,
        turn,
        TAU * radius / count as f64,
    );
    frame.values[0] = turn;
    let to_pixel = |angle: f64, above: f64| {
        let r = mean(angle) + above;
        [centre[0] + r * angle.sin(), centre[1] - r * angle.cos()]
    };
    let height = |angle: f64, half: f64| {
        let bins = (half / profile.step).ceil() as i64;
        let near: Vec<f64> = (-bins..=bins)
            .filter_map(|i| profile.at((angle + i as f64 * profile.step).rem_euclid(TAU)))
            .collect();
        median(&near)
    };
    let mut seen = Vec::new();
    let mut present = Vec::new();
    for (place, bump) in &placed {
        let tooth = (place - zero).rem_euclid(count);
        let angle = bump.middle();
        present.push(tooth);
        seen.push(Seen::new(
            to_pixel(angle, profile.mid()),
            tooth,
            Mark::Middle,
        ));
        if let Some(h) = height(angle, bump.width() / 8.0) {
            seen.push(Seen::new(to_pixel(angle, h), tooth, Mark::Tip(radius + h)));
        }
    }
    let next = placed.iter().cycle().skip(1);
    for (a, b) in placed.iter().zip(next) {
        if (b.0 - a.0).rem_euclid(count) == 1 {
            let gap = (b.1.from - a.1.to).rem_euclid(TAU);
            let angle = a.1.to + gap / 2.0;
            if let Some(h) = height(angle, gap / 8.0) {
                let tooth = (a.0 - zero).rem_euclid(count);
                seen.push(Seen::new(to_pixel(angle, h), tooth, Mark::Root(radius + h)));
            }
        }
    }
    let [root, tip] = heights(&seen);
    Ok(Look {
        frame,
        seen,
        present,
        span: (0, count - 1),
        root,
        tip,
        pitch: spaced * radius,
        is_cut: false,
        room: (0, 0),
    })
}

/// Radius over the angle with one and two waves, by least absolute residuals (reweighted), so that missing teeth do not pull.
fn round_fit(polar: &[(f64, f64)], around: &impl Fn(f64) -> Vec<f64>) -> Option<Vec<f64>> {
    let step = polar.len().div_ceil(2000).max(1);
    let used: Vec<(f64, f64)> = polar.iter().step_by(step).copied().collect();
    let rows: Vec<Vec<f64>> = used.iter().map(|(a, _)| around(*a)).collect();
    let values: Vec<f64> = used.iter().map(|(_, r)| *r).collect();
    let mut sigmas = vec![1.0; values.len()];
    let mut coefficients = None;
    for _ in 0..6 {
        let fit = Fit::new(&rows, &values, &sigmas)?;
        let scale = median(&fit.residuals().iter().map(|r| r.abs()).collect::<Vec<_>>())?;
        sigmas = fit
            .residuals()
            .iter()
            .map(|r| r.abs().max(0.1 * scale + 0.1).sqrt())
            .collect();
        coefficients = Some(fit.coefficients().to_vec());
    }
    coefficients
}

/// The middle of what an outline encloses.
fn centroid(points: &[[f64; 2]]) -> Option<[f64; 2]> {
    let zero = *points.first()?;
    let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
    let next = points.iter().cycle().skip(1);
    for (a, b) in points.iter().zip(next) {
        let (ax, ay) = (a[0] - zero[0], a[1] - zero[1]);
        let (bx, by) = (b[0] - zero[0], b[1] - zero[1]);
        let cross = ax * by - bx * ay;
        area += cross;
        x += (ax + bx) * cross;
        y += (ay + by) * cross;
    }
    (area.abs() > 1.0).then(|| [zero[0] + x / (3.0 * area), zero[1] + y / (3.0 * area)])
}

//! The first look at a rack: its direction is the one along which tips, roots and back pile up, where the sum of squares of the outline's
//! histogram across it is greatest.

use std::f64::consts::PI;

use super::profile::{Bump, Profile, places, regular, spacing};
use super::{LEAST_DEPTH_PX, LEAST_PITCH_PX, Look, heights};
use crate::teeth::TeethError;
use crate::teeth::border::Border;
use crate::teeth::frame::{Frame, Mark, Seen, median};
use crate::teeth::options::{Kind, LEAST_TEETH};

/// Points of the outline that decide a rack's direction.
const LOOKED_AT: usize = 4000;

/// Looks for a row of teeth.
pub(in crate::teeth) fn rack(border: &Border, size: (usize, usize)) -> Result<Look, TeethError> {
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

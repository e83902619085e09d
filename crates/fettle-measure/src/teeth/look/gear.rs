//! The first look at a gear: the middle of what its outline encloses, then the heights round it.

use std::f64::consts::TAU;

use super::profile::{Bump, Profile, places, regular, spacing};
use super::{LEAST_DEPTH_PX, LEAST_PITCH_PX, Look, heights};
use crate::spread::Fit;
use crate::teeth::TeethError;
use crate::teeth::border::Border;
use crate::teeth::frame::{Frame, Mark, Seen, median};
use crate::teeth::options::Kind;

/// Looks for a gear.
pub(in crate::teeth) fn gear(border: &Border, size: (usize, usize)) -> Result<Look, TeethError> {
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

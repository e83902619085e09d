//! The teeth in pixels: the frame and the common form, fitted to one another, and each tooth held against it.

use std::f64::consts::{PI, TAU};

use super::border::{Border, Borders};
use super::form::{Form, middle, samples};
use super::frame::{Frame, Mark, deviation, median};
use super::look::Look;
use super::tooth::{self, Reading};
use super::{Kind, Options, Scale, TeethError};

/// Outlines that scatter about the common form by more than this part of the pitch are no teeth.
const MOST_SCATTER: f64 = 0.03;
const MOST_PERSPECTIVE: f64 = 0.25;
/// A scale may differ from a second one by this, beside its own uncertainty.
const SCALES_APART: f64 = 0.02;

/// The teeth in pixels.
pub(super) struct Measured {
    pub(super) frame: Frame,
    pub(super) form: Form,
    pub(super) readings: Vec<Reading>,
    pub(super) look_pitch: f64,
    pub(super) is_cut: bool,
    pub(super) room: (u32, u32),
    pub(super) blur: f64,
    /// Standard deviations over the sound teeth: flank, tip, place, bend.
    pub(super) spread: [f64; 4],
}

impl Measured {
    pub(super) fn new(
        border: &Border,
        clear: &[bool],
        look: Look,
        blur: f64,
    ) -> Result<Self, TeethError> {
        let unlike = |what: &str| TeethError::NoTeeth {
            what: what.to_owned(),
        };
        let Look {
            mut frame,
            mut seen,
            mut present,
            span,
            mut root,
            mut tip,
            pitch,
            is_cut,
            room,
        } = look;
        present.sort_unstable();
        present.dedup();
        for part in [0.06, 0.03, 0.015, 0.01] {
            frame.fit(&seen, 3, part * pitch);
            let at = |seen: &super::frame::Seen| {
                frame.height(frame.to_tooth(seen.tooth, frame.to_part(seen.at)))
            };
            let heights = |is_tip: bool| -> Vec<f64> {
                let of_kind = seen.iter().filter(|s| match s.what {
                    Mark::Tip(_) => is_tip,
                    Mark::Root(_) => !is_tip,
                    _ => false,
                });
                of_kind.map(at).collect()
            };
            tip = middle(heights(true)).unwrap_or(tip);
            root = middle(heights(false)).unwrap_or(root);
            for s in &mut seen {
                match &mut s.what {
                    Mark::Tip(h) => *h = tip,
                    Mark::Root(h) => *h = root,
                    _ => {}
                }
            }
        }
        let mut found = None;
        for part in [Some(0.01), Some(0.004), Some(0.0), None] {
            let points = samples(border, clear, &frame, span, root, tip);
            let form = Form::of(&points, &frame, (root, tip), blur, &present)
                .ok_or_else(|| unlike("the teeth have no form in common"))?;
            tip = form.tip;
            if let Some(part) = part {
                let scatter = frame.fit(&form.marks(&points), 3, part * pitch);
                if scatter > MOST_SCATTER * pitch {
                    return Err(unlike("what looks like teeth has no form in common"));
                }
            }
            found = Some((points, form));
        }
        let Some((points, form)) = found else {
            return Err(unlike("the teeth have no form in common"));
        };
        if frame.scale_change() > MOST_PERSPECTIVE {
            return Err(unlike("the camera looked at the part far too askew"));
        }
        let teeth: Vec<i64> = (span.0..=span.1).collect();
        let mut readings = tooth::read(&points, &frame, &form, &teeth, blur);
        for reading in &mut readings {
            reading.is_missing |= present.binary_search(&reading.tooth).is_err()
                && reading.tip.is_none_or(|t| t < -0.5 * form.depth());
        }
        let whole = || readings.iter().filter(|r| !r.is_missing);
        let of = |pick: fn(&Reading) -> Option<f64>| {
            scatter(&whole().filter_map(pick).collect::<Vec<_>>())
        };
        let rest: Vec<f64> = whole()
            .flat_map(|r| r.rest.iter().flatten().flatten().copied())
            .collect();
        let spread = [
            deviation(&rest),
            of(|r| r.tip),
            of(|r| Some(r.place)),
            of(|r| Some(r.bend)),
        ];
        Ok(Self {
            look_pitch: pitch,
            frame,
            form,
            readings,
            is_cut,
            room,
            blur,
            spread,
        })
    }

    /// Pitch in the part's middle; of a gear on the pitch circle that its tips have by standard proportions.
    pub(super) fn pitch_px(&self) -> f64 {
        match self.frame.kind {
            Kind::Rack => self.frame.pitch(),
            Kind::Gear => TAU * self.form.tip / (f64::from(self.frame.count) + 2.0),
        }
    }

    /// Pixels for a millimetre, held against whatever else is known.
    pub(super) fn scale(
        &self,
        borders: &Borders,
        part: &Border,
        options: &Options,
    ) -> Result<f64, TeethError> {
        let wrong = |reason: String| Err(TeethError::WrongScale { reason });
        let pitch_px = self.pitch_px();
        let px_per_mm = match options.scale {
            Scale::PitchMm(mm) => pitch_px / mm,
            Scale::PxPerMm(px) => px,
            Scale::BarMm(mm) => bar_px(borders, part).ok_or(TeethError::NoBar)? / mm,
        };
        let pitch_mm = pitch_px / px_per_mm;
        let module = pitch_mm / PI;
        if !(0.05..=10.0).contains(&module) {
            return wrong(format!(
                "with {px_per_mm:.1} px/mm the teeth would have module {module:.3} mm, and 0.05 to 10 can be: check pitch, pixels per millimetre or bar"
            ));
        }
        if !(0.5..=3000.0).contains(&px_per_mm) {
            return wrong(format!(
                "with a pitch of {pitch_mm:.3} mm a millimetre would have {px_per_mm:.1} px in the photograph: check the pitch"
            ));
        }
        let allowed = SCALES_APART + options.scale_rel_u;
        if let Some(known) = options.pitch_mm {
            // A shifted profile has its tips elsewhere.
            let allowed = match self.frame.kind {
                Kind::Rack => allowed,
                Kind::Gear => allowed + 1.0 / (f64::from(self.frame.count) + 2.0),
            };
            if (pitch_mm / known - 1.0).abs() > allowed {
                return wrong(format!(
                    "by it the pitch is {pitch_mm:.3} mm, and {known} mm is given: one of them is wrong"
                ));
            }
        }
        if let Some(known) = options.across_mm {
            let across = match self.frame.kind {
                Kind::Gear => 2.0 * self.form.tip,
                Kind::Rack => {
                    pitch_px * (self.readings.len() as f64 - 1.0) + 2.0 * self.form.half_tip
                }
            } / px_per_mm;
            if (across / known - 1.0).abs() > allowed {
                return wrong(format!(
                    "by it the part is {across:.2} mm over its teeth, and {known} mm is given: check pitch, scale and count"
                ));
            }
        }
        Ok(px_per_mm)
    }

    pub(super) fn check_count(&self, options: &Options) -> Result<(), TeethError> {
        let counted = self.readings.len() as u32;
        match options.teeth {
            Some(said) if said != counted => Err(TeethError::WrongTeeth { said, counted }),
            _ => Ok(()),
        }
    }
}

/// Length of a straight bar beside the part: a rectangle, at least 2.5 times as long as wide, clear of the photograph's edges.
fn bar_px(borders: &Borders, part: &Border) -> Option<f64> {
    let others = borders
        .kept
        .iter()
        .filter(|b| b.area > 400.0 && !std::ptr::eq(*b, part) && b.at_edge.iter().all(|n| *n == 0));
    others.filter_map(bar_length).max_by(f64::total_cmp)
}

fn bar_length(border: &Border) -> Option<f64> {
    let n = border.points.len() as f64;
    let mean = border
        .points
        .iter()
        .fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let (xx, xy, yy) = border.points.iter().fold((0.0, 0.0, 0.0), |(a, b, c), p| {
        let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
        (a + x * x, b + x * y, c + y * y)
    });
    let turn = 0.5 * (2.0 * xy).atan2(xx - yy);
    let (sin, cos) = turn.sin_cos();
    let face = |along: bool, hand: f64| {
        let at: Vec<f64> = border
            .points
            .iter()
            .zip(&border.normals)
            .filter_map(|(p, n)| {
                let (x, y) = (p[0] - mean[0], p[1] - mean[1]);
                let (v, way) = if along {
                    (x * cos + y * sin, n[0] * cos + n[1] * sin)
                } else {
                    (y * cos - x * sin, n[1] * cos - n[0] * sin)
                };
                (way * hand > 0.95).then_some(v)
            })
            .collect();
        (at.len() > 8).then(|| median(&at)).flatten()
    };
    let length = face(true, 1.0)? - face(true, -1.0)?;
    let width = face(false, 1.0)? - face(false, -1.0)?;
    let is_bar = length > 2.5 * width && (border.area / (length * width) - 1.0).abs() < 0.05;
    is_bar.then_some(length)
}

/// Standard deviation of sound teeth: the shortest stretch that holds half of the values, over 1.349.
fn scatter(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    sorted
        .iter()
        .zip(sorted.iter().skip(half))
        .map(|(a, b)| (b - a) / 1.349)
        .fold(f64::INFINITY, f64::min)
        .min(1e3)
}

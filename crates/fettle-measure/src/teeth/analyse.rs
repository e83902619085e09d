//! From a photograph to a report.

use std::f64::consts::{PI, TAU};

use super::border::{Border, Borders};
use super::form::{Form, middle, samples};
use super::frame::{Frame, Mark, deviation, median};
use super::levels::Levels;
use super::look::{self, Look};
use super::tooth::{self, Reading};
use super::{
    Counts, Finding, Kind, LimitFrom, Options, Report, Scale, Side, TeethError, Tooth, TracePoint,
    Verdict,
};
use crate::photograph::Photograph;

/// Pixels between a quarter and three quarters beyond this part are no edges any more.
const MOST_GREY: f64 = 0.15;
/// Beyond this part of the part's area, grey that is no edge is shine, and beyond the other nothing can be measured.
const SHINE: f64 = 0.02;
const MOST_SHINE: f64 = 0.3;
/// This many spreads of the edge and this many pixels to either side it is dark and bright; a tooth with more of its flanks unclear is not judged worn.
const CLEAR_SPREADS: f64 = 2.5;
const CLEAR_PX: f64 = 3.0;
const MOST_CLOUDED: f64 = 0.08;
/// A part whose light varies by more than this part of the ground's is not black.
const MOST_TEXTURE: f64 = 0.1;
/// A smaller part of the part's area is no hole that was made in it.
const LEAST_HOLE: f64 = 0.002;
/// A part takes at least this share of the photograph.
const LEAST_PART: f64 = 0.003;
/// Edges that spread over more than this part of the pitch tell no form; over more than the other it is said.
const MOST_BLUR: f64 = 0.09;
const SOFT: f64 = 0.03;
const SOFT_PX: f64 = 2.5;
/// Where no teeth are found and edges spread over more, blur hides them.
const SOFTEST_PX: f64 = 10.0;
/// Fewer pixels from tooth to tooth are said.
const FEW_PX: f64 = 40.0;
/// Outlines that scatter about the common form by more than this part of the pitch are no teeth.
const MOST_SCATTER: f64 = 0.03;
/// Change of scale over the part that is said, and that is too much.
const PERSPECTIVE: f64 = 0.01;
const MOST_PERSPECTIVE: f64 = 0.25;
const DISTORTION: f64 = 0.002;
/// Unevenness of the light that is said.
const UNEVEN: f64 = 1.6;
const TOO_BRIGHT: f64 = 0.02;
/// A limit from the scatter is at least a pixel, and this many standard deviations.
const LIMIT_PX: f64 = 1.0;
const LIMIT_SD: f64 = 4.0;
/// What an edge may be off for its blur and for the pixels, standard deviations.
const BLUR_PART: f64 = 0.05;
const PIXEL_SD: f64 = 0.03;
/// Blur takes about this much of its spread from a burr's point, standard deviation.
const BURR_BLUR: f64 = 0.4;
/// And no more than this part of its height.
const BURR_PART: f64 = 0.15;
/// A scale may differ from a second one by this, beside its own uncertainty.
const SCALES_APART: f64 = 0.02;
/// Points of a trace on each flank.
const TRACED: usize = 14;

/// Measures the teeth.
///
/// # Errors
/// [`TeethError`] for options without meaning, a photograph that cannot carry a result, with how to take a better one, and a count or scale that
/// the photograph contradicts.
pub fn analyse(photo: &Photograph, options: &Options) -> Result<Report, TeethError> {
    options.check()?;
    let size = (photo.width(), photo.height());
    let levels = Levels::of(photo)?;
    let borders = Borders::of(photo, &levels)?;
    let (border, look) = find_part(&borders, options, size)?;
    let blur = blur(photo, &levels, border);
    let soft = |pitch_px: f64| blur > MOST_BLUR * pitch_px;
    let shine = shine(&borders, border, blur, size);
    let lit = TeethError::FrontLit {
        texture: borders.texture,
    };
    let is_lit = shine > MOST_SHINE || borders.grey > MOST_GREY || borders.texture > MOST_TEXTURE;
    let look = match look {
        Ok(look) => look,
        // What hides the teeth is told first.
        Err(_) if is_lit => {
            return Err(lit);
        }
        Err(_) if blur > SOFTEST_PX => {
            return Err(TeethError::Blurred {
                blur_px: blur,
                pitch_px: None,
            });
        }
        Err(error) => return Err(error),
    };
    if soft(look.pitch) {
        return Err(TeethError::Blurred {
            blur_px: blur,
            pitch_px: Some(look.pitch),
        });
    }
    if is_lit {
        return Err(lit);
    }
    let clear = border.clear(photo, &levels, CLEAR_SPREADS * blur + CLEAR_PX);
    let measured = Measured::new(border, &clear, look, blur)?;
    let scale = measured.scale(&borders, border, options)?;
    measured.check_count(options)?;
    let mut report = measured.report(options, scale, size);
    note_photograph(&mut report, &borders, &levels, shine);
    Ok(report)
}

/// The border that has teeth: one of the largest.
fn find_part<'a>(
    borders: &'a Borders,
    options: &Options,
    size: (usize, usize),
) -> Result<(&'a Border, Result<Look, TeethError>), TeethError> {
    let all = (size.0 * size.1) as f64;
    let largest = borders
        .kept
        .iter()
        .find(|b| b.area > 0.0)
        .ok_or(TeethError::NoSilhouette)?;
    if largest.area < LEAST_PART * all {
        return Err(TeethError::NoSilhouette);
    }
    let rim = 2 * (size.0 + size.1);
    if largest.at_edge.iter().sum::<usize>() * 2 > rim {
        return Err(TeethError::Reversed);
    }
    let least = (0.1 * largest.area).max(LEAST_PART * all);
    let mut first = None;
    for border in borders.kept.iter().filter(|b| b.area >= least).take(4) {
        let look = match options.kind {
            Kind::Rack => look::rack(border, size),
            Kind::Gear => look::gear(border, size),
        };
        if look.is_ok() {
            return Ok((border, look));
        }
        first.get_or_insert((border, look));
    }
    first.ok_or(TeethError::NoSilhouette)
}

/// Standard deviation of the edge's spread: the median way from a quarter to three quarters of the local levels, over 1.349.
fn blur(photo: &Photograph, levels: &Levels, border: &Border) -> f64 {
    const FARTHEST: f64 = 60.0;
    const STEP: f64 = 0.5;
    let every = border.points.len().div_ceil(400).max(1);
    let spreads: Vec<f64> = border
        .points
        .iter()
        .zip(&border.normals)
        .step_by(every)
        .map(|(p, n)| {
            let (dark, bright) = levels.at(p[0], p[1]);
            let part =
                |t: f64| (photo.between(p[0] + t * n[0], p[1] + t * n[1]) - dark) / (bright - dark);
            let way = |hand: f64, level: f64| {
                let mut before = part(0.0);
                let mut t = STEP;
                while t < FARTHEST {
                    let now = part(hand * t);
                    if (now - level) * hand >= 0.0 {
                        let step = (level - before) / (now - before);
                        return t - STEP
                            + STEP
                                * if step.is_finite() {
                                    step.clamp(0.0, 1.0)
                                } else {
                                    1.0
                                };
                    }
                    before = now;
                    t += STEP;
                }
                FARTHEST
            };
            (way(1.0, 0.75) + way(-1.0, 0.25)) / 1.349
        })
        .collect();
    median(&spreads).unwrap_or(FARTHEST)
}

/// Grey beyond what the edges make, as a part of the part's area.
fn shine(borders: &Borders, border: &Border, blur: f64, size: (usize, usize)) -> f64 {
    // The part's own outline, its holes, and what lies beside it; small holes are where it shines.
    let is_edge = |b: &&Border| b.area > 0.0 || -b.area > LEAST_HOLE * border.area;
    let edges: usize = borders
        .kept
        .iter()
        .filter(is_edge)
        .map(|b| b.points.len())
        .sum();
    // A crack stands for 0.8 pixels of edge, on the average over directions.
    let expected = 0.8 * edges as f64 * (1.349 * blur).max(1.0);
    let grey = borders.grey * (size.0 * size.1) as f64;
    (grey - 1.1 * expected).max(0.0) / border.area.max(1.0)
}

/// The teeth in pixels.
struct Measured {
    frame: Frame,
    form: Form,
    readings: Vec<Reading>,
    look_pitch: f64,
    is_cut: bool,
    room: (u32, u32),
    blur: f64,
    /// Standard deviations over the sound teeth: flank, tip, place, bend.
    spread: [f64; 4],
}

impl Measured {
    fn new(border: &Border, clear: &[bool], look: Look, blur: f64) -> Result<Self, TeethError> {
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
    fn pitch_px(&self) -> f64 {
        match self.frame.kind {
            Kind::Rack => self.frame.pitch(),
            Kind::Gear => TAU * self.form.tip / (f64::from(self.frame.count) + 2.0),
        }
    }

    /// Pixels for a millimetre, held against whatever else is known.
    fn scale(
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

    fn check_count(&self, options: &Options) -> Result<(), TeethError> {
        let counted = self.readings.len() as u32;
        match options.teeth {
            Some(said) if said != counted => Err(TeethError::WrongTeeth { said, counted }),
            _ => Ok(()),
        }
    }

    fn report(&self, options: &Options, px_per_mm: f64, size: (usize, usize)) -> Report {
        let worst = self.spread.iter().copied().fold(0.0, f64::max);
        let limit_mm = options
            .limit_mm
            .unwrap_or_else(|| (LIMIT_SD * worst).max(LIMIT_PX) / px_per_mm);
        let forward = self.runs_forward();
        let mut teeth: Vec<Tooth> = self
            .readings
            .iter()
            .map(|r| self.tooth(r, options, px_per_mm, limit_mm))
            .collect();
        if !forward {
            teeth.reverse();
        }
        for (tooth, n) in teeth.iter_mut().zip(1..) {
            tooth.n = n;
        }
        let pitch_px = self.pitch_px();
        let pitch_mm = pitch_px / px_per_mm;
        let centre = match self.frame.kind {
            Kind::Gear => [0.0, 0.0],
            Kind::Rack => [
                0.5 * (self.readings.len() as f64 - 1.0) * self.frame.pitch(),
                f64::midpoint(self.form.root, self.form.tip),
            ],
        };
        let mut report = Report {
            options: options.clone(),
            width_px: size.0,
            height_px: size.1,
            pitch_mm,
            pitch_u_mm: pitch_mm * options.scale_rel_u,
            module_mm: pitch_mm / PI,
            px_per_mm,
            pitch_px,
            centre_px: self.frame.to_pixel(centre),
            tip_radius_px: (self.frame.kind == Kind::Gear).then_some(self.form.tip),
            depth_mm: self.form.depth() / px_per_mm,
            blur_px: self.blur,
            limit_mm,
            limit_from: if options.limit_mm.is_some() {
                LimitFrom::Given
            } else {
                LimitFrom::Scatter
            },
            counts: Counts::of(&teeth),
            teeth,
            findings: Vec::new(),
        };
        self.note_teeth(&mut report, worst / px_per_mm);
        report
    }

    /// Whether the row's own order is from left to right, or downwards where it is upright.
    fn runs_forward(&self) -> bool {
        match self.frame.kind {
            Kind::Gear => true,
            Kind::Rack => {
                let (a, b) = (
                    self.frame.to_pixel([0.0, 0.0]),
                    self.frame.to_pixel([self.look_pitch, 0.0]),
                );
                let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                if dx.abs() > 0.05 * dy.abs() {
                    dx > 0.0
                } else {
                    dy > 0.0
                }
            }
        }
    }

    fn tooth(&self, reading: &Reading, options: &Options, px_per_mm: f64, limit_mm: f64) -> Tooth {
        let middle = self.frame.out_of_tooth(
            reading.tooth,
            [0.0, f64::midpoint(self.form.root, self.form.tip)],
        );
        let place = self.frame.to_pixel(middle);
        let edge = (BLUR_PART * self.blur).hypot(PIXEL_SD);
        // Half-width of a 95 % interval of a figure in pixels, with the scale's share.
        let u = |value: f64, spread: f64| {
            (2.0 * spread.hypot(edge)).hypot(options.scale_rel_u * value) / px_per_mm
        };
        let is_here = !reading.is_missing;
        let in_sight = |side: usize| reading.rest[side].iter().flatten().count() > 3;
        let flank = match (in_sight(0), in_sight(1)) {
            (true, true) if reading.loss[0] > reading.loss[1] => {
                Some((Side::Left, reading.loss[0]))
            }
            (_, true) => Some((Side::Right, reading.loss[1])),
            (true, false) => Some((Side::Left, reading.loss[0])),
            (false, false) => None,
        }
        .filter(|_| is_here);
        let [flank_sd, tip_sd, place_sd, bend_sd] = self.spread;
        let figure = |value: Option<f64>, spread: f64| {
            let value = value.filter(|_| is_here);
            (value.map(|v| v / px_per_mm), value.map(|v| u(v, spread)))
        };
        let moved = flank.map(|_| reading.place);
        let (flank_mm, flank_u_mm) = figure(flank.map(|f| f.1), flank_sd);
        let (tip_loss_mm, tip_loss_u_mm) = figure(reading.tip.map(|t| -t), tip_sd);
        let (pitch_error_mm, pitch_error_u_mm) = figure(moved, place_sd);
        let (bend_mm, bend_u_mm) = figure(flank.map(|_| reading.bend), bend_sd);
        let rounded = (BURR_BLUR * self.blur).min(BURR_PART * reading.gain);
        let (burr_mm, burr_u_mm) = figure(Some(reading.gain), flank_sd.hypot(rounded));
        let worn = [
            (flank_mm, flank_u_mm),
            (tip_loss_mm.map(|t| t.max(0.0)), tip_loss_u_mm),
            (pitch_error_mm, pitch_error_u_mm),
            (bend_mm, bend_u_mm),
        ];
        let decide = |(value, u): (Option<f64>, Option<f64>)| {
            value
                .zip(u)
                .map(|(v, u)| crate::Verdict::of(v, u, limit_mm))
        };
        let decided: Vec<crate::Verdict> = worn.into_iter().filter_map(decide).collect();
        let is_clouded = is_here && reading.clouded > MOST_CLOUDED;
        let verdict = if !is_here {
            Verdict::Missing
        } else if decided.contains(&crate::Verdict::Out) && !is_clouded {
            Verdict::Worn
        } else if decided.len() == worn.len()
            && decided.iter().all(|v| *v == crate::Verdict::In)
            && decide((burr_mm, burr_u_mm)) == Some(crate::Verdict::In)
        {
            Verdict::Sound
        } else {
            Verdict::Undecided
        };
        Tooth {
            n: 0,
            x_px: place[0],
            y_px: place[1],
            flank_mm,
            flank_u_mm,
            worse_flank: flank.map(|f| f.0),
            tip_loss_mm,
            tip_loss_u_mm,
            pitch_error_mm,
            pitch_error_u_mm,
            bend_mm,
            bend_u_mm,
            burr_mm,
            burr_u_mm,
            is_clouded,
            verdict,
            trace: self.trace(reading),
        }
    }

    /// The form from the left foot over the tip to the right foot, in the photograph.
    fn trace(&self, reading: &Reading) -> Vec<TracePoint> {
        let form = &self.form;
        let steps = form.flank.1 - form.flank.0;
        let count = steps.clamp(1, TRACED - 1);
        let point = |at: [f64; 2], off: Option<f64>| {
            let [x, y] = self
                .frame
                .to_pixel(self.frame.out_of_tooth(reading.tooth, at));
            let round = |v: f64| (v * 100.0).round() / 100.0;
            TracePoint {
                x_px: round(x),
                y_px: round(y),
                off_px: off.filter(|_| !reading.is_missing).map(round),
            }
        };
        let flank = |side: usize, hand: f64| -> Vec<TracePoint> {
            (0..=count)
                .map(|i| {
                    let j = i * steps / count;
                    let step = form.flank.0 + j;
                    let at = [hand * form.half[step], form.height_of(step)];
                    point(at, reading.off[side].get(j).copied().flatten())
                })
                .collect()
        };
        let mut trace = flank(0, -1.0);
        trace.extend([-0.6, 0.0, 0.6].map(|part| {
            let x = part * form.half_tip;
            let y = match self.frame.kind {
                Kind::Rack => form.tip,
                Kind::Gear => (form.tip * form.tip - x * x).max(0.0).sqrt(),
            };
            point([x, y], reading.tip)
        }));
        let mut right = flank(1, 1.0);
        right.reverse();
        trace.extend(right);
        trace
    }

    /// What the teeth give to notice.
    fn note_teeth(&self, report: &mut Report, scatter_mm: f64) {
        let mut findings = Vec::new();
        for tooth in &report.teeth {
            let out = |value: Option<f64>, u: Option<f64>| {
                value
                    .zip(u)
                    .filter(|(v, u)| v.abs() - u > report.limit_mm)
                    .map(|(v, _)| v)
            };
            if tooth.is_clouded {
                findings.push(Finding::Clouded { n: tooth.n });
            }
            if let Some(bend_mm) = out(tooth.bend_mm, tooth.bend_u_mm) {
                findings.push(Finding::Bent {
                    n: tooth.n,
                    bend_mm,
                });
            }
            if let Some(by_mm) = out(tooth.burr_mm, tooth.burr_u_mm) {
                findings.push(Finding::StandsOut { n: tooth.n, by_mm });
            }
        }
        let one_sided = self.form.one_sided / report.px_per_mm;
        if one_sided.abs() > report.limit_mm {
            findings.push(Finding::OneSided {
                side: if one_sided > 0.0 {
                    Side::Left
                } else {
                    Side::Right
                },
                by_mm: one_sided.abs(),
            });
        }
        let here = report.teeth.len() as u32 - report.counts.missing;
        if report.counts.sound * 2 < here {
            findings.push(Finding::FormNotSure {
                agree: report.counts.sound,
                of: here,
            });
        }
        if self.is_cut {
            findings.push(Finding::RowCut);
        }
        let room = self.room.0 + self.room.1;
        if room > 0 {
            findings.push(Finding::RoomAtEnds { teeth: room });
        }
        if self.frame.kind == Kind::Gear {
            findings.push(Finding::StandardTips);
        }
        if report.limit_from == LimitFrom::Scatter {
            findings.push(Finding::LimitFromScatter {
                scatter_mm,
                limit_mm: report.limit_mm,
            });
        }
        if self.frame.scale_change() > PERSPECTIVE {
            findings.push(Finding::Perspective {
                scale_change: self.frame.scale_change(),
            });
        }
        if self.frame.bending().abs() > DISTORTION {
            findings.push(Finding::Distortion {
                at_corner: self.frame.bending().abs(),
            });
        }
        report.findings.extend(findings);
    }
}

/// What the photograph gives to notice.
fn note_photograph(report: &mut Report, borders: &Borders, levels: &Levels, shine: f64) {
    let mut findings = Vec::new();
    if report.blur_px > SOFT_PX || report.blur_px > SOFT * report.pitch_px {
        findings.push(Finding::Blurred {
            blur_px: report.blur_px,
        });
    }
    if report.pitch_px < FEW_PX {
        findings.push(Finding::FewPixels {
            pitch_px: report.pitch_px,
        });
    }
    if levels.too_bright > TOO_BRIGHT {
        findings.push(Finding::TooBright {
            share: levels.too_bright,
        });
    }
    if levels.unevenness > UNEVEN {
        findings.push(Finding::UnevenLight {
            ratio: levels.unevenness,
        });
    }
    if shine > SHINE {
        findings.push(Finding::Shine { share: shine });
    }
    if borders.specks > 0 {
        findings.push(Finding::Specks {
            count: borders.specks,
        });
    }
    report.findings.extend(findings);
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

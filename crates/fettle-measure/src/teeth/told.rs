//! What was measured of the teeth, in millimetres and in words.

use std::f64::consts::PI;

use super::measured::Measured;
use super::tooth::Reading;
use super::{Counts, Finding, Kind, LimitFrom, Options, Report, Side, Tooth, TracePoint, Verdict};

const MOST_CLOUDED: f64 = 0.08;
/// Change of scale over the part that is said, and that is too much.
const PERSPECTIVE: f64 = 0.01;
const DISTORTION: f64 = 0.002;
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
/// Points of a trace on each flank.
const TRACED: usize = 14;

impl Measured {
    pub(super) fn report(&self, options: &Options, px_per_mm: f64, size: (usize, usize)) -> Report {
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

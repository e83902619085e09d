//! Teeth on their photograph: the form that the sound ones share, and how far each outline lies from it, magnified.

use fettle_measure::teeth::{Report, Tooth, TracePoint, Verdict};

use crate::mark::Mark;
use crate::sheet::{Sheet, Tone};
use crate::svg::{Anchor, Area, Drawing, Pen, Point, at};
use crate::written::signed_off;

/// Teeth drawn large, and the side of each.
const CLOSE: usize = 5;
const CLOSE_SIDE: f64 = 180.0;
/// Pitches across such a drawing.
const CLOSE_PITCHES: f64 = 1.25;
/// The drawing's longer side.
const SIDE: f64 = 960.0;
/// Room below for the key.
const KEY: f64 = 46.0;
/// Deviations are drawn no longer than this part of the pitch.
const LONGEST: f64 = 0.45;
const MAGNIFIED: [f64; 8] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];
/// Numbers of teeth stand no nearer than this.
const LEAST_APART: f64 = 16.0;
/// A word beside a tooth needs this much.
const WORD_APART: f64 = 44.0;

/// Draws the teeth in the photograph's place, over it when `photo` is its address.
///
/// The form that the sound teeth share is a thin line, the outline beside it a bold one, its distance magnified by the figure stated; a broken line is
/// the limit, magnified alike. Teeth are numbered; one that is not sound carries a mark and its verdict.
#[must_use]
pub fn teeth_overlay(report: &Report, photo: Option<&str>, sheet: Sheet) -> String {
    let (width_px, height_px) = (report.width_px as f64, report.height_px as f64);
    let to_sheet = SIDE / width_px.max(height_px).max(1.0);
    let (width, height) = (width_px * to_sheet, height_px * to_sheet);
    let title = "Teeth with what each has lost against the sound ones";
    let close = worst(report);
    let below = if close.is_empty() {
        0.0
    } else {
        CLOSE_SIDE + 44.0
    };
    let mut drawing = Drawing::new(width.max(480.0), height + KEY + below, title, sheet);
    let id = photo.map(|href| format!("photo-{:x}", mark_of(href)));
    let ground = Area {
        left: 0.0,
        top: 0.0,
        right: width,
        bottom: height,
    };
    match (photo, &id) {
        (Some(href), Some(id)) => drawing.picture(&ground, href, id),
        _ => drawing.rect(&ground, Tone::Paper, Pen::HAIR),
    }
    let scene = Scene {
        to_sheet,
        moved: at(0.0, 0.0),
        magnified: magnified(report, &report.teeth),
        limit: report.limit_mm * report.px_per_mm,
        pitch: report.pitch_px * to_sheet,
    };
    for tooth in &report.teeth {
        scene.draw_tooth(&mut drawing, tooth);
    }
    scene.draw_numbers(&mut drawing, report);
    draw_key(&mut drawing, report, scene.magnified, height);
    for (place, tooth) in close.into_iter().enumerate() {
        let left = place as f64 * (CLOSE_SIDE + 14.0);
        let top = height + KEY + 4.0;
        let view = Area {
            left,
            top,
            right: left + CLOSE_SIDE,
            bottom: top + CLOSE_SIDE,
        };
        draw_close(&mut drawing, report, tooth, &view, id.as_deref(), to_sheet);
    }
    drawing.finish()
}

/// Tells one photograph from another on the same page (FNV-1a).
fn mark_of(href: &str) -> u64 {
    href.bytes().fold(0xcbf2_9ce4_8422_2325, |mark, byte| {
        (mark ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// The teeth that are drawn large: of those that are not sound the worst, in their order.
fn worst(report: &Report) -> Vec<&Tooth> {
    let off = |tooth: &Tooth| {
        let offs = tooth.trace.iter().filter_map(|point| point.off_px);
        offs.fold(0.0, |most: f64, off| most.max(off.abs()))
    };
    let mut teeth: Vec<&Tooth> = report
        .teeth
        .iter()
        .filter(|tooth| tooth.verdict != Verdict::Sound && !tooth.trace.is_empty())
        .collect();
    teeth.sort_by(|a, b| off(b).total_cmp(&off(a)));
    teeth.truncate(CLOSE);
    teeth.sort_by_key(|tooth| tooth.n);
    teeth
}

/// One tooth large, with its number, verdict and how many times its deviation is drawn.
fn draw_close(
    drawing: &mut Drawing,
    report: &Report,
    tooth: &Tooth,
    view: &Area,
    id: Option<&str>,
    to_sheet: f64,
) {
    let large = CLOSE_SIDE / (CLOSE_PITCHES * report.pitch_px).max(1.0);
    let middle = at(
        (view.left + view.right) / 2.0,
        (view.top + view.bottom) / 2.0,
    );
    let moved = at(middle.x - tooth.x_px * large, middle.y - tooth.y_px * large);
    let scene = Scene {
        to_sheet: large,
        moved,
        magnified: magnified(report, std::slice::from_ref(tooth)),
        limit: report.limit_mm * report.px_per_mm,
        pitch: report.pitch_px * large,
    };
    drawing.window(view, |drawing| {
        if let Some(id) = id {
            drawing.picture_again(id, moved, large / to_sheet);
        }
        scene.draw_tooth(drawing, tooth);
    });
    for (from, to) in [
        (at(view.left, view.top), at(view.right, view.top)),
        (at(view.right, view.top), at(view.right, view.bottom)),
        (at(view.right, view.bottom), at(view.left, view.bottom)),
        (at(view.left, view.bottom), at(view.left, view.top)),
    ] {
        drawing.line(from, to, Pen::HAIR);
    }
    let words = format!(
        "tooth {}, {}, drawn {} times",
        tooth.n,
        tooth.verdict.as_str(),
        signed_off(scene.magnified, 0)
    );
    drawing.text(
        at(view.left, view.bottom + 16.0),
        Anchor::Start,
        11.0,
        &words,
    );
}

/// How many times deviations are drawn: as often as the greatest has room, and the limit still is no mountain.
fn magnified(report: &Report, teeth: &[Tooth]) -> f64 {
    let deviations = teeth.iter().flat_map(|tooth| &tooth.trace);
    let greatest = deviations
        .filter_map(|point| point.off_px)
        .filter(|off| off.is_finite())
        .fold(0.0, |most: f64, off| most.max(off.abs()));
    let limit = 3.0 * report.limit_mm * report.px_per_mm;
    let most = LONGEST * report.pitch_px / greatest.max(limit).max(1e-6);
    let fitting = MAGNIFIED.iter().rev().find(|times| **times <= most);
    fitting.copied().unwrap_or(1.0)
}

struct Scene {
    to_sheet: f64,
    moved: Point,
    magnified: f64,
    limit: f64,
    pitch: f64,
}

impl Scene {
    fn place(&self, x_px: f64, y_px: f64) -> Point {
        at(
            x_px * self.to_sheet + self.moved.x,
            y_px * self.to_sheet + self.moved.y,
        )
    }

    fn draw_tooth(&self, drawing: &mut Drawing, tooth: &Tooth) {
        let trace = &tooth.trace;
        let outwards = normals(trace);
        let moved = |by: &dyn Fn(&TracePoint) -> Option<f64>| -> Vec<Vec<Point>> {
            let places = trace.iter().zip(&outwards).map(|(point, out)| {
                let by = by(point)? * self.magnified;
                Some(self.place(point.x_px + by * out[0], point.y_px + by * out[1]))
            });
            runs(places)
        };
        for line in moved(&|_| Some(0.0)) {
            over(drawing, &line, Pen::FINE);
        }
        for line in moved(&|_| Some(-self.limit)) {
            over(drawing, &line, Pen::BROKEN.wide(0.8));
        }
        for line in moved(&|point| point.off_px.filter(|off| off.is_finite())) {
            over(drawing, &line, Pen::BOLD.wide(2.0));
        }
    }

    /// Numbers beyond the tips, with the verdict of those that are not sound.
    fn draw_numbers(&self, drawing: &mut Drawing, report: &Report) {
        let every = (LEAST_APART / self.pitch.max(1e-6)).ceil().max(1.0) as u32;
        for (place, tooth) in report.teeth.iter().enumerate() {
            let out = outward(report, place);
            let tip = self.place(tooth.x_px, tooth.y_px);
            let beyond = |by: f64| at(tip.x + out[0] * by, tip.y + out[1] * by);
            let height = report.depth_mm * report.px_per_mm * self.to_sheet;
            let number = beyond(0.5 * height + 16.0);
            let is_sound = tooth.verdict == Verdict::Sound;
            if !is_sound || (tooth.n - 1) % every == 0 {
                let centred = at(number.x, number.y + 4.0);
                drawing.text_on_paper(centred, Anchor::Middle, 11.0, &tooth.n.to_string());
            }
            if !is_sound {
                let shape = match tooth.verdict {
                    Verdict::Missing => Mark::OpenTriangle,
                    Verdict::Undecided => Mark::OpenCircle,
                    _ => Mark::FilledSquare,
                };
                let mark = beyond(0.5 * height + 31.0);
                shape.draw(drawing, mark, 4.5);
                if self.pitch >= WORD_APART {
                    let below = beyond(0.5 * height + 46.0);
                    let below = at(below.x, below.y + 3.0);
                    drawing.text_on_paper(below, Anchor::Middle, 10.5, tooth.verdict.as_str());
                }
            }
        }
    }
}

/// A line that is seen on black and on white: on a wider one in the sheet's colour.
fn over(drawing: &mut Drawing, points: &[Point], pen: Pen) {
    drawing.polyline(points, pen.on_paper());
    drawing.polyline(points, pen);
}

/// Outward normals along a trace that runs from the left foot over the tip to the right one.
fn normals(trace: &[TracePoint]) -> Vec<[f64; 2]> {
    let last = trace.len().saturating_sub(1);
    (0..trace.len())
        .map(|i| {
            let (before, after) = (i.saturating_sub(1), (i + 1).min(last));
            let along = [
                trace[after].x_px - trace[before].x_px,
                trace[after].y_px - trace[before].y_px,
            ];
            let length = along[0].hypot(along[1]);
            if length > 0.0 {
                [along[1] / length, -along[0] / length]
            } else {
                [0.0, 0.0]
            }
        })
        .collect()
}

/// Stretches without a gap.
fn runs(places: impl Iterator<Item = Option<Point>>) -> Vec<Vec<Point>> {
    let mut runs = vec![Vec::new()];
    for place in places {
        match (place, runs.last_mut()) {
            (Some(point), Some(run)) if point.x.is_finite() && point.y.is_finite() => {
                run.push(point);
            }
            (_, Some(run)) if !run.is_empty() => runs.push(Vec::new()),
            _ => {}
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

/// From root to tip: away from a gear's middle; as the nearest whole tooth of a rack has it.
fn outward(report: &Report, place: usize) -> [f64; 2] {
    let unit = |x: f64, y: f64| {
        let length = x.hypot(y);
        (length > 0.0).then(|| [x / length, y / length])
    };
    let up = [0.0, -1.0];
    let Some(tooth) = report.teeth.get(place) else {
        return up;
    };
    if report.tip_radius_px.is_some() {
        let [x, y] = report.centre_px;
        return unit(tooth.x_px - x, tooth.y_px - y).unwrap_or(up);
    }
    let ends = |tooth: &Tooth| Some((*tooth.trace.first()?, *tooth.trace.last()?));
    let whole = report.teeth.iter().enumerate();
    let whole = whole.filter_map(|(i, tooth)| Some((i.abs_diff(place), ends(tooth)?)));
    whole
        .min_by_key(|(apart, _)| *apart)
        .and_then(|(_, (from, to))| unit(to.y_px - from.y_px, from.x_px - to.x_px))
        .unwrap_or(up)
}

fn draw_key(drawing: &mut Drawing, report: &Report, magnified: f64, top: f64) {
    let rule = |drawing: &mut Drawing, x: f64, y: f64, pen: Pen, words: &str| {
        drawing.line(at(x, y), at(x + 26.0, y), pen);
        drawing.text(at(x + 32.0, y + 4.0), Anchor::Start, 11.0, words);
    };
    let (first, second) = (top + 15.0, top + 34.0);
    rule(drawing, 4.0, first, Pen::FINE, "form of the sound teeth");
    let times = format!(
        "outline, its distance drawn {} times",
        signed_off(magnified, 0)
    );
    rule(drawing, 190.0, first, Pen::BOLD.wide(2.0), &times);
    let limit = format!("limit, {} mm", signed_off(report.limit_mm, 3));
    rule(drawing, 4.0, second, Pen::BROKEN.wide(0.8), &limit);
    let mut x = 190.0;
    for (mark, words) in [
        (Mark::FilledSquare, "worn"),
        (Mark::OpenTriangle, "missing"),
        (Mark::OpenCircle, "undecided"),
    ] {
        mark.draw(drawing, at(x + 5.0, second), 4.5);
        drawing.text(at(x + 16.0, second + 4.0), Anchor::Start, 11.0, words);
        x += 84.0;
    }
}

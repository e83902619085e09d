//! Limits, one reader for each kind.

use crate::desk::{Desk, Draft, Kind, Span, shorten};
use crate::fields::Fields;
use crate::model::{
    CheckLimit, DialMark, DialSeries, DialTolerance, Limit, LimitKind, MeterLimit, PartId,
    RangefinderLimit, ReadingLimit, RegisterLimit, ShutterKind, ShutterLimit, SignId, TeethLimit,
    Toothed,
};
use crate::problem::ProblemKind;
use crate::range;
use crate::values::Field;

pub(super) fn limit(f: &mut Fields<'_, '_, '_>, _id: &str) -> Option<Limit> {
    let Some(kind) = f.word::<LimitKind>("kind") else {
        // Which keys belong here is not known without the kind.
        f.disregard();
        return None;
    };
    let name = f.text("name", "\"...\"");
    match kind {
        LimitKind::Shutter => shutter(f, name).map(Limit::Shutter),
        LimitKind::Register => register(f, name).map(Limit::Register),
        LimitKind::Rangefinder => rangefinder(f, name).map(Limit::Rangefinder),
        LimitKind::Meter => meter(f, name).map(Limit::Meter),
        LimitKind::Teeth => teeth(f, name).map(Limit::Teeth),
        LimitKind::Reading => reading(f, name).map(Limit::Reading),
        LimitKind::Check => check(f, name).map(Limit::Check),
    }
}

fn shutter(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<ShutterLimit> {
    let marks = marks(f);
    let series = f.word_if_any("series").unwrap_or(DialSeries::Marked);
    let tolerances = tolerances(f, &marks);
    foreign_keys(f);
    let fully_open_f = f.number_if_any("fully_open_f", &range::F_NUMBER);
    let stops_f = f.numbers("stops_f", &range::F_NUMBER);
    let sensors_mm = f.numbers("sensors_mm", &range::ALONG_MM);
    let gate_mm = f.number_if_any("gate_mm", &range::FRAME_MM);
    rising(
        f.desk,
        &format!("{}.stops_f", f.path),
        &stops_f,
        "give the f-numbers from the widest opening to the smallest",
    );
    rising(
        f.desk,
        &format!("{}.sensors_mm", f.path),
        &sensors_mm,
        "give the places along the curtain's travel",
    );
    if let (Some(open), Some((widest, span))) = (fully_open_f, stops_f.first())
        && *widest < open
    {
        let message = format!(
            "`{}.stops_f` begins at {widest}, wider than `fully_open_f`, {open}",
            f.path
        );
        f.desk.report(
            Draft::error(ProblemKind::Order, span, message)
                .help("the lens cannot open wider than fully"),
        );
    }
    if let (Some(gate), Some((furthest, span))) = (gate_mm, sensors_mm.last())
        && *furthest > gate
    {
        let message = format!(
            "`{}.sensors_mm` reaches {furthest}, beyond the gate of {gate} mm",
            f.path
        );
        f.desk.report(
            Draft::error(ProblemKind::OutOfRange, span, message)
                .help("sensors sit within the gate"),
        );
    }
    Some(ShutterLimit {
        name: name?,
        marks: marks.into_iter().map(|(mark, _)| mark).collect(),
        series,
        tolerances,
        fully_open_f,
        stops_f: figures(stops_f),
        sensors_mm: figures(sensors_mm),
        gate_mm,
    })
}

/// Warns of keys that mean nothing for the model's sort of shutter.
fn foreign_keys(f: &mut Fields<'_, '_, '_>) {
    let Some(shutter) = f.desk.shutter else {
        return;
    };
    let foreign: &[&'static str] = match shutter {
        ShutterKind::Leaf => &["gate_mm", "sensors_mm"],
        ShutterKind::FocalPlane => &["fully_open_f"],
    };
    for key in foreign {
        let Some(field) = f.optional(key) else {
            continue;
        };
        let message = format!("`{}` means nothing for a {shutter} shutter", field.path);
        f.desk.report(
            Draft::warning(ProblemKind::Needless, &field.span, message)
                .help("take it out, or put `model.shutter` right"),
        );
    }
}

fn marks(f: &mut Fields<'_, '_, '_>) -> Vec<(DialMark, Span)> {
    let Some(field) = f.required("marks", "[\"1\", \"1/2\", \"1/5\"]") else {
        return Vec::new();
    };
    let items = f.desk.list(&field, "speeds");
    if field.value.as_array().is_some_and(|a| a.is_empty()) {
        let message = format!("`{}` is empty", field.path);
        f.desk.report(
            Draft::error(ProblemKind::Empty, &field.span, message)
                .help("give the marks of the dial, slowest first"),
        );
    }
    let mut found: Vec<(DialMark, Span)> = Vec::new();
    for item in &items {
        let Some(mark) = mark(f.desk, item) else {
            continue;
        };
        let path = &field.path;
        if let Some((_, first)) = found.iter().find(|(m, _)| *m == mark) {
            let message = format!("`{path}` gives {mark} twice");
            let draft = Draft::error(ProblemKind::Repeated, &item.span, message);
            f.desk.report(
                draft
                    .help("take one of them out")
                    .also(first, "it stands here already"),
            );
            continue;
        }
        if let Some((last, _)) = found.last()
            && mark > *last
        {
            let message = format!("`{path}` gives {mark} after {last}, which is faster");
            f.desk.report(
                Draft::error(ProblemKind::Order, &item.span, message)
                    .help("give the marks slowest first"),
            );
        }
        found.push((mark, item.span.clone()));
    }
    found
}

pub(super) fn mark(desk: &mut Desk<'_>, item: &Field<'_>) -> Option<DialMark> {
    const HELP: &str =
        "write whole seconds or a fraction between quotes, such as `\"2\"` or `\"1/250\"`";
    let Some(text) = item.value.as_str() else {
        desk.wrong_type(item, "a speed", HELP);
        return None;
    };
    let mark = text.parse().ok();
    if mark.is_none() {
        let message = format!(
            "`{}` is `{}`, which is not a speed",
            item.path,
            shorten(text)
        );
        let help = if matches!(text.trim(), "B" | "T" | "b" | "t") {
            "leave B and T out: they have no marked time"
        } else {
            HELP
        };
        desk.report(Draft::error(ProblemKind::BadMark, &item.span, message).help(help));
    }
    mark
}

fn tolerances(f: &mut Fields<'_, '_, '_>, marks: &[(DialMark, Span)]) -> Vec<DialTolerance> {
    let Some(field) = f.required("tolerances", "[{ to = \"1/125\", stops = 0.25 }]") else {
        return Vec::new();
    };
    let mut found: Vec<DialTolerance> = Vec::new();
    let mut all_read = field.value.is_array();
    let items = f.desk.list(&field, "tables in braces");
    for item in &items {
        let Some(mut t) = f.desk.table(item) else {
            all_read = false;
            continue;
        };
        let to = t.required("to", "\"1/125\"");
        let to = to.and_then(|field| mark(t.desk, &field).map(|mark| (mark, field.span)));
        let stops = t.number("stops", &range::STOPS, "0.25");
        t.finish();
        let (Some((to, span)), Some(stops)) = (to, stops) else {
            all_read = false;
            continue;
        };
        check_tolerance(f.desk, &item.path, (to, &span), marks, found.last());
        found.push(DialTolerance { to, stops });
    }
    if let (true, Some((fastest, _))) = (all_read, marks.iter().min_by_key(|(m, _)| *m))
        && found.last().is_none_or(|last| last.to > *fastest)
    {
        let message = format!(
            "`{}` leaves the speeds up to {fastest} without a tolerance",
            field.path
        );
        f.desk.report(
            Draft::error(ProblemKind::Uncovered, &field.span, message).help(format!(
                "let the last one reach the top speed: `to = \"{fastest}\"`"
            )),
        );
    }
    found
}

fn check_tolerance(
    desk: &mut Desk<'_>,
    path: &str,
    (to, span): (DialMark, &Span),
    marks: &[(DialMark, Span)],
    before: Option<&DialTolerance>,
) {
    if !marks.is_empty() && !marks.iter().any(|(m, _)| *m == to) {
        let message = format!("`{path}.to` is {to}, which is not a mark of the dial");
        desk.report(
            Draft::error(ProblemKind::Unresolved, span, message).help("name one of `marks`"),
        );
    }
    if let Some(before) = before
        && to >= before.to
    {
        let message = format!(
            "`{path}.to` is {to}, not faster than {} before it",
            before.to
        );
        desk.report(
            Draft::error(ProblemKind::Order, span, message)
                .help("give the tolerances in the dial's order, slowest first"),
        );
    }
}

fn register(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<RegisterLimit> {
    let target_mm = f.number("target_mm", &range::REGISTER_MM, "44.2");
    let limit_mm = f.number("limit_mm", &range::REGISTER_LIMIT_MM, "0.03");
    let frame_mm = f.pair("frame_mm", &range::FRAME_MM, "[36, 24]");
    let seats_mm = match f.optional("seats_mm") {
        Some(field) => {
            let seats = f.desk.list(&field, "pairs of numbers");
            seats
                .iter()
                .filter_map(|seat| f.desk.pair(seat, &range::SEAT_MM))
                .collect()
        }
        None => Vec::new(),
    };
    Some(RegisterLimit {
        name: name?,
        target_mm: target_mm?,
        limit_mm: limit_mm?,
        frame_mm: frame_mm?,
        seats_mm,
    })
}

fn rangefinder(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<RangefinderLimit> {
    let focal_mm = f.number("focal_mm", &range::FOCAL_MM, "50");
    let aperture = f.number("f", &range::F_NUMBER, "2");
    let coc_mm = f.number("coc_mm", &range::COC_MM, "0.03");
    let limit_depths = f.number("limit_depths", &range::DEPTHS, "1.0");
    let field = f.required("distances_m", "[1, 3, 10]");
    let distances = field.map(|field| {
        let distances = f.desk.numbers(&field, &range::DISTANCE_M);
        if field.value.as_array().is_some_and(|a| a.is_empty()) {
            let message = format!("`{}` is empty", field.path);
            f.desk.report(
                Draft::error(ProblemKind::Empty, &field.span, message)
                    .help("give the distances at which it is read"),
            );
        }
        rising(
            f.desk,
            &field.path,
            &distances,
            "give the distances nearest first",
        );
        if let (Some(focal), Some((nearest, span))) = (focal_mm, distances.first())
            && nearest * 1000.0 < 4.0 * focal
        {
            // Film and subject of a thin lens are never nearer than four focal lengths.
            let message = format!(
                "`{}` begins at {nearest} m, nearer than four focal lengths",
                field.path
            );
            f.desk.report(
                Draft::error(ProblemKind::OutOfRange, span, message).help(
                    "no lens draws an image so near; distances are metres from the film plane",
                ),
            );
        }
        figures(distances)
    });
    let base_mm = f.number_if_any("base_mm", &range::BASE_MM);
    let magnification = f.number_if_any("magnification", &range::MAGNIFICATION);
    let nodal_mm = f.number_if_any("nodal_mm", &range::NODAL_MM);
    let eye_arcsec = f.number_if_any("eye_arcsec", &range::ARC_SECONDS);
    Some(RangefinderLimit {
        name: name?,
        focal_mm: focal_mm?,
        f: aperture?,
        coc_mm: coc_mm?,
        limit_depths: limit_depths?,
        distances_m: distances?,
        base_mm,
        magnification,
        nodal_mm,
        eye_arcsec,
    })
}

fn meter(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<MeterLimit> {
    let limit_stops = f.number("limit_stops", &range::STOPS, "0.5");
    let from_ev = f.number("from_ev", &range::EV, "5");
    let to_ev = f.number("to_ev", &range::EV, "15");
    let click_stops = f.number_if_any("click_stops", &range::STOPS);
    if let (Some(from), Some(to)) = (from_ev, to_ev)
        && from >= to
    {
        let message = format!("`{}` runs from {from} to {to} EV", f.path);
        f.desk.report(
            Draft::error(ProblemKind::Order, &f.span, message)
                .help("`from_ev` must be less than `to_ev`"),
        );
    }
    Some(MeterLimit {
        name: name?,
        limit_stops: limit_stops?,
        from_ev: from_ev?,
        to_ev: to_ev?,
        click_stops,
    })
}

/// Involute teeth of today stand at this angle.
const USUAL_ANGLE_DEG: f64 = 20.0;

fn teeth(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<TeethLimit> {
    let part = f.some_ref::<PartId>("part", Kind::Part);
    let form = f.word::<Toothed>("form");
    let pitch_mm = f.number("pitch_mm", &range::PITCH_MM, "1.2566");
    let teeth = match f.optional("teeth") {
        Some(field) => f.desk.whole(&field, &range::TEETH),
        None => None,
    };
    let angle_deg = match f.optional("angle_deg") {
        Some(field) => f.desk.number(&field, &range::ANGLE_DEG),
        None => Some(USUAL_ANGLE_DEG),
    };
    let wear_mm = f.number("wear_mm", &range::WEAR_MM, "0.04");
    let sign = f.ref_if_any::<SignId>("sign", Kind::Sign);
    Some(TeethLimit {
        name: name?,
        part: part?.id,
        form: form?,
        pitch_mm: pitch_mm?,
        teeth,
        angle_deg: angle_deg?,
        wear_mm: wear_mm?,
        sign: sign.map(|sign| sign.id),
    })
}

fn reading(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<ReadingLimit> {
    let unit = f.text("unit", "\"ms\"");
    let target = f.number("target", &range::READING, "0.8");
    let limit = f.number("limit", &range::READING_LIMIT, "0.8");
    Some(ReadingLimit {
        name: name?,
        unit: unit?,
        target: target?,
        limit: limit?,
    })
}

fn check(f: &mut Fields<'_, '_, '_>, name: Option<String>) -> Option<CheckLimit> {
    let question = f.text(
        "question",
        "\"After a minute under the lamp, is the film gate dark?\"",
    );
    Some(CheckLimit {
        name: name?,
        question: question?,
    })
}

/// Reports figures that do not rise.
fn rising(desk: &mut Desk<'_>, path: &str, figures: &[(f64, Span)], help: &str) {
    for pair in figures.windows(2) {
        let [(before, _), (after, span)] = pair else {
            continue;
        };
        if after <= before {
            let message = format!("`{path}` gives {after} after {before}");
            desk.report(Draft::error(ProblemKind::Order, span, message).help(help));
        }
    }
}

fn figures(figures: Vec<(f64, Span)>) -> Vec<f64> {
    figures.into_iter().map(|(figure, _)| figure).collect()
}

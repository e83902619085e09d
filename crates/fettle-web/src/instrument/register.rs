//! The register: how far the film lies behind the lens's seat, and how squarely.

use fettle_bench::{BenchError, Phase, ReadingTaken, VisitId, register_options, register_reading};
use fettle_draw::{Sheet, register_chart};
use fettle_measure::Refused;
use fettle_measure::register::{self, Options, Report, Stock, analyse, read};
use fettle_notes::RegisterLimit;
use maud::{Markup, PreEscaped, html};

use super::run::{Column, Sent};
use super::{Instrument, figures, findings, needed, optional};
use crate::form::{Fields, Form, Wrong};
use crate::number;
use crate::shutter::verdict;
use crate::urls;

/// The depth from lens seat to film plane.
pub(crate) struct Register;

impl Instrument for Register {
    type Options = Options;
    type Report = Report;
    type Limit = RegisterLimit;

    const ID: &'static str = "register";
    const URL: &'static str = urls::REGISTER;
    const TITLE: &'static str = "Register";
    const LEAD: &'static str = "Does the film lie where the lens images? Read the depth from the lens’s seat to the film plane at four points of the gate or more, \
                                one of them more than once.";
    const COLUMNS: &'static [Column] = &[
        Column {
            name: "x_mm",
            heading: "To the right",
            unit: "mm",
        },
        Column {
            name: "y_mm",
            heading: "Up",
            unit: "mm",
        },
        Column {
            name: "reading_mm",
            heading: "Depth",
            unit: "mm",
        },
    ];

    fn asked(form: &Form) -> Markup {
        html! {
            fieldset.group {
                legend { "What it should be" }
                div.fields {
                    (form.line("target", "Register").unit("mm").needed().class("third").draw())
                    (form.line("limit", "May be off by").unit("mm").needed().class("third").draw())
                    (form.line("frame", "Frame").unit("mm").hint("width x height; empty: 36x24").class("third").draw())
                    (form.line("focal", "Focal length").unit("mm").hint("for the distance that is sharp").class("third").draw())
                    (form.line("f", "Widest f-number").hint("for the error in depths").class("third").draw())
                    (form.line("coc", "Circle of confusion").unit("mm").hint("0.03 for 24×36, about 0.05 for 6×6").class("third").draw())
                }
            }
        }
    }

    fn read_asked(fields: &Fields, wrong: &mut Wrong) -> Option<Options> {
        let target = needed(wrong, fields, "target", "the register that it should have");
        let limit = needed(wrong, fields, "limit", "how far it may be off");
        let frame = frame(fields, wrong);
        let mut options = Options::new(target?, limit?);
        options.frame_mm = frame?;
        optional(
            wrong,
            fields,
            "focal",
            "the focal length",
            &mut options.focal_mm,
        );
        optional(wrong, fields, "f", "the f-number", &mut options.f);
        optional(
            wrong,
            fields,
            "coc",
            "the circle of confusion",
            &mut options.coc_mm,
        );
        Some(options)
    }

    fn at_hand(form: &Form) -> Markup {
        html! {
            fieldset.group {
                legend { "At hand" }
                div.fields {
                    (form.line("shims", "Shims in the drawer").unit("mm").hint("such as 0.05x3, 0.1x2").class("third").draw())
                    (form.line("repeats", "One reading repeats to").unit("mm").hint("standard deviation; empty: from the scatter").class("third").draw())
                }
                p.quiet-text { "Places are counted from the frame’s middle, seen from the front: to the right and up." }
            }
        }
    }

    fn read_at_hand(fields: &Fields, options: &mut Options, wrong: &mut Wrong) {
        match Stock::read(&fields.text("shims").replace(';', ",")) {
            Ok(stock) => options.shims = stock,
            Err(error) => wrong.note("shims", error.to_string()),
        }
        let what = "how well one reading repeats";
        optional(
            wrong,
            fields,
            "repeats",
            what,
            &mut options.repeatability_mm,
        );
    }

    fn measure(run: &Sent, options: &Options) -> Result<Report, Refused> {
        let read = read(&run.bytes).map_err(|error| Refused::Run(run.told_on_page(&error)));
        let mut readings = read?;
        for reading in &mut readings {
            reading.line = run.on_page(reading.line);
        }
        analyse(&readings, options)
    }

    fn field_of(option: &str) -> &'static str {
        match option {
            "--target-mm" => "target",
            "--limit-mm" => "limit",
            "--frame-mm" => "frame",
            "--focal-mm" => "focal",
            "--f" => "f",
            "--coc-mm" => "coc",
            "--shims-mm" => "shims",
            "--repeatability-mm" => "repeats",
            _ => "",
        }
    }

    fn options(limit: &RegisterLimit) -> Options {
        register_options(limit)
    }

    fn holding(limit: &RegisterLimit) -> Vec<Vec<String>> {
        // The middle and four places well inside the gate, the middle twice.
        let [w, h] = limit.frame_mm;
        let (w, h) = ((w * 0.4).round(), (h * 0.4).round());
        let places = [(0.0, 0.0), (-w, h), (w, h), (w, -h), (-w, -h), (0.0, 0.0)];
        let place = |(x, y)| vec![number::plain(x), number::plain(y)];
        places.map(place).to_vec()
    }

    fn reading(
        visit: VisitId,
        phase: Phase,
        report: &Report,
        limit: &str,
    ) -> Result<ReadingTaken, BenchError> {
        register_reading(visit, phase, report, Some(limit))
    }

    fn result(report: &Report) -> Markup {
        let mm = |value: f64, u: Option<f64>| number::figure(value, u, "mm");
        let off = |value: f64, u: Option<f64>| number::deviation(value, u, "mm");
        let (class, word) = verdict(Some(report.verdict));
        let mut rows = vec![
            (
                "Register at the frame’s middle",
                mm(report.mean_mm, report.mean_mm_u),
            ),
            ("Off by", off(report.error_mm, report.error_mm_u)),
            ("Worst corner", off(report.worst_mm, report.worst_mm_u)),
            (
                "Tilt, corner to corner",
                mm(report.frame_tilt_mm, report.frame_tilt_mm_u),
            ),
        ];
        if let Some(film) = &report.at_film {
            if let Some(depths) = film.error_depths {
                rows.push((
                    "Off by, in depths",
                    number::deviation(depths, film.error_depths_u, ""),
                ));
            }
            rows.extend(
                film.sharp_at_m
                    .map(|m| ("Sharp at infinity’s setting", number::figure(m, None, "m"))),
            );
        }
        let shims: Vec<String> = report
            .shims
            .iter()
            .map(|mm| number::figure(*mm, None, "mm"))
            .collect();
        html! {
            p { span class={ "verdict " (class) } { (word) } " against ± " (number::figure(report.options.limit_mm, None, "mm")) " anywhere in the frame" }
            (figures(&rows))
            @if !shims.is_empty() {
                p { strong { "Add shims" } ": " (shims.join(" + ")) "; then off by " (off(report.left_mm, report.left_mm_u)) "." }
            }
            @if !report.seats.is_empty() { (seats(report)) }
            (findings(report.findings.iter().map(register::Finding::describe)))
            div.chart { (PreEscaped(register_chart(report, Sheet::Inherit))) }
        }
    }
}

fn seats(report: &Report) -> Markup {
    html! {
        div.table-wrap { table {
            caption { "Packing at each seat" }
            thead { tr { th.num { "To the right" } th.num { "Up" } th.num { "Wants" } th { "Shims" } th.num { "Then off by" } } }
            tbody { @for seat in &report.seats { tr {
                td.num { (number::figure(seat.x_mm, None, "mm")) } td.num { (number::figure(seat.y_mm, None, "mm")) }
                td.num { (number::deviation(seat.shim_mm, seat.shim_mm_u, "mm")) }
                td { (seat.shims.iter().map(|mm| number::figure(*mm, None, "")).collect::<Vec<_>>().join(" + ")) }
                td.num { (number::deviation(seat.left_mm, None, "mm")) }
            } } }
        } }
    }
}

fn frame(fields: &Fields, wrong: &mut Wrong) -> Option<(f64, f64)> {
    let text = fields.text("frame").replace(',', ".");
    if text.is_empty() {
        return Some((36.0, 24.0));
    }
    let sides = text.split_once(['x', 'X', '×']);
    let read = sides.and_then(|(w, h)| Some((w.trim().parse().ok()?, h.trim().parse().ok()?)));
    if read.is_none() {
        wrong.note(
            "frame",
            format!("“{text}” is no frame; write width x height in mm, such as 36x24"),
        );
    }
    read
}

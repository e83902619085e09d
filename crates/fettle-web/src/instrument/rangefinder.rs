//! The rangefinder against the lens.

use fettle_bench::{
    BenchError, Phase, ReadingTaken, VisitId, rangefinder_options, rangefinder_reading,
};
use fettle_draw::{Sheet, rangefinder_chart};
use fettle_measure::Refused;
use fettle_measure::rangefinder::{self, Options, Report, analyse, read};
use fettle_notes::RangefinderLimit;
use maud::{Markup, PreEscaped, html};

use super::run::{Column, Sent};
use super::{Instrument, figures, findings, needed, optional};
use crate::form::{Fields, Form, Wrong};
use crate::number;
use crate::shutter::verdict;
use crate::urls;

/// Whether the images meet where the lens is sharp.
pub(crate) struct Rangefinder;

impl Instrument for Rangefinder {
    type Options = Options;
    type Report = Report;
    type Limit = RangefinderLimit;

    const ID: &'static str = "rangefinder";
    const URL: &'static str = urls::RANGEFINDER;
    const TITLE: &'static str = "Rangefinder";
    const LEAD: &'static str = "Do the images meet where the lens is sharp? At several taped distances from the film plane bring the images together, and read how \
                                far the lens then stands out from its infinity.";
    const COLUMNS: &'static [Column] = &[
        Column {
            name: "distance_m",
            heading: "Distance",
            unit: "m, or inf",
        },
        Column {
            name: "extension_mm",
            heading: "Lens stands out",
            unit: "mm",
        },
        Column {
            name: "vertical_arcmin",
            heading: "Image too high",
            unit: "arcmin, may be empty",
        },
    ];

    fn asked(form: &Form) -> Markup {
        html! {
            fieldset.group {
                legend { "Lens and finder" }
                div.fields {
                    (form.line("focal", "Focal length").unit("mm").needed().class("third").draw())
                    (form.line("f", "Widest f-number").needed().class("third").draw())
                    (form.line("coc", "Circle of confusion").unit("mm").needed().hint("0.03 for 24×36, about 0.05 for 6×6").class("third").draw())
                    (form.line("limit", "May be off by").unit("depths").hint("f-number times circle of confusion; empty: 1").class("third").draw())
                    (form.line("base", "Base").unit("mm").hint("between the finder’s windows").class("third").draw())
                    (form.line("magnification", "Magnification").hint("empty: 1").class("third").draw())
                    (form.line("nodal", "Nodal separation").unit("mm").hint("of the lens; empty: 0").class("third").draw())
                    (form.line("eye", "The eye sets to").unit("″").hint("seconds of arc: 60 superimposed, 10 to 20 split; empty: 60").class("third").draw())
                }
            }
        }
    }

    fn read_asked(fields: &Fields, wrong: &mut Wrong) -> Option<Options> {
        let focal = needed(wrong, fields, "focal", "the focal length");
        let f = needed(wrong, fields, "f", "the widest f-number");
        let coc = needed(wrong, fields, "coc", "the circle of confusion");
        let mut options = Options::new(focal?, f?, coc?);
        let mut or_as_is = |name: &str, what: &str, into: &mut f64| {
            if let Some(value) = wrong.number(fields, name, what) {
                *into = value;
            }
        };
        or_as_is("limit", "how far it may be off", &mut options.limit_depths);
        or_as_is(
            "magnification",
            "the magnification",
            &mut options.magnification,
        );
        or_as_is("nodal", "the nodal separation", &mut options.nodal_mm);
        or_as_is("eye", "how finely the eye sets", &mut options.eye_arcsec);
        optional(wrong, fields, "base", "the base", &mut options.base_mm);
        Some(options)
    }

    fn at_hand(form: &Form) -> Markup {
        html! {
            fieldset.group {
                legend { "The tape" }
                div.fields {
                    (form.line("tape", "A distance is taped to").unit("mm").hint("standard deviation; empty: 1, and a thousandth of the distance").class("third").draw())
                }
            }
        }
    }

    fn read_at_hand(fields: &Fields, options: &mut Options, wrong: &mut Wrong) {
        if let Some(mm) = wrong.number(fields, "tape", "how well a distance is taped") {
            options.tape_mm = mm;
        }
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
            "--focal-mm" => "focal",
            "--f" => "f",
            "--coc-mm" => "coc",
            "--limit-depths" => "limit",
            "--base-mm" => "base",
            "--magnification" => "magnification",
            "--nodal-mm" => "nodal",
            "--eye-arcsec" => "eye",
            "--tape-mm" | "--tape-part" => "tape",
            _ => "",
        }
    }

    fn options(limit: &RangefinderLimit) -> Options {
        rangefinder_options(limit)
    }

    fn holding(limit: &RangefinderLimit) -> Vec<Vec<String>> {
        let at = limit.distances_m.iter();
        at.map(|distance| vec![number::plain(*distance)]).collect()
    }

    fn reading(
        visit: VisitId,
        phase: Phase,
        report: &Report,
        limit: &str,
    ) -> Result<ReadingTaken, BenchError> {
        rangefinder_reading(visit, phase, report, Some(limit))
    }

    fn result(report: &Report) -> Markup {
        let (class, word) = verdict(Some(report.verdict));
        let depths = |value: f64, u: Option<f64>| number::deviation(value, u, "depths");
        let mut rows = vec![
            (
                "Off at most by",
                number::figure(report.worst_in_depths, report.worst_in_depths_u, "depths"),
            ),
            (
                "Infinity",
                number::deviation(report.infinity_mm, report.infinity_mm_u, "mm"),
            ),
            ("Rate", number::figure(report.rate, report.rate_u, "")),
            (
                "After the settings off at most by",
                number::figure(report.left_in_depths, report.left_in_depths_u, "depths"),
            ),
        ];
        if let Some(base) = &report.base {
            rows.push((
                "Base times magnification",
                format!(
                    "{}; this lens needs {}",
                    number::figure(base.effective_mm, None, "mm"),
                    number::figure(base.needed_mm, None, "mm")
                ),
            ));
        }
        if let Some(vertical) = &report.vertical {
            let (_, word) = verdict(Some(vertical.verdict));
            rows.push((
                "One image above the other",
                format!(
                    "{}, {word}",
                    number::deviation(vertical.mean_arcmin, vertical.mean_arcmin_u, "arcmin")
                ),
            ));
        }
        html! {
            p { span class={ "verdict " (class) } { (word) } " against ± " (number::figure(report.options.limit_depths, None, "depths")) ", one being " (number::figure(report.depth_mm, None, "mm")) " at the film" }
            (figures(&rows))
            (settings(report))
            (findings(report.findings.iter().map(rangefinder::Finding::describe)))
            div.chart { (PreEscaped(rangefinder_chart(report, Sheet::Inherit))) }
            div.table-wrap { table {
                thead { tr { th.num { "Distance" } th.num { "Read" } th.num { "Should be" } th.num { "Off by" } th.num { "After the settings" } th.num { "The eye tells" } } }
                tbody { @for it in &report.residuals { tr {
                    td.num { (distance(it.distance_m)) @if it.left_out { div.aside { "left out" } } }
                    td.num { (number::figure(it.extension_mm, None, "mm")) }
                    td.num { (format!("{:.3}", it.ideal_mm)) " mm" }
                    td.num { (depths(it.residual_depths, it.residual_depths_u)) }
                    td.num { (format!("{:+.2}", it.left_depths)) }
                    td.num { @if let Some(least) = it.resolvable_in_depths { (format!("{least:.2}")) " depths" } }
                } } }
            } }
            @if let Some(next) = report.next.first() {
                p { "To know it better, read next at " strong { (distance(next.distance_m)) } ": the error where it is known worst would be known to ± "
                    (format!("{:.2}", next.worst_after_depths)) " depths instead of ± " (format!("{:.2}", next.worst_before_depths)) "." }
            }
        }
    }
}

fn settings(report: &Report) -> Markup {
    let settings = &report.settings;
    html! {
        p {
            strong { "To set it right" } ": at infinity move the reading by " (number::deviation(settings.infinity_change_mm, None, "mm"))
            ", then its rate by a factor of " (format!("{:.4}", settings.rate_factor)) "."
            @if let (Some(angle), Some(rate)) = (settings.infinity_change_rad, settings.rate_change_rad_per_mm) {
                " In the finder’s deflection that is " (format!("{:+.2}", angle * 1e3)) " mrad at infinity and " (format!("{:+.3}", rate * 1e3)) " mrad for each millimetre of extension."
            }
        }
        @if !settings.turns.is_empty() {
            ul { @for it in &settings.turns { li { strong { (number::deviation((it.turns * 1e3).round() / 1e3, None, "turns")) } " – " (it.name) } } }
        }
    }
}

fn distance(metres: f64) -> String {
    if metres.is_finite() {
        number::figure(metres, None, "m")
    } else {
        "infinity".to_owned()
    }
}

//! Teeth from a photograph: how worn each tooth of a rack or gear is.

use axum::extract::{Request, State};
use axum::response::Response;
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use fettle_draw::{Sheet, teeth_overlay};
use fettle_measure::photograph::Picture;
use fettle_measure::teeth::{
    self, Comparison, Finding, Kind, Options, Report, Scale, TeethError, Verdict,
};
use maud::{Markup, PreEscaped, html};

use super::{figures, findings, needed, optional};
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::number;
use crate::state::AppState;
use crate::upload::{Sent, Takes, Upload};
use crate::urls;

const ID: &str = "teeth";
/// The longer side of a photograph that is shown and not kept.
const SHOWN_SIDE_PX: u32 = 1400;

/// How the photograph is taken, in one sentence.
pub(crate) const HOW: &str = "Lay the part flat on an evenly bright ground in a dark room, so that it is black all over with bright ground all round it; camera on a stand, square to it, \
                              small stop, focused on its rim.";

/// What the photographs say.
struct Measured {
    report: Report,
    picture: String,
    against: Option<(Report, Comparison)>,
}

pub(crate) async fn show(State(state): State<AppState>) -> Markup {
    state.draw(&page(&Form::fresh(ID), None))
}

/// Measures what was sent; nothing is kept.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Pair).await?;
    let (page, failed) = state
        .at_bench(move |desk| Ok(desk.bench.decoding(|| answered(sent))))
        .await?;
    Ok(state.answer(&page, failed))
}

fn answered(sent: Upload) -> (Page, bool) {
    let mut wrong = sent.wrong.clone();
    let measured = asked(&sent.fields, &mut wrong)
        .and_then(|options| measured_all(&sent, &options, &mut wrong));
    let failed = !wrong.is_empty();
    let form = Form::returned(ID, sent.fields, wrong);
    (page(&form, measured.as_ref()), failed)
}

fn page(form: &Form, measured: Option<&Measured>) -> Page {
    let kinds = [("rack", "a rack"), ("gear", "a gear")];
    let kinds = kinds.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let body = html! {
        h1 { "Teeth" }
        p.lead { "How worn is each tooth of a rack or gear? " (HOW) }
        @if let Some(measured) = measured {
            section {
                h2 { "What the photograph shows" }
                (result(&measured.report, Some(&measured.picture)))
                @if let Some((older, comparison)) = &measured.against { (compared(older, comparison)) }
                (taken_over(&measured.report))
            }
        }
        section {
            h2 { @if measured.is_some() { "Another photograph" } @else { "The photograph" } }
            form method="post" id=(ID) action=(urls::TEETH) enctype="multipart/form-data" novalidate {
                (form.problems())
                div.fields {
                    (form.choice("kind", "It shows", kinds.to_vec()).class("third").draw())
                    (form.line("teeth", "Teeth").hint("all of a gear, the whole ones in sight of a rack; empty: as counted").class("third").draw())
                    (form.line("limit", "A tooth may be off by").unit("mm").hint("empty: from the scatter of the sound teeth").class("third").draw())
                }
                fieldset.group {
                    legend { "The scale, one of them" }
                    div.fields {
                        (form.line("pitch", "Pitch").unit("mm").hint("along the rack or on the pitch circle; with another scale it is held against that").class("third").draw())
                        (form.line("bar", "Length of a bar beside it").unit("mm").hint("straight, clear of the part").class("third").draw())
                        (form.line("px", "Pixels for a millimetre").class("third").draw())
                        (form.line("across", "Over the tips, by caliper").unit("mm").hint("to hold the scale against; may be empty").class("third").draw())
                        (form.line("angle", "Pressure angle").unit("degrees").hint("empty: 20").class("third").draw())
                    }
                }
                div.fields {
                    (file(form, "photo", "Photograph", "JPEG, PNG or WebP, at most 40 MB"))
                    (file(form, "against", "Another of a like part to compare with", "new, or as it was before; may be left out"))
                }
                div.acts { button.first { "Measure the teeth" } }
            }
            p.quiet-text { "Nothing is kept here. To keep it, and to answer what the causes ask, photograph the teeth at a visit under “Settings and proof”. All " a href=(urls::INSTRUMENTS) { "instruments" } "." }
        }
    };
    Page::new("Teeth", body)
        .room(Room::Instruments)
        .about("teeth")
}

/// A field for one photograph.
pub(crate) fn file(form: &Form, name: &str, label: &str, hint: &str) -> Markup {
    let id = form.field_id(name);
    html! {
        div.field {
            label for=(id) { (label) }
            p.hint { (hint) }
            input type="file" id=(id) name=(name) accept="image/jpeg,image/png,image/webp";
            (form.error(name))
        }
    }
}

fn asked(fields: &Fields, wrong: &mut Wrong) -> Option<Options> {
    let kind = match fields.text("kind") {
        "gear" => Kind::Gear,
        _ => Kind::Rack,
    };
    let mut pitch_mm = None;
    optional(wrong, fields, "pitch", "the pitch", &mut pitch_mm);
    let mut bar = None;
    optional(wrong, fields, "bar", "the bar’s length", &mut bar);
    let mut px = None;
    optional(wrong, fields, "px", "the scale", &mut px);
    let scale = match (px, bar, pitch_mm) {
        (Some(_), Some(_), _) => {
            wrong.note(
                "px",
                "a bar and pixels for a millimetre are given: leave one of them empty",
            );
            return None;
        }
        (Some(px), None, _) => Scale::PxPerMm(px),
        (None, Some(mm), _) => Scale::BarMm(mm),
        (None, None, Some(mm)) => Scale::PitchMm(mm),
        (None, None, None) => Scale::PitchMm(needed(
            wrong,
            fields,
            "pitch",
            "the scale: the pitch, a bar, or pixels for a millimetre",
        )?),
    };
    let mut options = Options::new(kind, scale);
    options.pitch_mm = pitch_mm;
    if !fields.text("teeth").is_empty() {
        options.teeth = wrong.whole(fields, "teeth", "the count of teeth");
    }
    optional(
        wrong,
        fields,
        "across",
        "what the caliper reads",
        &mut options.across_mm,
    );
    optional(wrong, fields, "limit", "the limit", &mut options.limit_mm);
    if let Some(deg) = wrong.number(fields, "angle", "the pressure angle") {
        options.angle_rad = deg.to_radians();
    }
    Some(options)
}

fn measured_all(sent: &Upload, options: &Options, wrong: &mut Wrong) -> Option<Measured> {
    let of = |name: &str| sent.files.iter().find(|file| file.field == name);
    let Some(photo) = of("photo") else {
        wrong.note("photo", "choose a photograph");
        return None;
    };
    let picture = decoded(photo, "photo", wrong);
    let report = picture
        .as_ref()
        .and_then(|picture| measured(picture, options, "photo", wrong));
    let older = of("against")
        .and_then(|file| decoded(file, "against", wrong))
        .and_then(|picture| measured(&picture, options, "against", wrong));
    let report = report.filter(|_| wrong.is_empty())?;
    let against = match older {
        Some(older) => match teeth::compare(&older, &report) {
            Some(comparison) => Some((older, comparison)),
            None => {
                let counts = (older.teeth.len(), report.teeth.len());
                wrong.note(
                    "against",
                    format!(
                        "it shows {} teeth and the other {}, so that they cannot be compared",
                        counts.0, counts.1
                    ),
                );
                return None;
            }
        },
        None => None,
    };
    // A photograph that was measured can be shown.
    let shown = picture?.smaller(SHOWN_SIDE_PX).ok()?;
    Some(Measured {
        report,
        picture: format!("data:image/jpeg;base64,{}", BASE64_STANDARD.encode(&shown)),
        against,
    })
}

/// Decodes a photograph; what is wrong with it is noted at its field.
pub(crate) fn decoded(photo: &Sent, field: &str, wrong: &mut Wrong) -> Option<Picture> {
    Picture::read(&photo.bytes)
        .map_err(|error| wrong.note(field, error.to_string()))
        .ok()
}

/// Measures one photograph; what is wrong is noted at the field of what caused it.
pub(crate) fn measured(
    picture: &Picture,
    options: &Options,
    field: &str,
    wrong: &mut Wrong,
) -> Option<Report> {
    match teeth::analyse(&picture.light(), options) {
        Ok(report) => Some(report),
        Err(TeethError::Option(error)) => {
            let at = match error.option {
                "--pitch-mm" => "pitch",
                "--bar-mm" => "bar",
                "--px-per-mm" => "px",
                "--teeth" => "teeth",
                "--across-mm" => "across",
                "--limit-mm" => "limit",
                "--angle-deg" => "angle",
                _ => field,
            };
            wrong.note(at, error.reason);
            None
        }
        Err(error) => {
            wrong.note(field, error.to_string());
            None
        }
    }
}

/// The teeth on their photograph, their table and what was noticed.
pub(crate) fn result(report: &Report, picture: Option<&str>) -> Markup {
    let limit = number::figure(report.limit_mm, None, "mm");
    let rows = [
        ("Teeth", report.counts.describe()),
        (
            "Limit",
            format!("{limit}, {}", report.limit_from.describe()),
        ),
        (
            "Pitch",
            number::figure(report.pitch_mm, Some(report.pitch_u_mm), "mm"),
        ),
        ("Module", number::figure(report.module_mm, None, "mm")),
        (
            "Photograph",
            format!(
                "{} × {}, {} for a millimetre",
                report.width_px,
                report.height_px,
                number::figure(report.px_per_mm, None, "pixels")
            ),
        ),
    ];
    html! {
        (figures(&rows))
        div.chart.tall { (PreEscaped(teeth_overlay(report, picture, Sheet::Inherit))) }
        (findings(report.findings.iter().map(Finding::describe)))
        details.more open[report.counts.sound as usize != report.teeth.len()] {
            summary { "Tooth by tooth" }
            div.table-wrap { table {
                thead { tr {
                    th.num { "Tooth" } th.num { "Worse flank, mm" } th.num { "Tip, mm" } th.num { "Place, mm" } th.num { "Lean, mm" } th.num { "Burr, mm" } th { "Verdict" }
                } }
                tbody { @for tooth in &report.teeth { tr {
                    th.num scope="row" { (tooth.n) }
                    td.num { (lost(tooth.flank_mm, tooth.flank_u_mm)) }
                    td.num { (lost(tooth.tip_loss_mm, tooth.tip_loss_u_mm)) }
                    td.num { (off(tooth.pitch_error_mm, tooth.pitch_error_u_mm)) }
                    td.num { (off(tooth.bend_mm, tooth.bend_u_mm)) }
                    td.num { (lost(tooth.burr_mm, tooth.burr_u_mm)) }
                    td { (verdict(tooth.verdict)) }
                } } }
            } }
        }
    }
}

fn lost(value: Option<f64>, u: Option<f64>) -> String {
    value.map_or_else(String::new, |value| number::figure(value, u, ""))
}

fn off(value: Option<f64>, u: Option<f64>) -> String {
    value.map_or_else(String::new, |value| number::deviation(value, u, ""))
}

fn verdict(verdict: Verdict) -> Markup {
    let class = match verdict {
        Verdict::Sound => "in",
        Verdict::Worn | Verdict::Missing => "out",
        Verdict::Undecided => "undecided",
    };
    html! { span class=(class) { (verdict.as_str()) } }
}

fn compared(older: &Report, comparison: &Comparison) -> Markup {
    html! {
        h3 { "Against the other photograph" }
        p.quiet-text {
            "This one less that one, which shows " (older.counts.describe()) "."
            @if !comparison.is_turn_sure { " Which tooth is which is not sure: the teeth are too much alike." }
        }
        div.table-wrap { table {
            thead { tr { th.num { "Tooth" } th.num { "There" } th.num { "Worse flank, mm" } th.num { "Tip, mm" } th.num { "Lean, mm" } th { "Verdict" } th { "There" } } }
            tbody { @for tooth in &comparison.teeth { tr {
                th.num scope="row" { (tooth.new_n) }
                td.num { (tooth.old_n) }
                td.num { (off(tooth.flank_mm, tooth.flank_u_mm)) }
                td.num { (off(tooth.tip_loss_mm, tooth.tip_loss_u_mm)) }
                td.num { (off(tooth.bend_mm, tooth.bend_u_mm)) }
                td { (verdict(tooth.new_verdict)) }
                td { (verdict(tooth.old_verdict)) }
            } } }
        } }
    }
}

/// On to a drawing of the same part.
fn taken_over(report: &Report) -> Markup {
    let form = match report.options.kind {
        Kind::Rack => "rack",
        Kind::Gear => "gear",
    };
    html! {
        div.acts { a.button href=(urls::draw_part(form, report.module_mm, report.teeth.len(), report.options.angle_rad.to_degrees(), 0.0)) { "Draw this part to have it made" } }
    }
}

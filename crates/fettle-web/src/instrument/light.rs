//! Exposure values from what the bench has: luminance, illuminance, a reference meter, an old dial's film speed.

use axum::extract::{Query, State};
use fettle_measure::Marked;
use fettle_measure::meter::{SpeedScale, light};
use maud::{Markup, html};

use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::number;
use crate::state::AppState;
use crate::urls;

/// What a number on a film-speed dial can mean, by its name in the address.
const SCALES: [(&str, &str, SpeedScale); 5] = [
    ("asa", "ASA or ISO", SpeedScale::Arithmetic),
    ("din", "DIN or degrees", SpeedScale::Degrees),
    (
        "old-asa",
        "ASA before about 1960",
        SpeedScale::OldArithmetic,
    ),
    ("old-din", "DIN before about 1960", SpeedScale::OldDegrees),
    ("scheiner", "European Scheiner", SpeedScale::Scheiner),
];

/// The page; what is asked stands in the address.
pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Markup {
    let mut wrong = Wrong::default();
    let fields = Fields::new(asked);
    let answers = answers(&fields, &mut wrong);
    let form = Form::returned("light", fields, wrong);
    let scales = SCALES.map(|(id, name, _)| (id.to_owned(), name.to_owned()));
    let body = html! {
        h1 { "Exposure values" }
        p.lead { "How bright is the light that the meter is held to? Fill in what you have." }
        @if !answers.is_empty() {
            section { h2 { "That is" } ul { @for answer in &answers { li { (answer) } } } }
        }
        form method="get" id="light" action=(urls::LIGHT) novalidate {
            (form.problems())
            fieldset.group {
                legend { "Reflected light: a lit surface" }
                div.fields {
                    (form.line("luminance", "Luminance").unit("cd/m²").class("third").draw())
                    (form.line("k", "Constant K").hint("ISO 2720: 10.6 to 13.4; empty: 12.5").class("third").draw())
                }
            }
            fieldset.group {
                legend { "Incident light" }
                div.fields {
                    (form.line("illuminance", "Illuminance").unit("lx").class("third").draw())
                    (form.line("c", "Constant C").hint("ISO 2720: flat 240 to 400, dome 320 to 540; empty: 250, flat").class("third").draw())
                }
            }
            fieldset.group {
                legend { "A reference meter" }
                div.fields {
                    (form.line("time", "Time").unit("s").hint("as it shows it, such as 1/125").class("third").draw())
                    (form.line("aperture", "F-number").class("third").draw())
                    (form.line("iso", "Film speed").hint("empty: 100").class("third").draw())
                }
            }
            fieldset.group {
                legend { "An old dial’s film speed" }
                div.fields {
                    (form.line("mark", "Number on the dial").class("third").draw())
                    (form.choice("scale", "It means", scales.to_vec()).class("third").draw())
                }
            }
            div.acts { button.first { "Work it out" } }
        }
        p.quiet-text { "EV are told at ISO 100: EV = log2(100 L / K) or log2(100 E / C). Back to the " a href=(urls::METER) { "exposure meter" } "." }
    };
    state.draw(
        &Page::new("Exposure values", body)
            .room(Room::Instruments)
            .about("instruments"),
    )
}

/// A sentence for each thing asked; what cannot be is noted.
fn answers(fields: &Fields, wrong: &mut Wrong) -> Vec<String> {
    let mut answers = Vec::new();
    let mut ev = |what: String, ev: Option<f64>, field: &str, wrong: &mut Wrong| match ev {
        Some(ev) => answers.push(format!("{what}: EV {ev:.2}")),
        None => wrong.note(
            field,
            format!("{what} gives no exposure value; write numbers above 0"),
        ),
    };
    let k = constant(fields, wrong, "k", light::K, light::K_RANGE);
    if let Some(l) = wrong.number(fields, "luminance", "the luminance") {
        ev(
            format!("{l} cd/m²"),
            light::ev_of_luminance(l, k),
            "luminance",
            wrong,
        );
    }
    let c = constant(
        fields,
        wrong,
        "c",
        light::C_FLAT,
        *light::C_FLAT_RANGE.start()..=*light::C_DOME_RANGE.end(),
    );
    if let Some(e) = wrong.number(fields, "illuminance", "the illuminance") {
        ev(
            format!("{e} lx"),
            light::ev_of_illuminance(e, c),
            "illuminance",
            wrong,
        );
    }
    if let Some(text) = fields.some("time") {
        let aperture = wrong.number(fields, "aperture", "the f-number");
        let iso = wrong
            .number(fields, "iso", "the film speed")
            .unwrap_or(100.0);
        match (text.parse::<Marked>(), aperture) {
            (Err(error), _) => wrong.note("time", error.to_string()),
            (Ok(_), None) => wrong.note("aperture", "the f-number is missing"),
            (Ok(mark), Some(n)) => {
                // A meter's scale is made in whole stops: 1/125 stands for 1/128.
                let time = mark.nominal(fettle_measure::Series::Geometric).to_s();
                let said = format!("{mark} s at f/{n}, ISO {iso}");
                ev(said, light::ev_of_exposure(time, n, iso), "time", wrong);
            }
        }
    }
    if let Some(mark) = wrong.number(fields, "mark", "the number on the dial") {
        let scale = SCALES.iter().find(|(id, ..)| *id == fields.text("scale"));
        let (_, name, scale) = scale.unwrap_or(&SCALES[0]);
        match scale.iso_of(mark) {
            Some(iso) => {
                let safety = scale.safety_stops();
                let note = if safety > 0.0 {
                    format!(
                        "; scales of that time tell a film about {} slower than it is",
                        number::figure(safety, None, "stop")
                    )
                } else {
                    String::new()
                };
                answers.push(format!("{mark} {name} is ISO {iso:.0} of today{note}"));
            }
            None => wrong.note("mark", format!("{mark} is no film speed on that scale")),
        }
    }
    answers
}

fn constant(
    fields: &Fields,
    wrong: &mut Wrong,
    name: &str,
    otherwise: f64,
    range: std::ops::RangeInclusive<f64>,
) -> f64 {
    let Some(value) = wrong.number(fields, name, "the constant") else {
        return otherwise;
    };
    if !range.contains(&value) {
        wrong.note(
            name,
            format!(
                "{value} is no constant of ISO 2720; write {} to {}",
                range.start(),
                range.end()
            ),
        );
    }
    value
}

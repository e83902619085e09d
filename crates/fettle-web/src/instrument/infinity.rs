//! The infinity stop, by collimator or far target: how far it is off, and how far to turn.

use axum::extract::{Query, State};
use fettle_measure::OptionError;
use fettle_measure::focus::{Depth, FocusScrew, Infinity, Lens};
use maud::{Markup, html};

use super::{figures, needed};
use crate::form::{Fields, Form, Wrong};
use crate::layout::{Page, Room};
use crate::number;
use crate::state::AppState;
use crate::urls;

/// The page; what is asked stands in the address.
pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Vec<(String, String)>>,
) -> Markup {
    let mut wrong = Wrong::default();
    let fields = Fields::new(asked);
    let answer = if fields.ticked("readings") {
        answer(&fields, &mut wrong)
    } else {
        None
    };
    let form = Form::returned("infinity", fields, wrong);
    let screws = [("helicoid", "a helicoid"), ("front-cell", "a front cell")];
    let screws = screws.map(|(id, name)| (id.to_owned(), name.to_owned()));
    let body = html! {
        h1 { "Infinity" }
        p.lead { "Is the lens sharp at infinity when it stands at its stop? Look at the film plane with a collimator before the lens, or at a far target, and read how far the \
                  lens stands out from its stop when the image is sharp; minus where it would have to go beyond." }
        @if let Some(answer) = &answer { section { h2 { "What the readings say" } (said(answer)) } }
        form method="get" id="infinity" action=(urls::INFINITY) novalidate {
            (form.problems())
            div.fields {
                (form.line("readings", "Lens stands out").unit("mm").needed().hint("one reading or several, apart by blanks: 0.04 0.05").class("third").draw())
                (form.line("target", "Target").unit("m").hint("from the film; empty: a collimator, at infinity").class("third").draw())
                (form.line("focal", "Focal length").unit("mm").needed().class("third").draw())
                (form.line("f", "Widest f-number").needed().class("third").draw())
                (form.line("coc", "Circle of confusion").unit("mm").needed().hint("0.03 for 24×36, about 0.05 for 6×6").class("third").draw())
                (form.choice("screw", "It is set by", screws.to_vec()).class("third").draw())
                (form.line("lead", "One turn of it").unit("mm").needed().hint("helicoid: how far the lens advances; front cell: how far a turn outwards moves the image back").class("third").draw())
            }
            div.acts { button.first { "Work it out" } }
        }
        p.quiet-text { "The front cell’s figure stands in the service notes, or is found by a trial: what the image moved, divided by the turns. Prove the " a href=(urls::REGISTER) { "register" } " first: infinity depends on it." }
    };
    state.draw(
        &Page::new("Infinity", body)
            .room(Room::Instruments)
            .about("instruments"),
    )
}

fn answer(fields: &Fields, wrong: &mut Wrong) -> Option<Infinity> {
    let mut readings = Vec::new();
    for part in fields.text("readings").split_whitespace() {
        match part
            .replace(',', ".")
            .replace('\u{2212}', "-")
            .parse::<f64>()
        {
            Ok(reading) if reading.is_finite() => readings.push(reading),
            _ => wrong.note(
                "readings",
                format!(
                    "“{part}” is no number; write readings in mm apart by blanks, such as 0.04 0.05"
                ),
            ),
        }
    }
    let target = match fields.text("target") {
        "" | "inf" => Some(f64::INFINITY),
        _ => wrong.number(fields, "target", "the target’s distance"),
    };
    let focal = needed(wrong, fields, "focal", "the focal length");
    let f = needed(wrong, fields, "f", "the widest f-number");
    let coc = needed(wrong, fields, "coc", "the circle of confusion");
    let lead = needed(wrong, fields, "lead", "what one turn does");
    let (target, focal, f, coc, lead) = (target?, focal?, f?, coc?, lead?);
    let screw = match fields.text("screw") {
        "front-cell" => FocusScrew::front_cell(lead),
        _ => FocusScrew::helicoid(lead),
    };
    let found = (|| -> Result<Infinity, OptionError> {
        let lens = Lens::new(focal, 0.0)?;
        let depth = Depth::new(f, coc)?;
        Infinity::from_readings(&readings, target * 1000.0, &lens, &depth, &screw?)
    })();
    found
        .map_err(|error| wrong.note(field_of(error.option), error.reason))
        .ok()
        .filter(|_| wrong.is_empty())
}

fn field_of(option: &str) -> &'static str {
    match option {
        "--focal-mm" => "focal",
        "--f" => "f",
        "--coc-mm" => "coc",
        "--target-m" => "target",
        "--extension-mm" => "readings",
        _ => "lead",
    }
}

fn said(infinity: &Infinity) -> Markup {
    let outwards = if infinity.turns < 0.0 {
        "inwards"
    } else {
        "outwards"
    };
    let turns = number::figure(infinity.turns.abs(), infinity.turns_u, "turns");
    let mut rows = vec![
        (
            "The lens must go out by",
            number::deviation(infinity.error_mm, infinity.error_mm_u, "mm"),
        ),
        (
            "That is",
            number::deviation(infinity.error_depths, None, "depths"),
        ),
        (
            "Turn",
            format!("{turns} {outwards}, {:.0}°", infinity.turns.abs() * 360.0),
        ),
    ];
    match infinity.sharp_at_m {
        Some(m) if m.is_finite() => rows.push(("As it is, sharp at", number::figure(m, None, "m"))),
        Some(_) => {}
        None => rows.push(("As it is", "nothing is sharp, not even infinity".to_owned())),
    }
    figures(&rows)
}

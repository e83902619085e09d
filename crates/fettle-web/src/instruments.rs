//! Instruments: is it right?

use axum::extract::State;
use maud::{Markup, html};

use crate::layout::{Page, Room};
use crate::state::AppState;
use crate::urls;

pub(crate) async fn show(State(state): State<AppState>) -> Markup {
    let body = html! {
        h1 { "Instruments" }
        ul.lines {
            li {
                a.what href=(urls::SHUTTER) { "Exposure times" }
                p.aside { "From the light behind a leaf shutter, heard as you fire or from a recording: effective and total time, efficiency, error in stops with its uncertainty, and a verdict against the limits." }
            }
            li {
                a.what href=(urls::SHUTTER_CHECK) { "Prove the chain" }
                p.aside { "From a card moved by hand before the sensor: noise, coupling, flicker and drift of lamp, sensor and recorder, and which speeds they can prove." }
            }
        }
        p.quiet-text { "Other readings (register, rangefinder, meter, whatever the service notes ask for) are typed in at a visit, under “Settings and proof”." }
    };
    state.draw(&Page::new("Instruments", body).room(Room::Instruments))
}

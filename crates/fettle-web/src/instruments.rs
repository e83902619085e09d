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
            li {
                a.what href=(urls::METER) { "Exposure meter" }
                p.aside { "From pairs of true and indicated exposure values: error over the range, the shift that a click of the dial can mend, and a correction card for what is left." }
            }
            li {
                a.what href=(urls::REGISTER) { "Register" }
                p.aside { "From depths read over the film gate: error, tilt, what it does to the picture, and the shims to add." }
            }
            li {
                a.what href=(urls::INFINITY) { "Infinity" }
                p.aside { "By collimator or far target: how far the lens is off at its stop, and how far to turn helicoid or front cell." }
            }
            li {
                a.what href=(urls::RANGEFINDER) { "Rangefinder" }
                p.aside { "From taped distances: how far infinity and rate are off in depths of focus, what to set, and where to read next." }
            }
            li {
                a.what href=(urls::MESH) { "Mesh" }
                p.aside { "From module and teeth, or from a caliper’s readings: how a pinion drives its rack or gear, and how much play the drive bears." }
            }
            li {
                a.what href=(urls::TEETH) { "Teeth" }
                p.aside { "From a photograph against the light: how worn each tooth of a rack or gear is, against its limit or against another photograph." }
            }
            li {
                a.what href=(urls::DRAW) { "Draw a part" }
                p.aside { "A rack or gear to have made: files for wire erosion, laser, milling or printing, and the sheet that says what to measure." }
            }
        }
        p.quiet-text { "Settings are trimmed, and other readings that the service notes ask for are typed in, at a visit under “Settings and proof”." }
    };
    state.draw(&Page::new("Instruments", body).room(Room::Instruments))
}

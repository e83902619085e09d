//! The part of a form that listens; it shows itself where the browser can run it.

use maud::{Markup, html};

use crate::assets::Asset;
use crate::form::Form;
use crate::urls;

/// The panel for the form `form`; the button that ends it is labelled `keep`. It has a heading of its own
/// where it is `headed`.
pub(crate) fn panel(form: &Form, keep: &str, headed: bool) -> Markup {
    let id = |part: &str| format!("{}-live-{part}", form.id());
    html! {
        input type="hidden" name="live" value="";
        div.live hidden data-live=(urls::LIVE) data-worklet=(Asset::Samples.url()) {
            @if headed { h4 { "Listen as you fire" } }
            p.hint { "Lamp in front, light sensor behind, its cable in the sound input. Switch the lamp on first, then start." }
            div.fields {
                div.field.wide {
                    label for=(id("input")) { "Input" }
                    select id=(id("input")) data-part="input" { option value="" { "the browser's usual one" } }
                }
                label.tick.wide { input type="checkbox" data-part="tones" checked; span { "a tone after each shot" } }
            }
            div.acts {
                button type="button" data-part="start" { "Start listening" }
                button type="button" data-part="stop" hidden { "Stop listening" }
                p data-part="state" role="status" {}
            }
            p.error data-part="wrong" aria-live="assertive" hidden {}
            (insecure())
            div.live-sheet data-part="sheet" hidden {
                canvas.strip data-part="strip" width="1200" height="120" aria-hidden="true" {}
                p.aside { span data-part="level" {} " " span.error data-part="level-wrong" {} }
                div.firing role="group" aria-labelledby=(id("firing")) {
                    span.field-label id=(id("firing")) { "Fired at" }
                    button type="button" data-part="slower" { "← slower" }
                    output data-part="mark" { "recognised" }
                    button type="button" data-part="faster" { "faster →" }
                    button.quiet type="button" data-part="recognise" { "leave it to be recognised" }
                }
                p.unseen aria-live="polite" data-part="said" {}
                div.latest data-part="latest" {}
                h4 { "The dial" }
                div data-part="dial" {}
                div.acts {
                    button.next type="button" data-part="keep" { (keep) }
                    a.button data-part="store" hidden { "Store the recording" }
                }
                p.aside { "The whole recording is measured once more then, and those figures stand." }
                h4 { "The shots" }
                div data-part="shots" {}
            }
            details.more {
                summary { "Tones and keys" }
                dl.facts {
                    dt { button type="button" data-tone="good" { "Good" } } dd { "One high note: the shot lies inside its limit, its uncertainty taken into account." }
                    dt { button type="button" data-tone="unclear" { "Unclear" } } dd { "Two middle notes: it cannot be decided, the mark is not sure, or the time cannot be told." }
                    dt { button type="button" data-tone="out" { "Out" } } dd { "One low, long note that falls: the shot lies outside its limit." }
                    dt { "Delete or Backspace" } dd { "Strikes the last shot, or counts it again. A struck shot stays legible and counts in no mean." }
                    dt { "← and →" } dd { "Say at which mark the next shots are fired: slower, faster. Beyond either end it is left to be recognised." }
                }
            }
        }
        noscript { p.quiet-text { "Listening through the browser needs JavaScript; a recording made elsewhere can be given below." } }
    }
}

/// What is said where the browser gives no access to the sound input.
fn insecure() -> Markup {
    html! {
        div data-part="insecure" hidden {
            p { strong { "This browser gives no access to the sound input here." } }
            p { "Browsers allow it only on pages of the computer itself, under the names localhost or 127.0.0.1, or over a secure connection. Open this bench on the computer that it runs on, with the sensor in that computer's input; or start it with fettle serve --lan and open its https address here; or make a recording with any recorder and give the file below." }
        }
    }
}

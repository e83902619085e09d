//! Proving the measuring chain: a card moved by hand before the sensor in, what it can prove out.

use std::io::Cursor;

use axum::extract::{Request, State};
use axum::response::Response;
use fettle_bench::{bandwidth_in_words, chain_in_words, finding_in_words, what_helps};
use fettle_measure::shutter::{ChainCheck, ChannelCheck, Finding, ProvedMark, check};
use maud::{Markup, html};

use crate::error::{PageError, sentence};
use crate::form::Form;
use crate::layout::{Page, Room};
use crate::shutter::{Dial, dial_of, known_dials, lamp_caution, read, recording_field};
use crate::state::{AppState, Desk};
use crate::upload::{Sent, Takes, Upload};
use crate::urls;

const FORM_ID: &str = "shutter-check";

/// The page with its form.
pub(crate) async fn show(State(state): State<AppState>) -> Result<Markup, PageError> {
    let page = state
        .at_bench(|desk| Ok(page(desk, &Form::fresh(FORM_ID), None)))
        .await?;
    Ok(state.draw(&page))
}

/// Checks what was sent; nothing is kept.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Recordings).await?;
    let (page, failed) = state.at_bench(move |desk| Ok(checked(desk, sent))).await?;
    Ok(state.answer(&page, failed))
}

fn checked(desk: &Desk, sent: Upload) -> (Page, bool) {
    let mut wrong = sent.wrong.clone();
    let dial = dial_of(desk, &sent.fields, &mut wrong);
    let result = match (sent.files.first(), dial) {
        (None, _) => {
            if wrong.is_empty() {
                wrong.note("recording", "choose a recording");
            }
            None
        }
        (Some(file), Some(dial)) => match measure(file, &dial) {
            Ok(result) => Some((file.name.clone(), result)),
            Err(message) => {
                wrong.note("recording", message);
                None
            }
        },
        (Some(_), None) => None,
    };
    let failed = !wrong.is_empty();
    let form = Form::returned(FORM_ID, sent.fields, wrong);
    let result = result
        .as_ref()
        .map(|(name, result)| (name.as_str(), result));
    (page(desk, &form, result), failed)
}

fn measure(file: &Sent, dial: &Dial) -> Result<ChainCheck, String> {
    check(
        &[read(&file.name, Cursor::new(&file.bytes))?],
        dial.options(),
    )
    .map_err(|error| error.to_string())
}

fn page(desk: &Desk, form: &Form, result: Option<(&str, &ChainCheck)>) -> Page {
    let mut dials = vec![(String::new(), "a dial typed in below".to_owned())];
    dials.extend(known_dials(desk));
    let body = html! {
        h1 { "Prove the chain" }
        p.lead { "Which speeds can this lamp, sensor and recorder prove? Move a card by hand before the sensor, the lamp burning." }
        (lamp_caution())
        @if let Some((name, result)) = result {
            @for channel in &result.channels { (channel_section(name, result, channel)) }
        }
        section {
            h2 { @if result.is_some() { "Another recording" } @else { "The recording" } }
            ol.numbered {
                li { "Cover the sensor with a card and begin to record: with any recorder, or listen on the page " a href=(urls::SHUTTER) { "exposure times" } " and store the recording there." }
                li { "Take the card away, hold the light for two seconds, put it back, wait two seconds. Do so three times or more, once as quickly as you can." }
                li { "Leave lamp, sensor and level as they are, and measure shutters with them." }
            }
            form method="post" id=(FORM_ID) action=(urls::SHUTTER_CHECK) enctype="multipart/form-data" novalidate {
                (form.problems())
                div.fields {
                    (form.choice("model", "The dial of", dials).draw())
                    (recording_field("shutter-check-recording", "Recording"))
                }
                (Dial::fields(form))
                div.acts { button.first { "Check the chain" } }
            }
            p.quiet-text { "Nothing is kept here. " a href=(urls::SHUTTER) { "Exposure times" } " are measured on their own page." }
        }
    };
    Page::new("Prove the chain", body)
        .room(Room::Instruments)
        .about("light-sensor")
}

fn channel_section(name: &str, result: &ChainCheck, channel: &ChannelCheck) -> Markup {
    let of_channel = result.findings.iter().filter(|finding| {
        finding.recording.as_deref() == Some(channel.recording.as_str())
            && finding.channel == Some(channel.channel)
    });
    html! {
        section {
            h2 { "What " (name) @if result.recording.channels > 1 { ", channel " (channel.channel) "," } " can prove" }
            p.aside { "Expanded uncertainty of one shot (k = 2), foretold from the chain as found, against a quarter of the tolerance." }
            ul.findings { @for finding in of_channel { li { (sentence(&finding_in_words(&Finding::of_session(finding.what.clone())))) } } }
            (marks(channel))
            h3 { "The chain" }
            dl.facts { @for (name, words) in chain_in_words(channel) { dt { (name) } dd { (sentence(&words)) } } }
            p.quiet-text { "A hand is slow: what the sensor does faster than its quickest edge, and whether a tail follows a sudden fall, only a shutter's own flanks show." }
        }
    }
}

fn marks(channel: &ChannelCheck) -> Markup {
    html! {
        div.table-wrap { table {
            thead { tr { th { "Mark" } th.num { "Needed, stops" } th.num { "Uncertainty, stops" } th { "Proved" } th { "Most of it from" } th.num { "Coupling would take, stops" } th { "ISO 516 asks for" } } }
            tbody { @for mark in &channel.marks { (mark_row(mark)) } }
        } }
        p.hint { "Needed: a quarter of the mark's tolerance. Coupling would take: what an input that does not pass steady light would cost if it were not undone. ISO 516 asks for a chain that passes light changes up to 100 over the total time." }
    }
}

fn mark_row(mark: &ProvedMark) -> Markup {
    let stops = |stops: Option<fettle_measure::Stops>| {
        stops.map_or_else(String::new, |stops| format!("{:.4}", stops.to_stops()))
    };
    let (class, word) = match mark.proves {
        Some(true) => ("in", "can be"),
        Some(false) => ("out", "cannot be"),
        None => ("none", "not tried"),
    };
    let largest = mark.largest.as_deref();
    let help = largest
        .filter(|_| mark.proves == Some(false))
        .and_then(what_helps);
    html! {
        tr {
            th scope="row" { (mark.marked) }
            td.num { (stops(mark.needed_stops)) }
            td.num { (stops(mark.uncertainty_stops)) }
            td { span class={ "verdict " (class) } { (word) } }
            td { (largest.unwrap_or_default()) @if let Some(help) = help { div.aside { "would help: " (help) } } }
            td.num { (format!("{:.2}", mark.uncorrected_stops.to_stops()).replace('-', "−")) }
            td { (bandwidth_in_words(mark)) }
        }
    }
}

//! Exposure times in a visit: a recording in, a reading with its charts out.

use fettle_bench::{BenchError, Change, Reading, RecordingId, shutter_reading, shutter_report};
use fettle_measure::shutter::Report;
use fettle_notes::{Limit, LimitId, ShutterLimit};
use maud::{Markup, PreEscaped, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::drawings;
use crate::error::sentence;
use crate::form::Wrong;
use crate::shutter::{self, Dial};
use crate::upload::Upload;

/// The form that takes a recording against one limit of the notes.
pub(crate) fn form(context: &Context<'_>, id: &LimitId, limit: &ShutterLimit) -> Markup {
    let marks: Vec<String> = limit.marks.iter().map(ToString::to_string).collect();
    upload_form(
        context,
        id.as_str(),
        &html! {
            p.quiet-text { "Against the dial of the notes: " (marks.join("  ")) }
        },
    )
}

/// The form for a camera without usable notes: the dial is typed in.
pub(crate) fn without_notes(context: &Context<'_>) -> Markup {
    let form = context.form_keyed(Deed::Recording, "");
    html! {
        section {
            h3 { "Exposure times" }
            (upload_form(context, "", &Dial::fields(&form)))
        }
    }
}

fn upload_form(context: &Context<'_>, limit: &str, dial: &Markup) -> Markup {
    let form = context.form_keyed(Deed::Recording, limit);
    let file_id = format!("{}-recording", form.id());
    let fields = html! {
        input type="hidden" name="limit" value=(limit);
        (readings::phases(context, &form))
        (dial)
        div.fields {
            div.field {
                label for=(file_id) { "Recording" }
                p.hint { "A WAV, FLAC or AIFF file, or a table time_s,volts as CSV; at most 300 MB." }
                input type="file" id=(file_id) name="recording" accept=".wav,.flac,.aiff,.aif,.ogg,.mp3,.csv,audio/*,text/csv";
            }
        }
        div.acts { button.first { "Measure the recording" } }
    };
    context.around_files(Deed::Recording, &form, &fields)
}

/// Keeps the recording and the reading measured from it, together.
pub(crate) fn recording(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = sent.wrong.clone();
    let phase = readings::phase(&sent.fields, &mut wrong);
    let limit_id = sent.fields.some("limit");
    let dial = match &limit_id {
        Some(id) => dial_of_notes(context, id, &mut wrong),
        None => Dial::read(&sent.fields, &mut wrong),
    };
    let Some(file) = sent.files.first() else {
        if wrong.is_empty() {
            wrong.note("recording", "choose a recording");
        }
        return Err(wrong);
    };
    let (Some(phase), Some(dial), true) = (phase, dial, wrong.is_empty()) else {
        return Err(wrong);
    };
    let report = match shutter::measure(file, &dial) {
        Ok(report) => report,
        Err(message) => {
            wrong.note("recording", message);
            return Err(wrong);
        }
    };
    let caption = format!("exposure times, {}", phase.as_str());
    let stage = context.view.line.stage;
    let kept =
        context
            .bench
            .keep_recording(context.visit(), stage, &caption, &file.name, &file.bytes);
    let changes = kept.and_then(|kept| {
        let taken = shutter_reading(
            context.visit(),
            phase,
            &report,
            limit_id.as_deref(),
            Some(RecordingId::LATEST),
        )?;
        Ok(vec![kept, taken.into()])
    });
    match changes {
        Ok(changes) => Ok(changes),
        Err(error) => {
            wrong.note("recording", error.to_string());
            Err(wrong)
        }
    }
}

fn dial_of_notes(context: &Context<'_>, id: &str, wrong: &mut Wrong) -> Option<Dial> {
    let dial = context
        .notes()
        .and_then(|notes| match notes.limits.get(id)? {
            Limit::Shutter(limit) => Some(Dial::of_notes(notes, limit)),
            _ => None,
        });
    if dial.is_none() {
        wrong.note(
            "",
            format!("the service notes have no limit on exposure times under “{id}”; reload the page and choose again"),
        );
    }
    dial
}

/// The stored report of a reading; `None` when there is none.
fn report_of(reading: Option<&Reading>) -> Result<Option<Report>, BenchError> {
    reading.map_or(Ok(None), |reading| shutter_report(&reading.what))
}

/// The chart of the speeds, and the traces to look at more closely.
pub(crate) fn charts(before: Option<&Reading>, after: Option<&Reading>) -> Markup {
    let (before, after) = match (report_of(before), report_of(after)) {
        (Ok(before), Ok(after)) => (before, after),
        (Err(error), _) | (_, Err(error)) => {
            return html! { p.quiet-text { (sentence(&error.to_string())) } };
        }
    };
    if before.is_none() && after.is_none() {
        return html! {};
    }
    let marks = drawings::marks(before.as_ref(), after.as_ref());
    html! {
        div.chart { (PreEscaped(drawings::speeds(before.as_ref(), after.as_ref()))) }
        details.more {
            summary { "The traces, speed by speed" }
            div.traces {
                @for mark in marks {
                    div.chart { (PreEscaped(drawings::traces(mark, before.as_ref(), after.as_ref()))) }
                }
            }
        }
    }
}

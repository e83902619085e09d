//! Exposure times in a visit: a recording in, a reading with its charts out.

use std::fs::File;
use std::io::Cursor;

use fettle_bench::{
    BenchError, Change, Phase, Reading, RecordingId, Undo, shutter_read_as, shutter_reading,
    shutter_report,
};
use fettle_measure::shutter::{Options, Report};
use fettle_notes::{Limit, LimitId, ShutterLimit};
use maud::{Markup, PreEscaped, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::error::sentence;
use crate::form::{Fields, Wrong};
use crate::live::{self, Session};
use crate::shutter::{self, Dial};
use crate::upload::{Sent, Upload};
use crate::{drawings, frame, said, urls};

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
            (upload_form(context, "", &html! { (Dial::kind(&form)) (Dial::fields(&form)) }))
        }
    }
}

fn upload_form(context: &Context<'_>, limit: &str, dial: &Markup) -> Markup {
    let form = context.form_keyed(Deed::Recording, limit);
    let file_id = format!("{}-recording", form.id());
    let fields = html! {
        input type="hidden" name="limit" value=(limit);
        (shutter::lamp_caution())
        (readings::phases(context, &form))
        input type="hidden" name="visit" value=(context.visit());
        (dial)
        (Dial::sense(&form))
        (live::panel(&form, "Keep the reading", true))
        div.fields {
            (shutter::recording_field(&file_id, "Or a recording made before"))
        }
        div.acts { button.first { "Measure the recording" } }
    };
    context.around_files(Deed::Recording, &form, &fields)
}

/// Keeps the recording and the reading measured from it, together.
pub(crate) fn recording(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = sent.wrong.clone();
    let phase = readings::phase(&sent.fields, &mut wrong);
    let dial = dial(context, &sent.fields, &mut wrong);
    let heard = match sent.fields.some("live") {
        Some(token) => {
            let session = context.live.session(&token);
            if session.is_none() {
                wrong.note("", live::GONE);
            }
            session
        }
        None => None,
    };
    let file = sent.files.first();
    if heard.is_none() && file.is_none() && wrong.is_empty() {
        wrong.note("recording", "choose a recording, or listen");
    }
    let (Some(phase), Some(dial), true) = (phase, dial, wrong.is_empty()) else {
        return Err(wrong);
    };
    let changes = match (heard, file) {
        (Some(session), _) => keep_heard(context, &session, phase, &dial, &sent.fields),
        (None, Some(file)) => keep_file(context, file, phase, &dial, &sent.fields),
        (None, None) => Err(String::new()),
    };
    changes.map_err(|message| {
        wrong.note("recording", message);
        wrong
    })
}

fn keep_heard(
    context: &Context<'_>,
    session: &Session,
    phase: Phase,
    dial: &Dial,
    fields: &Fields,
) -> Result<Vec<Change>, String> {
    let mut taken = session.taken();
    let options = taken.heard_so(dial.options().clone());
    let report = taken.measure(&options)?;
    let told = |error: BenchError| error.to_string();
    let caption = caption(phase);
    let stage = context.view.line.stage;
    let kept = context
        .bench
        .keep_draft(context.visit(), stage, &caption, taken.draft());
    Ok(vec![
        kept.map_err(told)?,
        taken_change(context, phase, &report, &options, fields).map_err(told)?,
    ])
}

fn keep_file(
    context: &Context<'_>,
    file: &Sent,
    phase: Phase,
    dial: &Dial,
    fields: &Fields,
) -> Result<Vec<Change>, String> {
    let report = shutter::measure(&file.name, Cursor::new(&file.bytes), dial.options())?;
    let told = |error: BenchError| error.to_string();
    let stage = context.view.line.stage;
    let kept = context.bench.keep_recording(
        context.visit(),
        stage,
        &caption(phase),
        &file.name,
        &file.bytes,
    );
    Ok(vec![
        kept.map_err(told)?,
        taken_change(context, phase, &report, dial.options(), fields).map_err(told)?,
    ])
}

fn caption(phase: Phase) -> String {
    format!("exposure times, {}", phase.as_str())
}

fn taken_change(
    context: &Context<'_>,
    phase: Phase,
    report: &Report,
    options: &Options,
    fields: &Fields,
) -> Result<Change, BenchError> {
    let limit = fields.some("limit");
    let latest = Some(RecordingId::LATEST);
    let visit = context.visit();
    let taken = shutter_reading(visit, phase, report, options, limit.as_deref(), latest)?;
    Ok(taken.into())
}

/// Reads a kept recording again with what the mechanic says of its shots; the reading taken before is struck, the
/// new one stands in its place.
pub(crate) fn corrected(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let id = sent.fields.text("reading");
    let readings = &context.view.readings;
    let reading = readings.iter().find(|it| it.id.to_string() == id);
    let reading =
        reading.ok_or_else(|| Wrong::of_all("this reading no longer stands: reload the page"))?;
    let (Ok(Some(report)), Some(options)) = (
        shutter_report(&reading.what),
        shutter_read_as(&reading.what),
    ) else {
        return Err(Wrong::of_all(NOT_SAID));
    };
    let said = said::read(&sent.fields, &report, &options)?;
    let name = report.recordings.first().map(|it| it.name.as_str());
    read_again(context, reading, name, &Options { said, ..options }).map_err(Wrong::of_all)
}

/// What is said where it is not known how a recording was read.
const NOT_SAID: &str =
    "this reading does not say how its recording was read: give the recording again below";

/// `name` is what the recording was called when it was given.
fn read_again(
    context: &Context<'_>,
    reading: &Reading,
    name: Option<&str>,
    options: &Options,
) -> Result<Vec<Change>, String> {
    let told = |error: BenchError| error.to_string();
    let kept = reading.what.recording.ok_or(NOT_SAID)?;
    let file = context.bench.recording_file(kept).map_err(told)?;
    let source = File::open(&file.path).map_err(|error| error.to_string())?;
    let report = shutter::measure(name.unwrap_or(&file.name), source, options)?;
    let taken = shutter_reading(
        context.visit(),
        reading.what.phase,
        &report,
        options,
        reading.what.limit_id.as_deref(),
        Some(kept),
    );
    let struck = Undo {
        entry: reading.entry,
    };
    Ok(vec![struck.into(), taken.map_err(told)?.into()])
}

/// The dial that a form of this visit names by its limit, or types in.
pub(crate) fn dial(context: &Context<'_>, fields: &Fields, wrong: &mut Wrong) -> Option<Dial> {
    let dial = match fields.some("limit") {
        Some(id) => dial_of_notes(context, &id, wrong),
        None => Dial::read(fields, wrong),
    };
    dial.map(|dial| dial.sensed(fields, wrong))
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
    let phases = [("Before", before.as_ref()), ("After", after.as_ref())];
    let framed = phases
        .into_iter()
        .filter_map(|(phase, report)| Some((phase, frame::tables(report?))))
        .filter(|(_, tables)| !tables.0.is_empty());
    html! {
        @for (phase, tables) in framed { section.framed { h4 { (phase) } (tables) } }
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

/// Every shot of a reading, each with the way to look at it closely, to have its mark corrected or to be left out.
pub(crate) fn shots(context: &Context<'_>, reading: &Reading) -> Markup {
    let (Ok(Some(report)), Some(_)) = (shutter_report(&reading.what), reading.what.recording)
    else {
        return html! {};
    };
    let options = shutter_read_as(&reading.what);
    let traces = urls::trace(context.visit(), reading.id);
    let form = context.form_keyed(Deed::Corrected, &reading.id.to_string());
    let lines = said::shots(&form, &report, options.as_ref(), |shot| {
        urls::with_shot(&traces, shot.n)
    });
    html! {
        details.more open[form.is_returned()] {
            summary { "Every shot" @if options.is_some() { ": correct a mark, or leave a shot out" } }
            @if options.is_some() {
                (context.around(Deed::Corrected, &form, &html! {
                    input type="hidden" name="reading" value=(reading.id);
                    input type="hidden" name="limit" value=(reading.what.limit_id.as_deref().unwrap_or_default());
                    (lines)
                    div.acts { button { "Read the recording again with this" } }
                    p.hint { "The new reading takes this one's place; this one stays in the journal, struck." }
                }))
            } @else { (lines) p.quiet-text { (sentence(NOT_SAID)) } }
        }
    }
}

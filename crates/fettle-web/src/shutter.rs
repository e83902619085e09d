//! The shutter instrument: a recording and a dial in, a report out; and its page.

use std::io::{Read, Seek};
use std::sync::Arc;

use axum::extract::{Query, Request, State};
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{remarks_in_words, shutter_options};
use fettle_measure::shutter::{
    Kind, Limits, Options, Report, Sense, Shot, ShutterError, Speed, analyse,
};
use fettle_measure::{Marked, Millimetres, Recording, Seconds, Verdict, recording};
use fettle_notes::{ServiceNotes, ShutterLimit};
use maud::{Markup, PreEscaped, html};
use serde::Deserialize;

use crate::assets::Asset;
use crate::error::{PageError, sentence};
use crate::form::{Fields, Form, Wrong};
use crate::given::{self, Given, Source};
use crate::layout::{Page, Room};
use crate::live::{self, Session};
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::{drawings, frame, number, said, urls, words};

const FORM_ID: &str = "shutter";
/// The form in which shots are corrected.
const SHOTS_ID: &str = "shots";

/// The marks of a dial and how far each may be off.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Dial(Options);

impl Dial {
    /// The dial that one limit of the service notes describes.
    pub(crate) fn of_notes(notes: &ServiceNotes, limit: &ShutterLimit) -> Self {
        Self(shutter_options(notes, Some(limit)))
    }

    /// How a recording is to be read against it.
    pub(crate) fn options(&self) -> &Options {
        &self.0
    }

    /// As [`Dial::options`].
    pub(crate) fn into_options(self) -> Options {
        self.0
    }

    /// Reads a dial that was typed in.
    pub(crate) fn read(fields: &Fields, wrong: &mut Wrong) -> Option<Self> {
        let mut speeds = Vec::new();
        for text in fields
            .text("speeds")
            .split([',', ' ', ';'])
            .filter(|text| !text.is_empty())
        {
            match text.parse::<Marked>() {
                Ok(mark) => speeds.push(mark),
                Err(error) => wrong.note("speeds", error.to_string()),
            }
        }
        let limits = match fields.text("limits").parse::<Limits>() {
            Ok(limits) => limits,
            Err(error) => {
                wrong.note("limits", error.to_string());
                return None;
            }
        };
        let kind = match fields.text("kind") {
            "focal-plane" => Kind::FocalPlane,
            _ => Kind::Leaf,
        };
        Some(Self(Options {
            kind,
            speeds,
            limits,
            ..Options::default()
        }))
    }

    /// The same dial, for a recording of what the form says, with sensors where it says; what it leaves
    /// out stays as the notes have it.
    pub(crate) fn sensed(mut self, fields: &Fields, wrong: &mut Wrong) -> Self {
        let options = &mut self.0;
        options.sense = match fields.text("sense") {
            "sound" => Sense::Sound,
            _ => Sense::Light,
        };
        let channels = channels(fields, wrong);
        if !channels.is_empty() {
            options.channels = channels;
        }
        let places = places(fields, wrong);
        if !places.is_empty() {
            options.sensors_mm = places;
        }
        if let Some(gate) = wrong.number(fields, "gate", "the width of the gate in mm") {
            options.gate_mm = Some(Millimetres::mm(gate));
        }
        if let Some(channel) = wrong.whole(fields, "flash", "the channel of the flash contact") {
            options.flash_channel = Some(u16::try_from(channel).unwrap_or(u16::MAX));
        }
        if options.sense == Sense::Sound {
            // The notes' sensors see light.
            options.sensors_mm.clear();
            options.stops_f.clear();
        }
        if wrong.is_empty()
            && let Err(ShutterError::Option { option, reason }) = options.check()
        {
            wrong.note(field_of(option), reason);
        }
        self
    }

    /// The field that [`Dial::sensed`] reads.
    pub(crate) fn sense(form: &Form) -> Markup {
        html! {
            fieldset {
                legend.field-label { "What is recorded" }
                div.ticks {
                    (form.radio("sense", "light", "light behind the shutter", "light"))
                    (form.radio("sense", "sound", "its sound, for slow speeds only", "light"))
                }
            }
            details.more open[form.is_returned() && SENSOR_FIELDS.iter().any(|name| !form.value(name, "").is_empty())] {
                summary { "Several sensors, or a flash contact" }
                div.fields {
                    (form.line("channels", "Channels of the sensors").hint("counted from 1, such as 1, 2, 3; empty: all").class("third").draw())
                    (form.line("sensors", "Sensors along the gate").unit("mm").hint("each one’s place from one edge, such as 3, 18, 33; empty: as in the notes, else one in the middle").class("third").draw())
                    (form.line("gate", "Width of the gate").unit("mm").hint("along the curtains’ travel; empty: as in the notes, else 36").class("third").draw())
                    (form.line("flash", "Channel of the flash contact").hint("counted from 1; empty: none is recorded").class("third").draw())
                }
            }
        }
    }

    /// The field that tells the kinds of shutter apart.
    pub(crate) fn kind(form: &Form) -> Markup {
        html! {
            fieldset {
                legend.field-label { "The shutter" }
                div.ticks {
                    (form.radio("kind", "leaf", "leaf: blades in the lens", "leaf"))
                    (form.radio("kind", "focal-plane", "focal plane: curtains before the film", "leaf"))
                }
            }
        }
    }

    /// The other fields that [`Dial::read`] reads.
    pub(crate) fn fields(form: &Form) -> Markup {
        html! {
            div.fields {
                (form.line("speeds", "Marks on the dial").hint("such as 1, 1/2, 1/5, 1/10; empty when not known").class("third").draw())
                (form.line("limits", "Allowed, in stops").hint("empty: the bench's rule, 1/4 to 1/125 and 1/3 above").class("third").draw())
            }
        }
    }
}

/// The fields in which the sensors are described.
const SENSOR_FIELDS: [&str; 4] = ["channels", "sensors", "gate", "flash"];

/// The channels that a form gives.
fn channels(fields: &Fields, wrong: &mut Wrong) -> Vec<u16> {
    let apart = |c: char| c == ',' || c == ';' || c.is_whitespace();
    let mut channels = Vec::new();
    let parts = fields.text("channels").split(apart);
    for part in parts.filter(|part| !part.is_empty()) {
        match part.parse::<u16>() {
            Ok(channel) if channel > 0 => channels.push(channel),
            _ => wrong.note(
                "channels",
                format!("“{part}” is no channel: give their numbers from 1, such as 1, 2, 3"),
            ),
        }
    }
    channels
}

/// The sensors' places that a form gives.
fn places(fields: &Fields, wrong: &mut Wrong) -> Vec<Millimetres> {
    let text = fields.text("sensors");
    // With semicolons or blanks between them, a comma is a decimal one.
    let apart = |c: char| c == ';' || c.is_whitespace();
    let parts: Vec<&str> = if text.contains(", ") || !text.trim().contains(apart) {
        text.split([',', ';']).collect()
    } else {
        text.split(apart).collect()
    };
    let mut places = Vec::new();
    for part in parts
        .iter()
        .map(|part| part.trim())
        .filter(|part| !part.is_empty())
    {
        match part.replace(',', ".").parse::<f64>() {
            Ok(x) if x.is_finite() => places.push(Millimetres::mm(x)),
            _ => wrong.note(
                "sensors",
                format!("“{part}” is no place in mm: give each channel’s from one edge of the gate, such as 3, 18, 33"),
            ),
        }
    }
    places
}

/// The form's field for an argument of the command line.
fn field_of(option: &str) -> &'static str {
    match option {
        "--sensors-mm" => "sensors",
        "--gate-mm" => "gate",
        "--flash-channel" => "flash",
        "--channels" => "channels",
        _ => "",
    }
}

/// Measures the recording called `name`; an error is a message that says what, why and what to do.
pub(crate) fn measure(
    name: &str,
    source: impl Read + Seek + Send + Sync,
    options: &Options,
) -> Result<Report, String> {
    analyse(&[read(name, source)?], options).map_err(|error| error.to_string())
}

/// Reads the recording called `name`; an error is a message that says what, why and what to do.
pub(crate) fn read(
    name: &str,
    source: impl Read + Seek + Send + Sync,
) -> Result<Recording, String> {
    recording::read(name, source).map_err(|error| error.to_string())
}

/// The caution of every page on which a lamp is set up.
pub(crate) fn lamp_caution() -> Markup {
    html! {
        div.caution { p { strong { "Caution" } " – an isolated low-voltage supply only for the lamp, never one fed from the mains. Local codes and licensed practice decide." } }
    }
}

/// How the times were taken, in a line.
pub(crate) fn method(report: &Report) -> String {
    let mut releases: Vec<u32> = report.shots.iter().map(|shot| shot.release).collect();
    releases.dedup();
    let releases = releases.len();
    format!(
        "{} of {}, {} at {}",
        number::figure(report.recording.seconds.to_s().round(), None, "s"),
        if report.clicks.is_empty() {
            "light behind the shutter"
        } else {
            "the shutter's sound"
        },
        number::count(releases, "shot", "shots"),
        number::figure(report.recording.sample_rate_hz.to_hz() / 1e3, None, "kHz"),
    )
}

/// What the address asks to see.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    /// A recording that was measured.
    given: Option<String>,
}

/// The page with its form, under what was measured if the address names it.
pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let given = asked.given.map(|token| given(desk, &token)).transpose()?;
            let form = given.as_deref().map_or_else(
                || Form::fresh(FORM_ID),
                |given| Form::returned(FORM_ID, given.fields.clone(), Wrong::default()),
            );
            Ok(page(desk, &form, given.as_deref(), None))
        })
        .await?;
    Ok(state.draw(&page))
}

/// The recording that a token names.
pub(crate) fn given(desk: &Desk, token: &str) -> Result<Arc<Given>, PageError> {
    desk.given.get(token).ok_or_else(|| {
        PageError::missing(sentence(given::GONE)).or(urls::SHUTTER, "Go to exposure times")
    })
}

/// Measures what was sent, or reads it again with what was said of its shots; nothing is kept in the record.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Recordings).await?;
    let outcome = state
        .at_bench(move |desk| match sent.fields.some("given") {
            Some(token) => Ok(corrected(desk, &*given(desk, &token)?, sent)),
            None => Ok(measured(desk, sent)),
        })
        .await?;
    Ok(match outcome {
        Ok(token) => Redirect::to(&urls::given(&token)).into_response(),
        Err(page) => state.answer(&page, true),
    })
}

/// Measures what a form gives and holds it; the page with what is wrong, if something is.
fn measured(desk: &Desk, sent: Upload) -> Result<String, Box<Page>> {
    let mut wrong = sent.wrong.clone();
    let dial = dial_of(desk, &sent.fields, &mut wrong);
    let heard = heard(desk, &sent.fields, &mut wrong);
    if let (Some(dial), true) = (dial, wrong.is_empty()) {
        match measure_sent(desk, heard, &sent, dial.into_options()) {
            Ok(given) => return Ok(hold(desk, given)),
            Err(message) => wrong.note("recording", message),
        }
    }
    let form = Form::returned(FORM_ID, sent.fields, wrong);
    Err(Box::new(page(desk, &form, None, None)))
}

fn measure_sent(
    desk: &Desk,
    heard: Option<Arc<Session>>,
    sent: &Upload,
    options: Options,
) -> Result<Given, String> {
    let fields = sent.fields.clone();
    if let Some(session) = heard {
        let (name, options) = {
            let taken = session.taken();
            (taken.name().to_owned(), taken.heard_so(options))
        };
        return Given::measure(desk, &name, Source::Heard(session), options, fields);
    }
    let file = sent.files.first().ok_or("choose a recording")?;
    let source = Source::of_sent(desk, file)?;
    Given::measure(desk, &file.name, source, options, fields)
}

/// Reads a recording again with what its form says of its shots.
fn corrected(desk: &Desk, given: &Given, sent: Upload) -> Result<String, Box<Page>> {
    let said = said::read(&sent.fields, &given.report, &given.options);
    let again = said.and_then(|said| {
        let options = Options {
            said,
            ..given.options.clone()
        };
        given.again(desk, options).map_err(Wrong::of_all)
    });
    again.map(|again| hold(desk, again)).map_err(|wrong| {
        let form = Form::returned(FORM_ID, given.fields.clone(), Wrong::default());
        let shots = Form::returned(SHOTS_ID, sent.fields, wrong);
        Box::new(page(desk, &form, Some(given), Some(shots)))
    })
}

fn hold(desk: &Desk, given: Given) -> String {
    let token = given.token.clone();
    desk.given.hold(given);
    token
}

/// The dial that a form chooses or types in.
pub(crate) fn dial_of(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> Option<Dial> {
    let dial = match fields.some("model") {
        Some(choice) => chosen_dial(desk, &choice, wrong),
        None => Dial::read(fields, wrong),
    };
    dial.map(|dial| dial.sensed(fields, wrong))
}

/// The session of listening that a form names; what is wrong when it is gone.
pub(crate) fn heard(desk: &Desk, fields: &Fields, wrong: &mut Wrong) -> Option<Arc<Session>> {
    let token = fields.some("live")?;
    let session = desk.live.session(&token);
    if session.is_none() {
        wrong.note("", live::GONE);
    }
    session
}

/// Models whose notes describe a shutter: id and what they are called.
pub(crate) fn known_dials(desk: &Desk) -> Vec<(String, String)> {
    let described = desk.bench.models().into_iter().filter_map(|model| {
        let notes = model.notes?;
        notes.shutter_limit()?;
        Some((
            model.id,
            format!("{} {}", notes.model.maker, notes.model.name),
        ))
    });
    described.collect()
}

fn chosen_dial(desk: &Desk, model: &str, wrong: &mut Wrong) -> Option<Dial> {
    let notes = desk.bench.notes(model);
    let dial = notes.as_deref().and_then(|notes| {
        let (_, limit) = notes.shutter_limit()?;
        Some(Dial::of_notes(notes, limit))
    });
    if dial.is_none() {
        wrong.note(
            "model",
            format!("no service notes describe a shutter of “{model}”"),
        );
    }
    dial
}

/// The page; `shots` is the form of the shots where it came back.
fn page(desk: &Desk, form: &Form, given: Option<&Given>, shots: Option<Form>) -> Page {
    let mut dials = vec![(String::new(), "a dial typed in below".to_owned())];
    dials.extend(known_dials(desk));
    let body = html! {
        h1 { "Exposure times" }
        p.lead { "Is the shutter right? Listen to the light behind it as you fire, or give a recording: a lamp in front, a light sensor behind, several shots at each speed." }
        (lamp_caution())
        @if let Some(given) = given { (result(given, &shots.unwrap_or_else(|| Form::fresh(SHOTS_ID)))) }
        section {
            h2 { @if given.is_some() { "Another measurement" } @else { "Measure" } }
            form method="post" id=(FORM_ID) action=(urls::SHUTTER) enctype="multipart/form-data" novalidate {
                (form.problems())
                fieldset.group {
                    legend { "The dial" }
                    div.fields { (form.choice("model", "The dial of", dials).hint("a model's notes bring the kind of shutter, marks and limits").draw()) }
                    (Dial::kind(form))
                    (Dial::fields(form))
                    (Dial::sense(form))
                }
                fieldset.group {
                    legend { "Listen as you fire" }
                    (live::panel(form, "Show the report", false))
                }
                fieldset.group {
                    legend { "Or a recording made before" }
                    div.fields {
                        (recording_field("shutter-recording", "Recording"))
                    }
                    div.acts { button.first { "Measure the recording" } }
                }
            }
            p.quiet-text { "New lamp, sensor or input? " a href=(urls::SHUTTER_CHECK) { "Prove the chain" } " first: it says which speeds they can prove." }
            p.quiet-text { "Nothing goes into the record here; a recording is held for half an hour. To keep a reading, measure at a visit, under “Settings and proof”." }
        }
    };
    Page::new("Exposure times", body)
        .room(Room::Instruments)
        .about("shutter-page")
        .script(Asset::Input)
        .script(Asset::Listen)
}

/// The field for a recording that was made before.
pub(crate) fn recording_field(id: &str, label: &str) -> Markup {
    html! {
        div.field {
            label for=(id) { (label) }
            p.hint { "WAV, FLAC or AIFF; Ogg and MP3 lose precision; or a table time_s,volts as CSV. At most 300 MB." }
            input type="file" id=(id) name="recording" accept=".wav,.flac,.aiff,.aif,.ogg,.mp3,.csv,audio/*,text/csv";
        }
    }
}

fn result(given: &Given, form: &Form) -> Markup {
    let report = &given.report;
    html! {
        section {
            h2 { "What " (given.name) " says" }
            (form.problems())
            p.aside { (method(report)) ". Uncertainties are expanded, k = 2." }
            @let remarks = remarks_in_words(report);
            @if !remarks.is_empty() { ul.findings { @for remark in &remarks { li { (sentence(remark)) } } } }
            (speeds_table(report))
            div.chart { (PreEscaped(drawings::speeds(None, Some(report)))) }
            (frame::tables(report))
            @if !report.apertures.is_empty() { (apertures_table(report)) }
            @if let Some(session) = given.session() { p { a.button href=(urls::live_recording(&session.token)) { "Store the recording" } } }
        }
        @if !report.clicks.is_empty() { section { h2 { "The clicks" } (clicks_table(report)) } }
        (shots_section(given, form))
    }
}

fn shots_section(given: &Given, form: &Form) -> Markup {
    let traces = urls::given_traces(&given.token);
    let marks = said::dial(&given.options);
    html! {
        section {
            h2 { "The shots" }
            form method="post" id=(form.id()) action=(urls::SHUTTER) enctype="multipart/form-data" novalidate {
                input type="hidden" name="given" value=(given.token);
                @for release in said::releases(&given.report) {
                    div.release {
                        div.of-release { @for shot in release { (shot_row(shot, &urls::with_shot(&traces, shot.n))) } }
                        @if let Some(first) = release.first() { (said::word(form, first, &marks)) }
                    }
                }
                div.acts { button { "Read the recording again with this" } }
            }
        }
    }
}

/// A verdict as a class of the style sheet, and in words.
pub(crate) fn verdict(verdict: Option<Verdict>) -> (&'static str, &'static str) {
    words::verdict(verdict.map(|verdict| match verdict {
        Verdict::In => fettle_bench::Verdict::In,
        Verdict::Out => fettle_bench::Verdict::Out,
        Verdict::Undecided => fettle_bench::Verdict::Undecided,
    }))
}

fn speeds_table(report: &Report) -> Markup {
    html! {
        div.table-wrap { table {
            thead { tr { th { "Mark" } th.num { "Means" } th.num { "Measured" } th.num { "Shots" } th.num { "Off by" } th.num { "Allowed" } th { "Verdict" } } }
            tbody {
                @for speed in &report.speeds {
                    @let (class, word) = verdict(speed.verdict);
                    tr {
                        th scope="row" { (speed.marked) }
                        td.num { (number::exposure(speed.nominal_s.to_s(), None)) }
                        td.num { (number::exposure(speed.mean_s.to_s(), None)) }
                        td.num { (speed.shots) }
                        td.num { (number::stops_off(speed.error_stops.to_stops(), Some(speed.uncertainty_stops.to_stops()))) " stops" }
                        td.num { @if let Some(limit) = speed.limit_stops { "± " (format!("{:.2}", limit.to_stops())) } }
                        td { span class={ "verdict " (class) } { (word) } (doubt(speed)) }
                    }
                }
            }
        } }
    }
}

/// Why a mark's verdict is open though its time is known.
pub(crate) fn doubt(speed: &Speed) -> Markup {
    html! { @if speed.unsure { span.aside { " mark not sure" } } }
}

fn apertures_table(report: &Report) -> Markup {
    html! {
        details.more {
            summary { "At smaller stops" }
            div.table-wrap { table {
                thead { tr { th { "Mark" } th.num { "Stop" } th.num { "Effective" } th.num { "Against the mark" } th.num { "Against full opening" } } }
                tbody {
                    @for row in &report.apertures {
                        tr {
                            th scope="row" { (row.marked) }
                            td.num { "f/" (number::figure(row.f, None, "")) }
                            td.num { (number::exposure(row.effective_s.to_s(), None)) }
                            td.num { (number::stops(row.error_stops.to_stops())) }
                            td.num { (number::stops(row.over_full_open_stops.to_stops())) }
                        }
                    }
                }
            } }
        }
    }
}

fn clicks_table(report: &Report) -> Markup {
    html! {
        div.table-wrap { table {
            thead { tr { th.num { "At" } th.num { "Level" } th.num { "Release" } th { "Can be, likeliest first" } } }
            tbody {
                @for click in &report.clicks {
                    tr {
                        td.num { (number::figure(click.at_s.to_s(), None, "s")) }
                        td.num { (number::figure(click.level_db.to_db().round(), None, "dB")) }
                        td.num { @if let Some(release) = click.release { (release) } }
                        td { (click.could_be.iter().map(|it| words::click(*it)).collect::<Vec<_>>().join(", ")) }
                    }
                }
            }
        } }
    }
}

/// A shot's time in words, with its uncertainty.
pub(crate) fn shot_time(shot: &Shot) -> String {
    match shot.effective_s {
        Some(time) => number::exposure(time.to_s(), shot.uncertainty_s.map(Seconds::to_s)),
        None => "cannot be told".to_owned(),
    }
}

fn shot_row(shot: &Shot, closely: &str) -> Markup {
    let marked = shot
        .marked
        .map_or_else(|| "no mark".to_owned(), |mark| mark.to_string());
    html! {
        details.shot {
            summary {
                span.n { @if let Some(x) = shot.x_mm { "Release " (shot.release) " at " (number::figure(x.to_mm(), None, "mm")) } @else { "Shot " (shot.n) } }
                span.what { (marked) }
                span class=[shot.struck.then_some("struck")] { (shot_time(shot)) }
                span.aside { "at " (number::figure(shot.start_s.to_s(), None, "s")) }
                @if shot.struck { span.what { "struck, not counted" } }
                @if !shot.flags.is_empty() { span.aside.said { (words::flags(&shot.flags)) } }
            }
            div.chart { (PreEscaped(drawings::trace(shot))) }
            p { a.button href=(closely) { "Look closely" span.unseen { " at shot " (shot.n) } } }
            dl.facts {
                @if let Some(total) = shot.total_s { dt { "From first opening to last closing" } dd { (number::exposure(total.to_s(), shot.total_uncertainty_s.map(Seconds::to_s))) } }
                @if let Some(efficiency) = shot.efficiency { dt { "Efficiency" } dd { (number::figure((efficiency * 100.0).round(), None, "%")) } }
                @if let Some(bounce) = shot.bounce_s { dt { "Second opening" } dd { (number::exposure(bounce.to_s(), None)) } }
                @for pair in &shot.proposals { dt { "Two clicks apart by" } dd { (number::exposure(pair.between_s.to_s(), Some(pair.uncertainty_s.to_s()))) ", from " (number::figure(pair.from_s.to_s(), None, "s")) "; proposed, not told" } }
                @if let Some(other) = shot.alternative { dt { "Might also be" } dd { (other) } }
            }
        }
    }
}

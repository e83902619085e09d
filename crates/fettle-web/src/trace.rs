//! A recording looked at closely: the page around one shot, and the samples that its script asks for.

use std::collections::VecDeque;
use std::fs::File;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{Path, Query, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use fettle_bench::{BenchError, RecordingId, VisitId, shutter_report};
use fettle_measure::recording::{self, View, Waveform};
use fettle_measure::shutter::{Report, Shot};
use fettle_measure::{Recording, Seconds};
use maud::{Markup, PreEscaped, html};
use serde::{Deserialize, Serialize};

use crate::assets::Asset;
use crate::error::{PageError, sentence};
use crate::given::Given;
use crate::layout::{Page, Room};
use crate::state::{AppState, Desk};
use crate::{drawings, live, shutter, urls};

/// Recordings held for their viewers; each takes some 30 MB at most beside its levels.
const MOST_HELD: usize = 2;

/// The recordings looked at lately.
#[derive(Debug, Default)]
pub(crate) struct Viewed(Mutex<VecDeque<(String, Arc<Waveform>)>>);

impl Viewed {
    /// The recording called `key`, read when it is not held or holds less than `least` samples. Others
    /// wait meanwhile, so that no two are read at once.
    fn get(
        &self,
        key: &str,
        least: usize,
        read: impl FnOnce() -> Result<Recording, PageError>,
    ) -> Result<Arc<Waveform>, PageError> {
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let found = held.iter().find(|(name, _)| name == key);
        if let Some((_, waveform)) = found
            && waveform.recording().length() >= least
        {
            return Ok(Arc::clone(waveform));
        }
        held.retain(|(name, _)| name != key);
        held.truncate(MOST_HELD - 1);
        let waveform = Arc::new(Waveform::of(read()?));
        held.push_front((key.to_owned(), Arc::clone(&waveform)));
        Ok(waveform)
    }
}

/// Which shot to show first.
#[derive(Debug, Deserialize)]
pub(crate) struct AskedShot {
    shot: Option<u32>,
}

/// The part that is in sight.
#[derive(Debug, Deserialize)]
pub(crate) struct Window {
    from: usize,
    to: usize,
    columns: usize,
}

/// A shot of a reading kept with a visit.
pub(crate) async fn of_reading(
    State(state): State<AppState>,
    Path((visit, reading)): Path<(i64, i64)>,
    Query(asked): Query<AskedShot>,
) -> Result<Markup, PageError> {
    let missing = move || {
        PageError::missing(format!(
            "Visit {visit} has no reading {reading} with a recording."
        ))
    };
    let page = state
        .at_bench(move |desk| {
            let view = match desk.bench.visit(VisitId::new(visit)) {
                Err(BenchError::Unknown { .. }) => return Err(missing()),
                found => found?,
            };
            let kept = view
                .readings
                .iter()
                .find(|it| it.id.get() == reading)
                .ok_or_else(missing)?;
            let recording = kept.what.recording.ok_or_else(missing)?;
            let report = shutter_report(&kept.what)?.ok_or_else(missing)?;
            let waveform = kept_waveform(desk, recording, 0)?;
            let here = urls::trace(VisitId::new(visit), kept.id);
            let back = urls::visit_at(VisitId::new(visit), Some("proof"), None);
            let look = Look {
                report: &report,
                shot: asked.shot,
                recording: waveform.recording(),
                samples: urls::samples(recording),
                here,
            };
            Ok(page(
                &look,
                &html! { a href=(back) { "Back to visit " (visit) } },
            ))
        })
        .await?;
    Ok(state.draw(&page))
}

/// A shot of a session of listening.
pub(crate) async fn of_session(
    State(state): State<AppState>,
    Path(token): Path<String>,
    Query(asked): Query<AskedShot>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let session = session(desk, &token)?;
            let (report, heard) = {
                let taken = session.taken();
                (taken.report(), taken.samples())
            };
            let waveform = heard_waveform(desk, &session, heard)?;
            let look = Look {
                report: &report,
                shot: asked.shot,
                recording: waveform.recording(),
                samples: urls::live_samples(&token),
                here: urls::live_traces(&token),
            };
            Ok(page(&look, &html! { span.quiet-text { "What was heard until now; the page that listens goes on." } }))
        })
        .await?;
    Ok(state.draw(&page))
}

/// A shot of a recording given on the instrument's own page.
pub(crate) async fn of_given(
    State(state): State<AppState>,
    Path(token): Path<String>,
    Query(asked): Query<AskedShot>,
) -> Result<Markup, PageError> {
    let page = state
        .at_bench(move |desk| {
            let given = shutter::given(desk, &token)?;
            let waveform = given_waveform(desk, &given)?;
            let look = Look {
                report: &given.report,
                shot: asked.shot,
                recording: waveform.recording(),
                samples: urls::given_samples(&token),
                here: urls::given_traces(&token),
            };
            let back = urls::given(&token);
            Ok(page(
                &look,
                &html! { a href=(back) { "Back to what " (given.name) " says" } },
            ))
        })
        .await?;
    Ok(state.draw(&page))
}

/// The samples of a kept recording.
pub(crate) async fn samples(
    State(state): State<AppState>,
    Path(id): Path<i64>,
    Query(window): Query<Window>,
) -> Result<Response, PageError> {
    view(&state, window, move |desk| {
        kept_waveform(desk, RecordingId::new(id), 0)
    })
    .await
}

/// The samples of a session of listening.
pub(crate) async fn session_samples(
    State(state): State<AppState>,
    Path(token): Path<String>,
    Query(window): Query<Window>,
) -> Result<Response, PageError> {
    let to = window.to;
    view(&state, window, move |desk| {
        let session = session(desk, &token)?;
        let heard = session.taken().samples();
        heard_waveform(desk, &session, to.min(heard))
    })
    .await
}

/// The samples of a recording given on the instrument's own page.
pub(crate) async fn given_samples(
    State(state): State<AppState>,
    Path(token): Path<String>,
    Query(window): Query<Window>,
) -> Result<Response, PageError> {
    view(&state, window, move |desk| {
        given_waveform(desk, &*shutter::given(desk, &token)?)
    })
    .await
}

/// The part in sight of the recording that `waveform` finds.
async fn view(
    state: &AppState,
    window: Window,
    waveform: impl FnOnce(&Desk) -> Result<Arc<Waveform>, PageError> + Send + 'static,
) -> Result<Response, PageError> {
    let view = state
        .at_bench(move |desk| Ok(waveform(desk)?.view(window.from..window.to, window.columns)))
        .await?;
    Ok(answer(&view))
}

fn session(desk: &Desk, token: &str) -> Result<Arc<live::Session>, PageError> {
    let session = desk.live.session(token);
    session.ok_or_else(|| {
        PageError::missing(sentence(live::GONE)).or(urls::SHUTTER, "Go to exposure times")
    })
}

fn kept_waveform(desk: &Desk, id: RecordingId, least: usize) -> Result<Arc<Waveform>, PageError> {
    let file = desk.bench.recording_file(id)?;
    desk.viewed.get(&format!("recording {id}"), least, || {
        let unreadable =
            |why: String| PageError::missing(format!("The recording cannot be read: {why}."));
        let source = File::open(&file.path).map_err(|error| unreadable(error.to_string()))?;
        recording::read(&file.name, source).map_err(|error| unreadable(error.to_string()))
    })
}

fn heard_waveform(
    desk: &Desk,
    session: &live::Session,
    least: usize,
) -> Result<Arc<Waveform>, PageError> {
    desk.viewed.get(&session.token, least, || {
        let (name, source) = {
            let taken = session.taken();
            (taken.name().to_owned(), taken.read()?)
        };
        let read = shutter::read(&name, source);
        read.map_err(|why| PageError::missing(sentence(&why)))
    })
}

fn given_waveform(desk: &Desk, given: &Given) -> Result<Arc<Waveform>, PageError> {
    desk.viewed.get(&given.token, 0, || {
        let read = given.read();
        read.map_err(|why| PageError::missing(sentence(&why)))
    })
}

/// A view as its script takes it: for each channel the least values, then the greatest.
#[derive(Serialize)]
struct Answer {
    from: usize,
    per_column: usize,
    whole: bool,
    channels: Vec<[Vec<Option<f32>>; 2]>,
}

fn answer(view: &View) -> Response {
    let both = |columns: &Vec<Option<(f32, f32)>>| {
        let low = columns.iter().map(|it| it.map(|it| it.0)).collect();
        [low, columns.iter().map(|it| it.map(|it| it.1)).collect()]
    };
    let answer = Answer {
        from: view.from,
        per_column: view.per_column,
        whole: view.is_whole,
        channels: view.columns.iter().map(both).collect(),
    };
    let headers = [
        (CONTENT_TYPE, "application/json"),
        (CACHE_CONTROL, "no-store"),
    ];
    match serde_json::to_vec(&answer) {
        Ok(json) => (headers, json).into_response(),
        Err(error) => {
            PageError::fault(&format!("samples cannot be written: {error}")).into_response()
        }
    }
}

/// What the page is about.
struct Look<'a> {
    report: &'a Report,
    shot: Option<u32>,
    recording: &'a Recording,
    /// Where its script asks for samples.
    samples: String,
    /// The page's own address, without the shot.
    here: String,
}

/// A shot as the page's script takes it, in seconds on the recording's own clock.
#[derive(Serialize)]
struct Drawn {
    start: f64,
    opening: Option<f64>,
    open: Option<f64>,
    closing: Option<f64>,
    closed: Option<f64>,
    time: Vec<f64>,
    openness: Vec<f64>,
}

impl Drawn {
    fn of(shot: &Shot) -> Self {
        let start = shot.start_s.to_s();
        let marks = &shot.trace.marks;
        let at = |moment: Option<Seconds>| moment.map(|moment| start + moment.to_s());
        Self {
            start,
            opening: at(marks.opening_s),
            open: at(marks.open_s),
            closing: at(marks.closing_s),
            closed: at(marks.closed_s),
            time: shot
                .trace
                .points
                .iter()
                .map(|it| start + it.time_s.to_s())
                .collect(),
            openness: shot.trace.points.iter().map(|it| it.openness).collect(),
        }
    }
}

fn page(look: &Look<'_>, back: &Markup) -> Page {
    let shots = &look.report.shots;
    let place = look
        .shot
        .and_then(|n| shots.iter().position(|shot| shot.n == n))
        .unwrap_or(0);
    let Some(shot) = shots.get(place) else {
        let body =
            html! { h1 { "No shot" } p.lead { "There is no shot to look at yet." } p { (back) } };
        return Page::new("No shot", body).room(Room::Instruments);
    };
    let title = match shot.marked {
        Some(mark) => format!("Shot {} at {mark}, closely", shot.n),
        None => format!("Shot {}, closely", shot.n),
    };
    let drawn = serde_json::to_string(&Drawn::of(shot)).unwrap_or_default();
    let to = |place: Option<usize>| {
        place
            .and_then(|place| shots.get(place))
            .map(|shot| (shot.n, urls::with_shot(&look.here, shot.n)))
    };
    let (before, after) = (to(place.checked_sub(1)), to(place.checked_add(1)));
    let act = |what: &str, word: &str| html! { button type="button" data-act=(what) { (word) } };
    let body = html! {
        h1 { (title) }
        p.lead { (shutter::shot_time(shot)) @if shot.struck { ", struck" } }
        ul.ways {
            li { (back) }
            @if let Some((n, url)) = before { li { a href=(url) rel="prev" { "← Shot " (n) } } }
            @if let Some((n, url)) = after { li { a href=(url) rel="next" { "Shot " (n) " →" } } }
        }
        section.closely hidden data-samples=(look.samples) data-rate=(look.recording.sample_rate().to_hz())
            data-length=(look.recording.length()) data-channel=(shot.channel.saturating_sub(1)) data-shot=(drawn) {
            h2 { "As recorded" @if look.recording.channel_count() > 1 { ", channel " (shot.channel) } }
            div.acts {
                (act("earlier", "← earlier")) (act("later", "later →")) (act("in", "+ closer")) (act("out", "− wider"))
                (act("first", "Opening flank")) (act("second", "Closing flank")) (act("shot", "This shot")) (act("whole", "Whole recording"))
                button type="button" data-act="opening" aria-pressed="true" { "Opening, coupling undone" }
            }
            canvas tabindex="0" role="img" aria-label="The samples around this shot against time, with its flanks and the time fully open marked" aria-describedby="closely-keys" {}
            p.aside data-part="said" aria-live="polite" {}
            p.hint id="closely-keys" { "With the drawing in focus: ← and → move, + and − zoom, Home shows the whole recording, End this shot. With fingers: one moves, two zoom. The broken line is the opening against the scale at the right, where 1 % and 98 % are ruled." }
        }
        section {
            h2 { "The opening" }
            div.chart { (PreEscaped(drawings::trace(shot))) }
        }
    };
    Page::new(title, body)
        .room(Room::Instruments)
        .script(Asset::Trace)
}

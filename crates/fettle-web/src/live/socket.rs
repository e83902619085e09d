//! The WebSocket of a session: from the page to the session's thread and back.

use std::sync::Arc;
use std::time::Duration;

use axum::extract::ws::{Message, WebSocket, WebSocketUpgrade};
use axum::extract::{Extension, State};
use axum::http::HeaderMap;
use axum::http::header::ORIGIN;
use axum::response::{IntoResponse, Response};
use fettle_measure::Hertz;
use fettle_measure::shutter::Options;
use fettle_measure::shutter::live::Listener;
use tokio::sync::mpsc;
use tokio::time::timeout;

use super::message::{Asked, Told, block};
use super::session::{Order, Session};
use super::sheet;
use crate::door::Who;
use crate::error::PageError;
use crate::form::{Fields, Wrong};
use crate::said::dial;
use crate::server::AtWork;
use crate::shutter;
use crate::state::{AppState, Desk};
use crate::visit;

/// Largest message: four blocks of eight channels.
const MESSAGE_BYTES: usize = 1 << 17;
/// A page that sends nothing for so long is gone.
const SILENT: Duration = Duration::from_secs(30);
/// A page that takes nothing for so long is gone.
const DEAF: Duration = Duration::from_secs(5);
/// How often it is asked whether the session that opened the socket still stands.
const STILL_IN: Duration = Duration::from_secs(3);
/// Messages that may wait either way.
const WAITING_ORDERS: usize = 256;
const WAITING_WORDS: usize = 64;

/// Opens the socket for a page of this site.
pub(crate) async fn listen(
    State(state): State<AppState>,
    headers: HeaderMap,
    work: Option<Extension<Arc<AtWork>>>,
    upgrade: Result<WebSocketUpgrade, axum::extract::ws::rejection::WebSocketUpgradeRejection>,
) -> Result<Response, PageError> {
    // That the origin is this site's own was checked before; here it must also be given.
    if !headers.contains_key(ORIGIN) {
        return Err(PageError::refused(
            "Only a page of this bench can listen through the browser.",
        ));
    }
    let upgrade = upgrade.map_err(|_| {
        PageError::not_understood("This address is for the shutter page while it listens.")
            .or(crate::urls::SHUTTER, "Go to exposure times")
    })?;
    let who = Who::now();
    Ok(upgrade
        .max_message_size(MESSAGE_BYTES)
        .max_frame_size(MESSAGE_BYTES)
        .on_upgrade(move |socket| async move {
            // The connection counts as long as the socket does.
            let _work = work;
            who.go_on(serve(state, socket)).await;
        })
        .into_response())
}

async fn serve(state: AppState, mut socket: WebSocket) {
    let begun = match timeout(SILENT, socket.recv()).await {
        Ok(Some(Ok(Message::Text(text)))) => begin(&state, text.as_str()).await,
        _ => Err("the page did not say how it records: begin listening anew".to_owned()),
    };
    let session = match begun {
        Ok(session) => session,
        Err(why) => {
            tell(&mut socket, &Told::Refused { why }).await;
            return;
        }
    };
    let first = begun_with(&session);
    if !tell(&mut socket, &first).await {
        session.leave();
        return;
    }
    let (orders, received) = mpsc::channel(WAITING_ORDERS);
    let (words, mut told) = mpsc::channel(WAITING_WORDS);
    // Its own thread: analysing takes longer than a socket may be kept waiting.
    let thread = Arc::clone(&session);
    tokio::task::spawn_blocking(move || thread.run(received, &words));
    tokio::select! {
        () = pump(&mut socket, &orders, &mut told) => return,
        () = sent_out(&state) => {}
    }
    tell(
        &mut socket,
        &Told::Refused {
            why: "this session was ended: come in again".to_owned(),
        },
    )
    .await;
}

/// Done when whoever opened the socket is no longer in.
async fn sent_out(state: &AppState) {
    loop {
        tokio::time::sleep(STILL_IN).await;
        if !state.is_still_in().await {
            return;
        }
    }
}

enum Step {
    Came(Option<Result<Message, axum::Error>>),
    Silent,
    Told(Option<Told>),
    /// The thread took what was held for it; `false` when it has ended.
    Handed(bool),
}

/// Carries messages until either side is done or gone.
async fn pump(
    socket: &mut WebSocket,
    orders: &mpsc::Sender<Order>,
    told: &mut mpsc::Receiver<Told>,
) {
    // When the thread is behind, the page is made to wait, and nothing is lost.
    let mut held: Option<Order> = None;
    loop {
        let step = tokio::select! {
            came = timeout(SILENT, socket.recv()), if held.is_none() => {
                came.map_or(Step::Silent, Step::Came)
            }
            room = orders.reserve(), if held.is_some() => Step::Handed(match (room, held.take()) {
                (Ok(room), Some(order)) => { room.send(order); true }
                _ => false,
            }),
            word = told.recv() => Step::Told(word),
        };
        let goes_on = match step {
            Step::Handed(taken) => taken,
            Step::Came(Some(Ok(message))) => match order(&message) {
                Ok(order) => {
                    held = order;
                    true
                }
                Err(why) => {
                    tell(socket, &Told::Refused { why }).await;
                    false
                }
            },
            Step::Told(Some(word)) => {
                let last = matches!(word, Told::Finished | Told::Refused { .. });
                tell(socket, &word).await && !last
            }
            Step::Came(_) | Step::Silent | Step::Told(None) => false,
        };
        if !goes_on {
            // The other end may be gone already.
            let _ = timeout(DEAF, socket.send(Message::Close(None))).await;
            return;
        }
    }
}

fn order(message: &Message) -> Result<Option<Order>, String> {
    match message {
        Message::Binary(bytes) => match block(bytes) {
            Some((first, frames)) => Ok(Some(Order::Block(first, frames))),
            None => Err("a block of samples was cut short: begin listening anew".to_owned()),
        },
        Message::Text(text) => match serde_json::from_str(text.as_str()) {
            Ok(asked) => Ok(Some(Order::Asked(asked))),
            Err(error) => Err(format!(
                "the page said what is not understood ({error}): reload it"
            )),
        },
        Message::Ping(_) | Message::Pong(_) => Ok(None),
        Message::Close(_) => Err("the page closed".to_owned()),
    }
}

async fn tell(socket: &mut WebSocket, word: &Told) -> bool {
    let message = Message::Text(word.to_json().into());
    matches!(timeout(DEAF, socket.send(message)).await, Ok(Ok(())))
}

fn begun_with(session: &Session) -> Told {
    let taken = session.taken();
    let options = taken.options();
    Told::Begun {
        token: session.token.clone(),
        marks: dial(options).iter().map(ToString::to_string).collect(),
        html: sheet::html(&taken.report(), options, &session.token),
    }
}

async fn begin(state: &AppState, text: &str) -> Result<Arc<Session>, String> {
    let Ok(Asked::Begin {
        rate_hz,
        channels,
        fields,
    }) = serde_json::from_str(text)
    else {
        return Err("the page did not say how it records: reload it".to_owned());
    };
    let fields = Fields::new(fields);
    let begun = state
        .at_bench(move |desk| Ok(begin_at(desk, &fields, rate_hz, channels)))
        .await;
    begun.unwrap_or_else(|error| Err(error.text))
}

fn begin_at(
    desk: &Desk,
    fields: &Fields,
    rate_hz: f64,
    channels: usize,
) -> Result<Arc<Session>, String> {
    let options = options(desk, fields)?;
    let listener =
        Listener::new(Hertz::hz(rate_hz), channels, options).map_err(|error| error.to_string())?;
    let draft = desk
        .bench
        .begin_recording("wav")
        .map_err(|error| error.to_string())?;
    let name = format!("session {}.wav", desk.now.strftime("%Y-%m-%d %H.%M.%S"));
    let session =
        Session::new(desk.token(), name, listener, draft).map_err(|error| error.to_string())?;
    let session = Arc::new(session);
    desk.live.begin(&session)?;
    Ok(session)
}

/// How the session is to be read: as its form says, on the shutter's own page or in a visit.
fn options(desk: &Desk, fields: &Fields) -> Result<Options, String> {
    let mut wrong = Wrong::default();
    let dial = match fields.some("visit") {
        Some(number) => visit::dial(desk, &number, fields, &mut wrong),
        None => shutter::dial_of(desk, fields, &mut wrong),
    };
    match dial {
        Some(dial) if wrong.is_empty() => Ok(dial.into_options()),
        _ => Err(wrong.in_words()),
    }
}

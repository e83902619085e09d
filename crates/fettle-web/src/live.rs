//! Listening to the shutter through the browser: sessions that a socket fills and a form finishes.
//!
//! The page sends samples over a WebSocket (`socket`); a thread of its own listens to them (`session`)
//! and answers with what the page is to show (`sheet`). A session outlives its socket for a while, so
//! that a page closed by mistake loses nothing: the form that keeps the reading, or shows the report,
//! names it by its token.

mod message;
mod panel;
mod session;
mod sheet;
mod socket;

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

pub(crate) use self::panel::panel;
pub(crate) use self::session::Session;
pub(crate) use self::socket::listen;
use crate::error::PageError;
use crate::state::AppState;

/// Sessions at once: those being listened to and those that wait for their form.
const MOST_SESSIONS: usize = 6;
/// Sessions being listened to at once: each may keep a processor busy.
const MOST_LISTENING: usize = 3;
/// How long a session whose page went away waits for its form.
const WAITS: Duration = Duration::from_secs(30 * 60);

/// The sessions of this program.
#[derive(Debug, Default)]
pub(crate) struct Live {
    sessions: Mutex<HashMap<String, Arc<Session>>>,
}

impl Live {
    /// Takes a session in; those that have waited too long go.
    ///
    /// # Errors
    /// A message when too many are being listened to.
    fn begin(&self, session: &Arc<Session>) -> Result<(), String> {
        let mut sessions = self.sessions.lock().unwrap_or_else(PoisonError::into_inner);
        sessions.retain(|_, old| old.is_heard() || old.idle() < WAITS);
        if sessions.values().filter(|old| old.is_heard()).count() >= MOST_LISTENING {
            return Err(format!(
                "{MOST_LISTENING} pages are listening already: stop one of them and start again"
            ));
        }
        while sessions.len() >= MOST_SESSIONS {
            let waiting = sessions.iter().filter(|(_, old)| !old.is_heard());
            let oldest = waiting
                .max_by_key(|(_, old)| old.idle())
                .map(|(token, _)| token.clone());
            let Some(oldest) = oldest else { break };
            sessions.remove(&oldest);
        }
        sessions.insert(session.token.clone(), Arc::clone(session));
        Ok(())
    }

    /// The session with this token, if it is still there.
    pub(crate) fn session(&self, token: &str) -> Option<Arc<Session>> {
        let sessions = self.sessions.lock().unwrap_or_else(PoisonError::into_inner);
        sessions.get(token).cloned()
    }
}

/// What to say when a session is gone.
pub(crate) const GONE: &str =
    "what was heard is no longer there: it is kept for half an hour after listening; listen again";

/// The recording of a session, to be stored.
pub(crate) async fn recording(
    State(state): State<AppState>,
    Path(token): Path<String>,
) -> Result<Response, PageError> {
    let session = state.live().session(&token);
    let session = session.ok_or_else(|| PageError::missing(crate::error::sentence(GONE)))?;
    let read = move || {
        let taken = session.taken();
        let mut bytes = Vec::new();
        std::io::Read::read_to_end(&mut taken.read()?, &mut bytes).map_err(|error| {
            PageError::fault(&format!("a recording being made cannot be read: {error}"))
        })?;
        Ok((taken.name().to_owned(), bytes))
    };
    let (name, bytes) = state.at_bench(move |_| read()).await?;
    let name = percent_encoding::utf8_percent_encode(&name, percent_encoding::NON_ALPHANUMERIC);
    let headers = [
        (CONTENT_TYPE, "audio/wav".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename*=UTF-8''{name}"),
        ),
        (CACHE_CONTROL, "no-store".to_owned()),
    ];
    Ok((headers, Body::from(bytes)).into_response())
}

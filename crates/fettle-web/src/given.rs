//! Recordings measured on the instrument's own page: held for a while, so that a shot can be looked at closely and a
//! mark corrected without giving the file again.

use std::collections::VecDeque;
use std::fs::File;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use fettle_bench::{BenchError, RecordingDraft};
use fettle_measure::Recording;
use fettle_measure::shutter::{Options, Report};

use crate::form::Fields;
use crate::live::Session;
use crate::shutter;
use crate::state::Desk;
use crate::upload::Sent;

/// Recordings held at once: each may take as much room on the disk as a recording may have.
const MOST_HELD: usize = 3;
/// How long one is held.
const HELD_FOR: Duration = Duration::from_secs(30 * 60);

/// What to say when a recording is held no longer.
pub(crate) const GONE: &str = "what was measured is no longer held: it is for half an hour, and the last three alone; give the recording again";

/// A recording that was measured, with what was said of it.
#[derive(Debug)]
pub(crate) struct Given {
    pub(crate) token: String,
    pub(crate) name: String,
    /// The form that gave it.
    pub(crate) fields: Fields,
    pub(crate) options: Options,
    pub(crate) report: Report,
    source: Source,
    since: Instant,
}

/// Where its bytes are.
#[derive(Clone, Debug)]
pub(crate) enum Source {
    /// A file that was sent.
    Sent(Arc<RecordingDraft>),
    /// What a page heard.
    Heard(Arc<Session>),
}

impl Source {
    /// Puts a file that was sent on the bench's disk; it goes when nothing holds it any more.
    ///
    /// # Errors
    /// A message when it cannot be written.
    pub(crate) fn of_sent(desk: &Desk, file: &Sent) -> Result<Self, String> {
        let told = |error: BenchError| error.to_string();
        let mut draft = desk.bench.begin_recording("wav").map_err(told)?;
        draft.append(&file.bytes).map_err(told)?;
        Ok(Self::Sent(Arc::new(draft)))
    }

    fn open(&self) -> Result<File, String> {
        let file = match self {
            Self::Sent(draft) => draft.read(),
            Self::Heard(session) => session.taken().open(),
        };
        file.map_err(|error| error.to_string())
    }
}

impl Given {
    /// Measures a recording with `options`; `fields` are those of the form that gave it.
    ///
    /// # Errors
    /// A message that says what, why and what to do.
    pub(crate) fn measure(
        desk: &Desk,
        name: &str,
        source: Source,
        options: Options,
        fields: Fields,
    ) -> Result<Self, String> {
        let report = shutter::measure(name, source.open()?, &options)?;
        Ok(Self {
            token: desk.token(),
            name: name.to_owned(),
            fields,
            options,
            report,
            source,
            since: Instant::now(),
        })
    }

    /// The same recording read anew.
    ///
    /// # Errors
    /// As [`Given::measure`].
    pub(crate) fn again(&self, desk: &Desk, options: Options) -> Result<Self, String> {
        let source = self.source.clone();
        Self::measure(desk, &self.name, source, options, self.fields.clone())
    }

    /// Its samples.
    ///
    /// # Errors
    /// A message that says what, why and what to do.
    pub(crate) fn read(&self) -> Result<Recording, String> {
        shutter::read(&self.name, self.source.open()?)
    }

    /// The session it was heard in, if it was.
    pub(crate) fn session(&self) -> Option<&Arc<Session>> {
        match &self.source {
            Source::Sent(_) => None,
            Source::Heard(session) => Some(session),
        }
    }
}

/// The recordings given lately, the latest first.
#[derive(Debug, Default)]
pub(crate) struct Lately(Mutex<VecDeque<Arc<Given>>>);

impl Lately {
    /// Holds one more; those that were held long enough go.
    pub(crate) fn hold(&self, given: Given) {
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        held.retain(|it| it.since.elapsed() < HELD_FOR);
        held.truncate(MOST_HELD - 1);
        held.push_front(Arc::new(given));
    }

    /// The one with this token, if it is still held.
    pub(crate) fn get(&self, token: &str) -> Option<Arc<Given>> {
        let held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let fresh = |it: &&Arc<Given>| it.token == token && it.since.elapsed() < HELD_FOR;
        held.iter().find(fresh).cloned()
    }
}

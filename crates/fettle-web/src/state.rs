//! What every handler is given.

use std::fmt;
use std::sync::{Arc, PoisonError, RwLock};

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use fettle_bench::{Applied, Bench, BenchError, Change, Hand};
use jiff::ZonedDateTime;
use maud::Markup;

use crate::error::PageError;
use crate::import::Looked;
use crate::layout::Page;
use crate::live::Live;
use crate::once::Once;
use crate::trace::Viewed;

/// Where the site takes the time from, so that tests can fix it.
#[derive(Clone)]
pub struct Clock(Arc<dyn Fn() -> ZonedDateTime + Send + Sync>);

impl Clock {
    /// The computer's own clock and time zone.
    #[must_use]
    pub fn system() -> Self {
        Self(Arc::new(ZonedDateTime::now))
    }

    /// A clock that stands at `moment`.
    #[must_use]
    pub fn fixed(moment: ZonedDateTime) -> Self {
        Self(Arc::new(move || moment.clone()))
    }

    /// The time now, in the zone that pages are written in.
    #[must_use]
    pub fn now(&self) -> ZonedDateTime {
        (self.0)()
    }
}

impl fmt::Debug for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Clock").field(&self.now()).finish()
    }
}

/// The bench's name as the head of every page has it, so that no page reads the record for it.
#[derive(Debug)]
struct Name(RwLock<String>);

impl Name {
    fn get(&self) -> String {
        self.0
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    fn set(&self, name: String) {
        *self.0.write().unwrap_or_else(PoisonError::into_inner) = name;
    }
}

/// The record, the clock and whose hand writes: what every handler is given.
#[derive(Clone, Debug)]
pub struct AppState {
    bench: Arc<Bench>,
    clock: Clock,
    hand: Hand,
    name: Arc<Name>,
    port: Option<u16>,
    once: Arc<Once>,
    live: Arc<Live>,
    viewed: Arc<Viewed>,
    looked: Arc<Looked>,
}

impl AppState {
    /// Pages over `bench` that write in the name of `hand`.
    ///
    /// # Errors
    ///
    /// When the bench's own name cannot be read.
    pub fn new(bench: Arc<Bench>, clock: Clock, hand: &str) -> Result<Self, BenchError> {
        let name = Name(RwLock::new(bench.settings()?.name));
        Ok(Self {
            bench,
            clock,
            hand: Hand::new(hand),
            name: Arc::new(name),
            port: None,
            once: Arc::new(Once::new()),
            live: Arc::default(),
            viewed: Arc::default(),
            looked: Arc::default(),
        })
    }

    /// Answers only to requests that name this port; [`serve`](crate::serve) sets the listener's.
    #[must_use]
    pub fn with_port(self, port: u16) -> Self {
        Self {
            port: Some(port),
            ..self
        }
    }

    pub(crate) fn port(&self) -> Option<u16> {
        self.port
    }

    pub(crate) fn bench_name(&self) -> String {
        self.name.get()
    }

    pub(crate) fn now(&self) -> ZonedDateTime {
        self.clock.now()
    }

    /// The sessions of listening to a shutter.
    pub(crate) fn live(&self) -> &Live {
        &self.live
    }

    /// The sheet around a page.
    pub(crate) fn draw(&self, page: &Page) -> Markup {
        page.draw(&self.bench_name())
    }

    /// The page as an answer; `failed` when what was sent could not be used.
    pub(crate) fn answer(&self, page: &Page, failed: bool) -> Response {
        let status = if failed {
            StatusCode::UNPROCESSABLE_ENTITY
        } else {
            StatusCode::OK
        };
        (status, self.draw(page)).into_response()
    }

    /// Does work with the record on a thread that may wait for the disk.
    pub(crate) async fn at_bench<T, F>(&self, work: F) -> Result<T, PageError>
    where
        T: Send + 'static,
        F: FnOnce(&Desk) -> Result<T, PageError> + Send + 'static,
    {
        let desk = Desk {
            bench: Arc::clone(&self.bench),
            hand: self.hand.clone(),
            now: self.now(),
            once: Arc::clone(&self.once),
            name: Arc::clone(&self.name),
            live: Arc::clone(&self.live),
            viewed: Arc::clone(&self.viewed),
            looked: Arc::clone(&self.looked),
        };
        match tokio::task::spawn_blocking(move || work(&desk)).await {
            Ok(outcome) => outcome,
            Err(stopped) => Err(PageError::fault(&format!(
                "work at the bench stopped: {stopped}"
            ))),
        }
    }
}

/// The record as one request sees it: at one moment, by one hand.
#[derive(Clone, Debug)]
pub(crate) struct Desk {
    pub(crate) bench: Arc<Bench>,
    pub(crate) hand: Hand,
    pub(crate) now: ZonedDateTime,
    /// The forms taken lately.
    pub(crate) once: Arc<Once>,
    name: Arc<Name>,
    /// The sessions of listening to a shutter.
    pub(crate) live: Arc<Live>,
    /// The recordings looked at closely.
    pub(crate) viewed: Arc<Viewed>,
    /// The files that are looked at before they are taken in.
    pub(crate) looked: Arc<Looked>,
}

impl Desk {
    /// Records changes together.
    pub(crate) fn apply(&self, changes: Vec<Change>) -> Result<Applied, BenchError> {
        let renames = |change: &Change| matches!(change, Change::BenchSettled(_) | Change::Undo(_));
        let renames = changes.iter().any(renames);
        let applied = self
            .bench
            .apply(&self.hand, self.now.timestamp(), changes)?;
        if renames {
            self.name.set(self.bench.settings()?.name);
        }
        Ok(applied)
    }
}

//! What every handler is given.

use std::fmt;
use std::sync::{Arc, PoisonError, RwLock};

use axum::http::header::HOST;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use fettle_bench::{Applied, Bench, BenchError, Change, Hand};
use fettle_door::{Chance, Door};
use jiff::ZonedDateTime;
use maud::Markup;

use crate::door::{Gate, Network, Who};
use crate::error::PageError;
use crate::given::Lately;
use crate::import::Looked;
use crate::kept::Shelves;
use crate::layout::Page;
use crate::live::Live;
use crate::once::Once;
use crate::relearn;
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

    /// A clock that `tells` the time.
    #[must_use]
    pub fn of(tells: impl Fn() -> ZonedDateTime + Send + Sync + 'static) -> Self {
        Self(Arc::new(tells))
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
    door: Arc<Door>,
    gate: Gate,
    network: Option<Arc<Network>>,
    once: Arc<Once>,
    live: Arc<Live>,
    given: Arc<Lately>,
    viewed: Arc<Viewed>,
    looked: Arc<Looked>,
    shelves: Arc<Shelves>,
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
            door: Arc::new(Door::of_bench(bench.dir(), Chance::system())),
            gate: Gate::Own { port: None },
            network: None,
            bench,
            clock,
            hand: Hand::new(hand),
            name: Arc::new(name),
            once: Arc::new(Once::new()),
            live: Arc::default(),
            given: Arc::default(),
            viewed: Arc::default(),
            looked: Arc::default(),
            shelves: Arc::default(),
        })
    }

    /// Answers only to requests that name this port; [`serve`](crate::serve) sets the listener's.
    #[must_use]
    pub fn with_port(self, port: u16) -> Self {
        Self {
            gate: Gate::Own { port: Some(port) },
            ..self
        }
    }

    /// Uses this door instead of that of the bench's folder with the system's randomness.
    #[must_use]
    pub fn with_door(self, door: Arc<Door>) -> Self {
        Self { door, ..self }
    }

    /// The bench is open to its network too: pages tell how to reach it, and tablets are paired.
    #[must_use]
    pub fn with_network(self, network: Network) -> Self {
        Self {
            network: Some(Arc::new(network)),
            ..self
        }
    }

    /// The same for those who come from the network; [`serve_network_until`](crate::serve_network_until) does it.
    /// Nothing changes when the bench is not open to it.
    #[must_use]
    pub fn for_network(self) -> Self {
        match &self.network {
            Some(network) => Self {
                gate: Gate::Network {
                    names: network.names().to_vec(),
                    port: network.port(),
                },
                ..self
            },
            None => self,
        }
    }

    /// The door: who may come in.
    #[must_use]
    pub fn door(&self) -> &Arc<Door> {
        &self.door
    }

    /// Whether whoever this task works for is still in.
    pub(crate) async fn is_still_in(&self) -> bool {
        let now = self.now().timestamp();
        match Who::now() {
            Who::In(insider) => self
                .at_door(move |door| Ok(door.is_still_in(&insider, now)?))
                .await
                .unwrap_or(false),
            Who::Here | Who::Outside => !self.gate.is_network(),
        }
    }

    pub(crate) fn gate(&self) -> &Gate {
        &self.gate
    }

    pub(crate) fn network(&self) -> Option<&Network> {
        self.network.as_deref()
    }

    /// Where a scanner reaches this site: over the network when it is open to it, else as the page was asked for.
    pub(crate) fn site(&self, headers: &HeaderMap) -> String {
        let host = || {
            headers
                .get(HOST)
                .and_then(|host| host.to_str().ok())
                .unwrap_or("127.0.0.1")
        };
        if self.gate.is_network() {
            return format!("https://{}", host());
        }
        let of_network = self
            .network()
            .and_then(|network| network.sites().into_iter().next());
        of_network.unwrap_or_else(|| format!("http://{}", host()))
    }

    /// Who writes: whoever came in, and on this computer the hand that the program was started for.
    fn hand(&self) -> Result<Hand, PageError> {
        match Who::now() {
            Who::In(insider) => Ok(Hand::new(&insider.hand)),
            Who::Here | Who::Outside if !self.gate.is_network() => Ok(self.hand.clone()),
            Who::Here | Who::Outside => Err(PageError::not_in()),
        }
    }

    pub(crate) fn bench(&self) -> &Arc<Bench> {
        &self.bench
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
        match Who::now() {
            Who::In(insider) => page.draw(&self.bench_name(), Some(&insider.hand)),
            // What a bench is called is told to those who are in.
            Who::Outside if self.gate.is_network() => page.draw("Fettle", None),
            Who::Here | Who::Outside => page.draw(&self.bench_name(), None),
        }
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
            hand: self.hand()?,
            now: self.now(),
            once: Arc::clone(&self.once),
            name: Arc::clone(&self.name),
            live: Arc::clone(&self.live),
            given: Arc::clone(&self.given),
            viewed: Arc::clone(&self.viewed),
            looked: Arc::clone(&self.looked),
            shelves: Arc::clone(&self.shelves),
        };
        on_its_own_thread(move || {
            let outcome = work(&desk);
            relearn::begin(&desk.bench);
            outcome
        })
        .await
    }

    /// Does work at the door on a thread that may wait for the disk.
    pub(crate) async fn at_door<T, F>(&self, work: F) -> Result<T, PageError>
    where
        T: Send + 'static,
        F: FnOnce(&Door) -> Result<T, PageError> + Send + 'static,
    {
        let door = Arc::clone(&self.door);
        on_its_own_thread(move || work(&door)).await
    }
}

async fn on_its_own_thread<T, F>(work: F) -> Result<T, PageError>
where
    T: Send + 'static,
    F: FnOnce() -> Result<T, PageError> + Send + 'static,
{
    match tokio::task::spawn_blocking(work).await {
        Ok(outcome) => outcome,
        Err(stopped) => Err(PageError::fault(&format!("work stopped: {stopped}"))),
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
    /// The recordings measured on the instrument's own page.
    pub(crate) given: Arc<Lately>,
    /// The recordings looked at closely.
    pub(crate) viewed: Arc<Viewed>,
    /// The files that are looked at before they are taken in.
    pub(crate) looked: Arc<Looked>,
    /// What was worked out lately.
    pub(crate) shelves: Arc<Shelves>,
}

impl Desk {
    /// A name that nobody can guess, for what is held for a while.
    pub(crate) fn token(&self) -> String {
        let token = blake3::hash(self.once.token().as_bytes()).to_hex();
        token.get(..24).unwrap_or_default().to_owned()
    }

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

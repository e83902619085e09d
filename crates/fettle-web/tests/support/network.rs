//! A bench that is open to its network, and devices that try to come in.
#![allow(dead_code, reason = "each test file takes what it needs")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::net::SocketAddr;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Request, StatusCode};
use fettle_bench::{Bench, BenchSettings, Currency, Hand};
use fettle_door::{Chance, Cost, Door, Passphrase};
use fettle_web::{AppState, Clock, Ends, Network, router};
use jiff::{SignedDuration, ZonedDateTime};
use tower::ServiceExt;

/// Where the bench is reached.
pub(crate) const HERE: &str = "192.0.2.7:4781";
/// What Ines comes in with.
pub(crate) const WORDS: &str = "brass shim under lamp";

/// A bench of its own computer and of its network, over one folder.
pub(crate) struct Open {
    pub(crate) bench: Arc<Bench>,
    pub(crate) door: Arc<Door>,
    pub(crate) state: AppState,
    network: Router,
    own: Router,
    seconds: Arc<AtomicI64>,
    pub(crate) dir: tempfile::TempDir,
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Reply {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) text: String,
}

impl Reply {
    #[track_caller]
    pub(crate) fn shows(&self, text: &str) -> &Self {
        assert!(
            self.text.contains(text),
            "“{text}” is not on the page:\n{}",
            self.text
        );
        self
    }

    #[track_caller]
    pub(crate) fn hides(&self, text: &str) -> &Self {
        assert!(
            !self.text.contains(text),
            "“{text}” is on the page:\n{}",
            self.text
        );
        self
    }

    pub(crate) fn location(&self) -> &str {
        self.headers
            .get("location")
            .map_or("", |location| location.to_str().unwrap())
    }

    /// The line that sets the session's cookie.
    pub(crate) fn cookie_line(&self) -> Option<&str> {
        self.headers
            .get("set-cookie")
            .map(|line| line.to_str().unwrap())
    }
}

/// The bench of the tests, with Ines as a bench-hand.
pub(crate) fn open() -> Open {
    let dir = tempfile::tempdir().unwrap();
    let begin: ZonedDateTime = "2026-11-25T10:30:00+00:00[UTC]".parse().unwrap();
    let settings = BenchSettings::new("The bench at Saltmere", Currency::new("EUR").unwrap());
    let bench =
        Bench::create(dir.path(), settings, &Hand::new("bench"), begin.timestamp()).unwrap();
    let bench = Arc::new(bench);
    let door = Door::of_bench(dir.path(), Chance::seeded("a bench")).with_cost(Cost::LEAST);
    door.add("Ines", &Passphrase::new(WORDS).unwrap(), begin.timestamp())
        .unwrap();
    let door = Arc::new(door);
    let seconds = Arc::new(AtomicI64::new(0));
    let ticking = Arc::clone(&seconds);
    let at = begin.clone();
    let clock = Clock::of(move || &at + SignedDuration::from_secs(ticking.load(Ordering::SeqCst)));
    let network = Network::at(HERE.parse().unwrap(), &door, begin.timestamp()).unwrap();
    let state = AppState::new(Arc::clone(&bench), clock, "bench")
        .unwrap()
        .with_door(Arc::clone(&door))
        .with_network(network);
    Open {
        network: router(state.clone().for_network()),
        own: router(state.clone().with_port(7700)),
        state,
        bench,
        door,
        seconds,
        dir,
    }
}

impl Open {
    pub(crate) fn later(&self, by: SignedDuration) {
        self.seconds.fetch_add(by.as_secs(), Ordering::SeqCst);
    }

    /// A device in the network at this address.
    pub(crate) fn device(&self, address: &str) -> Device<'_> {
        Device {
            open: self,
            from: SocketAddr::new(address.parse().unwrap(), 50_000),
            cookie: Mutex::new(None),
        }
    }

    /// Ines’s tablet, which has come in with the passphrase.
    pub(crate) async fn tablet(&self) -> Device<'_> {
        let tablet = self.device("192.0.2.20");
        let came = tablet
            .post(
                "/enter",
                &[
                    ("hand", "Ines"),
                    ("passphrase", WORDS),
                    ("device", "the tablet"),
                ],
            )
            .await;
        assert_eq!(came.status, StatusCode::SEE_OTHER, "{}", came.text);
        tablet
    }

    /// A request from the bench's own computer.
    pub(crate) async fn own(&self, request: Request<Body>) -> Reply {
        reply(&self.own, request).await
    }

    pub(crate) async fn own_get(&self, path: &str) -> Reply {
        let request = Request::get(path).header("host", "127.0.0.1:7700");
        self.own(request.body(Body::empty()).unwrap()).await
    }

    pub(crate) async fn own_post(&self, path: &str, fields: &[(&str, &str)]) -> Reply {
        let request = Request::post(path)
            .header("host", "127.0.0.1:7700")
            .header("origin", "http://127.0.0.1:7700")
            .header("content-type", "application/x-www-form-urlencoded");
        self.own(request.body(Body::from(form(fields))).unwrap())
            .await
    }

    /// Who signed the journal's last entry.
    pub(crate) fn last_hand(&self) -> String {
        let journal = self.bench.journal(fettle_bench::Page::first(1)).unwrap();
        journal.lines[0].hand.as_str().to_owned()
    }
}

/// A device that keeps its cookie as a browser does.
pub(crate) struct Device<'o> {
    open: &'o Open,
    from: SocketAddr,
    pub(crate) cookie: Mutex<Option<String>>,
}

impl Device<'_> {
    pub(crate) async fn get(&self, path: &str) -> Reply {
        self.ask(Request::get(path).header("host", HERE), Body::empty())
            .await
    }

    pub(crate) async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Reply {
        let request = Request::post(path)
            .header("host", HERE)
            .header("origin", format!("https://{HERE}"))
            .header("content-type", "application/x-www-form-urlencoded");
        self.ask(request, Body::from(form(fields))).await
    }

    pub(crate) async fn ask(&self, mut request: axum::http::request::Builder, body: Body) -> Reply {
        if let Some(cookie) = self.cookie.lock().unwrap().as_ref() {
            request = request.header("cookie", cookie);
        }
        let mut request = request.body(body).unwrap();
        request.extensions_mut().insert(Ends {
            here: HERE.parse().unwrap(),
            there: self.from,
        });
        let reply = reply(&self.open.network, request).await;
        if let Some(line) = reply.cookie_line() {
            let pair = line.split(';').next().unwrap().to_owned();
            let kept = (!line.contains("Max-Age=0;")).then_some(pair);
            *self.cookie.lock().unwrap() = kept;
        }
        reply
    }

    /// The cookie that it would show.
    pub(crate) fn shown(&self) -> Option<String> {
        self.cookie.lock().unwrap().clone()
    }

    pub(crate) fn shows(&self, cookie: Option<String>) {
        *self.cookie.lock().unwrap() = cookie;
    }
}

async fn reply(router: &Router, request: Request<Body>) -> Reply {
    let response = router.clone().oneshot(request).await.unwrap();
    let (parts, body) = response.into_parts();
    let bytes = to_bytes(body, usize::MAX).await.unwrap();
    Reply {
        status: parts.status,
        headers: parts.headers,
        text: String::from_utf8_lossy(&bytes).into_owned(),
    }
}

fn form(fields: &[(&str, &str)]) -> String {
    let encode = |text: &str| {
        percent_encoding::utf8_percent_encode(text, percent_encoding::NON_ALPHANUMERIC).to_string()
    };
    let pairs: Vec<String> = fields
        .iter()
        .map(|(name, value)| format!("{}={}", encode(name), encode(value)))
        .collect();
    pairs.join("&")
}

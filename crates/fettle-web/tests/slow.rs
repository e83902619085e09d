//! Slow, silent and many clients: real sockets against a server with short limits.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::Arc;
use std::time::Duration;

use fettle_bench::{Bench, BenchSettings, Currency, Hand};
use fettle_web::{AppState, Clock, Limits, serve_until};
use tokio::net::TcpListener;
use tokio::sync::oneshot;

/// So long a client waits before it says that it was left hanging.
const PATIENCE: Duration = Duration::from_secs(60);

struct Served {
    address: SocketAddr,
    stop: Option<oneshot::Sender<()>>,
    ended: tokio::task::JoinHandle<std::io::Result<()>>,
    _dir: tempfile::TempDir,
}

fn short() -> Limits {
    Limits {
        header: Duration::from_millis(300),
        body_grace: Duration::from_millis(300),
        stall: Duration::from_millis(300),
        ..Limits::default()
    }
}

async fn served(limits: Limits) -> Served {
    let dir = tempfile::tempdir().unwrap();
    let settings = BenchSettings::new("Saltmere", Currency::new("EUR").unwrap());
    let now: jiff::ZonedDateTime = "2026-11-25T10:30:00+00:00[UTC]".parse().unwrap();
    let bench = Bench::create(dir.path(), settings, &Hand::new("Ines"), now.timestamp()).unwrap();
    let state = AppState::new(Arc::new(bench), Clock::fixed(now), "Ines").unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, stopped) = oneshot::channel::<()>();
    let ended = tokio::spawn(serve_until(state, listener, limits, async {
        let _ = stopped.await;
    }));
    Served {
        address,
        stop: Some(stop),
        ended,
        _dir: dir,
    }
}

fn connect(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    stream
}

/// All that comes until the server closes.
fn to_the_end(stream: &mut TcpStream) -> String {
    let mut answer = Vec::new();
    match stream.read_to_end(&mut answer) {
        Ok(_) => {}
        Err(error) if error.kind() == ErrorKind::ConnectionReset => {}
        Err(error) => panic!("the connection was left open: {error}"),
    }
    String::from_utf8_lossy(&answer).into_owned()
}

fn asked(address: SocketAddr) -> String {
    let mut stream = connect(address);
    let request = format!("GET /cameras HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).unwrap();
    to_the_end(&mut stream)
}

/// Work with sockets that wait, beside the server.
async fn beside<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> T {
    tokio::task::spawn_blocking(work).await.unwrap()
}

#[tokio::test]
async fn a_header_that_drips_is_cut_off_and_others_are_answered() {
    let served = served(short()).await;
    let address = served.address;
    beside(move || {
        let mut slow = connect(address);
        slow.write_all(b"GET / HTTP/1.1\r\n").unwrap();
        let mut dripped = 0;
        // Each drop is well within the limit; the header as a whole is not.
        while dripped < 1000 && slow.write_all(b"x-drop: 1\r\n").is_ok() {
            std::thread::sleep(Duration::from_millis(50));
            dripped += 1;
        }
        assert!(dripped < 1000, "the header was waited for without an end");
        assert!(asked(address).starts_with("HTTP/1.1 200"));
    })
    .await;
}

#[tokio::test]
async fn a_body_that_drips_is_given_up_with_an_answer() {
    let served = served(short()).await;
    let address = served.address;
    beside(move || {
        let mut slow = connect(address);
        let head = format!(
            "POST /settings HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/x-www-form-urlencoded\r\ncontent-length: 1000000\r\n\r\nname="
        );
        slow.write_all(head.as_bytes()).unwrap();
        let mut dripped = 0;
        while dripped < 1000 && slow.write_all(b"a").is_ok() {
            std::thread::sleep(Duration::from_millis(50));
            dripped += 1;
        }
        assert!(dripped < 1000, "the body was waited for without an end");
        assert!(asked(address).starts_with("HTTP/1.1 200"));
    })
    .await;
}

#[tokio::test]
async fn a_connection_that_says_nothing_is_closed_also_after_an_answer() {
    let served = served(short()).await;
    let address = served.address;
    beside(move || {
        let mut silent = connect(address);
        to_the_end(&mut silent);
        let mut kept = connect(address);
        kept.write_all(format!("GET /cameras HTTP/1.1\r\nhost: {address}\r\n\r\n").as_bytes())
            .unwrap();
        assert!(to_the_end(&mut kept).starts_with("HTTP/1.1 200"));
    })
    .await;
}

#[tokio::test]
async fn five_hundred_idle_connections_do_not_keep_another_client_out() {
    let served = served(Limits::default()).await;
    let address = served.address;
    beside(move || {
        let idle: Vec<TcpStream> = (0..500).map(|_| connect(address)).collect();
        for _ in 0..5 {
            assert!(asked(address).starts_with("HTTP/1.1 200"));
        }
        drop(idle);
    })
    .await;
}

#[tokio::test]
async fn clients_that_send_bodies_slowly_crowd_out_newcomers_only_until_their_time_is_over() {
    let few = Limits {
        connections: 4,
        of_one_address: 4,
        ..short()
    };
    let served = served(few).await;
    let address = served.address;
    beside(move || {
        let slow: Vec<TcpStream> = (0..4)
            .map(|_| {
                let mut stream = connect(address);
                let head = format!(
                    "POST /settings HTTP/1.1\r\nhost: {address}\r\ncontent-length: 9\r\n\r\n"
                );
                stream.write_all(head.as_bytes()).unwrap();
                stream
            })
            .collect();
        let answered = (0..200).any(|_| {
            std::thread::sleep(Duration::from_millis(50));
            let mut stream = connect(address);
            let request =
                format!("GET /cameras HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n");
            let _ = stream.write_all(request.as_bytes());
            to_the_end(&mut stream).starts_with("HTTP/1.1 200")
        });
        assert!(answered, "the slow ones held all places");
        drop(slow);
    })
    .await;
}

#[tokio::test]
async fn heads_beyond_their_bounds_are_refused() {
    let served = served(Limits::default()).await;
    let address = served.address;
    beside(move || {
        let refused = |head: String| {
            let mut stream = connect(address);
            // The server may have answered and closed before all is written.
            let _ = stream.write_all(head.as_bytes());
            let answer = to_the_end(&mut stream);
            assert!(
                answer.is_empty() || answer.starts_with("HTTP/1.1 4"),
                "{answer}"
            );
        };
        let start = format!("GET / HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n");
        refused(format!("{start}x: {}\r\n\r\n", "y".repeat(20_000)));
        refused(format!("{start}{}\r\n", "x: y\r\n".repeat(80)));
        refused(format!(
            "GET /{} HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n",
            "y".repeat(20_000)
        ));
        refused(format!(
            "GET /find?q={} HTTP/1.1\r\nhost: {address}\r\nconnection: close\r\n\r\n",
            "y".repeat(5000)
        ));
        refused("\u{16}\u{3}\u{1} no http at all\r\n\r\n".to_owned());
        assert!(asked(address).starts_with("HTTP/1.1 200"));
    })
    .await;
}

#[tokio::test]
async fn the_server_ends_when_it_is_told_though_connections_are_open() {
    let mut served = served(Limits::default()).await;
    let address = served.address;
    let idle = beside(move || {
        let mut stream = connect(address);
        stream
            .write_all(format!("GET /cameras HTTP/1.1\r\nhost: {address}\r\n\r\n").as_bytes())
            .unwrap();
        let mut first = [0; 12];
        stream.read_exact(&mut first).unwrap();
        assert_eq!(&first, b"HTTP/1.1 200");
        (stream, connect(address))
    })
    .await;
    drop(served.stop.take());
    served.ended.await.unwrap().unwrap();
    drop(idle);
}

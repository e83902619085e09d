//! Times the whole program on the demo bench: making it, starting, every page, idle memory.
//!
//! `cargo bench -p fettle --bench pages` prints medians and the slowest of several rounds, whole requests over
//! loopback with a connection each. Every answer is checked: a page that is not 200 ends the run.
#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a timing run prints its table and ends where it cannot go on"
)]

#[path = "support/served.rs"]
mod served;

use std::{
    collections::BTreeMap,
    io::{Read, Write},
    net::TcpStream,
    process::{Command, Stdio},
    time::{Duration, Instant},
};

use served::Served;

const ROUNDS: usize = 15;

fn fettle() -> Command {
    Command::new(env!("CARGO_BIN_EXE_fettle"))
}

/// One page over a connection of its own: status and body.
fn get(host: &str, path: &str) -> (u16, String) {
    let mut stream = TcpStream::connect(host).expect("it listens");
    write!(
        stream,
        "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
    )
    .expect("sent");
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).expect("answered");
    let text = String::from_utf8_lossy(&answer).into_owned();
    let status = text
        .split(' ')
        .nth(1)
        .and_then(|s| s.parse().ok())
        .expect("a status line");
    (status, text)
}

/// Links to pages of this site, one for each kind of page.
fn pages(host: &str) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    let mut queue = vec!["/".to_owned()];
    while let Some(path) = queue.pop() {
        let kind = kind_of(&path);
        if found.contains_key(&kind) {
            continue;
        }
        let (status, body) = get(host, &path);
        assert_eq!(status, 200, "{path}");
        found.insert(kind, path);
        for part in body.split("href=\"").skip(1) {
            let link = part.split(['"', '#']).next().unwrap_or_default();
            if link.starts_with('/') && !link.contains("undo") {
                queue.push(link.replace("&amp;", "&"));
            }
        }
    }
    found
}

/// An address with every number and name of a thing blotted out.
fn kind_of(path: &str) -> String {
    let path = path.split('?').next().unwrap_or(path);
    let steps: Vec<&str> = path.split('/').collect();
    steps
        .iter()
        .enumerate()
        .map(|(at, step)| {
            let names_one = step.bytes().any(|b| b.is_ascii_digit())
                || (at == 2 && matches!(steps[1], "models" | "assets"));
            if names_one { "*" } else { step }
        })
        .collect::<Vec<_>>()
        .join("/")
}

fn milliseconds(duration: Duration) -> f64 {
    duration.as_secs_f64() * 1e3
}

fn row(what: &str, mut times: Vec<Duration>) {
    times.sort();
    println!(
        "{what:<44} median {:>8.1} ms   slowest {:>8.1} ms",
        milliseconds(times[times.len() / 2]),
        milliseconds(times[times.len() - 1])
    );
}

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let bench = folder.path().join("demo");

    let began = Instant::now();
    let made = fettle()
        .args(["demo", "--no-serve"])
        .arg(&bench)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .expect("the program starts");
    assert!(made.success(), "the demo bench is made");
    row("making the demo bench", vec![began.elapsed()]);

    let starts = (0..5)
        .map(|_| {
            let began = Instant::now();
            let served = Served::start(&bench);
            assert_eq!(get(&served.host, "/").0, 200);
            began.elapsed()
        })
        .collect();
    row("start to first page", starts);

    let served = Served::start(&bench);
    std::thread::sleep(Duration::from_secs(1));
    if let Some((mb, _)) = served.memory_mb() {
        println!("{:<44} {mb:.1} MB", "idle memory after start");
    }
    for (kind, path) in pages(&served.host) {
        let times = (0..ROUNDS)
            .map(|_| {
                let began = Instant::now();
                assert_eq!(get(&served.host, &path).0, 200, "{path}");
                began.elapsed()
            })
            .collect();
        row(&kind, times);
    }
    let mut visits = Vec::new();
    for visit in 1.. {
        let began = Instant::now();
        match get(&served.host, &format!("/visits/{visit}")).0 {
            200 => visits.push(began.elapsed()),
            404 => break,
            status => panic!("visit {visit}: {status}"),
        }
    }
    row(&format!("each of {} visits once", visits.len()), visits);
    std::thread::sleep(Duration::from_secs(1));
    if let Some((mb, _)) = served.memory_mb() {
        println!("{:<44} {mb:.1} MB", "idle memory after every page");
    }
}

//! Thirty years of a busy bench: 20,000 visits, 1,000,000 journal entries, 200,000 photographs; what every page takes then, beside the
//! same queries in SQLite's own shell.
//!
//! `cargo bench -p fettle --bench scale` makes the bench once, from a seed, in the target folder. `FETTLE_VISITS` makes a smaller one,
//! `FETTLE_ROUNDS` asks each page more or fewer times, `FETTLE_PAGES` only those whose address holds one of its words.
#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a timing run prints its table and ends where it cannot go on"
)]

mod floor;
mod lots;
mod make;
mod models;
#[path = "../support/served.rs"]
mod process;
mod served;
mod site;
mod story;
mod times;

use std::{
    collections::BTreeSet,
    fs,
    path::Path,
    time::{Duration, Instant},
};

use fettle_bench::{About, Change, Hand, NoteWritten, Stage, Term, VisitFilter, VisitId, WorkDone};
use jiff::{ZonedDateTime, tz::TimeZone};

use crate::{
    floor::Shell,
    make::Size,
    process::Served,
    site::Site,
    times::{Times, mark},
};

/// Papers are typeset, and a drawing is made to be downloaded: neither is a page that is turned to.
const SLOW: [&str; 3] = ["/papers/", ".pdf", "/draw/"];
/// How often what is slow is asked for.
const SLOW_ROUNDS: usize = 5;
/// How long eight clients ask.
const TOGETHER: Duration = Duration::from_secs(20);

fn asked(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().map_or(usual, |it| {
        it.parse()
            .unwrap_or_else(|_| panic!("{name}: `{it}` is no number"))
    })
}

fn main() {
    let visits = asked("FETTLE_VISITS", 20_000);
    let rounds = asked("FETTLE_ROUNDS", 100) as usize;
    let size = Size {
        visits,
        entries: visits * 50,
        photographs: visits * 10,
        here: 90,
        days: 10_950,
        until: "2026-11-24".parse().expect("a day"),
    };
    let dir = make::bench(size);
    let now = size
        .until
        .at(10, 30, 0, 0)
        .to_zoned_datetime(TimeZone::UTC)
        .expect("UTC has no gaps");
    load("before");
    start(&dir);
    let pages = pages(&dir, &now, size);
    through_the_router(&dir, &now, &pages, rounds);
    after_writes(&dir, &now, &pages, rounds.min(100));
    memory_and_tablets(&dir, &pages);
    load("after");
}

/// How busy the machine is beside this, where the system tells it.
fn load(when: &str) {
    if let Ok(load) = fs::read_to_string("/proc/loadavg") {
        println!("load of the machine {when}: {}", load.trim());
    }
}

fn start(dir: &Path) {
    let starts = (0..5).map(|_| {
        let began = Instant::now();
        let served = Served::start(dir);
        served.page("/");
        began.elapsed()
    });
    let starts = Times::of(starts);
    println!(
        "start to first answered page: {:.0} ms, at most {:.0} ms of 5",
        starts.p50(),
        starts.most()
    );
}

/// Every kind of page that links lead to, and those that are hardest at this size.
fn pages(dir: &Path, now: &ZonedDateTime, size: Size) -> Vec<String> {
    let site = Site::over(dir, now);
    let cameras = site
        .bench
        .cameras(fettle_bench::Page::first(1))
        .expect("readable")
        .total;
    let owners = site
        .bench
        .owners(fettle_bench::Page::first(1))
        .expect("readable")
        .total;
    let last = |total: u32| total.saturating_sub(1) / 100 * 100;
    let photographed = size.visits.min(1000);
    let known = site
        .bench
        .camera(fettle_bench::CameraId::new(7))
        .expect("a camera");
    let serial = known.camera.details.serial().replace(' ', "+");
    let hard = [
        format!("/cameras?skip={}", last(cameras)),
        format!("/owners?skip={}", last(owners)),
        "/learned?model=corran-66".to_owned(),
        "/learned?from=2020-01-01&to=2024-12-31".to_owned(),
        "/models/corran-66".to_owned(),
        "/models/sprat".to_owned(),
        "/drawers?order=model".to_owned(),
        "/find?q=the".to_owned(),
        "/find?q=slow+speeds".to_owned(),
        "/find?q=speeds+mere".to_owned(),
        "/find?q=s".to_owned(),
        "/find?q=re".to_owned(),
        "/find?q=corran".to_owned(),
        "/find?q=saltmere+post".to_owned(),
        "/find?q=barasand".to_owned(),
        format!("/find?q={serial}"),
        format!("/find?q={}", size.visits / 2),
        format!("/visits/{photographed}"),
        format!("/visits/{photographed}?open=apart"),
    ];
    let mut pages: BTreeSet<String> = site.every_kind().into_values().collect();
    pages.extend(hard);
    // One visit at each stage, with its work laid open.
    for stage in Stage::ALL {
        let filter = VisitFilter {
            stage: Some(*stage),
            ..VisitFilter::default()
        };
        let found = site
            .bench
            .visits(&filter, fettle_bench::Page::first(1))
            .expect("readable");
        pages.extend(
            found
                .lines
                .iter()
                .map(|line| format!("/visits/{}", line.visit)),
        );
        pages.extend(
            found
                .lines
                .iter()
                .map(|line| format!("/visits/{}?open=cause", line.visit)),
        );
    }
    let only = std::env::var("FETTLE_PAGES").unwrap_or_default();
    let words: Vec<&str> = only.split_whitespace().collect();
    let asked = |page: &String| words.is_empty() || words.iter().any(|word| page.contains(word));
    pages.into_iter().filter(asked).collect()
}

fn is_slow(page: &str) -> bool {
    SLOW.iter().any(|it| page.contains(it))
}

/// Each page alone, beside the same queries in the shell.
fn through_the_router(dir: &Path, now: &ZonedDateTime, pages: &[String], rounds: usize) {
    let mut shell = Shell::over(&dir.join("bench.db"));
    match &shell {
        Some(shell) => println!(
            "\nfloor: the same queries in sqlite3 {}, nothing kept from before",
            shell.version
        ),
        None => println!("\nfloor: none, for sqlite3 is not installed"),
    }
    println!(
        "{:<44} {:>8} {:>8} {:>8} {:>8} {:>8}   {:>8} {:>8}",
        "through the router, ms", "first", "work", "p50", "p99", "most", "floor50", "floor99"
    );
    let (slow, quick): (Vec<&String>, Vec<&String>) = pages.iter().partition(|page| is_slow(page));
    for page in quick.into_iter().chain(slow) {
        let rounds = if is_slow(page) { SLOW_ROUNDS } else { rounds };
        let site = Site::over(dir, now);
        let ((first, _), queries) = fettle_bench::queries_of(|| site.get(page));
        let before = Site::worked();
        let times = Times::of((0..rounds).map(|_| site.get(page).0));
        let worked = Site::worked().zip(before);
        let work = worked.map_or(f64::NAN, |(after, before)| {
            after.saturating_sub(before).as_secs_f64() * 1e3 / rounds as f64
        });
        drop(site);
        let floor = shell
            .as_mut()
            .and_then(|shell| shell.times(&queries, rounds.min(20)));
        let floor = floor.map_or_else(
            || format!("{:>8} {:>8}", "-", "-"),
            |it| format!("{:>8.1} {:>8.1}", it.p50(), it.p99()),
        );
        println!(
            "{page:<44} {:>8.1} {work:>8.1} {:>8.1} {:>8.1} {:>8.1}   {floor}{}",
            first.as_secs_f64() * 1e3,
            times.p50(),
            times.p99(),
            times.most(),
            mark(times.p99())
        );
    }
}

/// Each page after a change that may concern it: nothing kept from before can be shown again unseen.
fn after_writes(dir: &Path, now: &ZonedDateTime, pages: &[String], rounds: usize) {
    let site = Site::over(dir, now);
    let (hand, mut n) = (Hand::new("Ines"), 0_i64);
    println!(
        "\n{:<44} {:>8} {:>8} {:>8}",
        "right after a change, ms", "p50", "p99", "most"
    );
    for page in pages.iter().filter(|page| !is_slow(page)) {
        site.get(page);
        let times = (0..rounds).map(|_| {
            n += 1;
            let visit = VisitId::new(n % 300 + 1);
            let change: Change = if n % 2 == 0 {
                NoteWritten {
                    about: About::Visit(visit),
                    text: "written while the pages are timed".to_owned(),
                }
                .into()
            } else {
                WorkDone {
                    visit,
                    work: Term::own("a look at it"),
                    minutes: Some(3.0),
                    note: String::new(),
                }
                .into()
            };
            site.bench
                .apply(&hand, now.timestamp(), vec![change])
                .expect("a change");
            site.get(page).0
        });
        let times = Times::of(times);
        println!(
            "{page:<44} {:>8.1} {:>8.1} {:>8.1}{}",
            times.p50(),
            times.p99(),
            times.most(),
            mark(times.p99())
        );
    }
}

fn memory_and_tablets(dir: &Path, pages: &[String]) {
    let served = Served::start(dir);
    std::thread::sleep(Duration::from_secs(1));
    let tell = |when: &str| {
        if let Some((now, most)) = served.memory_mb() {
            println!("memory {when}: {now:.0} MB resident, {most:.0} MB at its height");
        }
    };
    println!();
    tell("after the start");
    let pages: Vec<String> = pages
        .iter()
        .filter(|page| !is_slow(page))
        .cloned()
        .collect();
    for page in &pages {
        served.page(page);
    }
    std::thread::sleep(Duration::from_secs(1));
    tell("after every page once");
    let told = served.tablets(&pages, TOGETHER);
    let all = Times::of(told.iter().map(|(_, took)| *took));
    println!(
        "eight clients at once over sockets, {} pages: p50 {:.1} ms, p99 {:.1} ms, most {:.1} ms",
        told.len(),
        all.p50(),
        all.p99(),
        all.most()
    );
    for (at, page) in pages.iter().enumerate() {
        let times = Times::of(
            told.iter()
                .filter(|(of, _)| *of == at)
                .map(|(_, took)| *took),
        );
        if times.p99() > times::GOAL_MS {
            println!(
                "{page:<44} p50 {:>8.1} ms   p99 {:>8.1} ms",
                times.p50(),
                times.p99()
            );
        }
    }
    tell("after eight clients");
}

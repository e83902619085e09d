//! What a way of working costs on simulated cameras of the demo models, and what learning saves.
//!
//! Run with `cargo bench -p fettle-reason --bench policy -- [CAMERAS] [SEED] [MODEL] [ways|learning]`; 1,000 cameras, seed 1, all models
//! and both parts unless said.
#![expect(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a bench prints its table, and one whose answer is wrong has no meaning"
)]

use std::time::Instant;

use fettle_notes::ServiceNotes;
use fettle_reason::cause::trial::{Camera, Visit, Working, Workshop, cameras, off_by_a_factor};
use fettle_reason::cause::{Evidence, Lesson, Network, learn};

const DEMOS: [(&str, &str); 3] = [
    (
        "sprat",
        include_str!("../../../fettle-demo/notes/sprat.toml"),
    ),
    (
        "meridian",
        include_str!("../../../fettle-demo/notes/meridian.toml"),
    ),
    (
        "corran-66",
        include_str!("../../../fettle-demo/notes/corran-66.toml"),
    ),
];

const WORKINGS: [(&str, Working); 5] = [
    ("ranked", Working::Ranked),
    ("one answer ahead", Working::OneAhead),
    ("looks in the notes' order", Working::NotesOrder),
    ("works by chance", Working::Chance),
    ("works by chance over minutes", Working::ChancePerMinute),
];

/// Finished cameras that are learned from.
const LESSONS: usize = 500;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = args.iter().filter_map(|it| it.parse().ok()).collect();
    let count = numbers.first().map_or(1000, |it| *it as usize);
    let seed = numbers.get(1).copied().unwrap_or(1);
    let said = |word: &str| args.iter().any(|arg| arg == word);
    let one_model = DEMOS.iter().any(|(name, _)| said(name));
    println!("{count} cameras each, seed {seed}");
    for (name, text) in DEMOS {
        if one_model && !said(name) {
            continue;
        }
        let notes = match fettle_notes::parse(text, None) {
            Ok((notes, _)) => notes,
            Err(problems) => panic!("the notes of {name} are not sound: {problems:?}"),
        };
        let network = Network::of(&notes);
        if !said("learning") {
            ways_of_working(name, &notes, &network, count, seed);
        }
        if !said("ways") {
            learning(name, &notes, &network, count, seed);
        }
    }
}

fn ways_of_working(name: &str, notes: &ServiceNotes, network: &Network, count: usize, seed: u64) {
    println!();
    println!(
        "{name:<30} {:>8} {:>6} {:>7} {:>6} {:>6} {:>6} {:>6} {:>6}",
        "minutes", "+-", "ratio", "+-", "looks", "works", "left", "s"
    );
    let cameras = cameras(notes, network, count, seed);
    assert_eq!(cameras.len(), count, "every camera shows something");
    let mut workshop = Workshop::new(notes, network);
    let mut ours: Vec<f64> = Vec::new();
    for (way, working) in WORKINGS {
        let start = Instant::now();
        let visits = visits(&mut workshop, &cameras, working);
        let minutes: Vec<f64> = visits.iter().map(|visit| visit.minutes).collect();
        if ours.is_empty() {
            ours.clone_from(&minutes);
        }
        let mean_of = |of: fn(&Visit) -> usize| mean(visits.iter().map(|visit| of(visit) as f64));
        let (ratio, ratio_error) = ratio(&minutes, &ours);
        println!(
            "{way:<30} {:>8.1} {:>6.1} {ratio:>7.3} {ratio_error:>6.3} {:>6.1} {:>6.1} {:>6.2} {:>6.0}",
            mean(minutes.iter().copied()),
            error(&minutes),
            mean_of(|visit| visit.looks),
            mean_of(|visit| visit.works),
            mean_of(|visit| visit.left_in),
            start.elapsed().as_secs_f64(),
        );
    }
}

fn visits(workshop: &mut Workshop<'_>, cameras: &[Camera], working: Working) -> Vec<Visit> {
    let visit = |camera| workshop.visit(camera, working);
    cameras
        .iter()
        .map(visit)
        .collect::<Result<_, _>>()
        .expect("what a camera shows can be")
}

/// The notes tell the truth, and an author wrote every chance wrong by a factor of two; what was seen of finished cameras is learned
/// from, and cameras of the truth are worked on by the author's figures and by the learned ones. With one answer of lookahead, for
/// there are thousands of visits.
fn learning(name: &str, notes: &ServiceNotes, truth: &Network, count: usize, seed: u64) {
    let author = off_by_a_factor(truth, seed);
    let past = cameras(notes, truth, LESSONS, seed + 1000);
    let mut by_author = Workshop::new(notes, &author);
    let finished: Vec<Evidence> = visits(&mut by_author, &past, Working::OneAhead)
        .into_iter()
        .map(|visit| visit.evidence)
        .collect();
    let lesson: Lesson = learn(&author, &finished);
    let ours = cameras(notes, truth, count, seed + 2000);
    let minutes = |believed: &Network| -> Vec<f64> {
        let mut workshop = Workshop::new(notes, believed);
        let visits = visits(&mut workshop, &ours, Working::OneAhead);
        visits.iter().map(|visit| visit.minutes).collect()
    };
    let (true_minutes, author_minutes, learned_minutes) =
        (minutes(truth), minutes(&author), minutes(&lesson.network));
    println!(
        "\n{name}: {} visits learned from; 90 % intervals that hold the truth: {:.1} %",
        lesson.cameras,
        100.0 * lesson.holding(truth),
    );
    for missed in lesson.missed(truth) {
        println!(
            "{:<30} {:>4} intervals, {} below the truth, {} above",
            missed.what, missed.all, missed.below, missed.above
        );
    }
    for (what, minutes) in [
        ("by the true chances", &true_minutes),
        ("by the author's", &author_minutes),
        ("by the learned", &learned_minutes),
    ] {
        let (ratio, ratio_error) = ratio(minutes, &author_minutes);
        println!(
            "{what:<30} {:>8.1} {:>6.1} {ratio:>7.3} {ratio_error:>6.3}",
            mean(minutes.iter().copied()),
            error(minutes)
        );
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    sum / count
}

/// Standard error of the mean.
fn error(values: &[f64]) -> f64 {
    let mean = mean(values.iter().copied());
    let square: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let count = values.len() as f64;
    (square / (count * (count - 1.0))).sqrt()
}

/// The ratio of two means over the same cameras, and its standard error.
fn ratio(values: &[f64], to: &[f64]) -> (f64, f64) {
    let below = mean(to.iter().copied());
    let ratio = mean(values.iter().copied()) / below;
    let pairs = values.iter().zip(to);
    let apart: Vec<f64> = pairs.map(|(value, to)| value - ratio * to).collect();
    (ratio, error(&apart) / below)
}

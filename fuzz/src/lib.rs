//! Fuzz targets: each takes any bytes, checks what must hold of the answer, and returns the answer's
//! kind in a few words, by which the runner knows an input that leads somewhere new.

mod archive;
mod begun;
mod forms;
mod pictures;

use std::io::Cursor;

use fettle_bench::{Currency, Index};
use fettle_measure::shutter::{self, Options};
use fettle_measure::{Millimetres, Recording, meter, rangefinder, recording, register, trim};
use fettle_moving::{Kind, Known, Problem, Reading, Table, Terms, offer, plan};

pub use archive::archive;
pub use forms::forms;
pub use pictures::images;

/// Bytes taken of an input.
pub const MOST_BYTES: usize = 1 << 16;
/// Samples of all channels that are measured; reading has no such bound.
const MOST_MEASURED: usize = 100_000;

/// What stands around the words of an input in a message.
const QUOTES: [char; 6] = ['“', '”', '‘', '’', '`', '"'];

/// The WAV reader.
pub fn wave(bytes: &[u8]) -> String {
    let head = if bytes.starts_with(b"RF64") {
        &b"RF64"[..]
    } else {
        b"RIFF"
    };
    read(&marked(head, bytes))
}

/// The readers of FLAC, Ogg Vorbis, MP3 and AIFF, by what the bytes begin with.
pub fn packed(bytes: &[u8]) -> String {
    let marks = [&b"fLaC"[..], b"OggS", b"FORM", b"ID3", b"\xff\xfb"];
    match marks.iter().find(|mark| bytes.starts_with(mark)) {
        Some(_) => read(bytes),
        None => {
            let which = usize::from(bytes.first().copied().unwrap_or(0));
            read(&marked(marks[which % marks.len()], bytes))
        }
    }
}

/// The reader of tables.
pub fn table(bytes: &[u8]) -> String {
    read(bytes)
}

/// Whatever the bytes are, and the measuring of it.
pub fn measure(bytes: &[u8]) -> String {
    let Ok(recording) = recording::read("fuzz", Cursor::new(bytes)) else {
        return "not read".to_owned();
    };
    if recording.length() * recording.channel_count() > MOST_MEASURED {
        return "long".to_owned();
    }
    // Every other length is a focal plane's, with a sensor on each channel.
    let options = if bytes.len() % 2 == 0 {
        Options {
            fully_open_f: Some(2.0),
            stops_f: vec![4.0, 8.0],
            ..Options::default()
        }
    } else {
        let count = recording.channel_count();
        let place = |i: usize| Millimetres::mm(36.0 * (i as f64 + 0.5) / count as f64);
        Options {
            kind: shutter::Kind::FocalPlane,
            sensors_mm: (0..count).map(place).collect(),
            ..Options::default()
        }
    };
    let report = match shutter::analyse(&[recording], &options) {
        Ok(report) => report,
        Err(error) => return kind_of(&error.to_string()),
    };
    for shot in &report.shots {
        assert!(shot.start_s.to_s().is_finite());
        assert_eq!(shot.effective_s.is_some(), shot.uncertainty_s.is_some());
        for time in [shot.effective_s, shot.total_s] {
            let right = time.is_none_or(|it| it.to_s().is_finite() && it.to_s() > 0.0);
            assert!(right, "{time:?}");
        }
        for doubt in [shot.uncertainty_s, shot.total_uncertainty_s] {
            let right = doubt.is_none_or(|it| it.to_s().is_finite() && it.to_s() >= 0.0);
            assert!(right, "{doubt:?}");
        }
    }
    for curtain in &report.curtains {
        for travel in [curtain.first_travel_s, curtain.second_travel_s] {
            assert!(travel.is_none_or(|it| it.to_s().is_finite()), "{travel:?}");
        }
        let evenness = curtain.evenness_stops;
        assert!(
            evenness.is_none_or(|it| it.to_stops().is_finite()),
            "{evenness:?}"
        );
    }
    for speed in &report.speeds {
        assert!(speed.mean_s.to_s().is_finite() && speed.mean_s.to_s() > 0.0);
        assert!(speed.error_stops.to_stops().is_finite());
    }
    let flags: Vec<_> = report.shots.iter().flat_map(|shot| &shot.flags).collect();
    let kinds = report
        .findings
        .iter()
        .map(|it| kind_of(&format!("{:?}", it.what)));
    let kinds: Vec<String> = kinds.collect();
    format!("{} {flags:?} {kinds:?}", report.shots.len().min(3))
}

/// The reader of service notes.
pub fn notes(bytes: &[u8]) -> String {
    match fettle_notes::parse_bytes(bytes, Some("fuzz")) {
        Ok((notes, warnings)) => {
            assert!(!notes.model.name.is_empty());
            warnings
                .iter()
                .map(|it| format!("{:?} ", it.kind))
                .collect()
        }
        Err(problems) => {
            assert!(!problems.as_slice().is_empty());
            let kinds = problems
                .as_slice()
                .iter()
                .map(|it| format!("{:?}", it.kind));
            let mut kinds: Vec<String> = kinds.collect();
            kinds.sort();
            kinds.dedup();
            kinds.join(" ")
        }
    }
}

/// The reader of a setting's state, and the advice on it.
pub fn state(bytes: &[u8]) -> String {
    let advice = match trim::read(bytes).and_then(|state| trim::advise(&state)) {
        Ok(advice) => advice,
        Err(error) => return first_kind(error.problems.iter().map(|problem| &problem.message)),
    };
    assert!(
        advice.turns.iter().all(|turns| turns.is_finite()),
        "{advice:?}"
    );
    assert!(
        advice.predicted.iter().flatten().all(|it| it.is_finite()),
        "{advice:?}"
    );
    assert_eq!(advice.predicted.len(), advice.predicted_u.len());
    let findings = advice.findings.iter().map(|it| kind_of(&it.describe()));
    let findings: Vec<String> = findings.collect();
    format!("{} {} {findings:?}", advice.inside, advice.turns.len())
}

/// The readers of runs of the meter, the register and the rangefinder.
pub fn runs(bytes: &[u8]) -> String {
    let told = [
        meter::read(bytes).map(|it| it.len()),
        register::read(bytes).map(|it| it.len()),
        rangefinder::read(bytes).map(|it| it.len()),
    ]
    .map(|read| match read {
        Ok(rows) => {
            assert!(rows > 0);
            rows.ilog2().to_string()
        }
        Err(error) => first_kind(error.problems().iter().map(|problem| &problem.message)),
    });
    told.join(" ")
}

/// The reader of foreign tables, and what each kind of table would bring to an empty bench.
pub fn foreign(bytes: &[u8]) -> String {
    match Table::read(bytes, &Reading::default()) {
        Ok(table) => planned(&table, &Kind::ALL),
        Err(problems) => told_rightly(&problems),
    }
}

/// The reader of contacts, and what they would bring to an empty bench.
pub fn contacts(bytes: &[u8]) -> String {
    match Table::contacts(bytes, &Reading::default()) {
        Ok(table) => planned(&table, &[Kind::Owners]),
        Err(problems) => told_rightly(&problems),
    }
}

/// What must hold of every table and of every plan; returns its kind.
fn planned(table: &Table, kinds: &[Kind]) -> String {
    assert!(!table.headings.is_empty() && !table.rows.is_empty());
    let mut last = 0;
    for row in &table.rows {
        assert_eq!(row.cells.len(), table.headings.len());
        assert!(row.row > last && row.line > 0);
        assert!(
            row.cells
                .iter()
                .all(|cell| cell.trim() == cell || table.separator.is_none())
        );
        last = row.row;
    }
    let mut answer = format!(
        "{:?} {} {}",
        table.separator,
        table.written.encoding,
        table.headings.len().min(9)
    );
    let (Ok(currency), Ok(today)) = (Currency::new("XTS"), "2026-11-25".parse()) else {
        return answer;
    };
    let known = Known::of(Index::default(), Vec::new(), currency);
    for kind in kinds {
        let map = offer(*kind, &table.headings);
        let plan = plan(table, &map, &known, &Terms::strict(today));
        for group in &plan.groups {
            assert_eq!(group.rows.len(), group.changes.len());
        }
        // Every row is new, known already or wrong.
        let mut wrong: Vec<_> = plan
            .problems
            .iter()
            .filter_map(|problem| problem.row)
            .collect();
        wrong.dedup();
        if plan.problems.iter().all(|problem| problem.row.is_some()) {
            assert_eq!(
                plan.new_rows() + plan.same.len() + wrong.len(),
                table.rows.len()
            );
        }
        answer.push_str(&format!(
            " {} {}",
            map.sources.len(),
            plan.new_rows().min(2)
        ));
        if !plan.problems.is_empty() {
            answer.push_str(&told_rightly(&plan.problems));
        }
    }
    answer
}

/// What must hold of problems; returns their kinds.
fn told_rightly(problems: &[Problem]) -> String {
    assert!(!problems.is_empty());
    for problem in problems {
        let told = problem.to_string();
        assert!(!told.contains('\n') && told.len() < 4000, "{told}");
        assert!(
            !problem.why.is_empty() && !problem.remedy.is_empty(),
            "{told}"
        );
    }
    let mut kinds: Vec<String> = problems
        .iter()
        .map(|problem| kind_of(&problem.remedy))
        .collect();
    kinds.sort();
    kinds.dedup();
    kinds.join(" ")
}

fn marked(mark: &[u8], bytes: &[u8]) -> Vec<u8> {
    let rest = bytes.get(mark.len()..).unwrap_or_default();
    [mark, rest].concat()
}

fn read(bytes: &[u8]) -> String {
    match recording::read("fuzz", Cursor::new(bytes)) {
        Ok(recording) => read_rightly(&recording),
        Err(error) => {
            for part in [error.place(), error.reason(), error.remedy()] {
                assert!(!part.is_empty() && !part.contains('\n'), "{error}");
            }
            kind_of(error.reason())
        }
    }
}

/// What must hold of every recording; returns its kind.
fn read_rightly(recording: &Recording) -> String {
    let (channels, length) = (recording.channel_count(), recording.length());
    let rate = recording.sample_rate().to_hz();
    assert!((1..=8).contains(&channels), "{channels} channels");
    assert!((1.0..=1e8).contains(&rate), "{rate} Hz");
    assert!(length > 0);
    let seconds = recording.duration().to_s();
    assert!((seconds * rate / length as f64 - 1.0).abs() < 1e-9);
    for channel in 0..channels {
        assert_eq!(recording.values(channel, 0..usize::MAX).count(), length);
    }
    assert_eq!(recording.values(channels, 0..usize::MAX).count(), 0);
    format!(
        "{channels} {} {} {} {} {}",
        length.ilog2(),
        rate.log2() as i32,
        recording.is_header_repaired(),
        recording.is_lossy(),
        recording.is_time_uneven(),
    )
}

/// The kind of the first of many messages, of which each says something.
fn first_kind<'a>(mut messages: impl Iterator<Item = &'a String>) -> String {
    let first = messages.next().expect("a refusal says why");
    assert!(!first.is_empty() && messages.all(|message| !message.is_empty()));
    kind_of(first)
}

/// A message without its numbers, and without what it quotes of the input: what stands between its first and its last quotation mark.
fn kind_of(message: &str) -> String {
    let (before, after) = match (message.find(QUOTES), message.rfind(QUOTES)) {
        (Some(first), Some(last)) => (&message[..first], &message[last..]),
        _ => (message, ""),
    };
    let words = before.split_whitespace().chain(after.split_whitespace());
    let words = words.filter(|word| !word.contains(|it: char| it.is_ascii_digit()));
    words
        .flat_map(str::chars)
        .filter(char::is_ascii_alphabetic)
        .take(80)
        .collect()
}

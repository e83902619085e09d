//! How long ten minutes of two channels at 96 kHz take to measure, and in how much memory.
//!
//! The recording (24 bits, 120 shots) is made once in the system's folder for temporary files, as
//! WAV, AIFF and FLAC, and as WAV with two clicks of the mechanism at every shot, some 1.3 GB in all,
//! and left there for the next run. Each is then decoded
//! alone, and measured, both in a process of its own. Ends with an error when a shot came out wrong,
//! or when time or memory are beyond what must hold: twice the time of decoding alone and a second;
//! 100 MB. Time is the clock's, the quickest of several runs: let the machine do nothing else. What the
//! processors did together is told beside it where the system tells.
#![expect(clippy::print_stdout, reason = "the table is what this program is for")]

mod made;
mod packed;

use std::error::Error;
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use fettle_measure::shutter::{self, Options};
use fettle_measure::{Marked, Seconds, recording};
use symphonia::core::formats::{FormatOptions, TrackType, probe::Hint};
use symphonia::core::io::MediaSourceStream;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Tells a process started by this one what to do, and with which file.
const TASK: &str = "FETTLE_LONG_TASK";
const FILE: &str = "FETTLE_LONG_FILE";
/// What must hold.
const MOST_MB: f64 = 100.0;
const MOST_OFF_STOPS: f64 = 0.002;
/// Each task is done so many times, and the quickest counts.
const TIMES: usize = 3;

fn main() -> Outcome<()> {
    match (std::env::var(TASK), std::env::var(FILE)) {
        (Ok(task), Ok(file)) => child(&task, Path::new(&file)),
        _ => parent(),
    }
}

fn parent() -> Outcome<()> {
    let folder = std::env::temp_dir().join("fettle-long");
    std::fs::create_dir_all(&folder)?;
    let truth = made::truth();
    println!("form   decode s  measure s  processors s  peak MB  shots  worst stops");
    let mut missed = Vec::new();
    for form in ["wav", "aiff", "flac", "clicks"] {
        let ending = if form == "clicks" { "clicks.wav" } else { form };
        let file = folder.join(format!("long.{ending}"));
        if !file.exists() {
            made::write(&file, form)?;
        }
        let decode = quickest("decode", &file)?;
        let measure = quickest("measure", &file)?;
        let off = made::worst(&measure.shots, &truth);
        let peak = measure.peak_mb;
        println!(
            "{form:<6} {:>8.2} {:>10.2} {:>13} {:>8} {:>6} {:>12}",
            decode.seconds,
            measure.seconds,
            measure
                .busy_s
                .map_or("unknown".to_owned(), |busy| format!("{busy:.2}")),
            peak.map_or("unknown".to_owned(), |peak| format!("{peak:.1}")),
            measure.shots.len(),
            off.map_or("missing".to_owned(), |off| format!("{off:.6}")),
        );
        if measure.seconds > 2.0 * decode.seconds + 1.0 {
            missed.push(format!("{form}: too slow"));
        }
        if peak.is_some_and(|peak| peak > MOST_MB) {
            missed.push(format!("{form}: too much memory"));
        }
        if off.is_none_or(|off| off > MOST_OFF_STOPS) {
            missed.push(format!("{form}: a shot came out wrong"));
        }
    }
    if missed.is_empty() {
        Ok(())
    } else {
        Err(missed.join(", ").into())
    }
}

/// What a process of its own found.
struct Found {
    seconds: f64,
    busy_s: Option<f64>,
    peak_mb: Option<f64>,
    /// Start and effective time of each shot, in seconds.
    shots: Vec<(f64, f64)>,
}

fn quickest(task: &str, file: &Path) -> Outcome<Found> {
    let mut best: Option<Found> = None;
    for _ in 0..TIMES {
        let found = run(task, file)?;
        if best.as_ref().is_none_or(|it| found.seconds < it.seconds) {
            best = Some(found);
        }
    }
    best.ok_or_else(|| "nothing was run".into())
}

fn run(task: &str, file: &Path) -> Outcome<Found> {
    let output = Command::new(std::env::current_exe()?)
        .env(TASK, task)
        .env(FILE, file)
        .output()?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into_owned().into());
    }
    let text = String::from_utf8(output.stdout)?;
    let mut found = Found {
        seconds: f64::NAN,
        busy_s: None,
        peak_mb: None,
        shots: Vec::new(),
    };
    for line in text.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        match words[..] {
            ["seconds", seconds] => found.seconds = seconds.parse()?,
            ["busy_s", busy] => found.busy_s = Some(busy.parse()?),
            ["peak_mb", peak] => found.peak_mb = Some(peak.parse()?),
            ["shot", start, effective] => {
                found.shots.push((start.parse()?, effective.parse()?));
            }
            _ => {}
        }
    }
    Ok(found)
}

fn child(task: &str, file: &Path) -> Outcome<()> {
    let from = Instant::now();
    let report = if task == "measure" {
        let recording = recording::read("long", File::open(file)?)?;
        let speeds = made::DIAL
            .iter()
            .filter_map(|mark| Marked::fraction(1, *mark))
            .collect();
        let options = Options {
            speeds,
            ..Options::default()
        };
        Some(shutter::analyse(&[recording], &options)?)
    } else if file.extension().is_some_and(|it| it == "wav") {
        decode_wave(file)?;
        None
    } else {
        decode_packed(file)?;
        None
    };
    println!("seconds {}", from.elapsed().as_secs_f64());
    if let Some(busy) = busy_s() {
        println!("busy_s {busy}");
    }
    if let Some(peak) = peak_mb() {
        println!("peak_mb {peak}");
    }
    for shot in report.iter().flat_map(|report| &report.shots) {
        let effective = shot.effective_s.map_or(f64::NAN, Seconds::to_s);
        println!("shot {} {effective}", shot.start_s.to_s());
    }
    Ok(())
}

/// How long this process's threads have been on processors, where the system tells.
fn busy_s() -> Option<f64> {
    let mut nanoseconds = 0.0;
    for thread in std::fs::read_dir("/proc/self/task").ok()? {
        let told = std::fs::read_to_string(thread.ok()?.path().join("schedstat")).ok()?;
        nanoseconds += told.split_whitespace().next()?.parse::<f64>().ok()?;
    }
    Some(nanoseconds * 1e-9)
}

/// Greatest memory this process has had, where the system tells.
fn peak_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kb: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb * 1024.0 / 1e6)
}

/// Samples of a WAV file of 24 bits to numbers, as plainly as can be.
fn decode_wave(file: &Path) -> Outcome<()> {
    let mut source = BufReader::new(File::open(file)?);
    let mut buffer = vec![0; 6 * 8192];
    let mut part = [Vec::new(), Vec::new()];
    let mut sum = 0.0;
    source.read_exact(&mut buffer[..made::WAVE_HEAD])?;
    while source.read_exact(&mut buffer).is_ok() {
        for (channel, values) in part.iter_mut().enumerate() {
            values.clear();
            let sample = |frame: &[u8]| {
                let at = 3 * channel;
                let bytes = [0, frame[at], frame[at + 1], frame[at + 2]];
                (i32::from_le_bytes(bytes) >> 8) as f32 / 8_388_608.0
            };
            values.extend(buffer.chunks_exact(6).map(sample));
        }
        sum += part.iter().flatten().sum::<f32>();
    }
    std::hint::black_box(sum);
    Ok(())
}

fn decode_packed(file: &Path) -> Outcome<()> {
    let stream = MediaSourceStream::new(Box::new(File::open(file)?), Default::default());
    let mut format = symphonia::default::get_probe().probe(
        &Hint::new(),
        stream,
        FormatOptions::default(),
        Default::default(),
    )?;
    let track = format.default_track(TrackType::Audio).ok_or("no sound")?;
    let coding = track.codec_params.as_ref().and_then(|it| it.audio());
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(coding.ok_or("no coding")?, &Default::default())?;
    let mut part: Vec<Vec<f32>> = Vec::new();
    while let Some(packet) = format.next_packet()? {
        decoder.decode(&packet)?.copy_to_vecs_planar(&mut part);
        std::hint::black_box(&part);
    }
    Ok(())
}

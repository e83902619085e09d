//! Runs a target on a stable compiler: takes inputs from the corpus, changes them a little, and keeps
//! those whose answer is of a new kind. The same seed makes the same inputs.
//!
//! `cargo run --release --bin run -- TARGET|every [MINUTES] [SEED]`

use std::collections::HashSet;
use std::error::Error;
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use fettle_fuzz::MOST_BYTES;

/// An input that takes longer is a finding.
const LONGEST: Duration = Duration::from_secs(20);
/// Inputs kept beside the corpus.
const MOST_KEPT: usize = 4000;
/// Bytes at which most headers end.
const HEAD: usize = 200;

type Target = fn(&[u8]) -> String;

const TARGETS: [(&str, Target); 12] = [
    ("wave", fettle_fuzz::wave),
    ("packed", fettle_fuzz::packed),
    ("table", fettle_fuzz::table),
    ("measure", fettle_fuzz::measure),
    ("notes", fettle_fuzz::notes),
    ("foreign", fettle_fuzz::foreign),
    ("contacts", fettle_fuzz::contacts),
    ("images", fettle_fuzz::images),
    ("archive", fettle_fuzz::archive),
    ("forms", fettle_fuzz::forms),
    ("state", fettle_fuzz::state),
    ("runs", fettle_fuzz::runs),
];

/// An input that is being tried: since when, and of which target.
type UnderWay = Arc<Mutex<(Instant, &'static str, Vec<u8>)>>;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let name = arguments.first().map_or("", String::as_str);
    let minutes: f64 = arguments.get(1).map_or(Ok(1.0), |it| it.parse())?;
    let seed: u64 = arguments.get(2).map_or(Ok(1), |it| it.parse())?;
    let wanted = |(target, _): &&(&str, Target)| name == "every" || *target == name;
    let wanted: Vec<_> = TARGETS.iter().filter(wanted).collect();
    if wanted.is_empty() {
        let names = TARGETS.map(|(target, _)| target).join(", ");
        return Err(format!("name a target: {names}, or every").into());
    }
    std::panic::set_hook(Box::new(|_| {}));
    let found = Path::new(env!("CARGO_MANIFEST_DIR")).join("found");
    let under_way: UnderWay = Arc::new(Mutex::new((Instant::now(), "", Vec::new())));
    watch(Arc::clone(&under_way), found.clone());
    let mut findings = 0;
    for (name, target) in wanted {
        findings += run(name, *target, minutes, seed, &found, &under_way)?;
    }
    if findings == 0 {
        Ok(())
    } else {
        Err("there are findings".into())
    }
}

/// Runs one target; gives the number of findings.
fn run(
    name: &'static str,
    target: Target,
    minutes: f64,
    seed: u64,
    found: &Path,
    under_way: &UnderWay,
) -> Result<u32, Box<dyn Error>> {
    let mut inputs = corpus(name)?;
    let mut draw = Draw(seed);
    let mut kinds = HashSet::new();
    let (mut runs, mut findings, mut longest) = (0_u64, 0, Duration::ZERO);
    let until = Instant::now() + Duration::from_secs_f64(60.0 * minutes);
    let mut fresh = inputs.clone();
    while Instant::now() < until && findings < 20 {
        let input = fresh.pop().unwrap_or_else(|| changed(&inputs, &mut draw));
        let from = Instant::now();
        if let Ok(mut it) = under_way.lock() {
            *it = (from, name, input.clone());
        }
        match catch_unwind(|| target(&input)) {
            Ok(kind) => {
                if kinds.insert(kind) && inputs.len() < MOST_KEPT {
                    inputs.push(input);
                }
            }
            Err(cause) => {
                findings += 1;
                let said = cause.downcast_ref::<String>().cloned();
                let said = said.or(cause.downcast_ref::<&str>().map(|it| (*it).to_owned()));
                std::fs::create_dir_all(found)?;
                let file = found.join(format!("{name}-{findings}"));
                std::fs::write(&file, &input)?;
                println!("{}: {}", file.display(), said.unwrap_or_default());
            }
        }
        longest = longest.max(from.elapsed());
        runs += 1;
    }
    println!(
        "{name}: {runs} runs, {} kinds of answer, {findings} findings, longest {:.0} ms, peak {} MB",
        kinds.len(),
        longest.as_secs_f64() * 1e3,
        peak_mb().map_or("unknown".to_owned(), |peak| format!("{peak:.0}")),
    );
    Ok(findings)
}

/// The target's own folder of the corpus, and for measuring all that can be read.
fn corpus(name: &str) -> Result<Vec<Vec<u8>>, Box<dyn Error>> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let crates = here.join("../crates");
    let packed = || {
        vec![
            here.join("corpus/packed"),
            crates.join("fettle-measure/tests/data"),
        ]
    };
    let folders = match name {
        "packed" => packed(),
        "measure" => [
            packed(),
            vec![here.join("corpus/wave"), here.join("corpus/table")],
        ]
        .concat(),
        "notes" => vec![here.join("corpus/notes"), crates.join("fettle-demo/notes")],
        _ => vec![here.join("corpus").join(name)],
    };
    let mut files: Vec<PathBuf> = Vec::new();
    for folder in folders {
        for entry in std::fs::read_dir(&folder)? {
            files.push(entry?.path());
        }
    }
    files.sort();
    let inputs: Result<Vec<_>, _> = files.iter().map(std::fs::read).collect();
    Ok(inputs?)
}

/// Ends the program when an input takes too long, and keeps the input.
fn watch(under_way: UnderWay, found: PathBuf) {
    std::thread::spawn(move || {
        loop {
            std::thread::sleep(Duration::from_secs(1));
            let Ok(it) = under_way.lock() else { return };
            if it.0.elapsed() > LONGEST {
                let file = found.join(format!("{}-slow", it.1));
                let folder = std::fs::create_dir_all(&found);
                let kept = folder.and_then(|()| std::fs::write(&file, &it.2));
                println!("{}: takes more than {LONGEST:?} ({kept:?})", file.display());
                std::process::exit(1);
            }
        }
    });
}

/// Greatest memory so far, where the system tells.
fn peak_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kb: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kb * 1024.0 / 1e6)
}

/// One of the inputs with one to eight changes.
fn changed(inputs: &[Vec<u8>], draw: &mut Draw) -> Vec<u8> {
    let mut bytes = inputs
        .get(draw.below(inputs.len()))
        .cloned()
        .unwrap_or_default();
    for _ in 0..=draw.below(8) {
        let reach = if draw.below(2) == 0 { HEAD } else { usize::MAX };
        let at = draw.below(bytes.len().min(reach) + 1);
        let longest = 1 << draw.below(9);
        let size = 1 + draw.below(longest);
        let end = (at + size).min(bytes.len());
        match draw.below(9) {
            0 => flip(&mut bytes, at, draw),
            1 => put(&mut bytes, at, &[draw.below(256) as u8]),
            2 => {
                let value = EDGES[draw.below(EDGES.len())];
                let width = [1, 2, 4, 8][draw.below(4)];
                if draw.below(2) == 0 {
                    put(&mut bytes, at, &value.to_le_bytes()[..width]);
                } else {
                    put(&mut bytes, at, &value.to_be_bytes()[8 - width..]);
                }
            }
            3 => {
                bytes.drain(at..end);
            }
            4 => {
                let part = bytes[at..end].to_vec();
                bytes.splice(at..at, part);
            }
            5 => {
                let other = &inputs[draw.below(inputs.len())];
                let from = draw.below(other.len() + 1);
                let part = other[from..(from + size).min(other.len())].to_vec();
                bytes.splice(at..at, part);
            }
            6 => {
                let word = WORDS[draw.below(WORDS.len())];
                bytes.splice(at..at, word.iter().copied());
            }
            7 => bytes.truncate(at.max(draw.below(bytes.len() + 1))),
            _ => {
                let value = draw.below(256) as u8;
                bytes[at..end].fill(value);
            }
        }
    }
    bytes.truncate(MOST_BYTES);
    bytes
}

/// Values at which lengths, counts and rates go wrong.
const EDGES: [u64; 14] = [
    0,
    1,
    2,
    8,
    9,
    0x7f,
    0xff,
    0x7fff,
    0xffff,
    0x7fff_ffff,
    0xffff_ffff,
    0x8000_0000,
    0x7ff8_0000_0000_0000,
    u64::MAX,
];

const WORDS: [&[u8]; 22] = [
    b"data",
    b"fmt ",
    b"RIFF",
    b"LIST",
    b"nan",
    b"inf",
    b"1e308",
    b"-",
    b"\n",
    b";",
    b",",
    b"\"",
    b"0.",
    b"1e-300",
    b"\xef\xbb\xbf",
    b"[[part]]\n",
    b"BEGIN:VCARD\r\n",
    b"END:VCARD\r\n",
    b"ENCODING=QUOTED-PRINTABLE:",
    b"TYPE=pref",
    b"\xff\xfe",
    b"03/04/2024",
];

fn flip(bytes: &mut [u8], at: usize, draw: &mut Draw) {
    if let Some(byte) = bytes.get_mut(at) {
        *byte ^= 1 << draw.below(8);
    }
}

fn put(bytes: &mut [u8], at: usize, new: &[u8]) {
    for (place, value) in bytes.iter_mut().skip(at).zip(new) {
        *place = *value;
    }
}

/// A repeatable stream of numbers, by a counter and a mixer.
struct Draw(u64);

impl Draw {
    /// From 0 to one less than `end`; 0 for an end of 0.
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) % end.max(1) as u64) as usize
    }
}

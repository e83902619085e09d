//! Exports that were changed.

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use fettle_bench::{
    About, Bench, BenchError, CameraDetails, Change, Hand, NoteWritten, Stage, Undo, VisitId,
};
use fettle_moving::{Manifest, export, read_back};
use jiff::Timestamp;

use crate::begun::{folder, with_a_camera};
use crate::kind_of;

/// A bench with a little in it, written out once: every file by its name.
fn exported() -> &'static [(String, Vec<u8>)] {
    static MADE: OnceLock<Vec<(String, Vec<u8>)>> = OnceLock::new();
    MADE.get_or_init(|| made().unwrap_or_else(|why| panic!("the export of the target: {why}")))
}

fn made() -> Result<Vec<(String, Vec<u8>)>, Box<dyn std::error::Error>> {
    let dir = folder()?;
    let (hand, at) = (Hand::new("Ines"), Timestamp::from_second(1_790_000_000)?);
    let camera = CameraDetails {
        model: "Sprat".to_owned(),
        ..CameraDetails::default()
    };
    let bench = with_a_camera(&dir.path().join("bench"), camera, &hand, at)?;
    let visit = VisitId::new(1);
    let recording = bench.keep_recording(visit, Stage::Arrived, "", "a.wav", b"RIFF")?;
    let note: Change = NoteWritten {
        about: About::Visit(visit),
        text: "two\nlines, \"so\"".to_owned(),
    }
    .into();
    let told = bench.apply(&hand, at, vec![recording, note])?;
    bench.apply(
        &hand,
        at,
        vec![
            Undo {
                entry: told.entries[1],
            }
            .into(),
        ],
    )?;
    let out = dir.path().join("out");
    export(&bench, &out, at, &mut |_| ())?;
    let mut files = Vec::new();
    let mut folders = vec![out.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(&out)?.to_string_lossy().into_owned();
                files.push((name, fs::read(&path)?));
            }
        }
    }
    files.sort();
    Ok(files)
}

/// Reading an export back. The bytes are changes to a sound one: first whether hashes and sums are made to fit again, then for each change
/// the file, the place in two bytes, how many bytes are cut, how many are put there, and those.
pub fn archive(bytes: &[u8]) -> String {
    let mut files = exported().to_vec();
    let (mends, mut rest) = match bytes.split_first() {
        Some((first, rest)) => (first % 2 == 1, rest),
        None => (false, bytes),
    };
    while let [file, high, low, cut, put, more @ ..] = rest {
        let of = usize::from(*file) % files.len();
        let content = &mut files[of].1;
        let at = (usize::from(*high) * 256 + usize::from(*low)).min(content.len());
        let end = (at + usize::from(*cut)).min(content.len());
        let (new, more) = more.split_at(usize::from(*put).min(more.len()));
        content.splice(at..end, new.iter().copied());
        rest = more;
    }
    if mends {
        mend(&mut files);
    }
    let Ok(dir) = folder() else {
        return "no folder".to_owned();
    };
    let (from, new) = (dir.path().join("out"), dir.path().join("new"));
    for (name, content) in &files {
        let path = from.join(name);
        let written = path
            .parent()
            .map_or(Ok(()), fs::create_dir_all)
            .and_then(|()| fs::write(&path, content));
        if written.is_err() {
            return "not written".to_owned();
        }
    }
    match read_back(&from, &new, &mut |_| ()) {
        Ok(bench) => {
            assert_whole(&bench);
            format!("read {mends}")
        }
        Err(error) => {
            let told = error.to_string();
            assert!(!told.is_empty() && told.len() < 40_000, "{told}");
            let left: Vec<PathBuf> = fs::read_dir(dir.path())
                .into_iter()
                .flatten()
                .flatten()
                .map(|it| it.path())
                .collect();
            assert_eq!(left, [from], "{told}");
            kind_of(told.lines().last().unwrap_or_default())
        }
    }
}

fn assert_whole(bench: &Bench) {
    let checked: Result<(), BenchError> = bench.check();
    assert!(checked.is_ok(), "{checked:?}");
}

/// Makes hashes and sums fit what was changed, so that what lies behind them is reached.
fn mend(files: &mut [(String, Vec<u8>)]) {
    const SUM: &[u8] = b",\"sum\":\"";
    for (_, content) in files.iter_mut().filter(|(name, _)| name == "journal.jsonl") {
        let lines = content.split_inclusive(|byte| *byte == b'\n');
        let mended =
            lines.flat_map(
                |line| match line.windows(SUM.len()).rposition(|it| it == SUM) {
                    Some(end) => {
                        let sum = blake3::hash(&line[..end]).to_hex();
                        [&line[..end], SUM, &sum.as_bytes()[..16], b"\"}\n"].concat()
                    }
                    None => line.to_vec(),
                },
            );
        *content = mended.collect();
    }
    let at = files.iter().position(|(name, _)| name == "manifest.json");
    let Some(at) = at else { return };
    let Ok(mut manifest) = serde_json::from_slice::<Manifest>(&files[at].1) else {
        return;
    };
    for note in &mut manifest.files {
        if let Some((_, content)) = files.iter().find(|(name, _)| *name == note.name) {
            note.bytes = content.len() as u64;
            note.blake3 = blake3::hash(content).to_hex().to_string();
        }
    }
    if let Ok(text) = serde_json::to_vec(&manifest) {
        files[at].1 = text;
    }
}

//! A bench read back from an export: checked first, then told anew entry by entry, then held against the tables.

use std::{
    collections::BTreeMap,
    fs::{self, File},
    io::{self, BufRead, BufReader},
    path::Path,
};

use fettle_bench::{Bench, Change, Hand, Out, Step, TABLES_VERSION};
use jiff::Timestamp;

use crate::{
    error::{Damage, MovingError},
    export::{
        journal,
        manifest::{self, FORMAT, FileNote, Manifest},
        tables::text,
        with_new_folder,
    },
};

/// The largest manifest that is read: some hundred thousand files.
const MANIFEST_MAX_BYTES: u64 = 256 << 20;
/// The most damages that are told.
const TOLD_MAX: usize = 50;

/// Makes a bench in a new folder from an export: the same journal, the same tables, the same files. Every file is held against its
/// hash and every line of the journal against its sum before anything is made, and the tables against those of the export at the end.
///
/// # Errors
/// When the folder holds no export or one of a newer format; when a file is missing or changed, a line is changed or of an unknown
/// kind, each told by file and line; when the place is taken, or something cannot be read or written. Nothing is left behind.
pub fn read_back(
    from: &Path,
    dir: &Path,
    progress: &mut dyn FnMut(Step),
) -> Result<Bench, MovingError> {
    let manifest = read_manifest(from)?;
    if dir.join("bench.db").exists() {
        return Err(MovingError::Place {
            path: dir.to_owned(),
            why: "is a bench already, and what two benches hold is not mixed".to_owned(),
        });
    }
    let mut damages = check_names(&manifest);
    if damages.is_empty() {
        damages = check_files(from, &manifest, progress)?;
    }
    // Of a table that was changed the line can still be found.
    let can_be_placed = |damage: &Damage| {
        let is_table = manifest
            .tables
            .iter()
            .any(|table| table.file == damage.file);
        is_table && from.join(&damage.file).is_file()
    };
    if !damages.iter().all(can_be_placed) {
        return Err(MovingError::Damaged(damages));
    }
    with_new_folder(dir, "importing", |beside| {
        let bench =
            Bench::make_from_journal(beside, |bench| fill(bench, from, &manifest, progress))?;
        // Of tables that were changed the line is found by what the journal gives instead.
        let differing = compare(&bench, from, &manifest)?;
        damages.retain(|damage| differing.iter().all(|it| it.file != damage.file));
        damages.extend(differing);
        if damages.is_empty() {
            Ok(())
        } else {
            Err(MovingError::Damaged(damages))
        }
    })?;
    Ok(Bench::open(dir)?)
}

fn read_manifest(from: &Path) -> Result<Manifest, MovingError> {
    let path = from.join(manifest::FILE);
    let told = |error: io::Error| match error.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => MovingError::NotAnExport {
            path: from.to_owned(),
        },
        _ => MovingError::io(&path, &error),
    };
    let damaged = |line: Option<u64>, why: String| {
        MovingError::Damaged(vec![Damage {
            file: manifest::FILE.to_owned(),
            line,
            why,
        }])
    };
    if fs::metadata(&path).map_err(told)?.len() > MANIFEST_MAX_BYTES {
        return Err(damaged(None, "is larger than any manifest".to_owned()));
    }
    let text = fs::read(&path).map_err(told)?;
    let unreadable = |error: serde_json::Error| {
        damaged(
            Some(error.line() as u64),
            format!("cannot be read: {error}"),
        )
    };
    // The format first: of a newer one the rest may be anything.
    let any: serde_json::Value = serde_json::from_slice(&text).map_err(unreadable)?;
    match any.get("format").and_then(serde_json::Value::as_str) {
        Some(FORMAT) => {}
        Some(format) => {
            return Err(MovingError::Newer {
                path,
                format: format.to_owned(),
            });
        }
        None => {
            return Err(damaged(
                None,
                "does not say of which format it is".to_owned(),
            ));
        }
    }
    serde_json::from_slice(&text).map_err(unreadable)
}

/// Every name must be one that an export gives, so that none leads out of its folder.
fn check_names(manifest: &Manifest) -> Vec<Damage> {
    let fits = |name: &str| {
        let plain = |part: &str| {
            !part.is_empty()
                && !part.starts_with('.')
                && !part
                    .chars()
                    .any(|c| c.is_control() || matches!(c, '/' | '\\'))
        };
        match name.split_once('/') {
            None => name == journal::FILE,
            Some(("tables" | "photos" | "recordings" | "papers" | "notes", file)) => plain(file),
            Some(_) => false,
        }
    };
    let wrong = |name: &String, why: &str| Damage {
        file: manifest::FILE.to_owned(),
        line: None,
        why: format!("names {name:?}, {why}"),
    };
    let mut damages: Vec<Damage> = manifest
        .files
        .iter()
        .filter(|file| !fits(&file.name))
        .map(|file| wrong(&file.name, "which is no file of an export"))
        .collect();
    let listed = |name: &str| manifest.files.iter().any(|file| file.name == name);
    for file in manifest.tables.iter().map(|table| &table.file) {
        if !listed(file) {
            damages.push(wrong(file, "a table that is not among its files"));
        }
    }
    if !listed(journal::FILE) {
        damages.push(wrong(&journal::FILE.to_owned(), "but not among its files"));
    }
    damages
}

/// Holds every file against its length and hash, and the journal line by line.
fn check_files(
    from: &Path,
    manifest: &Manifest,
    progress: &mut dyn FnMut(Step),
) -> Result<Vec<Damage>, MovingError> {
    let mut damages = Vec::new();
    let of = manifest.files.len() as u64;
    for (n, file) in manifest.files.iter().enumerate() {
        let whole = check_file(from, file)?;
        // The line, where one can be told, says more than the file.
        let lines = if file.name == journal::FILE && from.join(&file.name).is_file() {
            check_journal(from, manifest)?
        } else {
            Vec::new()
        };
        if lines.is_empty() {
            damages.extend(whole);
        }
        damages.extend(lines);
        progress(Step::new("checking", n as u64 + 1, of));
    }
    damages.truncate(TOLD_MAX);
    Ok(damages)
}

fn check_file(from: &Path, note: &FileNote) -> Result<Option<Damage>, MovingError> {
    let path = from.join(&note.name);
    let damage = |why: &str| {
        Ok(Some(Damage {
            file: note.name.clone(),
            line: None,
            why: why.to_owned(),
        }))
    };
    let mut file = match File::open(&path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return damage("is missing"),
        Err(error) => return Err(MovingError::io(&path, &error)),
    };
    if !file.metadata().is_ok_and(|about| about.is_file()) {
        return damage("is not a file");
    }
    let mut hasher = blake3::Hasher::new();
    let bytes = io::copy(&mut file, &mut hasher).map_err(|error| MovingError::io(&path, &error))?;
    if bytes != note.bytes || hasher.finalize().to_hex().as_str() != note.blake3 {
        return damage("is not as it was written: its length or its hash does not fit");
    }
    if !note.fits_its_name() {
        return damage("is not named after its content");
    }
    Ok(None)
}

fn check_journal(from: &Path, manifest: &Manifest) -> Result<Vec<Damage>, MovingError> {
    let mut damages = Vec::new();
    let mut told = |line: u64, why: String| {
        damages.push(Damage {
            file: journal::FILE.to_owned(),
            line: Some(line),
            why,
        });
    };
    let mut group = 0;
    let mut seen = 0;
    for_each_line(from, |n, line| {
        seen = n;
        match line.and_then(journal::read) {
            Err(why) => told(n, why),
            Ok(entry) if u64::try_from(entry.id) != Ok(n) => {
                told(
                    n,
                    format!("is entry {}, where entry {n} is wanted", entry.id),
                );
            }
            Ok(entry) => {
                if entry.group != entry.id && entry.group != group {
                    told(
                        n,
                        format!("belongs to entry {}, which it does not follow", entry.group),
                    );
                }
                group = entry.group;
            }
        }
        Ok::<(), MovingError>(())
    })?;
    if seen != manifest.entries {
        told(
            seen,
            format!(
                "is the last of {seen} entries, of which there should be {}",
                manifest.entries
            ),
        );
    }
    damages.truncate(TOLD_MAX);
    Ok(damages)
}

/// Gives each line of the journal with its number.
fn for_each_line<E: From<MovingError>>(
    from: &Path,
    mut tell: impl FnMut(u64, Result<&str, String>) -> Result<(), E>,
) -> Result<(), E> {
    let path = from.join(journal::FILE);
    let told = |error: io::Error| MovingError::io(&path, &error);
    let mut lines = BufReader::with_capacity(1 << 16, File::open(&path).map_err(told)?);
    let mut line = Vec::new();
    for n in 1.. {
        line.clear();
        if lines.read_until(b'\n', &mut line).map_err(told)? == 0 {
            break;
        }
        let text = line.strip_suffix(b"\n").ok_or("is cut off".to_owned());
        let text = text.and_then(|text| {
            std::str::from_utf8(text).map_err(|_| "holds bytes that are no text".to_owned())
        });
        tell(n, text)?;
    }
    Ok(())
}

/// Puts the files in and tells the journal, group by group.
fn fill(
    bench: &Bench,
    from: &Path,
    manifest: &Manifest,
    progress: &mut dyn FnMut(Step),
) -> Result<(), MovingError> {
    let kept: Vec<&FileNote> = manifest
        .files
        .iter()
        .filter(|file| file.is_kept())
        .collect();
    for (n, file) in kept.iter().enumerate() {
        let path = from.join(&file.name);
        let bytes = fs::read(&path).map_err(|error| MovingError::io(&path, &error))?;
        bench.put_file(&file.name, &bytes)?;
        progress(Step::new("files", n as u64 + 1, kept.len() as u64));
    }
    let mut group = Together::default();
    for_each_line(from, |n, line| {
        let unreadable = |why| MovingError::Damaged(vec![at_line(n, why)]);
        let entry = line.and_then(journal::read).map_err(unreadable)?;
        if group.id != entry.group {
            group.apply(bench)?;
            group.id = entry.group;
            group.first = n;
        }
        group.by = Some((entry.hand, entry.at));
        group.changes.push(entry.change);
        progress(Step::new("journal", n, manifest.entries));
        Ok::<(), MovingError>(())
    })?;
    group.apply(bench)
}

/// Entries that were written together.
#[derive(Default)]
struct Together {
    id: i64,
    /// The line of the first.
    first: u64,
    by: Option<(Hand, Timestamp)>,
    changes: Vec<Change>,
}

impl Together {
    fn apply(&mut self, bench: &Bench) -> Result<(), MovingError> {
        let Some((hand, at)) = self.by.take() else {
            return Ok(());
        };
        let changes = std::mem::take(&mut self.changes);
        let refused = |error: fettle_bench::BenchError| {
            let line = match &error {
                fettle_bench::BenchError::Rule { index, .. } => self.first + *index as u64,
                _ => self.first,
            };
            MovingError::Damaged(vec![at_line(line, format!("is refused: {error}"))])
        };
        bench.apply(&hand, at, changes).map_err(refused).map(drop)
    }
}

fn at_line(line: u64, why: String) -> Damage {
    Damage {
        file: journal::FILE.to_owned(),
        line: Some(line),
        why,
    }
}

/// Holds the tables that the journal gave against those of the export: of each the first line that differs. Tables of another version
/// may differ rightly.
fn compare(bench: &Bench, from: &Path, manifest: &Manifest) -> Result<Vec<Damage>, MovingError> {
    if manifest.tables_version != TABLES_VERSION {
        return Ok(Vec::new());
    }
    let files: BTreeMap<&str, &str> = manifest
        .tables
        .iter()
        .map(|table| (table.table.as_str(), table.file.as_str()))
        .collect();
    let mut damages = Vec::new();
    let mut table: Option<Exported> = None;
    bench.tell_out(|out| {
        match out {
            Out::Table { name, columns } => {
                damages.extend(table.take().and_then(Exported::end));
                if let Some(file) = files.get(name) {
                    table = Some(Exported::open(from, file, columns)?);
                }
            }
            Out::Row(cells) => {
                let cells: Vec<String> = cells.iter().map(text).collect();
                if let Some(damage) = table.as_mut().and_then(|table| table.next(&cells)) {
                    damages.push(damage);
                    table = None;
                }
            }
            Out::Entry { .. } => damages.extend(table.take().and_then(Exported::end)),
        }
        Ok::<(), MovingError>(())
    })?;
    damages.extend(table.take().and_then(Exported::end));
    Ok(damages)
}

/// A table of the export while it is held against the record's.
struct Exported {
    file: String,
    records: csv::StringRecordsIntoIter<BufReader<File>>,
    /// The headings, until they were held against those of the file.
    columns: Vec<String>,
}

impl Exported {
    fn open(from: &Path, file: &str, columns: &[String]) -> Result<Self, MovingError> {
        let path = from.join(file);
        let opened = File::open(&path).map_err(|error| MovingError::io(&path, &error))?;
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(BufReader::new(opened));
        Ok(Self {
            file: file.to_owned(),
            records: reader.into_records(),
            columns: columns.to_vec(),
        })
    }

    fn damage(&self, line: Option<u64>, why: impl Into<String>) -> Option<Damage> {
        Some(Damage {
            file: self.file.clone(),
            line,
            why: why.into(),
        })
    }

    /// Holds the next row against these cells; the headings come first.
    fn next(&mut self, cells: &[String]) -> Option<Damage> {
        if !self.columns.is_empty() {
            let columns = std::mem::take(&mut self.columns);
            if let Some(damage) = self.next(&columns) {
                return Some(damage);
            }
        }
        match self.records.next() {
            None => self.damage(None, "ends before the rows that the journal gives"),
            Some(Err(error)) => {
                let line = error.position().map(csv::Position::line);
                self.damage(line, format!("cannot be read: {error}"))
            }
            Some(Ok(record)) if record.iter().eq(cells.iter().map(String::as_str)) => None,
            Some(Ok(record)) => {
                let line = record.position().map(csv::Position::line);
                let differing = record.iter().zip(cells).find(|(read, given)| read != given);
                let why = differing.map_or_else(
                    || "has not the cells that the journal gives".to_owned(),
                    |(read, given)| {
                        let (read, given) = (crate::problem::cut(read), crate::problem::cut(given));
                        format!("says “{read}” where the journal gives “{given}”")
                    },
                );
                self.damage(line, why)
            }
        }
    }

    /// No row may follow.
    fn end(mut self) -> Option<Damage> {
        if !self.columns.is_empty() {
            let columns = std::mem::take(&mut self.columns);
            if let Some(damage) = self.next(&columns) {
                return Some(damage);
            }
        }
        let record = self.records.next()?;
        let line = record
            .ok()
            .and_then(|record| record.position().map(csv::Position::line));
        self.damage(line, "has more rows than the journal gives")
    }
}

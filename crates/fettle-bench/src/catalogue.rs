//! The service notes in the bench's folder, read when their files change.

use std::{
    collections::BTreeMap,
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    time::SystemTime,
};

use fettle_notes::{FILE_MAX_BYTES, ServiceNotes, parse_bytes};
use rusqlite::Connection;
use tempfile::NamedTempFile;

use crate::{
    error::{BenchError, in_words},
    read::query_words,
    view::{Hit, HitIn},
};

/// Service notes in the bench's folder.
#[derive(Clone, Debug)]
pub struct Model {
    /// The model id: the file's stem.
    pub id: String,
    /// The file.
    pub path: PathBuf,
    /// What the file says; `None` when it cannot be used.
    pub notes: Option<Arc<ServiceNotes>>,
    /// What is wrong with the file, or doubtful in it, each with its place.
    pub problems: Vec<String>,
}

/// The notes as last read.
#[derive(Debug)]
pub(crate) struct Catalogue {
    folder: PathBuf,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
struct State {
    files: BTreeMap<String, (Stamp, Model)>,
    /// The words of all notes; made when first searched after a change.
    index: Option<Connection>,
}

/// What tells that a file has changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Stamp {
    changed: Option<SystemTime>,
    bytes: u64,
}

impl Catalogue {
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self {
            folder,
            state: Mutex::new(State::default()),
        }
    }

    /// All notes by model id.
    pub(crate) fn models(&self) -> Vec<Model> {
        self.current()
            .files
            .values()
            .map(|(_, model)| model.clone())
            .collect()
    }

    /// The notes of one model.
    pub(crate) fn notes(&self, id: &str) -> Option<Arc<ServiceNotes>> {
        self.current()
            .files
            .get(id)
            .and_then(|(_, model)| model.notes.clone())
    }

    /// Whether there is a file for this model, usable or not.
    pub(crate) fn has(&self, id: &str) -> bool {
        self.current().files.contains_key(id)
    }

    /// Puts text at the end of a model's file, if the whole can then be used: written beside it first, and then put in its place.
    pub(crate) fn extend(&self, id: &str, addition: &str) -> Result<(), BenchError> {
        // Held, so that two extensions cannot each lose the other's.
        let state = self.current();
        let refused = |why: String| BenchError::Notes {
            id: id.to_owned(),
            why,
        };
        let unknown = || refused("there are none of this name".to_owned());
        let path = state
            .files
            .get(id)
            .map(|(_, model)| &model.path)
            .ok_or_else(unknown)?;
        let file = |error: &io::Error| BenchError::from_io(path, error);
        let mut text = fs::read_to_string(path).map_err(|error| file(&error))?;
        if !text.ends_with('\n') {
            text.push('\n');
        }
        text.push_str(addition);
        if let Err(problems) = parse_bytes(text.as_bytes(), Some(&format!("{id}.toml"))) {
            return Err(refused(format!(
                "they could not be used with it: {problems}"
            )));
        }
        let mut beside = NamedTempFile::new_in(&self.folder).map_err(|error| file(&error))?;
        beside
            .write_all(text.as_bytes())
            .map_err(|error| file(&error))?;
        beside.as_file().sync_all().map_err(|error| file(&error))?;
        beside.persist(path).map_err(|error| file(&error.error))?;
        Ok(())
    }

    /// Finds models by the words of their notes: one hit a model, best first.
    pub(crate) fn find(&self, text: &str, limit: u32) -> rusqlite::Result<Vec<Hit>> {
        let words = query_words(text);
        if words.is_empty() {
            return Ok(Vec::new());
        }
        let mut state = self.current();
        let index = match state.index.take() {
            Some(index) => index,
            None => make_index(state.files.values().map(|(_, model)| model))?,
        };
        let hits = search(&index, &words, limit);
        state.index = Some(index);
        hits
    }

    /// The state after looking whether a file came, went or changed. A thread that panicked here left at worst notes that are read
    /// anew, so a poisoned lock is taken over.
    fn current(&self) -> MutexGuard<'_, State> {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let found = list(&self.folder);
        let gone = state.files.keys().any(|id| !found.contains_key(id));
        state.files.retain(|id, _| found.contains_key(id));
        let mut changed = gone;
        for (id, (path, stamp)) in found {
            if state
                .files
                .get(&id)
                .is_none_or(|(known, _)| *known != stamp)
            {
                let model = read(id.clone(), path, stamp);
                state.files.insert(id, (stamp, model));
                changed = true;
            }
        }
        if changed {
            state.index = None;
        }
        state
    }
}

/// The files of notes; a folder that cannot be read holds none.
fn list(folder: &Path) -> BTreeMap<String, (PathBuf, Stamp)> {
    let Ok(entries) = fs::read_dir(folder) else {
        return BTreeMap::new();
    };
    entries
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let id = path.file_stem()?.to_str()?.to_owned();
            if path.extension()? != "toml" || id.starts_with('.') {
                return None;
            }
            let found = fs::metadata(&path).ok().filter(fs::Metadata::is_file)?;
            let stamp = Stamp {
                changed: found.modified().ok(),
                bytes: found.len(),
            };
            Some((id, (path, stamp)))
        })
        .collect()
}

fn read(id: String, path: PathBuf, stamp: Stamp) -> Model {
    let name = format!("{id}.toml");
    let bytes = if stamp.bytes > FILE_MAX_BYTES as u64 {
        Err(io::Error::other(format!(
            "has {} bytes, the most is {FILE_MAX_BYTES}",
            stamp.bytes
        )))
    } else {
        fs::read(&path)
    };
    let (notes, problems) = match bytes {
        Err(error) => (None, vec![format!("{name}: {}", in_words(&error))]),
        Ok(bytes) => match parse_bytes(&bytes, Some(&name)) {
            Ok((notes, warnings)) => (
                Some(Arc::new(notes)),
                warnings.iter().map(ToString::to_string).collect(),
            ),
            Err(problems) => (None, problems.iter().map(ToString::to_string).collect()),
        },
    };
    Model {
        id,
        path,
        notes,
        problems,
    }
}

fn make_index<'m>(models: impl Iterator<Item = &'m Model>) -> rusqlite::Result<Connection> {
    let index = Connection::open_in_memory()?;
    index.execute_batch(
        "CREATE VIRTUAL TABLE notes_text USING fts5 (words, matched UNINDEXED, id UNINDEXED, title UNINDEXED, \
         tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3'); BEGIN",
    )?;
    {
        let mut insert = index.prepare("INSERT INTO notes_text VALUES (?1, ?2, ?3, ?4)")?;
        for model in models {
            let Some(notes) = &model.notes else { continue };
            let title = format!("{} {}", notes.model.maker, notes.model.name);
            for (matched, words) in words_of(notes) {
                insert.execute((words, matched, &model.id, &title))?;
            }
        }
    }
    index.execute_batch("COMMIT")?;
    Ok(index)
}

fn words_of(notes: &ServiceNotes) -> Vec<(&'static str, String)> {
    let model = &notes.model;
    let about = [&model.maker, &model.name, &model.kind, &model.summary].map(String::as_str);
    let mut words = vec![("model", about.join("\n"))];
    words.extend(
        notes
            .parts
            .values()
            .map(|part| ("part", format!("{}\n{}", part.name, part.at))),
    );
    words.extend(
        notes
            .circumstances
            .values()
            .map(|it| ("circumstance", it.name.clone())),
    );
    words.extend(notes.faults.values().map(|fault| {
        (
            "fault",
            format!(
                "{}\n{}",
                fault.name,
                fault.note.as_deref().unwrap_or_default()
            ),
        )
    }));
    words.extend(
        notes
            .signs
            .values()
            .map(|sign| ("sign", sign.question.clone())),
    );
    words.extend(notes.works.values().map(|work| ("work", work.name.clone())));
    words.extend(notes.settings.values().map(|setting| {
        (
            "setting",
            format!(
                "{}\n{}",
                setting.name,
                setting.note.as_deref().unwrap_or_default()
            ),
        )
    }));
    words.extend(
        notes
            .limits
            .values()
            .map(|limit| ("limit", limit.name().to_owned())),
    );
    words
}

fn search(index: &Connection, words: &[String], limit: u32) -> rusqlite::Result<Vec<Hit>> {
    let mut hits: Vec<Hit> = Vec::new();
    let mut statement = index.prepare_cached(
        "SELECT id, title, matched, snippet(notes_text, 0, char(0x2068), char(0x2069), '…', 12) \
         FROM notes_text WHERE notes_text MATCH ?1 ORDER BY matched <> 'model', rank LIMIT 400",
    )?;
    let mut rows = statement.query([words.join(" ")])?;
    while let Some(row) = rows.next()? {
        let place = HitIn::Notes(row.get(0)?);
        if hits.iter().any(|hit| hit.place == place) {
            continue;
        }
        let excerpt: String = row.get(3)?;
        hits.push(Hit {
            place,
            title: row.get(1)?,
            matched: format!("service notes: {}", row.get_ref(2)?.as_str()?),
            excerpt: excerpt.split_whitespace().collect::<Vec<_>>().join(" "),
        });
        if hits.len() >= usize::try_from(limit).unwrap_or(usize::MAX) {
            break;
        }
    }
    Ok(hits)
}

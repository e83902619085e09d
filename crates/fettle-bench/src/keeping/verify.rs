//! Looking a bench through: pages, journal against tables, every file against its name.

use std::{
    collections::{BTreeMap, HashSet},
    path::Path,
};

use super::{
    finding::{Finding, FindingKind as Kind, Verified},
    journal::{Gap, Retold, retell},
    place::{Place, refuse_state},
    schedule::BackupLog,
    shelves::{self, Named},
    source::{Snapshot, Source, in_short, temporary_folder},
    step::{Progress, Step},
    tables,
};
use crate::{
    error::{BenchError, in_words},
    files::{Folder, Shelf},
    ids::EntryId,
    store::{self, Durability, Store},
};

/// Looks a bench or a backup through and says all that is wrong. Nothing of it is altered; the bench may be open meanwhile.
///
/// # Errors
/// When the folder is neither, was made by a newer version, or there is no room for what must be compared. Damage is no error.
pub fn verify(dir: &Path) -> Result<Verified, BenchError> {
    verify_with(dir, &mut |_| {})
}

/// The same, telling how far it is.
///
/// # Errors
/// As for [`verify`].
pub fn verify_with(dir: &Path, progress: &mut Progress<'_>) -> Result<Verified, BenchError> {
    refuse_state(dir)?;
    if let Some(backup) = Place::open(dir)? {
        return verify_backup(&backup, progress);
    }
    let folder = Folder::new(dir, Durability::EachChange);
    let db = folder.database();
    if !db.is_file() {
        return Err(BenchError::NotABench {
            dir: dir.to_owned(),
        });
    }
    let mut verified = nothing_yet(dir, false);
    let named = verify_database(&db, &folder, &mut verified, progress)?;
    verify_files(dir, named.as_deref(), &mut verified, progress);
    name_the_folders(dir, &mut verified);
    Ok(verified)
}

fn nothing_yet(dir: &Path, is_backup: bool) -> Verified {
    Verified {
        folder: dir.to_owned(),
        is_backup,
        entries: 0,
        files: 0,
        files_bytes: 0,
        unnamed: 0,
        states: 0,
        findings: Vec::new(),
    }
}

/// Names the folders in what is to be done; where the backup that was made last can be reached, it is looked whether it has what is
/// gone here.
fn name_the_folders(dir: &Path, verified: &mut Verified) {
    let good = BackupLog::read(dir).last_good;
    for finding in &mut verified.findings {
        finding.remedy = finding.remedy.replace(THIS, &dir.display().to_string());
        let Some(good) = &good else { continue };
        let there = good.folder.join(&finding.about);
        let hash = finding.about.rsplit('/').next().and_then(shelves::hash_in);
        let whole = hash.and_then(|hash| shelves::is_whole(&there, hash).ok().flatten());
        finding.remedy = match whole {
            Some(_) => format!(
                "The backup has it whole: copy {} to {}.",
                there.display(),
                dir.join(&finding.about).display()
            ),
            None => finding
                .remedy
                .replace(BACKUP, &good.folder.display().to_string()),
        };
    }
}

/// Stands for the folder that is looked through.
const THIS: &str = "THIS-FOLDER";
/// Stands for the folder of its backup.
const BACKUP: &str = "BACKUP";

/// Looks a backup through: the newest state that is whole as a bench is, the others against their hashes, and every file.
fn verify_backup(backup: &Place, progress: &mut Progress<'_>) -> Result<Verified, BenchError> {
    let mut verified = nothing_yet(&backup.dir, true);
    let states = backup.states()?;
    verified.states = states.len() as u64;
    let damaged = |state: &str, why: &str| {
        Finding {
        kind: Kind::StateDamaged,
        about: state.to_owned(),
        damaged: format!("The state {state} of the backup is damaged: {why}."),
        lost: "This state of the record; the others stand for themselves.".to_owned(),
        remedy: "Make a new backup now, best also on another disk, and do not trust this one: disks seldom lose one file only.".to_owned(),
    }
    };
    if states.is_empty() {
        verified.findings.push(damaged(
            "(none)",
            "it holds no state of the record, for no backup was ever finished",
        ));
    }
    let mut named: Vec<Named> = Vec::new();
    let mut is_looked_through = false;
    for (n, state) in states.iter().enumerate().rev() {
        progress(Step::new(
            "states",
            (states.len() - n) as u64,
            states.len() as u64,
        ));
        let manifest = match state.manifest() {
            Ok(manifest) => manifest,
            Err(error) => {
                verified
                    .findings
                    .push(damaged(&state.name(), &error.to_string()));
                continue;
            }
        };
        let notes = manifest
            .notes
            .iter()
            .map(|note| (state.notes().join(&note.name), note));
        let mut is_whole = true;
        for (path, file) in std::iter::once((state.database(), &manifest.database)).chain(notes) {
            let why = match shelves::is_whole(&path, &file.blake3) {
                Ok(Some(_)) => continue,
                Ok(None) => "it is not as it was written".to_owned(),
                Err(error) => in_words(&error),
            };
            is_whole = false;
            verified
                .findings
                .push(damaged(&state.name(), &format!("{}: {why}", file.name)));
        }
        if is_whole && !is_looked_through {
            is_looked_through = true;
            let folder = Folder::new(&backup.dir, Durability::EachChange);
            let known = verify_database(&state.database(), &folder, &mut verified, progress)?;
            named.extend(known.unwrap_or_default());
        }
        let known: HashSet<String> = named.iter().map(Named::place).collect();
        let words = format!("A file of the state {}", state.name());
        named.extend(
            manifest
                .files
                .iter()
                .filter(|place| !known.contains(*place))
                .filter_map(|place| Named::at(place, words.clone())),
        );
    }
    verify_files(&backup.dir, Some(&named), &mut verified, progress);
    for finding in &mut verified.findings {
        finding.remedy = match finding.kind {
            Kind::FileMissing | Kind::FileDamaged | Kind::Unreadable => {
                "Run fettle backup with --check: it copies it anew where the bench has it whole."
                    .to_owned()
            }
            Kind::StateDamaged => continue,
            _ => format!(
                "Make a new backup from the bench. To restore, take an earlier state: fettle restore {} NEW-FOLDER --as-of NUMBER.",
                backup.dir.display()
            ),
        };
    }
    Ok(verified)
}

/// Looks a database through; gives the files that it names, `None` when it cannot be opened.
pub(crate) fn verify_database(
    db: &Path,
    folder: &Folder,
    verified: &mut Verified,
    progress: &mut Progress<'_>,
) -> Result<Option<Vec<Named>>, BenchError> {
    let temporary = temporary_folder()?;
    let path = temporary.path().join("copy.db");
    let opened = Source::open(db)
        .and_then(|source| source.copy_to(&path, progress))
        .and_then(|()| Snapshot::open(&path, db));
    let mut copy = match opened {
        Ok(copy) => copy,
        Err(BenchError::Corrupt { why, .. }) => {
            verified.findings.push(Finding {
                kind: Kind::DatabaseUnreadable,
                about: name_of(db),
                damaged: format!("The database cannot be opened: {why}."),
                lost: "The whole record, as far as this file goes; the files beside it are looked at below.".to_owned(),
                remedy: "Leave the folder as it is and restore the newest backup into another one: fettle restore BACKUP NEW-FOLDER.".to_owned(),
            });
            return Ok(None);
        }
        Err(error) => return Err(error),
    };
    progress(Step::new("pages", 0, 1));
    let damage = copy.damage(true);
    progress(Step::new("pages", 1, 1));
    let is_damaged = !damage.is_empty();
    let up_to_date = copy.bring_up_to_date();
    let retold = retell_beside(&copy, db, folder, temporary.path(), progress)?;
    verified.entries += retold.1.read;
    if is_damaged {
        verified
            .findings
            .push(damaged_database(db, &damage, &retold.1));
    }
    verified.findings.extend(journal_findings(&retold.1));
    match up_to_date {
        Ok(()) if retold.1.is_whole() => {
            compare(&copy, &retold.0, is_damaged, verified, progress);
        }
        Err(why) if !is_damaged => verified
            .findings
            .push(damaged_database(db, &[why], &retold.1)),
        _ => {}
    }
    Ok(Some(shelves::named_by(&copy.connection)))
}

/// Tells the journal to an empty database in the temporary folder.
fn retell_beside(
    copy: &Snapshot,
    db: &Path,
    folder: &Folder,
    temporary: &Path,
    progress: &mut Progress<'_>,
) -> Result<(Store, Retold), BenchError> {
    let path = temporary.join("retold.db");
    store::make(&path)?;
    let store = Store::open(&path, Durability::AtTheEnd)?;
    let believing = folder.clone().believing();
    let retold = retell(
        &copy.connection,
        db,
        EntryId::LATEST,
        &store,
        &believing,
        progress,
    )?;
    Ok((store, retold))
}

fn damaged_database(db: &Path, damage: &[String], retold: &Retold) -> Finding {
    let lost = if retold.is_whole() {
        format!(
            "Nothing of the journal: all {} entries can be read, and the record can be made anew from them.",
            retold.read
        )
    } else {
        "What the damaged pages held; what of the journal cannot be read is told below.".to_owned()
    };
    Finding {
        kind: Kind::DatabaseDamaged,
        about: name_of(db),
        damaged: format!("The database is damaged: {}.", in_short(damage)),
        lost,
        remedy: "Leave the folder as it is. With a backup: fettle restore BACKUP NEW-FOLDER --since THIS-FOLDER, which also brings what was \
                 recorded after it. Without one: fettle restore THIS-FOLDER NEW-FOLDER --with-losses, which makes the record anew from its journal."
            .to_owned(),
    }
}

fn journal_findings(retold: &Retold) -> Vec<Finding> {
    let gap = |gap: &Gap| {
        let (first, last) = (gap.first, gap.last);
        let which = if first == last {
            format!("Entry {first} of the journal is missing or cannot be read.")
        } else {
            format!("Entries {first} to {last} of the journal are missing or cannot be read.")
        };
        Finding {
            kind: Kind::JournalGap,
            about: format!("{first}-{last}"),
            damaged: which,
            lost: format!("What was recorded in {}.", if first == last { "it" } else { "them" }),
            remedy: "Restore a backup that holds them: fettle restore BACKUP NEW-FOLDER --since THIS-FOLDER.".to_owned(),
        }
    };
    let mut findings: Vec<Finding> = retold.gaps.iter().map(gap).collect();
    if let Some((entry, why)) = &retold.refused {
        findings.push(Finding {
            kind: Kind::JournalRefused,
            about: entry.to_string(),
            damaged: format!("Entry {entry} of the journal cannot be told anew: {why}."),
            lost: "Perhaps nothing: the tables may still hold what it did. Journal and tables could not be held against each other.".to_owned(),
            remedy: "Make a backup into a new folder before anything else, and restore an older backup beside it to compare.".to_owned(),
        });
    }
    findings
}

/// Holds every table against what the journal gives.
fn compare(
    copy: &Snapshot,
    retold: &Store,
    is_damaged: bool,
    verified: &mut Verified,
    progress: &mut Progress<'_>,
) {
    let finding = |table: &str, damaged: String| {
        Finding {
        kind: Kind::TableDiffers,
        about: table.to_owned(),
        damaged,
        lost: "Nothing of the journal; what the pages show of it may be wrong.".to_owned(),
        remedy: "Make the record anew from its journal: fettle restore THIS-FOLDER NEW-FOLDER --with-losses.".to_owned(),
    }
    };
    let anew = retold.writer();
    let names = match tables::names(&anew) {
        Ok(names) => names,
        Err(error) => {
            verified.findings.push(finding(
                "sqlite_schema",
                format!("The tables cannot be listed: {error}."),
            ));
            return;
        }
    };
    for (n, table) in names.iter().enumerate() {
        match tables::compare(&copy.connection, &anew, table) {
            Ok(None) => {}
            Ok(Some(differs)) => verified.findings.push(finding(
                table,
                format!(
                    "The table {table} is not what the journal gives, in {}: {}.",
                    if differs.rows == 1 {
                        "1 row".to_owned()
                    } else {
                        format!("{} rows", differs.rows)
                    },
                    differs.first
                ),
            )),
            // The damage was told before.
            Err(_) if is_damaged => {}
            Err(error) => verified.findings.push(finding(
                table,
                format!("The table {table} cannot be read: {error}."),
            )),
        }
        progress(Step::new("tables", n as u64 + 1, names.len() as u64));
    }
}

/// Holds every file against its name, and the shelves against what is named.
pub(crate) fn verify_files(
    dir: &Path,
    named: Option<&[Named]>,
    verified: &mut Verified,
    progress: &mut Progress<'_>,
) {
    let mut wanted: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for named in named.unwrap_or_default() {
        wanted.entry(named.place()).or_default().push(&named.words);
    }
    let words = |place: &str| {
        wanted.get(place).map_or_else(
            || "A file that nothing in the record names".to_owned(),
            |words| capital(&in_few(words)),
        )
    };
    let mut lying: Vec<(Shelf, String)> = Vec::new();
    for shelf in Shelf::ALL {
        match shelves::kept_on(dir, shelf) {
            Ok(names) => lying.extend(names.into_iter().map(|name| (shelf, name))),
            Err(error) => verified.findings.push(Finding {
                kind: Kind::Unreadable,
                about: shelf.name().to_owned(),
                damaged: format!("The folder {} cannot be read: {error}.", shelf.name()),
                lost: "Nothing is said of the files in it.".to_owned(),
                remedy: "Look at the permissions of the folder, and at the disk.".to_owned(),
            }),
        }
    }
    let mut findings = Vec::new();
    let mut done = 0;
    shelves::at_once(
        &lying,
        |(shelf, name)| {
            let path = dir.join(shelf.name()).join(name);
            shelves::is_whole(&path, shelves::hash_in(name).unwrap_or_default())
        },
        |(shelf, name), whole| {
            done += 1;
            progress(Step::new("files", done, lying.len() as u64));
            let place = shelves::place(*shelf, name);
            match whole {
                Ok(Some(bytes)) => {
                    verified.files += 1;
                    verified.files_bytes += bytes;
                }
                Ok(None) => findings.push(Finding {
                    kind: Kind::FileDamaged,
                    damaged: format!(
                        "The file {place} is not what its name says: it was altered or torn."
                    ),
                    lost: format!("{}.", words(&place)),
                    remedy: FROM_BACKUP.to_owned(),
                    about: place,
                }),
                Err(error) => findings.push(Finding {
                    kind: Kind::Unreadable,
                    damaged: format!("The file {place} cannot be read: {}.", in_words(&error)),
                    lost: format!("{}, unless the disk gives it back.", words(&place)),
                    remedy: FROM_BACKUP.to_owned(),
                    about: place,
                }),
            }
        },
    );
    let there: HashSet<String> = lying
        .iter()
        .map(|(shelf, name)| shelves::place(*shelf, name))
        .collect();
    for place in wanted.keys().filter(|place| !there.contains(*place)) {
        let unreadable = verified.findings.iter().any(|it| {
            it.kind == Kind::Unreadable && place.split('/').next() == Some(it.about.as_str())
        });
        if !unreadable {
            findings.push(Finding {
                kind: Kind::FileMissing,
                about: place.clone(),
                damaged: format!("The file {place} is missing."),
                lost: format!("{}.", words(place)),
                remedy: FROM_BACKUP.to_owned(),
            });
        }
    }
    if named.is_some() {
        verified.unnamed += there
            .iter()
            .filter(|place| !wanted.contains_key(*place))
            .count() as u64;
    }
    findings.sort_by(|a, b| a.about.cmp(&b.about));
    verified.findings.extend(findings);
}

const FROM_BACKUP: &str = "Copy the file of the same name from the same folder of a backup; fettle verify BACKUP says whether it is whole there.";

/// Things that are told by name where one file is all of them.
const NAMED: usize = 3;

fn in_few(words: &[&str]) -> String {
    let told: Vec<&str> = words.iter().take(NAMED).copied().collect();
    match words.len().saturating_sub(NAMED) {
        0 => told.join("; "),
        more => format!("{}; and {more} more with the same content", told.join("; ")),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The last part of a path.
fn name_of(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

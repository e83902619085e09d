//! A bench written out whole: tables for people, the journal for machines, the files, and a manifest with every hash.
//!
//! The format is described in `docs/export.md`.

pub(crate) mod journal;
pub(crate) mod manifest;
mod part;
pub(crate) mod tables;

use std::{
    ffi::OsString,
    fs, io,
    path::{Path, PathBuf},
};

use fettle_bench::{Bench, Out, Step, TABLES_VERSION, sync_folder};
use jiff::Timestamp;

use self::{
    manifest::{FORMAT, Manifest},
    part::Part,
    tables::TableFile,
};
use crate::error::MovingError;

/// Writes everything that a bench holds into a new folder. The same bench at the same moment gives the same bytes.
///
/// It is written beside its place and gets its name at the end, with all of it on the disk; what could not be written whole is taken
/// away again.
///
/// # Errors
/// When there is something at that place already, a kept file is missing or is not what its name says, or something cannot be read
/// or written.
pub fn export(
    bench: &Bench,
    to: &Path,
    at: Timestamp,
    progress: &mut dyn FnMut(Step),
) -> Result<Manifest, MovingError> {
    // The place itself is not there yet, so its parent tells where it lies.
    let parent = to.parent().filter(|parent| !parent.as_os_str().is_empty());
    let lies = fs::canonicalize(parent.unwrap_or(Path::new(".")));
    let within = fs::canonicalize(bench.dir());
    if matches!((lies, within), (Ok(lies), Ok(within)) if lies.starts_with(&within)) {
        return Err(MovingError::Place {
            path: to.to_owned(),
            why: "lies within the bench that is written out".to_owned(),
        });
    }
    with_new_folder(to, "exporting", |folder| fill(bench, folder, at, progress))
}

fn fill(
    bench: &Bench,
    folder: &Path,
    at: Timestamp,
    progress: &mut dyn FnMut(Step),
) -> Result<Manifest, MovingError> {
    let mut manifest = Manifest {
        format: FORMAT.to_owned(),
        program: concat!("fettle ", env!("CARGO_PKG_VERSION")).to_owned(),
        made_at: at,
        bench: bench.settings()?.name,
        tables_version: TABLES_VERSION,
        entries: 0,
        tables: Vec::new(),
        files: Vec::new(),
    };
    write_record(bench, folder, &mut manifest, progress)?;
    // Files come into a bench before the entry that names them, so those listed now are all that the record knows.
    let files = bench.kept_files()?;
    let of = files.len() as u64;
    for (n, file) in files.iter().enumerate() {
        let mut part = Part::create(folder, &file.name)?;
        let told = |error: io::Error| MovingError::io(&file.path, &error);
        io::copy(&mut fs::File::open(&file.path).map_err(told)?, &mut part).map_err(told)?;
        let note = part.end()?;
        if !note.fits_its_name() {
            return Err(MovingError::Kept {
                path: file.path.clone(),
            });
        }
        manifest.files.push(note);
        progress(Step::new("files", n as u64 + 1, of));
    }
    manifest.files.sort();
    manifest.write(folder)?;
    sync_folders(folder)?;
    Ok(manifest)
}

/// The tables and the journal, all of one moment.
fn write_record(
    bench: &Bench,
    folder: &Path,
    manifest: &mut Manifest,
    progress: &mut dyn FnMut(Step),
) -> Result<(), MovingError> {
    let of = u64::from(bench.journal(fettle_bench::Page::first(0))?.total);
    let mut table: Option<TableFile> = None;
    let mut journal = Part::create(folder, journal::FILE)?;
    let end = |table: Option<TableFile>, manifest: &mut Manifest| match table {
        None => Ok(()),
        Some(table) => {
            let (note, file) = table.end()?;
            manifest.tables.push(note);
            manifest.files.push(file);
            Ok::<(), MovingError>(())
        }
    };
    bench.tell_out(|out| {
        match out {
            Out::Table { name, columns } => {
                end(table.take(), manifest)?;
                table = Some(TableFile::begin(folder, name, columns)?);
            }
            Out::Row(cells) => {
                if let Some(table) = &mut table {
                    table.row(cells)?;
                }
            }
            Out::Entry {
                id,
                at,
                hand,
                group,
                change,
            } => {
                end(table.take(), manifest)?;
                journal::write(&mut journal, id, at, &hand, group, change)?;
                manifest.entries += 1;
                progress(Step::new("journal", manifest.entries, of));
            }
        }
        Ok::<(), MovingError>(())
    })?;
    end(table.take(), manifest)?;
    manifest.files.push(journal.end()?);
    Ok(())
}

/// Fills a folder beside its place and moves it there when it is whole; what is there at the end of a failure is taken away.
pub(crate) fn with_new_folder<T>(
    to: &Path,
    doing: &str,
    fill: impl FnOnce(&Path) -> Result<T, MovingError>,
) -> Result<T, MovingError> {
    let beside = beside(to, doing)?;
    let told = |error: io::Error| MovingError::io(to, &error);
    match fs::read_dir(to) {
        Ok(mut entries) => {
            if entries.next().is_some() {
                return Err(MovingError::Place {
                    path: to.to_owned(),
                    why: "is there already and not empty".to_owned(),
                });
            }
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Err(error) if error.kind() == io::ErrorKind::NotADirectory => {
            return Err(MovingError::Place {
                path: to.to_owned(),
                why: "is a file".to_owned(),
            });
        }
        Err(error) => return Err(told(error)),
    }
    fs::create_dir(&beside).map_err(|error| MovingError::io(&beside, &error))?;
    let filled = fill(&beside).and_then(|filled| {
        // An empty folder may stand at the place; renaming onto it is not possible everywhere.
        let _ = fs::remove_dir(to);
        fs::rename(&beside, to).map_err(told)?;
        let parent = to.parent().filter(|parent| !parent.as_os_str().is_empty());
        sync_folder(parent.unwrap_or(Path::new("."))).map_err(told)?;
        Ok(filled)
    });
    if filled.is_err() {
        // The first error is the one to tell.
        let _ = fs::remove_dir_all(&beside);
    }
    filled
}

/// A folder beside `to` that nobody else makes: hidden, and named after what is done and by which process.
fn beside(to: &Path, doing: &str) -> Result<PathBuf, MovingError> {
    let name = to.file_name().ok_or_else(|| MovingError::Place {
        path: to.to_owned(),
        why: "does not name a folder that can be made".to_owned(),
    })?;
    let mut hidden = OsString::from(".");
    hidden.push(name);
    hidden.push(format!(".{doing}-{}", std::process::id()));
    Ok(to.with_file_name(hidden))
}

fn sync_folders(folder: &Path) -> Result<(), MovingError> {
    let told = |error: io::Error| MovingError::io(folder, &error);
    for entry in fs::read_dir(folder).map_err(told)? {
        let path = entry.map_err(told)?.path();
        if path.is_dir() {
            sync_folder(&path).map_err(told)?;
        }
    }
    sync_folder(folder).map_err(told)
}

//! Writes photographs, recordings and papers. Their files are in the folder before the change is applied.

use super::{
    check::{check_line, check_prose},
    door::{Door, Outcome, Refusal},
};
use crate::{
    change::{PaperAttached, PhotoAttached, RecordingAttached},
    error::in_words,
    files::{FileRef, Files, Shelf},
    ids::{PaperId, PhotoId, RecordingId},
    journal::Made,
};

pub(crate) fn photo(door: &mut Door<'_>, mut it: PhotoAttached) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("caption", &it.caption, false)?;
    let bytes = check_file(door, Shelf::Photos, &it.file)?;
    if it.width_px == 0 || it.height_px == 0 {
        return Err(Refusal::rule("width_px", "is 0: a photograph has a size"));
    }
    let at = door.at.clone();
    let id = door.insert(
        "photo",
        &[
            ("visit_id", &visit.id.get()),
            ("hash", &it.file.hash),
            ("extension", &it.file.extension),
            ("length_bytes", &bytes),
            ("width_px", &it.width_px),
            ("height_px", &it.height_px),
            ("caption", &it.caption),
            ("stage", &it.stage.as_str()),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Photo(PhotoId::new(id))).at(&visit))
}

pub(crate) fn recording(
    door: &mut Door<'_>,
    mut it: RecordingAttached,
) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_prose("caption", &it.caption, false)?;
    let bytes = check_file(door, Shelf::Recordings, &it.file)?;
    let at = door.at.clone();
    let id = door.insert(
        "recording",
        &[
            ("visit_id", &visit.id.get()),
            ("hash", &it.file.hash),
            ("extension", &it.file.extension),
            ("length_bytes", &bytes),
            ("caption", &it.caption),
            ("stage", &it.stage.as_str()),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Recording(RecordingId::new(id))).at(&visit))
}

pub(crate) fn paper(door: &mut Door<'_>, mut it: PaperAttached) -> Result<Outcome, Refusal> {
    let visit = door.visit(it.visit)?;
    it.visit = visit.id;
    check_line("title", &it.title, false)?;
    let bytes = check_file(door, Shelf::Papers, &it.file)?;
    let at = door.at.clone();
    let id = door.insert(
        "paper",
        &[
            ("visit_id", &visit.id.get()),
            ("hash", &it.file.hash),
            ("extension", &it.file.extension),
            ("length_bytes", &bytes),
            ("paper", &it.paper.as_str()),
            ("title", &it.title),
            ("at_utc", &at),
        ],
    )?;
    Ok(Outcome::new(it, Made::Paper(PaperId::new(id))).at(&visit))
}

/// The file must lie on its shelf, as long as it says; its length is given as stored.
fn check_file(door: &Door<'_>, shelf: Shelf, file: &FileRef) -> Result<i64, Refusal> {
    if let Err(why) = file.check() {
        return Err(Refusal::rule("file", why));
    }
    let length =
        |bytes: u64| i64::try_from(bytes).map_err(|_| Refusal::rule("file", "is too long"));
    if door.folder.files() == Files::Believed {
        return length(file.bytes);
    }
    let path = door.folder.file(shelf, file);
    match std::fs::metadata(&path) {
        Ok(found) if found.len() == file.bytes => length(file.bytes),
        Ok(found) => Err(Refusal::rule(
            "file",
            format!(
                "{} has {} bytes instead of {}: keep it anew",
                path.display(),
                found.len(),
                file.bytes
            ),
        )),
        Err(error) => Err(Refusal::rule(
            "file",
            format!(
                "{}: {}: keep the file first",
                path.display(),
                in_words(&error)
            ),
        )),
    }
}

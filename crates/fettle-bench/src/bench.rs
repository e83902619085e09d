//! One bench: the folder and its one door.

mod keeping;
mod moving;

use std::{collections::HashMap, path::Path, sync::Arc};

use fettle_measure::photograph::Picture;
use fettle_notes::ServiceNotes;
use jiff::{Timestamp, civil::Date};
use rusqlite::Connection;

use crate::{
    apply,
    catalogue::{Catalogue, Model},
    change::{
        BenchSettings, CameraDetails, Change, PaperAttached, PhotoAttached, RecordingAttached,
    },
    error::BenchError,
    files::{
        self, FileRef, Folder, Gate, PhotoSize, RECORDING_MAX_BYTES, RecordingDraft, Shelf,
        StoredFile, allow_reading, friendly_name, media_type, recording_extension, sync_folder,
    },
    ids::{
        CameraId, DonorId, DrawerId, EntryId, LotId, OwnerId, PaperId, PartId, PhotoId,
        RecordingId, RowId, VisitId,
    },
    journal::{Applied, Entry, Hand},
    keeping::refuse_state,
    lessons::Lessons,
    outlook::Reckoned,
    read, replay,
    store::{self, Durability, Store},
    sums::{SumsKept, learned},
    taught::Taught,
    view::{
        BenchToday, CameraLine, CameraView, DayAhead, DonorLine, DonorView, DrawerLine, DrawerView,
        GoingHome, Hit, Learned, LearnedFilter, LikePart, Lot, OwnerLine, OwnerView, Page, Paged,
        PartFilter, PartList, PartView, Use, VisitFilter, VisitLine, VisitView,
    },
    words::{PaperKind, Stage},
};

/// The longest paper that is taken.
const PAPER_MAX_BYTES: usize = 50_000_000;
/// How many photographs are decoded at once; each may take 600 MB.
const DECODED_AT_ONCE: usize = 1;
/// The longer side of a photograph on a page.
const DISPLAY_SIDE_PX: u32 = 1600;
/// The longer side of a photograph in a list.
const THUMB_SIDE_PX: u32 = 320;

/// One bench. Cheap to share between threads in an [`Arc`].
#[derive(Debug)]
pub struct Bench {
    folder: Folder,
    pub(crate) store: Store,
    catalogue: Catalogue,
    taught: Taught,
    sums: SumsKept,
    pub(crate) reckoned: Reckoned,
    decoding: Gate,
    backing_up: keeping::Running,
}

impl Bench {
    /// From so many finished visits of a model is learned while somebody waits for the page.
    pub const LEARNED_AT_ONCE: usize = 25;
    /// From so many of the newest is learned at all: older ones say little more, and of other hands and other stocks of parts.
    pub const LEARNED_FROM: usize = 400;

    /// Makes a bench in this folder, which may exist if it holds no bench, and settles its name as the first entry.
    ///
    /// # Errors
    /// When the folder already is a bench or cannot be written, or a setting breaks a rule; folders made for it are taken away.
    pub fn create(
        dir: &Path,
        settings: BenchSettings,
        by: &Hand,
        at: Timestamp,
    ) -> Result<Self, BenchError> {
        Self::make(dir, settings, by, at, |_| Ok(()))
    }

    /// Makes a bench as [`create`](Self::create) does and fills it before it gets its name. This is much faster than applying
    /// changes to a bench that is there, for nothing need survive until the whole does: for demos, imports and copies.
    ///
    /// # Errors
    /// As for [`create`](Self::create), and what `fill` gives. No bench is left behind then, nor a folder made for it; kept files
    /// may be.
    pub fn make<E: From<BenchError>>(
        dir: &Path,
        settings: BenchSettings,
        by: &Hand,
        at: Timestamp,
        fill: impl FnOnce(&Self) -> Result<(), E>,
    ) -> Result<Self, E> {
        Self::make_with(dir, |bench| {
            bench.apply(by, at, vec![settings.into()])?;
            fill(bench)
        })
    }

    /// Opens the bench in this folder; an older one is brought up to date.
    ///
    /// # Errors
    /// When it is not a bench, was made by a newer version, or cannot be read.
    pub fn open(dir: &Path) -> Result<Self, BenchError> {
        let folder = Folder::new(dir, Durability::EachChange);
        let database = folder.database();
        if !database.is_file() {
            return Err(BenchError::NotABench {
                dir: dir.to_owned(),
            });
        }
        refuse_state(dir)?;
        Self::over(folder, &database, Durability::EachChange)
    }

    /// The folder.
    #[must_use]
    pub fn dir(&self) -> &Path {
        self.folder.dir()
    }

    /// Applies changes together or not at all: checks each against the rules, alters the tables and writes the journal. The
    /// time is the caller's.
    ///
    /// # Errors
    /// When a change breaks a rule ([`BenchError::Rule`] names the change and the field), names something unknown, or the
    /// database cannot be written. Nothing is changed then.
    pub fn apply(
        &self,
        by: &Hand,
        at: Timestamp,
        changes: Vec<Change>,
    ) -> Result<Applied, BenchError> {
        apply::apply(&self.store, &self.folder, by, at, changes)
    }

    /// The bench's own name, place and terms.
    ///
    /// # Errors
    /// When the database cannot be read; so for every reader below.
    pub fn settings(&self) -> Result<BenchSettings, BenchError> {
        self.read(read::settings)
    }

    /// The page for this day; what is held is looked at again from the day that was settled.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn today(&self, on: Date) -> Result<BenchToday, BenchError> {
        self.read(|connection| read::today(connection, on))
    }

    /// Days to remember, nearest first, for a calendar: by when what is here is promised, when what is held is to be looked at
    /// again, and the ends of the guarantees that last on this day.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn days_ahead(&self, on: Date) -> Result<Vec<DayAhead>, BenchError> {
        self.read(|connection| read::days_ahead(connection, on))
    }

    /// Everything of one visit.
    ///
    /// # Errors
    /// When there is no such visit, or the database cannot be read.
    pub fn visit(&self, visit: VisitId) -> Result<VisitView, BenchError> {
        self.read_known(visit, read::visit)
    }

    /// A camera over time.
    ///
    /// # Errors
    /// When there is no such camera, or the database cannot be read.
    pub fn camera(&self, camera: CameraId) -> Result<CameraView, BenchError> {
        self.read_known(camera, read::camera)
    }

    /// An owner with their cameras.
    ///
    /// # Errors
    /// When there is no such owner, or the database cannot be read.
    pub fn owner(&self, owner: OwnerId) -> Result<OwnerView, BenchError> {
        self.read_known(owner, read::owner)
    }

    /// Visits, newest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn visits(&self, filter: &VisitFilter, page: Page) -> Result<Paged<VisitLine>, BenchError> {
        self.read(|connection| read::visits(connection, filter, page))
    }

    /// Cameras by maker and model.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn cameras(&self, page: Page) -> Result<Paged<CameraLine>, BenchError> {
        self.read(|connection| read::cameras(connection, page))
    }

    /// Owners by name.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn owners(&self, page: Page) -> Result<Paged<OwnerLine>, BenchError> {
        self.read(|connection| read::owners(connection, page))
    }

    /// What can leave, and what holds the rest.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn going_home(&self) -> Result<Vec<GoingHome>, BenchError> {
        self.read(read::going_home)
    }

    /// What the finished visits of the bench, or of one model, add up to.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn learned(&self, filter: &LearnedFilter) -> Result<Learned, BenchError> {
        let sums = self.sums.current(&self.store)?;
        learned(&sums, filter).map_err(|error| self.store.error(&error))
    }

    /// Puts an entry at the end of a model's service notes.
    ///
    /// # Errors
    /// When there are no such notes, they could not be used with it, or the file cannot be written. It is left as it was then.
    pub fn extend_notes(&self, id: &str, addition: &str) -> Result<(), BenchError> {
        self.catalogue.extend(id, addition)
    }

    /// What the newest finished visits of a model taught, up to [`LEARNED_FROM`](Self::LEARNED_FROM) of them; `None` without usable
    /// notes. It is learned anew when one of them, or the notes, changed: at once from up to
    /// [`LEARNED_AT_ONCE`](Self::LEARNED_AT_ONCE) visits. From more it takes seconds: then the last lessons are given, `None` at first,
    /// and the model is put off until [`learn`](Self::learn) catches up.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn lessons(&self, notes_id: &str) -> Result<Option<Arc<Lessons>>, BenchError> {
        self.lessons_of(notes_id, Self::LEARNED_AT_ONCE)
    }

    /// The same, as it stands now, however long that takes.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn learn(&self, notes_id: &str) -> Result<Option<Arc<Lessons>>, BenchError> {
        let _alone = self.taught.alone();
        self.lessons_of(notes_id, usize::MAX)
    }

    fn lessons_of(
        &self,
        notes_id: &str,
        at_once: usize,
    ) -> Result<Option<Arc<Lessons>>, BenchError> {
        let Some(notes) = self.notes(notes_id) else {
            return Ok(None);
        };
        let mut from = self.sums.current(&self.store)?.finished(notes_id);
        from.drain(..from.len().saturating_sub(Self::LEARNED_FROM));
        if let Some(known) = self.taught.known(notes_id, &notes, &from) {
            return Ok(Some(known));
        }
        if from.len() > at_once {
            self.taught.put_off(notes_id);
            return Ok(self.taught.last(notes_id, &notes));
        }
        let read = |visit| self.visit(visit);
        self.taught.learn(notes_id, &notes, from, read).map(Some)
    }

    /// A model that [`lessons`](Self::lessons) put off, to be given to [`learn`](Self::learn); `None` while another is learned.
    #[must_use]
    pub fn lessons_due(&self) -> Option<String> {
        self.taught.take_due()
    }

    /// Every drawer by its name.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn drawers(&self) -> Result<Vec<DrawerLine>, BenchError> {
        self.read(read::drawers)
    }

    /// A drawer and what lies in it.
    ///
    /// # Errors
    /// When there is no such drawer, or the database cannot be read.
    pub fn drawer(&self, drawer: DrawerId) -> Result<DrawerView, BenchError> {
        self.read_known(drawer, read::drawer)
    }

    /// Parts that a filter leaves, in its order; the moment is for those that last least at the use up to then.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn parts(
        &self,
        filter: &PartFilter,
        page: Page,
        at: Timestamp,
    ) -> Result<PartList, BenchError> {
        self.read(|connection| read::parts(connection, filter, page, at))
    }

    /// One kind of part: its lots, movements and use.
    ///
    /// # Errors
    /// When there is no such part, or the database cannot be read.
    pub fn part(&self, part: PartId) -> Result<PartView, BenchError> {
        self.read_known(part, read::part)
    }

    /// The use of these parts since they are kept, oldest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn uses(&self, parts: &[PartId]) -> Result<HashMap<PartId, Vec<Use>>, BenchError> {
        self.read(|connection| read::uses(connection, parts))
    }

    pub(crate) fn like_parts(&self, model: &str, even: bool) -> Result<Vec<LikePart>, BenchError> {
        self.read(|connection| read::like_parts(connection, model, even))
    }

    /// One lot.
    ///
    /// # Errors
    /// When there is no such lot, or the database cannot be read.
    pub fn lot(&self, lot: LotId) -> Result<Lot, BenchError> {
        self.read_known(lot, read::lot)
    }

    /// The lots with pieces in a drawer that fit a camera: those of its notes, those of other models that fit it by their notes, and
    /// those of no notes that belong to its model or to none.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn lots_for(&self, camera: &CameraDetails) -> Result<Vec<Lot>, BenchError> {
        let notes_id = camera.notes_id.as_deref();
        let fitting = notes_id.map(|id| self.fitting(id)).unwrap_or_default();
        self.read(|connection| read::lots_for(connection, notes_id, &fitting, &camera.name()))
    }

    /// The parts of other models that fit this one by their notes: each model's id with the part's.
    #[must_use]
    pub fn fitting(&self, notes_id: &str) -> Vec<(String, String)> {
        let models = self.catalogue.models();
        let of = |model: &Model| -> Vec<(String, String)> {
            let notes = model.notes.iter();
            notes
                .flat_map(|notes| notes.parts.iter())
                .filter(|(_, part)| part.fits.iter().any(|fits| fits.as_str() == notes_id))
                .map(|(id, _)| (model.id.clone(), id.as_str().to_owned()))
                .collect()
        };
        models.iter().flat_map(of).collect()
    }

    /// Every donor by its model.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn donors(&self) -> Result<Vec<DonorLine>, BenchError> {
        self.read(read::donors)
    }

    /// A donor and what is on it.
    ///
    /// # Errors
    /// When there is no such donor, or the database cannot be read.
    pub fn donor(&self, donor: DonorId) -> Result<DonorView, BenchError> {
        self.read_known(donor, read::donor)
    }

    /// The whole journal, newest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn journal(&self, page: Page) -> Result<Paged<Entry>, BenchError> {
        self.read(|connection| read::journal(connection, page))
    }

    /// One entry of the journal with its change.
    ///
    /// # Errors
    /// When there is no such entry, or a newer version wrote it.
    pub fn entry(&self, entry: EntryId) -> Result<(Entry, Change), BenchError> {
        let (told, json) = self.read_known(entry, read::entry)?;
        let change = replay::change_of(self.store.path(), entry, &json)?;
        Ok((told, change))
    }

    /// Finds anything: visit numbers and serial numbers that are exactly that come first, then by rank. Any text is safe.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn find(&self, text: &str, limit: u32) -> Result<Vec<Hit>, BenchError> {
        let mut hits = self.read(|connection| read::find(connection, text, limit))?;
        let notes = self
            .catalogue
            .find(text, limit)
            .map_err(|error| self.store.error(&error))?;
        // Before what only the journal says, and not crowded out by very many rows.
        let limit = usize::try_from(limit).unwrap_or(usize::MAX);
        let place = hits
            .iter()
            .position(|hit| hit.matched == "journal")
            .unwrap_or(hits.len())
            .min(limit.saturating_sub(notes.len()));
        hits.splice(place..place, notes);
        hits.truncate(limit);
        Ok(hits)
    }

    /// Keeps a photograph in the folder and gives the change that attaches it. Its smaller sizes are made now where that can be
    /// done, else when they are first asked for.
    ///
    /// # Errors
    /// When the bytes are not a JPEG, PNG or WebP photograph, are too large, or cannot be written.
    pub fn keep_photo(
        &self,
        visit: VisitId,
        stage: Stage,
        caption: &str,
        bytes: &[u8],
    ) -> Result<Change, BenchError> {
        self.decoding(|| self.keep_picture(visit, stage, caption, bytes, &Picture::read(bytes)?))
    }

    /// The same for a photograph that was decoded from these bytes already.
    ///
    /// # Errors
    /// When the bytes cannot be written.
    pub fn keep_picture(
        &self,
        visit: VisitId,
        stage: Stage,
        caption: &str,
        bytes: &[u8],
        picture: &Picture,
    ) -> Result<Change, BenchError> {
        let file = self
            .folder
            .keep(Shelf::Photos, bytes, picture.extension())?;
        for size in [PhotoSize::Display, PhotoSize::Thumb] {
            // The original is what is kept; the rest is made again from it.
            let _ = self.make_smaller(&file, size, picture);
        }
        let caption = caption.to_owned();
        Ok(PhotoAttached {
            visit,
            file,
            width_px: picture.width(),
            height_px: picture.height(),
            caption,
            stage,
        }
        .into())
    }

    /// Does work that decodes a photograph, one at a time: a large one takes much memory.
    pub fn decoding<T>(&self, work: impl FnOnce() -> T) -> T {
        let _place = self.decoding.enter();
        work()
    }

    /// The change that attaches a photograph kept before; all that it says of the file is read from the file.
    ///
    /// # Errors
    /// When no such file is kept, or it is no photograph.
    pub fn photo_kept(
        &self,
        visit: VisitId,
        stage: Stage,
        caption: &str,
        file: &FileRef,
    ) -> Result<Change, BenchError> {
        file.check().map_err(|why| BenchError::Rule {
            index: 0,
            kind: "photo-attached",
            field: "file",
            why,
        })?;
        let path = self.folder.file(Shelf::Photos, file);
        let bytes = std::fs::read(&path).map_err(|error| BenchError::from_io(&path, &error))?;
        self.keep_photo(visit, stage, caption, &bytes)
    }

    /// Keeps a recording in the folder and gives the change that attaches it. `name` is the file's name as given, for its ending;
    /// where it has none that can be used, the content tells it.
    ///
    /// # Errors
    /// When it is empty, too large, or cannot be written.
    pub fn keep_recording(
        &self,
        visit: VisitId,
        stage: Stage,
        caption: &str,
        name: &str,
        bytes: &[u8],
    ) -> Result<Change, BenchError> {
        let extension = recording_extension(name, bytes);
        check_bytes(
            "recording",
            "recording-attached",
            bytes,
            RECORDING_MAX_BYTES,
            &extension,
        )?;
        let file = self.folder.keep(Shelf::Recordings, bytes, &extension)?;
        Ok(recording_attached(visit, stage, caption, file))
    }

    /// Begins a recording that is written into the folder while it is made.
    ///
    /// # Errors
    /// When no file can be made there, or the ending is not that of a file name.
    pub fn begin_recording(&self, extension: &str) -> Result<RecordingDraft, BenchError> {
        check_bytes(
            "recording",
            "recording-attached",
            b"begun",
            RECORDING_MAX_BYTES,
            extension,
        )?;
        RecordingDraft::begin(&self.folder, extension)
    }

    /// Keeps what a draft holds and gives the change that attaches it; the draft can then be dropped.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn keep_draft(
        &self,
        visit: VisitId,
        stage: Stage,
        caption: &str,
        draft: &RecordingDraft,
    ) -> Result<Change, BenchError> {
        let file = draft.keep(&self.folder)?;
        Ok(recording_attached(visit, stage, caption, file))
    }

    /// Keeps a paper (PDF, or SVG for a tag) in the folder and gives the change that attaches it.
    ///
    /// # Errors
    /// When it is empty, too large, or cannot be written.
    pub fn keep_paper(
        &self,
        visit: VisitId,
        paper: PaperKind,
        title: &str,
        extension: &str,
        bytes: &[u8],
    ) -> Result<Change, BenchError> {
        check_bytes("paper", "paper-attached", bytes, PAPER_MAX_BYTES, extension)?;
        let file = self.folder.keep(Shelf::Papers, bytes, extension)?;
        Ok(PaperAttached {
            visit,
            file,
            paper,
            title: title.to_owned(),
        }
        .into())
    }

    /// The file of a photograph in the size wanted; smaller sizes are made when first asked for.
    ///
    /// # Errors
    /// When there is no such photograph, or its file is gone.
    pub fn photo_file(&self, photo: PhotoId, size: PhotoSize) -> Result<StoredFile, BenchError> {
        let file = self.read_known(photo, read::file_of)?;
        let path = self.folder.smaller(&file, size);
        let called = format!("photograph {photo}");
        if size == PhotoSize::Original {
            return self.hand_out(Shelf::Photos, &file, "", &called);
        }
        if !path.is_file() {
            let original = self.hand_out(Shelf::Photos, &file, "", &called)?;
            let bytes = std::fs::read(&original.path)
                .map_err(|error| BenchError::from_io(&original.path, &error))?;
            let _place = self.decoding.enter();
            self.make_smaller(&file, size, &Picture::read(&bytes)?)?;
        }
        Folder::lies_here(&path)?;
        Ok(StoredFile {
            path,
            media_type: media_type("jpg"),
            name: friendly_name("", &called, "jpg"),
        })
    }

    /// The file of a recording.
    ///
    /// # Errors
    /// When there is no such recording, or its file is gone.
    pub fn recording_file(&self, recording: RecordingId) -> Result<StoredFile, BenchError> {
        let file = self.read_known(recording, read::file_of)?;
        self.hand_out(
            Shelf::Recordings,
            &file,
            "",
            &format!("recording {recording}"),
        )
    }

    /// The file of a paper, called by its title.
    ///
    /// # Errors
    /// When there is no such paper, or its file is gone.
    pub fn paper_file(&self, paper: PaperId) -> Result<StoredFile, BenchError> {
        let file = self.read_known(paper, read::file_of)?;
        let title = self.read_known(paper, read::paper_title)?;
        self.hand_out(Shelf::Papers, &file, &title, &format!("paper {paper}"))
    }

    /// All service notes in the folder by model id, read again when a file has changed. Broken notes are listed with what is
    /// wrong.
    #[must_use]
    pub fn models(&self) -> Vec<Model> {
        self.catalogue.models()
    }

    /// The service notes of one model; `None` when there are none that can be used.
    #[must_use]
    pub fn notes(&self, id: &str) -> Option<Arc<ServiceNotes>> {
        self.catalogue.notes(id)
    }

    /// Whether the folder has service notes of this model, usable or not. A camera may name notes that were taken out of it.
    #[must_use]
    pub fn has_notes(&self, id: &str) -> bool {
        self.catalogue.has(id)
    }

    /// Replays this bench's journal into a new bench in an empty folder: the same entries, the same tables, the same files. The
    /// service notes are not part of the journal; copy them beside it.
    ///
    /// # Errors
    /// When the folder already is a bench, an entry was written by a newer version, or something cannot be read or written.
    pub fn replay(&self, into: &Path) -> Result<Self, BenchError> {
        Self::make_with(into, |bench| {
            replay::copy_files(&self.folder, &bench.folder)?;
            replay::replay(&self.store, |by, at, changes| {
                bench.apply(by, at, changes).map(drop)
            })
        })
    }

    /// Looks whether the database is whole, page by page and key by key.
    ///
    /// # Errors
    /// [`BenchError::Corrupt`] with what is wrong.
    pub fn check(&self) -> Result<(), BenchError> {
        let told: Vec<String> = self.read(|connection| {
            let mut told: Vec<String> = connection
                .prepare("PRAGMA integrity_check(20)")?
                .query_map([], |row| row.get(0))?
                .collect::<rusqlite::Result<_>>()?;
            told.retain(|line| line != "ok");
            let loose: i64 = connection.query_row(
                "SELECT count(*) FROM pragma_foreign_key_check",
                [],
                |row| row.get(0),
            )?;
            if loose > 0 {
                told.push(format!("{loose} rows hang on rows that are gone"));
            }
            Ok(told)
        })?;
        if told.is_empty() {
            return Ok(());
        }
        Err(BenchError::Corrupt {
            db: self.store.path().to_owned(),
            why: told.join("; "),
        })
    }

    /// Makes a bench under a temporary name, fills it, and only then gives it its name: a bench is there whole or not at all.
    fn make_with<E: From<BenchError>>(
        dir: &Path,
        fill: impl FnOnce(&Self) -> Result<(), E>,
    ) -> Result<Self, E> {
        let folder = Folder::new(dir, Durability::AtTheEnd);
        let database = folder.database();
        if database.exists() {
            return Err(BenchError::AlreadyABench {
                dir: dir.to_owned(),
            }
            .into());
        }
        let folders = folder.make()?;
        let told = |error: std::io::Error| BenchError::from_io(dir, &error);
        let temporary = tempfile::Builder::new()
            .prefix(".making-")
            .suffix(".db")
            .tempfile_in(dir)
            .map_err(told)?;
        store::make(temporary.path())?;
        let bench = Self::over(folder, temporary.path(), Durability::AtTheEnd)?;
        fill(&bench)?;
        bench.folder.sync_files()?;
        bench.store.close()?;
        temporary.as_file().sync_all().map_err(told)?;
        let file = temporary.persist_noclobber(&database).map_err(|failed| {
            if failed.error.kind() == std::io::ErrorKind::AlreadyExists {
                BenchError::AlreadyABench {
                    dir: dir.to_owned(),
                }
            } else {
                told(failed.error)
            }
        })?;
        allow_reading(&file).map_err(told)?;
        sync_folder(dir).map_err(told)?;
        folders.keep();
        Ok(Self::open(dir)?)
    }

    fn over(folder: Folder, database: &Path, durability: Durability) -> Result<Self, BenchError> {
        let catalogue = Catalogue::new(folder.notes());
        Ok(Self {
            store: Store::open(database, durability)?,
            catalogue,
            taught: Taught::default(),
            sums: SumsKept::default(),
            reckoned: Reckoned::default(),
            decoding: Gate::of(DECODED_AT_ONCE),
            backing_up: keeping::Running::default(),
            folder,
        })
    }

    pub(crate) fn read<T>(
        &self,
        reading: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, BenchError> {
        self.store.read(reading)
    }

    fn read_known<I: RowId, T>(
        &self,
        id: I,
        reading: impl FnOnce(&Connection, I) -> rusqlite::Result<Option<T>>,
    ) -> Result<T, BenchError> {
        self.read(|connection| reading(connection, id))?
            .ok_or(BenchError::Unknown {
                what: I::WHAT,
                id: id.number(),
            })
    }

    fn hand_out(
        &self,
        shelf: Shelf,
        file: &FileRef,
        title: &str,
        otherwise: &str,
    ) -> Result<StoredFile, BenchError> {
        let path = self.folder.file(shelf, file);
        Folder::lies_here(&path)?;
        Ok(StoredFile {
            path,
            media_type: media_type(&file.extension),
            name: friendly_name(title, otherwise, &file.extension),
        })
    }

    fn make_smaller(
        &self,
        file: &FileRef,
        size: PhotoSize,
        picture: &Picture,
    ) -> Result<(), BenchError> {
        let side_px = match size {
            PhotoSize::Original => return Ok(()),
            PhotoSize::Display => DISPLAY_SIDE_PX,
            PhotoSize::Thumb => THUMB_SIDE_PX,
        };
        let path = self.folder.smaller(file, size);
        if path.is_file() {
            return Ok(());
        }
        self.folder.write_once(&path, &picture.smaller(side_px)?)
    }
}

fn check_bytes(
    what: &'static str,
    kind: &'static str,
    bytes: &[u8],
    most: usize,
    extension: &str,
) -> Result<(), BenchError> {
    let rule = |field, why| BenchError::Rule {
        index: 0,
        kind,
        field,
        why,
    };
    if bytes.is_empty() {
        return Err(rule("file", "is empty: choose the file again".to_owned()));
    }
    if bytes.len() > most {
        return Err(BenchError::TooLarge {
            what,
            size: files::in_megabytes(bytes.len()),
            most: files::in_megabytes(most),
        });
    }
    files::check_extension(extension).map_err(|why| rule("name", why))
}

fn recording_attached(visit: VisitId, stage: Stage, caption: &str, file: FileRef) -> Change {
    RecordingAttached {
        visit,
        file,
        caption: caption.to_owned(),
        stage,
    }
    .into()
}

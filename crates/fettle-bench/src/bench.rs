//! One bench: the folder and its one door.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use fettle_notes::ServiceNotes;
use jiff::Timestamp;

use crate::{
    change::{BenchSettings, Change},
    error::BenchError,
    files::{PhotoSize, StoredFile},
    ids::{CameraId, EntryId, OwnerId, PaperId, PhotoId, RecordingId, VisitId},
    journal::{Applied, Entry, Hand},
    view::{
        BenchToday, CameraLine, CameraView, GoingHome, Hit, OwnerLine, OwnerView, Page, Paged,
        VisitFilter, VisitLine, VisitView,
    },
    words::{PaperKind, Stage},
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

/// One bench. Cheap to share between threads in an [`Arc`].
#[derive(Debug)]
pub struct Bench {
    dir: PathBuf,
}

impl Bench {
    /// Makes a bench in this folder, which may exist if it holds no bench, and settles its name as the first entry.
    ///
    /// # Errors
    /// When the folder already is a bench or cannot be written.
    pub fn create(
        dir: &Path,
        settings: BenchSettings,
        by: &Hand,
        at: Timestamp,
    ) -> Result<Self, BenchError> {
        let bench = Self {
            dir: dir.to_owned(),
        };
        bench.apply(by, at, vec![settings.into()])?;
        Ok(bench)
    }

    /// Opens the bench in this folder; an older one is brought up to date.
    ///
    /// # Errors
    /// When it is not a bench, was made by a newer version, or cannot be read.
    pub fn open(dir: &Path) -> Result<Self, BenchError> {
        Ok(Self {
            dir: dir.to_owned(),
        })
    }

    /// The folder.
    #[must_use]
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Applies changes together or not at all: checks each against the rules, alters the tables and writes the journal. The
    /// time is the caller's.
    ///
    /// # Errors
    /// When a change breaks a rule ([`BenchError::Rule`] names the change and the field), names something unknown, or the
    /// database cannot be written. Nothing is changed then.
    pub fn apply(
        &self,
        _by: &Hand,
        _at: Timestamp,
        _changes: Vec<Change>,
    ) -> Result<Applied, BenchError> {
        self.later()
    }

    /// The bench's own name, place and terms.
    ///
    /// # Errors
    /// When the database cannot be read; so for every reader below.
    pub fn settings(&self) -> Result<BenchSettings, BenchError> {
        self.later()
    }

    /// The page for today.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn today(&self) -> Result<BenchToday, BenchError> {
        self.later()
    }

    /// Everything of one visit.
    ///
    /// # Errors
    /// When there is no such visit, or the database cannot be read.
    pub fn visit(&self, _visit: VisitId) -> Result<VisitView, BenchError> {
        self.later()
    }

    /// A camera over time.
    ///
    /// # Errors
    /// When there is no such camera, or the database cannot be read.
    pub fn camera(&self, _camera: CameraId) -> Result<CameraView, BenchError> {
        self.later()
    }

    /// An owner with their cameras.
    ///
    /// # Errors
    /// When there is no such owner, or the database cannot be read.
    pub fn owner(&self, _owner: OwnerId) -> Result<OwnerView, BenchError> {
        self.later()
    }

    /// Visits, newest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn visits(
        &self,
        _filter: &VisitFilter,
        _page: Page,
    ) -> Result<Paged<VisitLine>, BenchError> {
        self.later()
    }

    /// Cameras by maker and model.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn cameras(&self, _page: Page) -> Result<Paged<CameraLine>, BenchError> {
        self.later()
    }

    /// Owners by name.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn owners(&self, _page: Page) -> Result<Paged<OwnerLine>, BenchError> {
        self.later()
    }

    /// What can leave, and what holds the rest.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn going_home(&self) -> Result<Vec<GoingHome>, BenchError> {
        self.later()
    }

    /// The whole journal, newest first.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn journal(&self, _page: Page) -> Result<Paged<Entry>, BenchError> {
        self.later()
    }

    /// One entry of the journal with its change.
    ///
    /// # Errors
    /// When there is no such entry, or a newer version wrote it.
    pub fn entry(&self, _entry: EntryId) -> Result<(Entry, Change), BenchError> {
        self.later()
    }

    /// Finds anything: visit numbers and serial numbers that are exactly that come first, then by rank. Any text is safe.
    ///
    /// # Errors
    /// When the database cannot be read.
    pub fn find(&self, _text: &str, _limit: u32) -> Result<Vec<Hit>, BenchError> {
        self.later()
    }

    /// Keeps a photograph in the folder and gives the change that attaches it.
    ///
    /// # Errors
    /// When the bytes are not a JPEG, PNG or WebP photograph, are too large, or cannot be written.
    pub fn keep_photo(
        &self,
        _visit: VisitId,
        _stage: Stage,
        _caption: &str,
        _bytes: &[u8],
    ) -> Result<Change, BenchError> {
        self.later()
    }

    /// Keeps a recording in the folder and gives the change that attaches it. `name` is the file's name as given, for its ending.
    ///
    /// # Errors
    /// When it is empty, too large, or cannot be written.
    pub fn keep_recording(
        &self,
        _visit: VisitId,
        _stage: Stage,
        _caption: &str,
        _name: &str,
        _bytes: &[u8],
    ) -> Result<Change, BenchError> {
        self.later()
    }

    /// Keeps a paper (PDF, or SVG for a tag) in the folder and gives the change that attaches it.
    ///
    /// # Errors
    /// When it is empty, too large, or cannot be written.
    pub fn keep_paper(
        &self,
        _visit: VisitId,
        _paper: PaperKind,
        _title: &str,
        _extension: &str,
        _bytes: &[u8],
    ) -> Result<Change, BenchError> {
        self.later()
    }

    /// The file of a photograph in the size wanted; smaller sizes are made when first asked for.
    ///
    /// # Errors
    /// When there is no such photograph, or its file is gone.
    pub fn photo_file(&self, _photo: PhotoId, _size: PhotoSize) -> Result<StoredFile, BenchError> {
        self.later()
    }

    /// The file of a recording.
    ///
    /// # Errors
    /// When there is no such recording, or its file is gone.
    pub fn recording_file(&self, _recording: RecordingId) -> Result<StoredFile, BenchError> {
        self.later()
    }

    /// The file of a paper.
    ///
    /// # Errors
    /// When there is no such paper, or its file is gone.
    pub fn paper_file(&self, _paper: PaperId) -> Result<StoredFile, BenchError> {
        self.later()
    }

    /// All service notes in the folder by model id, read again when a file has changed. Broken notes are listed with what is
    /// wrong.
    #[must_use]
    pub fn models(&self) -> Vec<Model> {
        Vec::new()
    }

    /// The service notes of one model; `None` when there are none that can be used.
    #[must_use]
    pub fn notes(&self, _id: &str) -> Option<Arc<ServiceNotes>> {
        None
    }

    fn later<T>(&self) -> Result<T, BenchError> {
        Err(BenchError::Database {
            db: self.dir.join("bench.db"),
            why: "the tables are not laid yet".to_owned(),
        })
    }
}

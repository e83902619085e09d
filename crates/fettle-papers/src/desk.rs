//! The typesetter's surroundings: the templates, one paper's contents, the bundled faces, and nothing else.

use std::sync::OnceLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

use crate::fonts::Fonts;

const HOUSE: (&str, &str) = ("house.typ", include_str!("../templates/house.typ"));
const CONTENTS: &str = "contents.json";

/// One paper's template, its name and its text.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Template {
    pub(crate) name: &'static str,
    pub(crate) text: &'static str,
}

/// A world with one paper in it.
pub(crate) struct Desk {
    main: FileId,
    sources: [Source; 2],
    files: Vec<(FileId, Bytes)>,
}

impl Desk {
    /// Lays out a template, its contents and the files it names. `None` when a name is no path, which only a
    /// misspelt constant can bring about.
    pub(crate) fn new(
        template: Template,
        contents: Vec<u8>,
        files: &[(String, Vec<u8>)],
    ) -> Option<Self> {
        let main = file_id(template.name)?;
        let house = file_id(HOUSE.0)?;
        let mut on_desk = vec![(file_id(CONTENTS)?, Bytes::new(contents))];
        for (name, bytes) in files {
            on_desk.push((file_id(name)?, Bytes::new(bytes.clone())));
        }
        Some(Self {
            main,
            sources: [
                Source::new(main, template.text.to_owned()),
                Source::new(house, HOUSE.1.to_owned()),
            ],
            files: on_desk,
        })
    }
}

fn file_id(name: &str) -> Option<FileId> {
    let path = VirtualPath::new(name).ok()?;
    Some(RootedPath::new(VirtualRoot::Project, path).intern())
}

fn not_here(id: FileId) -> FileError {
    FileError::NotFound(id.vpath().get_without_slash().into())
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        static LIBRARY: OnceLock<LazyHash<Library>> = OnceLock::new();
        LIBRARY.get_or_init(|| LazyHash::new(Library::default()))
    }

    fn book(&self) -> &LazyHash<FontBook> {
        Fonts::bundled().book()
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.sources
            .iter()
            .find(|source| source.id() == id)
            .cloned()
            .ok_or_else(|| not_here(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files
            .iter()
            .find(|(known, _)| *known == id)
            .map(|(_, bytes)| bytes.clone())
            .ok_or_else(|| not_here(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        Fonts::bundled().face(index)
    }

    /// A paper's dates are in its contents; the day it happens to be made is nobody's business.
    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

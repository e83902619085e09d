//! From contents and a template to the bytes of a PDF/A-2b.

use serde::Serialize;
use serde_json::Value;
use typst::foundations::Smart;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};
use typst_svg::SvgOptions;

use crate::desk::{Desk, Template};
use crate::error::{PaperError, messages};
use crate::legible::{Letters, make_legible};

/// Written into each file as the program that made it.
const CREATOR: &str = concat!("Fettle ", env!("CARGO_PKG_VERSION"));
/// Typesetting remembers what it laid out; what this many papers did not need is forgotten, to keep memory small.
const REMEMBERED_PAPERS: usize = 2;

/// A finished paper.
#[derive(Debug, Clone)]
pub struct Pdf {
    /// The file, PDF/A-2b. Equal contents give equal bytes.
    pub bytes: Vec<u8>,
    /// The number of its pages.
    pub pages: usize,
    /// What is not quite as it should be on it.
    pub warnings: Vec<PaperWarning>,
    laid: PagedDocument,
}

impl PartialEq for Pdf {
    fn eq(&self, other: &Self) -> bool {
        (&self.bytes, &self.warnings) == (&other.bytes, &other.warnings)
    }
}

impl Eq for Pdf {}

impl Pdf {
    /// Its pages as SVG, to be looked at on a screen as they will be printed.
    #[must_use]
    pub fn sheets(&self) -> Vec<String> {
        let pages = self.laid.pages().iter();
        pages
            .map(|page| typst_svg::svg(page, &SvgOptions::default()))
            .collect()
    }
}

/// Something on a paper that whoever sends it should know.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PaperWarning {
    /// A text has characters that the bundled faces lack; they stand as empty boxes.
    #[error(
        "“{0}” has characters the papers' fonts lack, shown as empty boxes: give a spelling in Latin, Greek or Cyrillic letters as well"
    )]
    Illegible(String),
    /// A photograph cannot be read; its place is left empty.
    #[error("the photograph “{0}” cannot be read and is missing: give it as JPEG, PNG or WebP")]
    Photograph(String),
    /// A text is too long for a code to scan; the label has none.
    #[error("“{0}” is too long for a code to scan, which is left out: give a shorter address")]
    Code(String),
    /// The typesetter remarked something.
    #[error("{0}")]
    Typesetting(String),
}

/// Typesets `contents` with a template. `ident` tells this paper from all others and is kept in the file as a hash.
pub(crate) fn typeset<T: Serialize>(
    template: Template,
    contents: &T,
    ident: &str,
) -> Result<Pdf, PaperError> {
    typeset_with_files(template, contents, &[], ident)
}

/// As [`typeset`], with files that the template names.
pub(crate) fn typeset_with_files<T: Serialize>(
    template: Template,
    contents: &T,
    files: &[(String, Vec<u8>)],
    ident: &str,
) -> Result<Pdf, PaperError> {
    let contents =
        serde_json::to_value(contents).map_err(|e| PaperError::Contents(e.to_string()))?;
    let first = typeset_as(template, contents.clone(), files, ident, Letters::Covered);
    let done = match first {
        // The faces may cover each of two characters and still not their combination.
        Err(PaperError::Pdf(_)) => typeset_as(template, contents, files, ident, Letters::Everyday),
        other => other,
    };
    typst::comemo::evict(REMEMBERED_PAPERS);
    done
}

fn typeset_as(
    template: Template,
    mut contents: Value,
    files: &[(String, Vec<u8>)],
    ident: &str,
    letters: Letters,
) -> Result<Pdf, PaperError> {
    let illegible = make_legible(&mut contents, letters);
    let contents =
        serde_json::to_vec(&contents).map_err(|e| PaperError::Contents(e.to_string()))?;
    let desk = Desk::new(template, contents, files).ok_or_else(|| {
        PaperError::Typeset(vec![format!("no template is called {}", template.name)])
    })?;
    let pages = typst::compile::<PagedDocument>(&desk);
    let remarks = messages(&pages.warnings);
    let document = pages
        .output
        .map_err(|faults| PaperError::Typeset(messages(&faults)))?;
    let standards = PdfStandards::new(&[PdfStandard::A_2b])
        .map_err(|fault| PaperError::Pdf(vec![fault.message().to_string()]))?;
    let options = PdfOptions {
        ident: Smart::Custom(ident.to_owned()),
        creator: Smart::Custom(Some(CREATOR.to_owned())),
        standards,
        ..PdfOptions::default()
    };
    let bytes =
        typst_pdf::pdf(&document, &options).map_err(|faults| PaperError::Pdf(messages(&faults)))?;
    Ok(Pdf {
        bytes,
        pages: document.pages().len(),
        laid: document,
        warnings: illegible
            .into_iter()
            .map(PaperWarning::Illegible)
            .chain(remarks.into_iter().map(PaperWarning::Typesetting))
            .collect(),
    })
}

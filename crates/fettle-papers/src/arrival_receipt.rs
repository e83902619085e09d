//! The arrival receipt: what came, in what condition, and what its owner said and wants.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::{Amount, BenchHead, CameraHead, OwnerHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset_with_files};
use crate::photograph::{Photograph, Prints};
use crate::setup::{Setup, Titles};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "arrival_receipt.typ",
    text: include_str!("../templates/arrival_receipt.typ"),
};

/// Everything an arrival receipt says. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ArrivalReceipt {
    /// The language of its fixed words.
    pub language: Language,
    /// Who received it.
    pub bench: BenchHead,
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// Who it goes back to.
    pub owner: OwnerHead,
    /// The camera.
    pub camera: CameraHead,
    /// The day it arrived.
    pub arrived: Date,
    /// The day the receipt is made out.
    pub issued: Date,
    /// What came with it, one thing an entry.
    pub came_with: Vec<String>,
    /// Visible condition, a paragraph an entry; may be empty.
    pub condition: Vec<String>,
    /// What the owner says is wrong, in their words, a paragraph an entry; may be empty.
    pub owners_words: Vec<String>,
    /// What is wanted, a paragraph an entry; may be empty.
    pub wanted: Vec<String>,
    /// What the owner says that it is worth; `None` when nothing was said.
    pub declared: Option<Amount>,
    /// Photographs taken on arrival.
    pub photographs: Vec<Photograph>,
    /// The bench's own terms, one sentence an entry; may be empty.
    pub terms: Vec<String>,
}

#[derive(Serialize)]
struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    visit: &'a str,
    owner: &'a str,
    owner_lines: &'a [String],
    camera: String,
    serials: &'a [(String, String)],
    arrived: String,
    declared: Option<String>,
    came_with: &'a [String],
    condition: &'a [String],
    owners_words: &'a [String],
    wanted: &'a [String],
    terms: &'a [String],
    photographs_title: String,
    photographs: &'a Prints,
}

/// Makes out the arrival receipt.
///
/// The same receipt on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot show
/// in full and of photographs that cannot be read.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a receipt should bring it about.
pub fn arrival_receipt(receipt: &ArrivalReceipt, size: PaperSize) -> Result<Pdf, PaperError> {
    let language = receipt.language;
    let words = Words::of(language);
    let camera = receipt.camera.name();
    let titles = Titles::new(
        words,
        ("receipt.document", "receipt.foot"),
        &receipt.bench.name,
        &receipt.visit,
        &camera,
    );
    let prints = Prints::new(&receipt.photographs, language);
    let view = View {
        setup: Setup::new(
            language,
            size,
            receipt.issued,
            &receipt.bench,
            titles,
            &["receipt"],
        ),
        visit: &receipt.visit,
        owner: &receipt.owner.name,
        owner_lines: &receipt.owner.lines,
        camera,
        serials: &receipt.camera.serials,
        arrived: language.day(receipt.arrived),
        declared: receipt
            .declared
            .as_ref()
            .map(|it| language.money(&it.amount, &it.currency)),
        came_with: &receipt.came_with,
        condition: &receipt.condition,
        owners_words: &receipt.owners_words,
        wanted: &receipt.wanted,
        terms: &receipt.terms,
        photographs_title: words.count(
            language,
            "receipt.photographs",
            receipt.photographs.len() as u64,
        ),
        photographs: &prints,
    };
    let ident = format!(
        "arrival receipt, visit {}, {}, {}",
        receipt.visit, receipt.issued, receipt.bench.name
    );
    let mut pdf = typeset_with_files(TEMPLATE, &view, &prints.files, &ident)?;
    pdf.warnings.extend(prints.warnings);
    Ok(pdf)
}

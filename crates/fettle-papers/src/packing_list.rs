//! The packing list: what is in the parcel, ticked against what came.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::{BenchHead, CameraHead, OwnerHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};
use crate::setup::{Setup, Titles};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "packing_list.typ",
    text: include_str!("../templates/packing_list.typ"),
};

/// Everything a packing list says: one parcel, with one camera or several. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackingList {
    /// The language of its fixed words.
    pub language: Language,
    /// Who packed it.
    pub bench: BenchHead,
    /// Where it goes.
    pub owner: OwnerHead,
    /// The day the list is made out.
    pub issued: Date,
    /// Who carries it; may be empty.
    pub carrier: String,
    /// The tracking number; may be empty.
    pub tracking: String,
    /// What the parcel weighs, in grams; `None` when it was not weighed.
    pub weight_g: Option<u32>,
    /// The cameras in it.
    pub cameras: Vec<PackedCamera>,
    /// Whether lithium cells are in the parcel; brings their caution.
    pub has_cells: bool,
    /// Further notes, a sentence an entry; may be empty.
    pub notes: Vec<String>,
}

/// A camera in the parcel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedCamera {
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// The camera.
    pub camera: CameraHead,
    /// What came with it or goes with it.
    pub items: Vec<PackedItem>,
}

/// One thing of a packing list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackedItem {
    /// What it is.
    pub what: String,
    /// Whether it came with the camera.
    pub came: bool,
    /// Whether it is in the parcel.
    pub packed: bool,
    /// A note, as why it is not in the parcel; may be empty.
    pub note: String,
}

#[derive(Serialize)]
struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    owner: &'a str,
    owner_lines: &'a [String],
    carrier: &'a str,
    tracking: &'a str,
    weight: Option<String>,
    cameras: Vec<Camera<'a>>,
    missing: bool,
    has_cells: bool,
    notes: &'a [String],
}

#[derive(Serialize)]
struct Camera<'a> {
    visit: String,
    camera: String,
    serials: &'a [(String, String)],
    items: Vec<Item<'a>>,
}

#[derive(Serialize)]
struct Item<'a> {
    what: &'a str,
    came: bool,
    packed: bool,
    note: &'a str,
}

/// Makes out the packing list.
///
/// The same list on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot show in
/// full.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a list should bring it about.
pub fn packing_list(list: &PackingList, size: PaperSize) -> Result<Pdf, PaperError> {
    let language = list.language;
    let words = Words::of(language);
    let with = [("owner", list.owner.name.clone())];
    let titles = Titles::of(
        words.fill("packing.document", &with),
        &[
            &list.bench.name,
            words.say("packing.foot"),
            &list.owner.name,
        ],
    );
    let visits: Vec<&str> = list.cameras.iter().map(|it| it.visit.as_str()).collect();
    let ident = format!(
        "packing list, visits {}, {}, {}",
        visits.join(", "),
        list.issued,
        list.bench.name
    );
    let view = View {
        setup: Setup::new(
            language,
            size,
            list.issued,
            &list.bench,
            titles,
            &["packing", "parcel"],
        ),
        owner: &list.owner.name,
        owner_lines: &list.owner.lines,
        carrier: &list.carrier,
        tracking: &list.tracking,
        weight: list.weight_g.map(|grams| language.kilograms(grams)),
        cameras: list
            .cameras
            .iter()
            .map(|it| Camera::new(it, words))
            .collect(),
        missing: list
            .cameras
            .iter()
            .flat_map(|it| &it.items)
            .any(|it| it.came && !it.packed),
        has_cells: list.has_cells,
        notes: &list.notes,
    };
    typeset(TEMPLATE, &view, &ident)
}

impl<'a> Camera<'a> {
    fn new(packed: &'a PackedCamera, words: &Words) -> Self {
        Self {
            visit: words.fill("packing.of_visit", &[("visit", packed.visit.clone())]),
            camera: packed.camera.name(),
            serials: &packed.camera.serials,
            items: packed
                .items
                .iter()
                .map(|item| Item {
                    what: &item.what,
                    came: item.came,
                    packed: item.packed,
                    note: &item.note,
                })
                .collect(),
        }
    }
}

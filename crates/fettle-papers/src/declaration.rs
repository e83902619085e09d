//! The contents declaration: the facts that postal and customs forms ask for, on a sheet of its own.
//!
//! The Universal Postal Union’s forms CN 22 and CN 23 (as the instructions on them tell) ask for the same
//! facts: sender and addressee with how they are reached, each
//! content with quantity, net weight, value, heading of the Harmonized System and country of origin, totals with
//! currency, the category of the sending, numbers of papers that go with it, a statement, date and signature.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::BenchHead;
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};
use crate::setup::{Setup, Titles};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "declaration.typ",
    text: include_str!("../templates/declaration.typ"),
};

/// Everything a contents declaration says. Values are exact decimals with a point (`1234.50`) in one currency, reckoned
/// by whoever fills them in; the paper adds nothing up. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ContentsDeclaration {
    /// The language of its fixed words; the country it goes to must take it.
    pub language: Language,
    /// Who issues it, for the head.
    pub bench: BenchHead,
    /// Who sends it.
    pub sender: DeclaredParty,
    /// Who it goes to.
    pub addressee: DeclaredParty,
    /// The day it is made out.
    pub issued: Date,
    /// A reference of the sender's, such as the visit's number; may be empty.
    pub reference: String,
    /// Why it is sent.
    pub category: SendingCategory,
    /// What is in it.
    pub contents: Vec<DeclaredContent>,
    /// The currency's code (ISO 4217).
    pub currency: String,
    /// The sum of the values.
    pub total_value: String,
    /// What the whole parcel weighs, in grams; `None` when it was not weighed.
    pub gross_weight_g: Option<u32>,
    /// Numbers of papers that go with it, as `bill 17`; may be empty.
    pub papers: Vec<String>,
    /// Whether lithium cells are in the parcel; brings their caution.
    pub has_cells: bool,
    /// Remarks, as that the goods return to their owner after repair; may be empty.
    pub remarks: Vec<String>,
}

/// Sender or addressee.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DeclaredParty {
    /// The name.
    pub name: String,
    /// The postal address, a line an entry.
    pub lines: Vec<String>,
    /// The country (ISO 3166-1 alpha-2); may be empty.
    pub country: String,
    /// Telephone; may be empty.
    pub phone: String,
    /// Mail address; may be empty.
    pub email: String,
    /// A number that customs knows the party by, as a tax number; may be empty.
    pub customs_number: String,
}

/// Why something is sent: the categories of the postal union's forms.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum SendingCategory {
    /// Goods that go back, such as a repaired camera to its owner.
    #[default]
    ReturnedGoods,
    /// Sold.
    SaleOfGoods,
    /// A gift.
    Gift,
    /// Papers.
    Documents,
    /// A sample.
    CommercialSample,
    /// Something else, in words.
    Other(String),
}

/// One content of a sending.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DeclaredContent {
    /// What it is, in detail.
    pub what: String,
    /// How many.
    pub quantity: u32,
    /// Net weight of all of them, in grams; `None` when they were not weighed.
    pub weight_g: Option<u32>,
    /// The value of all of them.
    pub value: String,
    /// The heading of the Harmonized System, 4 to 10 digits; may be empty.
    pub hs: String,
    /// The country of origin (ISO 3166-1 alpha-2); may be empty.
    pub origin: String,
}

#[derive(Serialize)]
struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    sender: Party<'a>,
    addressee: Party<'a>,
    reference: &'a str,
    category: String,
    contents: Vec<Content<'a>>,
    value_name: String,
    total_value: String,
    net_weight: Option<String>,
    gross_weight: Option<String>,
    papers: &'a [String],
    has_cells: bool,
    remarks: &'a [String],
}

#[derive(Serialize)]
struct Party<'a> {
    name: &'a str,
    lines: &'a [String],
    country: &'a str,
    reached: Vec<(&'a str, &'a str)>,
}

#[derive(Serialize)]
struct Content<'a> {
    what: &'a str,
    quantity: u32,
    weight: Option<String>,
    value: String,
    hs: &'a str,
    origin: &'a str,
}

/// Makes out the contents declaration.
///
/// The same declaration on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot
/// show in full.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a declaration should bring it about.
pub fn contents_declaration(
    declaration: &ContentsDeclaration,
    size: PaperSize,
) -> Result<Pdf, PaperError> {
    let language = declaration.language;
    let words = Words::of(language);
    let to = &declaration.addressee.name;
    let titles = Titles::of(
        words.fill("declaration.document", &[("owner", to.clone())]),
        &[&declaration.bench.name, words.say("declaration.foot"), to],
    );
    let ident = format!(
        "contents declaration, {}, {to}, {}, {}",
        declaration.reference, declaration.issued, declaration.bench.name
    );
    // The sum of the net weights is told only when every content was weighed.
    let net = declaration
        .contents
        .iter()
        .try_fold(0_u32, |sum, it| sum.checked_add(it.weight_g?));
    let sections = ["declaration", "parcel"];
    let view = View {
        setup: Setup::new(
            language,
            size,
            declaration.issued,
            &declaration.bench,
            titles,
            &sections,
        ),
        sender: Party::new(&declaration.sender, words),
        addressee: Party::new(&declaration.addressee, words),
        reference: &declaration.reference,
        category: category(&declaration.category, words),
        contents: declaration
            .contents
            .iter()
            .map(|it| Content {
                what: &it.what,
                quantity: it.quantity,
                weight: it.weight_g.map(|grams| language.kilograms(grams)),
                value: language.decimal(&it.value),
                hs: &it.hs,
                origin: &it.origin,
            })
            .collect(),
        value_name: words.fill(
            "declaration.value",
            &[("currency", declaration.currency.clone())],
        ),
        total_value: language.decimal(&declaration.total_value),
        net_weight: net
            .filter(|_| !declaration.contents.is_empty())
            .map(|grams| language.kilograms(grams)),
        gross_weight: declaration
            .gross_weight_g
            .map(|grams| language.kilograms(grams)),
        papers: &declaration.papers,
        has_cells: declaration.has_cells,
        remarks: &declaration.remarks,
    };
    typeset(TEMPLATE, &view, &ident)
}

impl<'a> Party<'a> {
    fn new(party: &'a DeclaredParty, words: &'a Words) -> Self {
        let reached = [
            ("declaration.phone", &party.phone),
            ("declaration.email", &party.email),
            ("declaration.customs_number", &party.customs_number),
        ];
        Self {
            name: &party.name,
            lines: &party.lines,
            country: &party.country,
            reached: reached
                .into_iter()
                .filter(|(_, text)| !text.is_empty())
                .map(|(name, text)| (words.say(name), text.as_str()))
                .collect(),
        }
    }
}

fn category(category: &SendingCategory, words: &Words) -> String {
    let key = match category {
        SendingCategory::ReturnedGoods => "declaration.returned_goods",
        SendingCategory::SaleOfGoods => "declaration.sale_of_goods",
        SendingCategory::Gift => "declaration.gift",
        SendingCategory::Documents => "declaration.documents",
        SendingCategory::CommercialSample => "declaration.commercial_sample",
        SendingCategory::Other(what) => {
            return words.fill("declaration.other", &[("what", what.clone())]);
        }
    };
    words.say(key).to_owned()
}

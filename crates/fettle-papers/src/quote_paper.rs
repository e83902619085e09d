//! The quote as a paper: what can be done, side by side, what each comes to, and how to answer.

mod view;

use jiff::civil::Date;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::{BenchHead, CameraHead, OwnerHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};

const TEMPLATE: Template = Template {
    name: "quote.typ",
    text: include_str!("../templates/quote.typ"),
};

/// Everything a quote says. Amounts are exact decimals with a point (`1234.50`) in the quote's currency, reckoned by
/// whoever fills them in; the paper adds nothing up. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuotePaper {
    /// The language of its fixed words.
    pub language: Language,
    /// Who quotes.
    pub bench: BenchHead,
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// Who is to answer.
    pub owner: OwnerHead,
    /// The camera.
    pub camera: CameraHead,
    /// The day the quote is made out.
    pub issued: Date,
    /// The last day on which it can be agreed to; `None` when it has no end.
    pub valid_until: Option<Date>,
    /// The currency's code (ISO 4217).
    pub currency: String,
    /// What the tax is called: `VAT`.
    pub tax_name: String,
    /// The price of an hour's work; `None` when it is not told.
    pub hourly_rate: Option<String>,
    /// What was found, one thing an entry; may be empty.
    pub found: Vec<String>,
    /// What can be done: several of them are alternatives, of which the owner chooses one.
    pub alternatives: Vec<QuoteAlternative>,
    /// What was agreed before, when this quote is for extra work found later; `None` otherwise.
    pub extra_to: Option<AgreedQuote>,
    /// Where an answer reaches the bench, a line an entry; may be empty.
    pub answer_to: Vec<String>,
    /// Further notes, one sentence an entry; may be empty.
    pub notes: Vec<String>,
}

/// What kind of work a quote is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum QuoteKind {
    /// What is wrong is put right.
    #[default]
    Repair,
    /// The repair, and all that wears or dries.
    Overhaul,
    /// It goes home as it came.
    ReturnUnrepaired,
    /// Found in the course of agreed work.
    Extra,
}

/// One thing that can be done.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct QuoteAlternative {
    /// What kind of work it is; gives the column its name.
    pub kind: QuoteKind,
    /// Its lines.
    pub lines: Vec<QuoteLine>,
    /// The sum of the lines, before tax.
    pub net: String,
    /// Tax, a rate an entry; empty when there is none.
    pub taxes: Vec<TaxLine>,
    /// What it comes to.
    pub total: String,
    /// What is to be paid when it is agreed; `None` when nothing is.
    pub deposit: Option<String>,
    /// Minutes all its work will likely take; `None` when not told.
    pub minutes_likely: Option<u32>,
    /// Minutes that will do nine times in ten; `None` when not told.
    pub minutes_nine_in_ten: Option<u32>,
    /// How long it is guaranteed, in days; `None` when it is not.
    pub guarantee_days: Option<u32>,
    /// A note to the owner; may be empty.
    pub note: String,
}

/// One line of a quote.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct QuoteLine {
    /// The work or the part, in words.
    pub words: String,
    /// How many; `None` for work.
    pub quantity: Option<u32>,
    /// The part's grade; `None` for work.
    pub grade: Option<PartGrade>,
    /// Minutes it will likely take; `None` for a part.
    pub minutes_likely: Option<u32>,
    /// Minutes that will do nine times in ten; `None` for a part.
    pub minutes_nine_in_ten: Option<u32>,
    /// The price of the line; `None` when it is not known yet.
    pub amount: Option<String>,
}

/// Where a part comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartGrade {
    /// Old stock of the factory.
    Original,
    /// Made anew by another maker.
    Reproduction,
    /// From a donor body.
    Salvaged,
    /// Made at the bench.
    Made,
}

impl PartGrade {
    /// The keys of its word and of what it means.
    pub(crate) const fn keys(self) -> (&'static str, &'static str) {
        match self {
            Self::Original => ("grade.original", "grade.original_means"),
            Self::Reproduction => ("grade.reproduction", "grade.reproduction_means"),
            Self::Salvaged => ("grade.salvaged", "grade.salvaged_means"),
            Self::Made => ("grade.made", "grade.made_means"),
        }
    }
}

/// Tax at one rate.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TaxLine {
    /// The rate in per cent, an exact decimal: `19`, `5.5`.
    pub percent: String,
    /// The sum of the lines of this rate.
    pub net: String,
    /// The tax on it.
    pub tax: String,
}

/// A quote that the owner agreed to before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AgreedQuote {
    /// What kind of work was agreed.
    pub kind: QuoteKind,
    /// The day of the owner's answer.
    pub on: Date,
    /// What it comes to, tax included.
    pub total: String,
    /// What it and the extra work together come to; `None` when not told.
    pub together: Option<String>,
}

/// Makes out the quote.
///
/// The same quote on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot show in
/// full.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a quote should bring it about.
pub fn quote_paper(quote: &QuotePaper, size: PaperSize) -> Result<Pdf, PaperError> {
    let view = view::View::new(quote, size);
    let ident = format!(
        "quote, visit {}, {}, {}",
        quote.visit, quote.issued, quote.bench.name
    );
    typeset(TEMPLATE, &view, &ident)
}

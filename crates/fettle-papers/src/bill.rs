//! Bills and credit notes.

use jiff::civil::Date;
use serde::Serialize;

use crate::desk::Template;
use crate::error::PaperError;
use crate::head::{BenchHead, CameraHead, OwnerHead};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::pdf::{Pdf, typeset};
use crate::quote_paper::TaxLine;
use crate::setup::{Setup, Titles};
use crate::words::Words;

const TEMPLATE: Template = Template {
    name: "bill.typ",
    text: include_str!("../templates/bill.typ"),
};

/// Everything a bill or a credit note says. Amounts are exact decimals with a point (`1234.50`) in the bill's currency,
/// reckoned by whoever fills them in; the paper adds nothing up. Texts are set as they stand, never as markup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BillPaper {
    /// The language of its fixed words.
    pub language: Language,
    /// Whether it asks for money or gives some back.
    pub kind: BillKind,
    /// Its number in the one sequence of bills and credit notes.
    pub number: String,
    /// Who issues it.
    pub bench: BenchHead,
    /// The bench's own tax number; may be empty.
    pub tax_number: String,
    /// The visit's number as it stands on the tag.
    pub visit: String,
    /// Who it goes to, with the postal address.
    pub owner: OwnerHead,
    /// The camera.
    pub camera: CameraHead,
    /// The day it is issued.
    pub issued: Date,
    /// The day the work was finished; `None` when not told.
    pub finished: Option<Date>,
    /// The day by which it is to be paid; `None` when nothing is said.
    pub due_on: Option<Date>,
    /// The currency's code (ISO 4217).
    pub currency: String,
    /// What the tax is called: `VAT`.
    pub tax_name: String,
    /// Its lines.
    pub lines: Vec<BillPaperLine>,
    /// The sum of the lines, before tax.
    pub net: String,
    /// Tax, a rate an entry; empty when there is none.
    pub taxes: Vec<TaxLine>,
    /// What it comes to, with all decimals of the currency: the rounding rule that is printed goes by them.
    pub gross: String,
    /// What was paid before it was made out, and what was credited on it; on a credit note empty.
    pub paid: Vec<PaidLine>,
    /// What is still to be paid, or to be paid back on a credit note; `None` when nothing is said of it.
    pub open: Option<String>,
    /// How to pay, a line an entry; may be empty.
    pub how_to_pay: Vec<String>,
    /// A note, a sentence an entry, as why no tax is reckoned; may be empty.
    pub notes: Vec<String>,
}

/// A bill or a credit note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BillKind {
    /// It asks for money.
    Bill,
    /// It gives some back of an earlier bill.
    Credit {
        /// The bill's number.
        of: String,
        /// The day the bill was issued.
        of_issued: Date,
        /// Why; may be empty.
        reason: String,
    },
}

/// One line of a bill.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BillPaperLine {
    /// What for.
    pub words: String,
    /// How many; `None` for work.
    pub quantity: Option<u32>,
    /// The amount of the whole line, before tax.
    pub amount: String,
    /// The tax rate in per cent, an exact decimal; `None` without tax.
    pub tax_percent: Option<String>,
}

/// Something that was paid or credited.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PaidLine {
    /// The day.
    pub on: Date,
    /// How, or by which credit note; may be empty.
    pub how: String,
    /// The amount; negative when it was paid back.
    pub amount: String,
}

#[derive(Serialize)]
struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    title: String,
    is_credit: bool,
    of_bill: &'a str,
    credit_of: Option<String>,
    reason: &'a str,
    number: &'a str,
    visit: &'a str,
    owner: &'a str,
    owner_lines: &'a [String],
    camera: String,
    serials: &'a [(String, String)],
    tax_number: &'a str,
    finished: Option<String>,
    due: Option<String>,
    amount_name: String,
    gross_name: String,
    lines_told: Vec<Line<'a>>,
    taxed: bool,
    net: String,
    taxes: Vec<(String, String)>,
    gross: String,
    paid: Vec<(String, String)>,
    open_name: String,
    open: Option<String>,
    rounding: Option<String>,
    how_to_pay: &'a [String],
    pay_by: Option<String>,
    notes: &'a [String],
}

#[derive(Serialize)]
struct Line<'a> {
    what: &'a str,
    quantity: Option<u32>,
    tax: Option<String>,
    amount: String,
}

/// Makes out the bill or credit note.
///
/// The same bill on the same size of paper gives the same bytes. Warnings tell of texts the papers' fonts cannot show in
/// full.
///
/// # Errors
/// [`PaperError`] when the template does not bear the contents; nothing in a bill should bring it about.
pub fn bill(bill: &BillPaper, size: PaperSize) -> Result<Pdf, PaperError> {
    let language = bill.language;
    let words = Words::of(language);
    let number = [("number", bill.number.clone())];
    let camera = bill.camera.name();
    let (title, of_bill, reason) = match &bill.kind {
        BillKind::Bill => ("bill.title", "", ""),
        BillKind::Credit { of, reason, .. } => ("bill.title_credit", of.as_str(), reason.as_str()),
    };
    let title = words.fill(title, &number);
    let titles = Titles::of(
        format!("{title}, {}", bill.bench.name),
        &[&bill.bench.name, &title, &camera],
    );
    let credit_of = match &bill.kind {
        BillKind::Bill => None,
        BillKind::Credit { of, of_issued, .. } => {
            let with = [("number", of.clone()), ("on", language.day(*of_issued))];
            Some(words.fill("bill.credit_of", &with))
        }
    };
    let is_credit = credit_of.is_some();
    let currency = [("currency", bill.currency.clone())];
    let due = bill.due_on.map(|day| language.day(day));
    let view = View {
        setup: Setup::new(language, size, bill.issued, &bill.bench, titles, &["bill"]),
        title,
        is_credit,
        of_bill,
        credit_of,
        reason,
        number: &bill.number,
        visit: &bill.visit,
        owner: &bill.owner.name,
        owner_lines: &bill.owner.lines,
        camera,
        serials: &bill.camera.serials,
        tax_number: &bill.tax_number,
        finished: bill.finished.map(|day| language.day(day)),
        amount_name: words.fill("bill.amount", &currency),
        gross_name: words.fill(
            if is_credit {
                "bill.gross_credit"
            } else {
                "bill.gross"
            },
            &currency,
        ),
        lines_told: bill
            .lines
            .iter()
            .map(|it| Line::new(it, language))
            .collect(),
        taxed: bill.lines.iter().any(|it| it.tax_percent.is_some()),
        net: language.decimal(&bill.net),
        taxes: bill.taxes.iter().map(|it| tax(it, bill)).collect(),
        gross: language.decimal(&bill.gross),
        paid: bill.paid.iter().map(|it| paid(it, language)).collect(),
        open_name: words.fill(
            if is_credit {
                "bill.open_credit"
            } else {
                "bill.open"
            },
            &currency,
        ),
        open: bill.open.as_ref().map(|it| language.decimal(it)),
        rounding: (!bill.taxes.is_empty()).then(|| {
            let coin = language.money(&smallest_step(&bill.gross), &bill.currency);
            let with = [("coin", coin), ("tax", bill.tax_name.clone())];
            words.fill("bill.rounding", &with)
        }),
        how_to_pay: &bill.how_to_pay,
        pay_by: due.clone().filter(|_| !is_credit).map(|due| {
            words.fill(
                "bill.pay_by",
                &[("due", due), ("number", bill.number.clone())],
            )
        }),
        due,
        notes: &bill.notes,
    };
    let ident = format!("{}, {}, {}", view.title, bill.issued, bill.bench.name);
    typeset(TEMPLATE, &view, &ident)
}

impl<'a> Line<'a> {
    fn new(line: &'a BillPaperLine, language: Language) -> Self {
        Self {
            what: &line.words,
            quantity: line.quantity,
            tax: line.tax_percent.as_ref().map(|it| language.decimal(it)),
            amount: language.decimal(&line.amount),
        }
    }
}

fn tax(tax: &TaxLine, bill: &BillPaper) -> (String, String) {
    let language = bill.language;
    let with = [
        ("tax", bill.tax_name.clone()),
        ("percent", language.decimal(&tax.percent)),
        ("net", language.decimal(&tax.net)),
    ];
    let name = Words::of(language).fill("bill.tax", &with);
    (name, language.decimal(&tax.tax))
}

fn paid(paid: &PaidLine, language: Language) -> (String, String) {
    let words = Words::of(language);
    let (is_back, amount) = match paid.amount.strip_prefix('-') {
        Some(amount) => (true, amount.to_owned()),
        // What was paid lessens what is still to pay.
        None => (false, format!("-{}", paid.amount)),
    };
    let key = match (is_back, paid.how.is_empty()) {
        (false, true) => "bill.paid_on",
        (false, false) => "bill.paid_on_how",
        (true, true) => "bill.paid_back_on",
        (true, false) => "bill.paid_back_on_how",
    };
    let with = [("on", language.day(paid.on)), ("how", paid.how.clone())];
    (words.fill(key, &with), language.decimal(&amount))
}

/// One in the last decimal of an exact decimal: `0.01` for `12.50`, `1` for `1250`.
fn smallest_step(amount: &str) -> String {
    match amount.split_once('.') {
        Some((_, decimals)) if !decimals.is_empty() => {
            format!("0.{}1", "0".repeat(decimals.len() - 1))
        }
        _ => "1".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smallest_coin_is_read_off_the_amount() {
        for (amount, want) in [
            ("12.50", "0.01"),
            ("1250", "1"),
            ("-3.125", "0.001"),
            ("", "1"),
        ] {
            assert_eq!(smallest_step(amount), want);
        }
    }

    #[test]
    fn what_was_paid_is_taken_off_and_what_was_paid_back_added() {
        let line = |amount: &str, how: &str| {
            let line = PaidLine {
                on: jiff::civil::date(2026, 11, 5),
                how: how.to_owned(),
                amount: amount.to_owned(),
            };
            paid(&line, Language::En)
        };
        let told = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(line("60.00", ""), told("paid on 5 November 2026", "−60.00"));
        assert_eq!(
            line("-10.00", "by transfer"),
            told("paid back on 5 November 2026, by transfer", "10.00")
        );
    }
}

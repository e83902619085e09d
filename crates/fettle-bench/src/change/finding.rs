//! Signs, circumstances, earlier hands, faults and quotes.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::{
    ids::{FaultId, QuoteId, VisitId},
    money::{Currency, Money, Totals, sum, tax_on},
    term::Term,
    words::{FaultIs, Found, Grade, LineFor, QuoteKind, Seen},
};

/// A number that goes with an observation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Number {
    /// Of what.
    pub name: String,
    /// How much, in `unit`; always finite.
    pub value: f64,
    /// The unit; empty for a plain number.
    #[serde(default)]
    pub unit: String,
}

/// A sign was looked for. Looking again replaces the answer; the journal keeps both.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SignObserved {
    /// At which visit.
    pub visit: VisitId,
    /// Which sign.
    pub sign: Term,
    /// Whether it is there.
    pub seen: Seen,
    /// Numbers that go with it.
    #[serde(default)]
    pub numbers: Vec<Number>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// A circumstance became known. Saying it again replaces the answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CircumstanceKnown {
    /// At which visit.
    pub visit: VisitId,
    /// Which circumstance.
    pub circumstance: Term,
    /// Whether it holds.
    pub known: Seen,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// Traces of previous repair were seen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EarlierHandsNoted {
    /// At which visit.
    pub visit: VisitId,
    /// Where on the camera; may be empty.
    #[serde(default)]
    pub at: String,
    /// What was seen.
    pub what: String,
}

/// A fault was found, suspected or ruled out. Recording the same fault again replaces what was said.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FaultRecorded {
    /// At which visit.
    pub visit: VisitId,
    /// Which fault.
    pub fault: Term,
    /// Damage or cause.
    pub is: FaultIs,
    /// How sure.
    pub found: Found,
    /// The fault of the same visit that brought it on; `None` when not known.
    #[serde(default)]
    pub because_of: Option<FaultId>,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// A line of a quote.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuoteLine {
    /// Work or part.
    pub line_for: LineFor,
    /// Which.
    pub what: Term,
    /// The part's grade; `None` for work.
    #[serde(default)]
    pub grade: Option<Grade>,
    /// How many; `None` for work.
    #[serde(default)]
    pub quantity: Option<u32>,
    /// Minutes it will likely take; `None` for a part.
    #[serde(default)]
    pub minutes_likely: Option<f64>,
    /// Minutes that will do nine times in ten; `None` for a part.
    #[serde(default)]
    pub minutes_nine_in_ten: Option<f64>,
    /// The price of the line, in the quote's currency.
    pub amount: Decimal,
}

/// A quote was made. It stands open beside the others until it is answered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuoteMade {
    /// For which visit.
    pub visit: VisitId,
    /// Its lines, at least one.
    pub lines: Vec<QuoteLine>,
    /// The sum of the lines, before tax.
    pub total: Money,
    /// A note to the owner; may be empty.
    #[serde(default)]
    pub note: String,
    /// Which of the ways open to the owner it is for. (`kind` in the journal is the kind of change.)
    #[serde(
        default,
        rename = "quote_kind",
        skip_serializing_if = "super::is_default"
    )]
    pub kind: QuoteKind,
    /// The tax on all of it, in percent; `None` without tax.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub tax_percent: Option<Decimal>,
    /// What the tax is called; may be empty without one.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub tax_name: String,
    /// What is to be paid when it is agreed to, in the currency of the total; `None` when nothing is.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub deposit: Option<Decimal>,
    /// The last day on which it can be agreed to; `None` when it has no end.
    #[serde(default, skip_serializing_if = "super::is_default")]
    pub valid_until: Option<Date>,
}

impl QuoteMade {
    /// A quote for a repair of these lines, with their sum, without tax or deposit; a sum too large for exact decimals is refused
    /// when it is applied.
    #[must_use]
    pub fn new(
        visit: VisitId,
        lines: Vec<QuoteLine>,
        currency: Currency,
        note: impl Into<String>,
    ) -> Self {
        let total = sum(lines.iter().map(|line| line.amount));
        Self {
            visit,
            lines,
            total: Money::new(total.unwrap_or(Decimal::MAX), currency),
            note: note.into(),
            kind: QuoteKind::default(),
            tax_percent: None,
            tax_name: String::new(),
            deposit: None,
            valid_until: None,
        }
    }

    /// The same with a deposit of this share of the whole with tax, rounded to the smallest coin; without one where none is asked for.
    #[must_use]
    pub fn with_deposit(self, percent: Option<Decimal>) -> Self {
        let percent = percent.filter(|percent| !percent.is_zero());
        let totals = percent.zip(self.totals());
        let deposit =
            totals.and_then(|(percent, totals)| tax_on(totals.gross, percent, self.total.currency));
        Self { deposit, ..self }
    }

    /// Its lines added up, with the tax on them; `None` when exact decimals cannot hold it.
    #[must_use]
    pub fn totals(&self) -> Option<Totals> {
        let lines = self.lines.iter();
        Totals::of(
            lines.map(|line| (line.amount, self.tax_percent)),
            self.total.currency,
        )
    }
}

/// The owner answered a quote. To agree to one of the alternatives is to decline the others that are open; answering again
/// replaces the answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuoteAnswered {
    /// At which visit.
    pub visit: VisitId,
    /// Which quote.
    pub quote: QuoteId,
    /// Whether the owner agreed.
    pub agreed: bool,
    /// The owner's words; may be empty.
    #[serde(default)]
    pub words: String,
    /// The day of the answer.
    pub on: Date,
}

/// The owner ordered that the camera be taken apart whole, or took that order back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StripOrdered {
    /// At which visit.
    pub visit: VisitId,
    /// Whether it is ordered now.
    pub ordered: bool,
}

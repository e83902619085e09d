//! Bills, credit notes and payments.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::{
    ids::{BillId, VisitId},
    money::{Currency, Money, Totals},
};

/// A line of a bill or a credit note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BillLine {
    /// What for.
    pub words: String,
    /// How many; `None` where counting makes no sense.
    #[serde(default)]
    pub quantity: Option<u32>,
    /// The price of the line before tax, in the bill's currency and in whole smallest coins; below zero for what is taken off.
    pub amount: Decimal,
    /// The tax on it, in percent; `None` without tax.
    #[serde(default)]
    pub tax_percent: Option<Decimal>,
}

/// A bill was issued. It gets the next number of the one sequence that bills and credit notes share, and stands for good: what is
/// wrong with it is put right by a credit note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BillIssued {
    /// For which visit.
    pub visit: VisitId,
    /// The day of issue.
    pub on: Date,
    /// The day by which it is to be paid; `None` when it names none.
    #[serde(default)]
    pub due_on: Option<Date>,
    /// Its lines, at least one.
    pub lines: Vec<BillLine>,
    /// What it is reckoned in.
    pub currency: Currency,
    /// What the tax is called; may be empty when no line bears tax.
    #[serde(default)]
    pub tax_name: String,
    /// A note on it; may be empty.
    #[serde(default)]
    pub note: String,
}

impl BillIssued {
    /// Its lines added up, with their taxes; `None` when exact decimals cannot hold it.
    #[must_use]
    pub fn totals(&self) -> Option<Totals> {
        Totals::of(taxed(&self.lines), self.currency)
    }
}

/// A bill, or a part of it, was taken back by a credit note, which has a number of the same sequence and stands for good too.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CreditIssued {
    /// Which bill.
    pub bill: BillId,
    /// The day of issue.
    pub on: Date,
    /// What is taken back, above zero for each rate of tax, and with the credit notes before it no more than the bill.
    pub lines: Vec<BillLine>,
    /// Why.
    pub reason: String,
}

/// Money came, or was paid back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PaymentReceived {
    /// For which visit.
    pub visit: VisitId,
    /// How much; below zero when it was paid back.
    pub amount: Money,
    /// The day.
    pub on: Date,
    /// How it was paid; may be empty.
    #[serde(default)]
    pub how: String,
    /// A note; may be empty.
    #[serde(default)]
    pub note: String,
}

/// Amounts with their rates of tax, as [`Totals::of`] takes them.
pub(crate) fn taxed(lines: &[BillLine]) -> impl Iterator<Item = (Decimal, Option<Decimal>)> {
    lines.iter().map(|line| (line.amount, line.tax_percent))
}

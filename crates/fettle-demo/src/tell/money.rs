//! What the bench charges: quotes, bills and payments.

use fettle_bench::{
    BillIssued, BillLine, Decimal, LineFor, Money, PaymentReceived, QuoteLine, QuoteMade, Term,
    VisitId,
};
use jiff::ToSpan;
use jiff::civil::Date;

use super::Teller;
use crate::matter::Job;
use crate::plan::{Event, VisitPlan};

/// What an hour costs, in cents of the bench's currency.
pub(crate) const HOURLY_CENTS: i64 = 4_800;
pub(crate) const TAX_PERCENT: i64 = 23;
pub(crate) const DEPOSIT_PERCENT: i64 = 25;
pub(crate) const QUOTE_DAYS: u32 = 30;
pub(crate) const PAY_DAYS: u32 = 14;
pub(crate) const GUARANTEE_DAYS: u32 = 180;
const TAX_NAME: &str = "VAT";
/// Off and on again, for each piece.
const MINUTES_A_PIECE: f64 = 2.5;
/// Nine works in ten take no longer than this many times the usual minutes.
const NINE_IN_TEN: f64 = 1.38;

impl Teller<'_> {
    pub(super) fn quoted(&self, visit: &VisitPlan, id: VisitId, on: Date) -> QuoteMade {
        let mut lines: Vec<QuoteLine> = visit.matter.works.iter().map(work_line).collect();
        let apart = MINUTES_A_PIECE * visit.matter.pieces.len() as f64;
        if apart > 0.0 {
            lines.push(work_line(&Job {
                work: Term::own("taking apart and putting back"),
                usual: apart,
                taken: apart,
            }));
        }
        for it in &visit.matter.fitted {
            lines.push(QuoteLine {
                line_for: LineFor::Part,
                what: it.part.clone(),
                grade: Some(it.grade),
                quantity: Some(it.quantity),
                minutes_likely: None,
                minutes_nine_in_ten: None,
                amount: Decimal::new(it.cents, 2),
            });
        }
        let under_guarantee = visit.guarantee_of.is_some();
        if under_guarantee {
            for line in &mut lines {
                line.amount = Decimal::ZERO;
            }
        }
        let note = if under_guarantee {
            "under guarantee, no charge"
        } else {
            ""
        };
        let quote = QuoteMade {
            tax_percent: Some(Decimal::from(TAX_PERCENT)),
            tax_name: TAX_NAME.to_owned(),
            valid_until: days_later(on, QUOTE_DAYS),
            ..QuoteMade::new(id, lines, self.currency, note)
        };
        quote.with_deposit((!under_guarantee).then(|| Decimal::from(DEPOSIT_PERCENT)))
    }

    /// The bill for what was agreed to; none under guarantee.
    pub(super) fn billed(
        &self,
        event: &Event,
        visit: &VisitPlan,
        id: VisitId,
    ) -> Option<BillIssued> {
        if visit.guarantee_of.is_some() {
            return None;
        }
        let quote = self.quoted(visit, id, event.on);
        let line = |line: QuoteLine| BillLine {
            words: match line.grade {
                Some(grade) => format!("{} ({grade})", line.what),
                None => line.what.words,
            },
            quantity: line.quantity,
            amount: line.amount,
            tax_percent: quote.tax_percent,
        };
        let lines: Vec<BillLine> = quote.lines.into_iter().map(line).collect();
        (!lines.is_empty()).then(|| BillIssued {
            visit: id,
            on: event.on,
            due_on: days_later(event.on, PAY_DAYS),
            lines,
            currency: self.currency,
            tax_name: TAX_NAME.to_owned(),
            note: String::new(),
        })
    }

    /// The bill is paid before the camera goes.
    pub(super) fn paid(
        &self,
        event: &Event,
        visit: &VisitPlan,
        id: VisitId,
    ) -> Option<PaymentReceived> {
        let gross = self.billed(event, visit, id)?.totals()?.gross;
        (!gross.is_zero()).then(|| PaymentReceived {
            visit: id,
            amount: Money::new(gross, self.currency),
            on: event.on,
            how: "transfer".to_owned(),
            note: String::new(),
        })
    }
}

fn days_later(on: Date, days: u32) -> Option<Date> {
    on.checked_add(i64::from(days).days()).ok()
}

fn work_line(job: &Job) -> QuoteLine {
    let cents = job.usual * HOURLY_CENTS as f64 / 60.0;
    QuoteLine {
        line_for: LineFor::Work,
        what: job.work.clone(),
        grade: None,
        quantity: None,
        minutes_likely: Some(job.usual),
        minutes_nine_in_ten: Some((NINE_IN_TEN * job.usual).round().max(job.usual)),
        amount: Decimal::new(50 * (cents / 50.0).round() as i64, 2),
    }
}

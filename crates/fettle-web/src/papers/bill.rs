//! Bills and credit notes as papers.

use fettle_bench::{Bill, BillId, BillLine, Credit, Currency, Totals, written};
use fettle_papers::{BillKind, BillPaper, BillPaperLine, PaidLine, Pdf};

use super::quote::taxes;
use super::{From, lines};

pub(super) fn bill(from: &From<'_>, number: BillId) -> Result<Pdf, String> {
    let bill = from.view.bills.iter().find(|bill| bill.id == number);
    let bill = bill.ok_or_else(|| format!("this visit has no bill {number}"))?;
    typeset(from, &of_bill(from, bill))
}

pub(super) fn credit(from: &From<'_>, number: BillId) -> Result<Pdf, String> {
    for bill in &from.view.bills {
        if let Some(credit) = bill.credits.iter().find(|credit| credit.id == number) {
            return typeset(from, &of_credit(from, bill, credit));
        }
    }
    Err(format!("this visit has no credit note {number}"))
}

fn typeset(from: &From<'_>, paper: &BillPaper) -> Result<Pdf, String> {
    fettle_papers::bill(paper, from.size).map_err(|error| error.to_string())
}

fn of_bill(from: &From<'_>, bill: &Bill) -> BillPaper {
    let what = &bill.what;
    let currency = what.currency;
    let mut paid: Vec<PaidLine> = from
        .view
        .payments
        .iter()
        .filter(|payment| payment.what.amount.currency == currency)
        .map(|payment| PaidLine {
            on: payment.what.on,
            how: payment.what.how.clone(),
            amount: written(payment.what.amount.amount, currency),
        })
        .collect();
    paid.extend(bill.credits.iter().map(|credit| PaidLine {
        on: credit.what.on,
        how: credit_name(from, credit),
        amount: written(credit.totals.gross, currency),
    }));
    // Of several bills each payment settles the oldest, which the lines of one cannot show.
    let is_only = from.view.bills.len() == 1;
    BillPaper {
        paid: if is_only { paid } else { Vec::new() },
        open: Some(written(bill.open, currency)),
        due_on: what.due_on,
        how_to_pay: lines(&from.settings.payment),
        notes: lines(&what.note),
        ..paper(
            from,
            bill.id,
            what.on,
            &what.lines,
            &bill.totals,
            currency,
            &what.tax_name,
        )
    }
}

fn credit_name(from: &From<'_>, credit: &Credit) -> String {
    match from.language {
        fettle_papers::Language::En => format!("credit note {}", credit.id),
        fettle_papers::Language::De => format!("Gutschrift {}", credit.id),
    }
}

fn of_credit(from: &From<'_>, bill: &Bill, credit: &Credit) -> BillPaper {
    let currency = bill.what.currency;
    let what = &credit.what;
    BillPaper {
        kind: BillKind::Credit {
            of: bill.id.to_string(),
            of_issued: bill.what.on,
            reason: what.reason.clone(),
        },
        ..paper(
            from,
            credit.id,
            what.on,
            &what.lines,
            &credit.totals,
            currency,
            &bill.what.tax_name,
        )
    }
}

fn paper(
    from: &From<'_>,
    number: BillId,
    issued: jiff::civil::Date,
    lines: &[BillLine],
    totals: &Totals,
    currency: Currency,
    tax_name: &str,
) -> BillPaper {
    let works = from.view.works.iter().map(|kept| kept.at);
    let finished = works
        .max()
        .map(|at| at.to_zoned_datetime(from.zone.clone()).date());
    BillPaper {
        language: from.language,
        kind: BillKind::Bill,
        number: number.to_string(),
        bench: from.bench(),
        tax_number: from.settings.tax_number.clone(),
        visit: from.visit(),
        owner: from.owner(),
        camera: from.camera(),
        issued,
        finished,
        due_on: None,
        currency: currency.to_string(),
        tax_name: tax_name.to_owned(),
        lines: lines
            .iter()
            .map(|line| BillPaperLine {
                words: line.words.clone(),
                quantity: line.quantity,
                amount: written(line.amount, currency),
                tax_percent: line.tax_percent.map(|it| it.normalize().to_string()),
            })
            .collect(),
        net: written(totals.net, currency),
        taxes: taxes(totals, currency),
        gross: written(totals.gross, currency),
        paid: Vec::new(),
        open: None,
        how_to_pay: Vec::new(),
        notes: Vec::new(),
    }
}

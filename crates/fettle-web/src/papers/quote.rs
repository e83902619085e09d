//! The quote: its alternatives side by side; and extra work found later, by itself.

use fettle_bench::{Found, Quote, QuoteKind, QuoteMade, Totals, written};
use fettle_papers::{
    AgreedQuote, Pdf, QuoteAlternative, QuoteLine, QuotePaper, TaxLine, quote_paper,
};

use fettle_reason::{Taking, take_together};

use super::{From, grade, lines};

/// The alternatives as they stand: the last of each kind that is open, else the last of each that was answered.
pub(super) fn quote(from: &From<'_>) -> Result<Pdf, String> {
    let alternatives = || {
        let quotes = from.view.quotes.iter();
        quotes.filter(|quote| quote.what.kind.is_alternative())
    };
    let any_open = alternatives().any(|quote| quote.answer.is_none());
    let mut shown: Vec<&Quote> = Vec::new();
    for quote in alternatives().filter(|quote| !any_open || quote.answer.is_none()) {
        shown.retain(|it| it.what.kind != quote.what.kind);
        shown.push(quote);
    }
    shown.sort_by_key(|quote| quote.what.kind);
    paper(from, &shown, None)
}

/// The last extra work, beside what was agreed.
pub(super) fn extra(from: &From<'_>) -> Result<Pdf, String> {
    let extra = |quote: &&Quote| quote.what.kind == QuoteKind::Extra;
    let quote = from.view.quotes.iter().rfind(extra);
    let quote = quote.ok_or("no extra work was quoted: make its quote first")?;
    let agreed = from.view.agreed();
    let main = agreed.iter().find(|it| it.what.kind.is_alternative());
    let to = main.and_then(|main| {
        let answer = main.answer.as_ref()?;
        let together = main.totals.gross.checked_add(quote.totals.gross)?;
        let currency = main.what.total.currency;
        Some(AgreedQuote {
            kind: kind(main.what.kind),
            on: answer.on,
            total: written(main.totals.gross, currency),
            together: (currency == quote.what.total.currency).then(|| written(together, currency)),
        })
    });
    paper(from, &[quote], to)
}

fn paper(from: &From<'_>, quotes: &[&Quote], extra_to: Option<AgreedQuote>) -> Result<Pdf, String> {
    let first = quotes.first().ok_or("there is no quote yet: make one")?;
    let currency = first.what.total.currency;
    if quotes.iter().any(|it| it.what.total.currency != currency) {
        return Err(
            "the alternatives are in several currencies: quote them anew in one".to_owned(),
        );
    }
    let settings = from.settings;
    let found = from.view.faults.iter();
    let found = found.filter(|fault| fault.what.found == Found::Found);
    let paper = QuotePaper {
        language: from.language,
        bench: from.bench(),
        visit: from.visit(),
        owner: from.owner(),
        camera: from.camera(),
        issued: from.today,
        valid_until: quotes
            .iter()
            .filter_map(|quote| quote.what.valid_until)
            .min(),
        currency: currency.to_string(),
        tax_name: first.what.tax_name.clone(),
        hourly_rate: settings
            .hourly_rate
            .map(|rate| written(rate, settings.currency)),
        found: found.map(|fault| fault.what.fault.words.clone()).collect(),
        alternatives: quotes
            .iter()
            .map(|quote| alternative(from, quote))
            .collect(),
        extra_to,
        answer_to: lines(&settings.contact),
        notes: Vec::new(),
    };
    quote_paper(&paper, from.size).map_err(|error| error.to_string())
}

fn alternative(from: &From<'_>, quote: &Quote) -> QuoteAlternative {
    let (what, totals) = (&quote.what, &quote.totals);
    let currency = what.total.currency;
    let whole = |minutes: Option<f64>| minutes.map(|it| it.round().clamp(0.0, 1e6) as u32);
    let takes = together(what);
    QuoteAlternative {
        kind: kind(what.kind),
        lines: what
            .lines
            .iter()
            .map(|line| QuoteLine {
                words: line.what.words.clone(),
                quantity: line.quantity,
                grade: line.grade.map(grade),
                minutes_likely: whole(line.minutes_likely),
                minutes_nine_in_ten: whole(line.minutes_nine_in_ten),
                amount: Some(written(line.amount, currency)),
            })
            .collect(),
        net: written(totals.net, currency),
        taxes: taxes(totals, currency),
        total: written(totals.gross, currency),
        deposit: what.deposit.map(|it| written(it, currency)),
        minutes_likely: whole(takes.map(|it| it.likely)),
        minutes_nine_in_ten: whole(takes.map(|it| it.nine_in_ten)),
        guarantee_days: from.settings.guarantee_days(what.kind),
        note: what.note.clone(),
    }
}

/// How long all its work takes: not all of it goes badly at once. `None` without minutes.
pub(crate) fn together(quote: &QuoteMade) -> Option<Taking> {
    let taking = |line: &fettle_bench::QuoteLine| {
        let likely = line.minutes_likely?;
        Some(Taking {
            likely,
            nine_in_ten: line.minutes_nine_in_ten.unwrap_or(likely),
        })
    };
    let each: Vec<Taking> = quote.lines.iter().filter_map(taking).collect();
    (!each.is_empty()).then(|| take_together(&each))
}

pub(super) fn taxes(totals: &Totals, currency: fettle_bench::Currency) -> Vec<TaxLine> {
    totals
        .taxes
        .iter()
        .map(|line| TaxLine {
            percent: line.percent.normalize().to_string(),
            net: written(line.net, currency),
            tax: written(line.tax, currency),
        })
        .collect()
}

fn kind(kind: QuoteKind) -> fettle_papers::QuoteKind {
    match kind {
        QuoteKind::Repair => fettle_papers::QuoteKind::Repair,
        QuoteKind::Overhaul => fettle_papers::QuoteKind::Overhaul,
        QuoteKind::ReturnUnrepaired => fettle_papers::QuoteKind::ReturnUnrepaired,
        QuoteKind::Extra => fettle_papers::QuoteKind::Extra,
    }
}

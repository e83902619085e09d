//! The quote as its template sets it: the alternatives' lines in one table, as many columns as there are alternatives.

use std::collections::BTreeSet;

use serde::Serialize;

use super::{AgreedQuote, PartGrade, QuoteAlternative, QuoteKind, QuoteLine, QuotePaper};
use crate::language::Language;
use crate::paper_size::PaperSize;
use crate::setup::{Setup, Titles};
use crate::words::Words;

/// Alternatives that fit side by side on one sheet; more go into further tables.
const ACROSS: usize = 3;

#[derive(Debug, Serialize)]
pub(super) struct View<'a> {
    #[serde(flatten)]
    setup: Setup<'a>,
    title: &'a str,
    visit: &'a str,
    owner: &'a str,
    owner_lines: &'a [String],
    camera: String,
    serials: &'a [(String, String)],
    valid_until: Option<String>,
    found: &'a [String],
    extra: Option<[String; 2]>,
    together: Option<String>,
    amount_name: String,
    total_name: String,
    tables: Vec<Table<'a>>,
    remarks: Vec<String>,
    notes: &'a [String],
    answers: Vec<String>,
    answer_tick: &'a str,
    answer_until: Option<String>,
    answer_to: &'a [String],
}

/// Up to three alternatives side by side.
#[derive(Debug, Serialize)]
struct Table<'a> {
    columns: Vec<Column<'a>>,
    rows: Vec<Row<'a>>,
    sums: Vec<Sum>,
    totals: Vec<String>,
    below: Vec<Sum>,
}

#[derive(Debug, Serialize)]
struct Column<'a> {
    letter: String,
    name: &'a str,
    means: &'a str,
    note: &'a str,
}

#[derive(Debug, Serialize)]
struct Row<'a> {
    what: String,
    grade: Option<&'a str>,
    /// One an alternative; `None` where it has no such line.
    cells: Vec<Option<Cell>>,
}

#[derive(Debug, Serialize)]
struct Cell {
    amount: String,
    priced: bool,
    minutes: Option<String>,
}

/// A row of the foot of the table: a name and a text an alternative.
#[derive(Debug, Serialize)]
struct Sum {
    name: String,
    cells: Vec<Option<String>>,
}

impl<'a> View<'a> {
    pub(super) fn new(quote: &'a QuotePaper, size: PaperSize) -> Self {
        let language = quote.language;
        let words = Words::of(language);
        let camera = quote.camera.name();
        let titles = Titles::new(
            words,
            ("quote.document", "quote.foot"),
            &quote.bench.name,
            &quote.visit,
            &camera,
        );
        let in_currency = [("currency", quote.currency.clone())];
        let (title, answer_tick) = if quote.extra_to.is_some() {
            ("quote.title_extra", "quote.answer_tick_extra")
        } else {
            ("quote.title", "quote.answer_tick")
        };
        let valid_until = quote.valid_until.map(|day| language.day(day));
        Self {
            setup: Setup::new(
                language,
                size,
                quote.issued,
                &quote.bench,
                titles,
                &["quote"],
            ),
            title: words.say(title),
            visit: &quote.visit,
            owner: &quote.owner.name,
            owner_lines: &quote.owner.lines,
            camera,
            serials: &quote.camera.serials,
            found: &quote.found,
            extra: quote.extra_to.as_ref().map(|it| extra(it, quote)),
            together: quote.extra_to.as_ref().and_then(|agreed| {
                let total = language.money(agreed.together.as_ref()?, &quote.currency);
                Some(words.fill("quote.extra_together", &[("total", total)]))
            }),
            amount_name: words.fill("quote.amount", &in_currency),
            total_name: words.fill("quote.total_in", &in_currency),
            tables: (0..)
                .step_by(ACROSS)
                .zip(quote.alternatives.chunks(ACROSS))
                .map(|(first, few)| Table::new(first, few, quote))
                .collect(),
            remarks: remarks(quote),
            notes: &quote.notes,
            answers: answers(quote),
            answer_tick: words.say(answer_tick),
            answer_until: valid_until
                .clone()
                .map(|until| words.fill("quote.answer_until", &[("until", until)])),
            answer_to: &quote.answer_to,
            valid_until,
        }
    }
}

const fn keys(kind: QuoteKind) -> (&'static str, &'static str) {
    match kind {
        QuoteKind::Repair => ("quote.repair", "quote.repair_means"),
        QuoteKind::Overhaul => ("quote.overhaul", "quote.overhaul_means"),
        QuoteKind::ReturnUnrepaired => ("quote.return_unrepaired", "quote.return_unrepaired_means"),
        QuoteKind::Extra => ("quote.extra", "quote.extra_means"),
    }
}

/// `A`, `B`, and so on; numbers beyond `Z`.
fn letter(at: usize) -> String {
    u8::try_from(at).ok().filter(|at| *at < 26).map_or_else(
        || (at + 1).to_string(),
        |at| char::from(b'A' + at).to_string(),
    )
}

impl<'a> Table<'a> {
    fn new(first: usize, few: &'a [QuoteAlternative], quote: &'a QuotePaper) -> Self {
        let language = quote.language;
        let words = Words::of(language);
        let many = quote.alternatives.len() > 1;
        let columns = (first..).zip(few).map(|(at, it)| {
            let (name, means) = keys(it.kind);
            Column {
                letter: if many { letter(at) } else { String::new() },
                name: words.say(name),
                means: words.say(means),
                note: &it.note,
            }
        });
        let each = |of: &dyn Fn(&QuoteAlternative) -> Option<String>| few.iter().map(of).collect();
        let mut sums = Vec::new();
        if few.iter().any(|it| !it.taxes.is_empty()) {
            sums.push(Sum {
                name: words.say("quote.net").to_owned(),
                cells: each(&|it| Some(language.decimal(&it.net))),
            });
        }
        sums.extend(tax_rows(few, quote));
        let mut below: Vec<Sum> = Vec::new();
        let mut add = |name, cells: Vec<Option<String>>| {
            if cells.iter().any(Option::is_some) {
                below.push(Sum {
                    name: words.say(name).to_owned(),
                    cells,
                });
            }
        };
        add(
            "quote.deposit",
            each(&|it| it.deposit.as_ref().map(|it| language.decimal(it))),
        );
        add(
            "quote.time",
            each(&|it| minutes(language, it.minutes_likely, it.minutes_nine_in_ten)),
        );
        add(
            "quote.guarantee",
            each(&|it| {
                let days = it.guarantee_days.filter(|days| *days > 0)?;
                Some(words.count(language, "house.days", days.into()))
            }),
        );
        Self {
            columns: columns.collect(),
            rows: rows(few, language),
            sums,
            totals: few.iter().map(|it| language.decimal(&it.total)).collect(),
            below,
        }
    }
}

/// Every line of the alternatives once, in the order in which they first come, with what each alternative says of it.
/// The same line twice in one alternative is two rows.
fn rows<'a>(few: &[QuoteAlternative], language: Language) -> Vec<Row<'a>> {
    type Key<'k> = (&'k str, Option<u32>, Option<PartGrade>);
    let words = Words::of(language);
    let mut rows: Vec<(Key<'_>, Vec<Option<Cell>>)> = Vec::new();
    for (at, alternative) in few.iter().enumerate() {
        for line in &alternative.lines {
            let key = (line.words.as_str(), line.quantity, line.grade);
            let free = rows
                .iter_mut()
                .find(|(known, cells)| *known == key && cells.get(at).is_some_and(Option::is_none));
            let cells = match free {
                Some((_, cells)) => cells,
                None => {
                    let none = few.iter().map(|_| None).collect();
                    &mut rows.push_mut((key, none)).1
                }
            };
            if let Some(cell) = cells.get_mut(at) {
                *cell = Some(Cell::new(line, language));
            }
        }
    }
    let row = |((what, quantity, grade), cells): (Key<'_>, _)| Row {
        what: language.pieces(quantity.unwrap_or(1), what),
        grade: grade.map(|grade| words.say(grade.keys().0)),
        cells,
    };
    rows.into_iter().map(row).collect()
}

impl Cell {
    fn new(line: &QuoteLine, language: Language) -> Self {
        let unpriced = || Words::of(language).say("quote.unpriced").to_owned();
        Self {
            amount: line
                .amount
                .as_ref()
                .map_or_else(unpriced, |it| language.decimal(it)),
            priced: line.amount.is_some(),
            minutes: minutes(language, line.minutes_likely, line.minutes_nine_in_ten),
        }
    }
}

/// `1 h 10 min – 1 h 50 min`: the likely figure and the one that does nine times in ten.
fn minutes(language: Language, likely: Option<u32>, nine: Option<u32>) -> Option<String> {
    match (likely, nine) {
        (Some(likely), Some(nine)) if nine > likely => Some(format!(
            "{} – {}",
            language.minutes(likely),
            language.minutes(nine)
        )),
        (Some(one), _) | (None, Some(one)) => Some(language.minutes(one)),
        (None, None) => None,
    }
}

/// A row a rate, as the alternatives name them.
fn tax_rows(few: &[QuoteAlternative], quote: &QuotePaper) -> Vec<Sum> {
    let mut rates: Vec<&str> = Vec::new();
    for tax in few.iter().flat_map(|it| &it.taxes) {
        if !rates.contains(&tax.percent.as_str()) {
            rates.push(&tax.percent);
        }
    }
    let row = |rate: &str| {
        let of = |it: &QuoteAlternative| {
            let tax = it.taxes.iter().find(|tax| tax.percent == rate)?;
            Some(quote.language.decimal(&tax.tax))
        };
        let with = [
            ("tax", quote.tax_name.clone()),
            ("percent", quote.language.decimal(rate)),
        ];
        Sum {
            name: Words::of(quote.language).fill("quote.tax", &with),
            cells: few.iter().map(of).collect(),
        }
    };
    rates.into_iter().map(row).collect()
}

fn extra(agreed: &AgreedQuote, quote: &QuotePaper) -> [String; 2] {
    let language = quote.language;
    let words = Words::of(language);
    let with = [
        ("on", language.day(agreed.on)),
        ("what", words.say(keys(agreed.kind).0).to_owned()),
        ("total", language.money(&agreed.total, &quote.currency)),
    ];
    [
        words.fill("quote.extra_agreed", &with),
        words.say("quote.extra_waits").to_owned(),
    ]
}

/// What explains the table: times, the rate, the grades that stand in it, what has no price.
fn remarks(quote: &QuotePaper) -> Vec<String> {
    let words = Words::of(quote.language);
    let lines = || quote.alternatives.iter().flat_map(|it| &it.lines);
    let mut remarks = Vec::new();
    if lines().any(|line| line.minutes_nine_in_ten.is_some()) {
        remarks.push(words.say("quote.minutes_mean").to_owned());
    }
    if let Some(rate) = &quote.hourly_rate {
        let rate = quote.language.money(rate, &quote.currency);
        remarks.push(words.fill("quote.rate_means", &[("rate", rate)]));
    }
    let grades: BTreeSet<PartGrade> = lines().filter_map(|line| line.grade).collect();
    if !grades.is_empty() {
        let means: Vec<&str> = grades
            .into_iter()
            .map(|grade| words.say(grade.keys().1))
            .collect();
        remarks.push(words.fill("quote.grades_mean", &[("grades", means.join("; "))]));
    }
    if lines().any(|line| line.amount.is_none()) {
        remarks.push(words.say("quote.unpriced_means").to_owned());
    }
    remarks
}

/// What the owner can tick.
fn answers(quote: &QuotePaper) -> Vec<String> {
    let language = quote.language;
    let words = Words::of(language);
    let total = |it: &QuoteAlternative| language.money(&it.total, &quote.currency);
    if let ([only], true) = (quote.alternatives.as_slice(), quote.extra_to.is_some()) {
        return vec![
            words.fill("quote.agree_extra", &[("total", total(only))]),
            words.say("quote.decline_extra").to_owned(),
        ];
    }
    let many = quote.alternatives.len() > 1;
    let answer = |(at, it): (usize, &QuoteAlternative)| {
        let key = if many {
            "quote.agree_to_one"
        } else {
            "quote.agree_to"
        };
        let with = [
            ("letter", letter(at)),
            ("what", words.say(keys(it.kind).0).to_owned()),
            ("total", total(it)),
        ];
        words.fill(key, &with)
    };
    quote.alternatives.iter().enumerate().map(answer).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(words: &str, amount: &str) -> QuoteLine {
        QuoteLine {
            words: words.to_owned(),
            amount: Some(amount.to_owned()),
            ..QuoteLine::default()
        }
    }

    #[test]
    fn a_line_of_several_alternatives_is_one_row_and_a_line_twice_in_one_is_two() {
        let few = [
            vec![line("clean", "10"), line("set", "5")],
            vec![line("set", "6"), line("clean", "10"), line("clean", "3")],
        ]
        .map(|lines| QuoteAlternative {
            lines,
            ..QuoteAlternative::default()
        });
        let told: Vec<(String, Vec<Option<String>>)> = rows(&few, Language::En)
            .into_iter()
            .map(|row| {
                let cells = row.cells.into_iter().map(|it| it.map(|it| it.amount));
                (row.what, cells.collect())
            })
            .collect();
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(
            told,
            [
                ("clean".to_owned(), vec![some("10"), some("10")]),
                ("set".to_owned(), vec![some("5"), some("6")]),
                ("clean".to_owned(), vec![None, some("3")]),
            ]
        );
    }

    #[test]
    fn alternatives_are_lettered_and_numbered_beyond_z() {
        assert_eq!([0, 25, 26].map(letter), ["A", "Z", "27"]);
    }
}

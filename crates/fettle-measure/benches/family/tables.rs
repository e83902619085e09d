//! The tables as printed.

use super::goals::{coverage, errors};
use super::tally::{Compared, Tally, quantile};

pub(crate) fn head() {
    println!(
        "effective time: errors and stated k = 2 uncertainties in stops; then total time's coverage, shots \
         missed and invented,\nmarks wrong without a flag and unsure, recordings with false and with \
         untold findings, and cases refused of those to be"
    );
    println!(
        "{:15}{:>6}{:>6}{:>9}{:>9}{:>9}{:>8}{:>9}{:>8}{:>7}{:>7}{:>6}{:>7}{:>6}{:>7}{:>9}",
        "group",
        "cases",
        "shots",
        "median",
        "95 %",
        "worst",
        "inside",
        "stated",
        "total",
        "missed",
        "invent",
        "wrong",
        "unsure",
        "false",
        "untold",
        "refused"
    );
}

pub(crate) fn line(name: &str, tally: &Tally) {
    let effective = |part| number(quantile(errors(&tally.effective), part));
    let stated = quantile(tally.effective.iter().filter_map(|it| it.stated), 0.5);
    let refused = if tally.to_refuse > 0 {
        format!("{}/{}", tally.refused, tally.to_refuse)
    } else {
        "-".to_owned()
    };
    println!(
        "{name:15}{:6}{:6}{:>9}{:>9}{:>9}{:>8}{:>9}{:>8}{:7}{:7}{:6}{:7}{:6}{:7}{refused:>9}",
        tally.cases,
        tally.there,
        effective(0.5),
        effective(0.95),
        effective(1.0),
        percent(&tally.effective),
        number(stated),
        percent(&tally.total),
        tally.missed,
        tally.invented,
        tally.wrong,
        tally.unsure,
        tally.false_findings,
        tally.untold_findings,
    );
}

pub(crate) fn others(all: &Tally) {
    println!();
    println!(
        "{:32}{:>6}{:>11}{:>11}{:>11}{:>8}",
        "quantity", "count", "median", "95 %", "worst", "inside"
    );
    other("total time, ms", &all.total);
    other("effective at f/4 to f/16, stops", &all.apertures);
}

fn other(name: &str, compared: &[Compared]) {
    let error = |part| quantile(errors(compared), part);
    println!(
        "{name:32}{:6}{:11.5}{:11.5}{:11.5}{:>8}",
        compared.len(),
        error(0.5),
        error(0.95),
        error(1.0),
        percent(compared)
    );
}

fn number(value: f64) -> String {
    if value.is_nan() {
        "-".to_owned()
    } else {
        format!("{value:.5}")
    }
}

fn percent(compared: &[Compared]) -> String {
    let part = coverage(compared);
    if part.is_nan() {
        "-".to_owned()
    } else {
        format!("{:.1}%", 100.0 * part)
    }
}

//! The tables as printed.

use super::goals::{coverage, errors};
use super::tally::{Compared, Tally, quantile};

pub(crate) fn head() {
    println!(
        "effective time: errors and stated k = 2 uncertainties in stops; then total time's coverage, shots \
         missed and invented,\nmarks wrong without a flag and unsure, recordings with false findings, those \
         with false patterns over the dial,\nand with untold findings, and cases refused of those to be. \
         By sound a missed one is a slow speed left untold"
    );
    println!(
        "{:15}{:>6}{:>6}{:>9}{:>9}{:>9}{:>8}{:>9}{:>8}{:>7}{:>7}{:>6}{:>7}{:>6}{:>8}{:>7}{:>9}",
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
        "pattern",
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
        "{name:15}{:6}{:6}{:>9}{:>9}{:>9}{:>8}{:>9}{:>8}{:7}{:7}{:6}{:7}{:6}{:8}{:7}{refused:>9}",
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
        tally.false_patterns,
        tally.untold_findings,
    );
}

/// What is told of releases beside their times, of the groups in which there is any.
pub(crate) fn releases(groups: &[(&str, Tally)]) {
    let any = |tally: &Tally| !(tally.travel.is_empty() && tally.flash.is_empty());
    let groups: Vec<_> = groups.iter().filter(|(_, tally)| any(tally)).collect();
    if groups.is_empty() {
        return;
    }
    println!();
    println!(
        "evenness in stops, travel in percent, contact to fully open in milliseconds: median and 95 % of \
         errors, inside, stated;\nreleases wrongly said to be capped or not, place from which in mm; \
         flashes told or untold wrongly"
    );
    for (name, tally) in groups {
        let three = [&tally.evenness, &tally.travel, &tally.flash];
        let three = three.map(|compared| {
            let error = |part| number(quantile(errors(compared), part));
            let stated = number(quantile(compared.iter().filter_map(|it| it.stated), 0.5));
            let inside = percent(compared);
            format!("{:>9}{:>9}{inside:>7}{stated:>9}", error(0.5), error(0.95))
        });
        println!(
            "{name:15}{} |{} |{} |{:4}{:>9}{:4}",
            three[0],
            three[1],
            three[2],
            tally.capped_wrong,
            number(quantile(errors(&tally.capped), 0.95)),
            tally.flash_wrong
        );
    }
}

pub(crate) fn others(all: &Tally) {
    println!();
    println!(
        "{:32}{:>6}{:>11}{:>11}{:>11}{:>8}",
        "quantity", "count", "median", "95 %", "worst", "inside"
    );
    other("total time, ms", &all.total);
    other("effective at f/4 to f/16, stops", &all.apertures);
    other("evenness, stops", &all.evenness);
    other("travel, %", &all.travel);
    other("contact to fully open, ms", &all.flash);
    other("capped from, mm", &all.capped);
    other("by sound, stops", &all.heard);
    println!(
        "by sound {} of {} slow speeds told; {} releases wrong about capping, {} about the flash",
        all.heard.len(),
        all.to_hear,
        all.capped_wrong,
        all.flash_wrong
    );
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

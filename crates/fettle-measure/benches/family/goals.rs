//! What must hold of the family.

use super::groups::{Group, Held};
use super::tally::{Compared, Tally, quantile};

const MEDIAN_STOPS: f64 = 0.0005;
const MOST_STOPS: f64 = 0.02;
const STRICT_STOPS: f64 = 0.002;
const STATED_STOPS: f64 = 0.003;
const COVERED: (f64, f64) = (0.93, 0.99);
/// A group's coverage counts from so many shots on.
const ENOUGH: usize = 40;
const MISSED: f64 = 0.005;
const FALSE_FINDINGS: f64 = 0.03;
/// A pattern over the dial that is none, in clean recordings.
const FALSE_PATTERNS: f64 = 0.03;
const EVENNESS_MEDIAN_STOPS: f64 = 0.0005;
const EVENNESS_MOST_STOPS: f64 = 0.03;
const TRAVEL_MEDIAN_PERCENT: f64 = 0.02;
const TRAVEL_MOST_PERCENT: f64 = 0.6;
const APERTURE_MEDIAN_STOPS: f64 = 0.002;
const APERTURE_MOST_STOPS: f64 = 0.02;

/// The figures that are not met, in words.
#[derive(Default)]
pub(crate) struct Goals {
    pub(crate) broken: Vec<String>,
}

impl Goals {
    pub(crate) fn below(&mut self, what: &str, value: f64, limit: f64) {
        if value > limit {
            self.broken
                .push(format!("{what}: {value:.5}, at most {limit}"));
        }
    }

    fn covered(&mut self, what: &str, compared: &[Compared]) {
        self.inside(what, compared, COVERED.1);
    }

    fn held(&mut self, what: &str, compared: &[Compared]) {
        self.inside(what, compared, 1.0);
    }

    fn inside(&mut self, what: &str, compared: &[Compared], most: f64) {
        let part = coverage(compared);
        if compared.len() >= ENOUGH && !(COVERED.0..=most).contains(&part) {
            self.broken.push(format!(
                "{what}: {:.1} % inside the stated uncertainty, wanted {:.0} to {:.0} %",
                100.0 * part,
                100.0 * COVERED.0,
                100.0 * most
            ));
        }
    }

    pub(crate) fn group(&mut self, group: &Group, tally: &Tally) {
        let name = group.name;
        if group.held == Held::Strict {
            let most = quantile(errors(&tally.effective), 0.95);
            self.below(
                &format!("{name}: 95 % of errors, stops"),
                most,
                STRICT_STOPS,
            );
        }
        match group.held {
            // What such a sensor or coding did beyond what is left of it is allowed for.
            Held::Stated => self.held(name, &tally.effective),
            _ => self.covered(name, &tally.effective),
        }
        // These allow for unlike sensors, which most groups do not have: too wide there.
        self.held(&format!("{name}: evenness"), &tally.evenness);
        self.held(&format!("{name}: travel"), &tally.travel);
        self.held(&format!("{name}: flash"), &tally.flash);
        if group.clean {
            let part = tally.false_findings as f64 / tally.cases.max(1) as f64;
            self.below(
                &format!("{name}: part with false findings"),
                part,
                FALSE_FINDINGS,
            );
            let part = tally.false_patterns as f64 / tally.cases.max(1) as f64;
            self.below(
                &format!("{name}: part with false patterns"),
                part,
                FALSE_PATTERNS,
            );
        }
    }

    /// `held` are the groups whose errors count, `all` every group.
    pub(crate) fn family(&mut self, held: &Tally, all: &Tally) {
        let error = |part| quantile(errors(&held.effective), part);
        self.below("median error, stops", error(0.5), MEDIAN_STOPS);
        self.below("95 % of errors, stops", error(0.95), MOST_STOPS);
        let stated = quantile(all.effective.iter().filter_map(|it| it.stated), 0.5);
        self.below("median stated uncertainty, stops", stated, STATED_STOPS);
        self.covered("all", &all.effective);
        let part = all.missed as f64 / all.there.max(1) as f64;
        self.below("part missed", part, MISSED);
        self.below("invented", all.invented as f64, 0.0);
        self.below("wrong marks not flagged", all.wrong as f64, 0.0);
        let let_through = (all.to_refuse - all.refused) as f64;
        self.below("refusal cases not refused", let_through, 0.0);
        let aperture = |part| quantile(errors(&all.apertures), part);
        self.below(
            "apertures: median error, stops",
            aperture(0.5),
            APERTURE_MEDIAN_STOPS,
        );
        self.below(
            "apertures: 95 % of errors, stops",
            aperture(0.95),
            APERTURE_MOST_STOPS,
        );
        let evenness = |part| quantile(errors(&held.evenness), part);
        self.below(
            "evenness: median error, stops",
            evenness(0.5),
            EVENNESS_MEDIAN_STOPS,
        );
        self.below(
            "evenness: 95 % of errors, stops",
            evenness(0.95),
            EVENNESS_MOST_STOPS,
        );
        let travel = |part| quantile(errors(&held.travel), part);
        self.below(
            "travel: median error, %",
            travel(0.5),
            TRAVEL_MEDIAN_PERCENT,
        );
        self.below(
            "travel: 95 % of errors, %",
            travel(0.95),
            TRAVEL_MOST_PERCENT,
        );
        self.held("by sound", &all.heard);
    }
}

pub(crate) fn errors(compared: &[Compared]) -> impl Iterator<Item = f64> {
    compared.iter().map(|it| it.error.abs())
}

/// The part of the figures that lie inside what was stated; not a number when there are none.
pub(crate) fn coverage(compared: &[Compared]) -> f64 {
    let stated = compared.iter().filter(|it| it.stated.is_some()).count();
    compared.iter().filter(|it| it.holds()).count() as f64 / stated as f64
}

//! What is noticed about a history.

use serde::{Deserialize, Serialize};

use super::history::{History, days_between};
use super::rates::gamma_below;

/// With fewer needs a forecast rests mostly on its prior.
const FEW: usize = 3;
/// A forecast this many times farther ahead than was watched.
const FAR: f64 = 3.0;
/// Fewest needs in which a trend, or clumps, can be told.
const FEWEST_FOR_TREND: usize = 6;
/// One history in a hundred shows so much of a trend, or such clumps, by chance.
const BY_CHANCE: f64 = 0.01;
/// The same as a two-sided deviate of the normal distribution.
const BY_CHANCE_DEVIATE: f64 = 2.576;

/// Something noticed. In JSON one flat object: `{"kind":"few-needs",...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// No need was seen at all.
    NothingSeen {
        /// Years watched.
        years: f64,
    },
    /// Few needs were seen.
    FewNeeds {
        /// How many.
        needs: usize,
    },
    /// The first row is a need.
    OpensWithNeed,
    /// Several rows of one day.
    SameDay {
        /// Rows that follow another of their day.
        rows: usize,
    },
    /// The forecast reaches much farther ahead than was watched.
    FarAhead {
        /// Years ahead.
        years: f64,
        /// Years watched.
        watched: f64,
    },
    /// Needs became more or less frequent.
    RateChanged {
        /// They became more frequent.
        rising: bool,
        /// Needs in the first half of the time watched.
        first_half: usize,
        /// Needs in the second half.
        second_half: usize,
    },
    /// Needs come in clumps.
    Clumped {
        /// Variance over mean of the needs in equal stretches of time; 1 when they come at random.
        dispersion: f64,
    },
    /// What would have to be bought is more than is counted.
    BeyondCounting {
        /// Pieces counted.
        counted: u32,
    },
}

impl Finding {
    /// In plain words.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::NothingSeen { years } => format!(
                "no need was seen in {years:.1} years watched: the forecast rests on what is usual for like parts"
            ),
            Self::FewNeeds { needs } => format!(
                "only {needs} needs were seen: the forecast rests largely on what is usual for like parts"
            ),
            Self::OpensWithNeed => "the first row is a need, so the time before it is not counted and needs look more frequent than they are: put a row with quantity 0 at the day watching began".to_owned(),
            Self::SameDay { rows } => format!(
                "{rows} rows follow another of the same day: pieces for one camera are one need and belong in one row"
            ),
            Self::FarAhead { years, watched } => format!(
                "the forecast reaches {years:.1} years ahead and {watched:.1} were watched: it holds only if needs stay as they are"
            ),
            Self::RateChanged { rising, first_half, second_half } => format!(
                "needs become {} frequent, {first_half} in the first half of the time watched and {second_half} in the second: the forecast takes them to stay as in the average",
                if *rising { "more" } else { "less" }
            ),
            Self::Clumped { dispersion } => format!(
                "needs come in clumps (variance {dispersion:.1} times the mean): the forecast is surer than it should be"
            ),
            Self::BeyondCounting { counted } => format!(
                "what would have to be bought is more than the {counted} pieces that are counted"
            ),
        }
    }
}

/// What is noticed about a history from which so many years ahead are forecast.
pub(super) fn findings(history: &History, years_ahead: f64) -> Vec<Finding> {
    let needs = history.needs();
    let years = history.years();
    let mut findings = Vec::new();
    match needs.len() {
        0 => findings.push(Finding::NothingSeen { years }),
        needs if needs < FEW => findings.push(Finding::FewNeeds { needs }),
        _ => {}
    }
    if needs.first().is_some_and(|need| need.day == history.from()) {
        findings.push(Finding::OpensWithNeed);
    }
    let rows = needs
        .iter()
        .zip(needs.iter().skip(1))
        .filter(|(a, b)| a.day == b.day)
        .count();
    if rows > 0 {
        findings.push(Finding::SameDay { rows });
    }
    if years_ahead > FAR * years {
        findings.push(Finding::FarAhead {
            years: years_ahead,
            watched: years,
        });
    }
    let places = places(history);
    if places.len() >= FEWEST_FOR_TREND {
        findings.extend(trend(&places));
        findings.extend(clumps(&places));
    }
    findings
}

/// Where in the time watched each need came, 0 to 1.
fn places(history: &History) -> Vec<f64> {
    let days = days_between(history.from(), history.today());
    if days <= 0 {
        return Vec::new();
    }
    let place = |day| (days_between(history.from(), day) as f64 / days as f64).min(1.0);
    history.needs().iter().map(|need| place(need.day)).collect()
}

/// Laplace's test: needs at a steady rate lie evenly over the time watched.
fn trend(places: &[f64]) -> Option<Finding> {
    let count = places.len() as f64;
    let mean = places.iter().sum::<f64>() / count;
    let deviate = (mean - 0.5) * (12.0 * count).sqrt();
    let first_half = places.iter().filter(|place| **place < 0.5).count();
    (deviate.abs() > BY_CHANCE_DEVIATE).then_some(Finding::RateChanged {
        rising: deviate > 0.0,
        first_half,
        second_half: places.len() - first_half,
    })
}

/// The dispersion test over equal stretches with two needs each on the average (Fisher 1925).
fn clumps(places: &[f64]) -> Option<Finding> {
    let stretches = places.len() / 2;
    let mut counts = vec![0.0_f64; stretches];
    for place in places {
        let stretch = ((place * stretches as f64) as usize).min(stretches.saturating_sub(1));
        if let Some(count) = counts.get_mut(stretch) {
            *count += 1.0;
        }
    }
    let mean = places.len() as f64 / stretches as f64;
    let square: f64 = counts.iter().map(|count| (count - mean).powi(2)).sum();
    let freedom = stretches as f64 - 1.0;
    let by_chance = 1.0 - gamma_below(0.5 * freedom, 0.5 * square / mean);
    (freedom > 0.0 && by_chance < BY_CHANCE).then_some(Finding::Clumped {
        dispersion: square / mean / freedom,
    })
}

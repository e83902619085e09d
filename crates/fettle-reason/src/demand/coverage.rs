//! How often forecasts hold what comes.

use super::drawn::{Part, SEVERAL, SINGLE, Sizes, gamma};
use super::{Forecast, History, Prior, Until, forecast, pieces};
use crate::lots::Lots;

/// Parts of one kind, and how their forecasts are made.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Family {
    pub(crate) name: &'static str,
    /// The rates are a Gamma distribution with this shape ...
    pub(crate) shape: f64,
    /// ... over so many years; a shape of infinity is a rate of one over them for all.
    pub(crate) years: f64,
    pub(crate) sizes: Sizes,
    /// Like parts to pool, none for the default prior.
    pub(crate) like: usize,
}

/// How many of the 80 % intervals held.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Held {
    pub(crate) histories: u32,
    /// Run-out days between the 10 % and the 90 % one.
    pub(crate) runs_out: u32,
    /// Run-out days before the 10 % one.
    pub(crate) sooner: u32,
    /// Pieces needed in the years to come between the 10 % and the 90 % figure, both included.
    pub(crate) pieces: u32,
    /// Sum of the chances to last, and how many did.
    pub(crate) chance: f64,
    pub(crate) lasted: u32,
    /// How many were safe with what was to be bought at 90 %.
    pub(crate) served: u32,
}

const AHEAD: f64 = 5.0;
const SERVICE: f64 = 0.9;

/// Rates as the default prior has them, rates that differ from part to part about three in two years, and one rate for all.
pub(crate) const FAMILIES: [Family; 10] = [
    family("as the default prior", 0.5, 1.0, SINGLE, 0),
    family(
        "as the default prior, several at a time",
        0.5,
        1.0,
        SEVERAL,
        0,
    ),
    family("often, pooled from 12", 2.0, 1.3, SINGLE, 12),
    family(
        "often, pooled from 12, several at a time",
        2.0,
        1.3,
        SEVERAL,
        12,
    ),
    family("often, pooled from 4", 2.0, 1.3, SINGLE, 4),
    family(
        "often, pooled from 4, several at a time",
        2.0,
        1.3,
        SEVERAL,
        4,
    ),
    family("often, by the default prior", 2.0, 1.3, SINGLE, 0),
    family("often, by the default prior, several", 2.0, 1.3, SEVERAL, 0),
    family(
        "3 a year, by the default prior",
        f64::INFINITY,
        0.333,
        SINGLE,
        0,
    ),
    family(
        "3 a year, by the default prior, several",
        f64::INFINITY,
        0.333,
        SEVERAL,
        0,
    ),
];

const fn family(name: &'static str, shape: f64, years: f64, sizes: Sizes, like: usize) -> Family {
    Family {
        name,
        shape,
        years,
        sizes,
        like,
    }
}

impl Family {
    pub(crate) fn held(&self, histories: u32, lots: &mut Lots) -> Held {
        let mut held = Held::default();
        for _ in 0..histories {
            let part = self.part(lots);
            let prior = self.prior(lots);
            let watched = lots.between(3.0, 10.0);
            let Some(history) = history(&part, watched, lots) else {
                continue;
            };
            let on_hand = 1 + lots.below(20) as u32;
            let until = Until::Years(AHEAD);
            let told = forecast(&history, &prior, on_hand, until, SERVICE);
            let needed = pieces(&history, &prior, AHEAD);
            if let (Ok(told), Ok(needed)) = (told, needed) {
                let (runs_out, within) = part.lies_ahead(on_hand, AHEAD, lots);
                let far = jiff::civil::Date::MAX;
                let day = runs_out.unwrap_or(far);
                let sooner = day < told.runs_out.p10.unwrap_or(far);
                let later = day > told.runs_out.p90.unwrap_or(far);
                let fewer = needed.quantile(0.1).is_some_and(|low| within < low);
                let more = needed.quantile(0.9).is_some_and(|high| within > high);
                held.histories += 1;
                held.runs_out += u32::from(!sooner && !later);
                held.sooner += u32::from(sooner);
                held.pieces += u32::from(!fewer && !more);
                held.chance += told.lasts_probability;
                held.lasted += u32::from(within <= on_hand);
                held.served += u32::from(within <= on_hand + bought(&told));
            }
        }
        held
    }

    fn part(&self, lots: &mut Lots) -> Part {
        let rate = if self.shape.is_finite() {
            gamma(self.shape, lots) / self.years
        } else {
            1.0 / self.years
        };
        let sizes = self.sizes;
        Part {
            rate: rate.max(1e-9),
            sizes,
        }
    }

    fn prior(&self, lots: &mut Lots) -> Prior {
        let like: Vec<History> = (0..self.like)
            .filter_map(|_| {
                let part = self.part(lots);
                let watched = lots.between(3.0, 10.0);
                history(&part, watched, lots)
            })
            .collect();
        Prior::pooled(&like.iter().collect::<Vec<_>>())
    }
}

fn bought(told: &Forecast) -> u32 {
    told.buy_now.unwrap_or(0)
}

fn history(part: &Part, years: f64, lots: &mut Lots) -> Option<History> {
    let (rows, today) = part.used(years, lots);
    History::of_rows(rows, Some(today)).ok()
}

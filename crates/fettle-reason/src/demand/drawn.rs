//! Parts drawn by lot, whose rates and sizes are known: what was used of them, and what will be.

use std::f64::consts::TAU;

use jiff::civil::{Date, date};

use crate::lots::Lots;

const TODAY: Date = date(2030, 6, 1);
const DAYS: f64 = 365.25;
const NEVER: f64 = 100.0;

/// Pieces in one need, and how often.
pub(crate) type Sizes = &'static [(u32, f64)];

pub(crate) const SINGLE: Sizes = &[(1, 1.0)];
pub(crate) const SEVERAL: Sizes = &[(1, 0.5), (2, 0.3), (4, 0.15), (8, 0.05)];

/// A part as it truly is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    /// Needs in a year.
    pub(crate) rate: f64,
    pub(crate) sizes: Sizes,
}

impl Part {
    /// Rows of use in so many years until today.
    pub(crate) fn used(&self, years: f64, lots: &mut Lots) -> (Vec<(Date, u32)>, Date) {
        let mut rows = vec![(before_today(years), 0)];
        let mut ago = years - self.wait(lots);
        while ago > 0.0 {
            rows.push((before_today(ago), self.size(lots)));
            ago -= self.wait(lots);
        }
        (rows, TODAY)
    }

    /// The day from today on which a need first cannot be met, `None` beyond 100 years; and the pieces needed in so many years.
    pub(crate) fn lies_ahead(
        &self,
        on_hand: u32,
        years: f64,
        lots: &mut Lots,
    ) -> (Option<Date>, u32) {
        let (mut time, mut needed, mut within) = (self.wait(lots), 0, 0);
        let mut runs_out = None;
        while time < NEVER && (runs_out.is_none() || time < years) {
            needed += self.size(lots);
            if time < years {
                within = needed;
            }
            if needed > on_hand && runs_out.is_none() {
                runs_out = Some(before_today(-time));
            }
            time += self.wait(lots);
        }
        (runs_out, within)
    }

    fn wait(&self, lots: &mut Lots) -> f64 {
        -(1.0 - lots.next()).ln() / self.rate
    }

    fn size(&self, lots: &mut Lots) -> u32 {
        let mut left = lots.next();
        for (pieces, share) in self.sizes {
            left -= share;
            if left < 0.0 {
                return *pieces;
            }
        }
        1
    }
}

fn before_today(years: f64) -> Date {
    let days = (years * DAYS).floor() as i64;
    TODAY
        .checked_sub(jiff::SignedDuration::from_hours(24 * days))
        .unwrap_or(TODAY)
}

/// A lot of the Gamma distribution of scale 1 (Marsaglia & Tsang 2000).
pub(crate) fn gamma(shape: f64, lots: &mut Lots) -> f64 {
    if shape < 1.0 {
        return gamma(shape + 1.0, lots) * (1.0 - lots.next()).powf(1.0 / shape);
    }
    let d = shape - 1.0 / 3.0;
    loop {
        let normal = (-2.0 * (1.0 - lots.next()).ln()).sqrt() * (TAU * lots.next()).cos();
        let v = (1.0 + normal / (9.0 * d).sqrt()).powi(3);
        if v > 0.0 && (1.0 - lots.next()).ln() < 0.5 * normal * normal + d * (1.0 - v + v.ln()) {
            return d * v;
        }
    }
}

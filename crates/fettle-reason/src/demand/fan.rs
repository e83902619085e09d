//! What is left in the drawer, day by day.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::DAYS_PER_YEAR;
use super::history::days_after;
use super::pieces::Walk;
use super::rates::Rates;

/// Days at which the fan is drawn, besides today.
const POINTS: i64 = 48;

/// What is left on one day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FanPoint {
    /// The day.
    pub date: Date,
    /// Pieces left that are undercut one time in ten.
    pub p10: u32,
    /// One time in four.
    pub p25: u32,
    /// One time in two.
    pub p50: u32,
    /// Three times in four.
    pub p75: u32,
    /// Nine times in ten.
    pub p90: u32,
    /// The chance that every need until then can be met.
    pub lasts_probability: f64,
}

/// The fan from today over so many days.
pub(super) fn fan(rates: &Rates, today: Date, days: i64, on_hand: u32) -> Vec<FanPoint> {
    let points = POINTS.min(days.max(1));
    (0..=points)
        .filter_map(|n| {
            let ahead = days * n / points;
            Some(point(rates, days_after(today, ahead)?, ahead, on_hand))
        })
        .collect()
}

fn point(rates: &Rates, date: Date, ahead: i64, on_hand: u32) -> FanPoint {
    let mut walk = Walk::new(rates, ahead as f64 / DAYS_PER_YEAR, on_hand);
    let mut needed_at_most = Vec::with_capacity(on_hand as usize + 1);
    let mut sum = 0.0;
    for _ in 0..=on_hand {
        sum += walk.step();
        needed_at_most.push(f64::min(sum, 1.0));
    }
    // Less than `p` of the chance lies below what is left: more than 1 - p of it needs no more than the rest.
    let left = |p: f64| {
        let needed = needed_at_most.partition_point(|chance| *chance < 1.0 - p);
        on_hand.saturating_sub(u32::try_from(needed).unwrap_or(u32::MAX))
    };
    FanPoint {
        date,
        p10: left(0.1),
        p25: left(0.25),
        p50: left(0.5),
        p75: left(0.75),
        p90: left(0.9),
        lasts_probability: sum.min(1.0),
    }
}

//! Whether the drawer will last.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::DAYS_PER_YEAR;
use super::error::{ForecastError, within};
use super::fan::{FanPoint, fan};
use super::finding::{Finding, findings};
use super::history::{History, days_after, days_between};
use super::pieces::{MOST_COUNTED, Pieces, Walk, at_most};
use super::prior::Prior;
use super::rates::Rates;
use super::visits::Visits;

/// Run-out later than this is never.
const MOST_YEARS: f64 = 100.0;
const MOST_DAYS: i64 = 36_525;
/// More pieces on hand are a slip.
const MOST_ON_HAND: u32 = 10_000;
/// The fan is drawn so far past the date asked for when the drawer may outlast it.
const FAN_PAST: f64 = 2.0;

/// Until when the drawer is to last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Until {
    /// A day after today, itself included.
    Date(Date),
    /// So many years from today, of 365.25 days.
    Years(f64),
}

/// When the first need comes that cannot be met; `None` when beyond 100 years.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RunsOut {
    /// Sooner only one time in ten.
    pub p10: Option<Date>,
    /// As likely sooner as later.
    pub p50: Option<Date>,
    /// Later only one time in ten.
    pub p90: Option<Date>,
}

/// Needs in a year, with the interval that holds them with a chance of 80 %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PerYear {
    /// Expected.
    pub mean: f64,
    /// Lower end.
    pub p10: f64,
    /// Upper end.
    pub p90: f64,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Forecast {
    /// The day it looks ahead from.
    pub today: Date,
    /// The day until which the drawer is to last.
    pub until: Date,
    /// Years between the two.
    pub years: f64,
    /// Pieces on hand.
    pub on_hand: u32,
    /// The chance with which it is to last.
    pub service: f64,
    /// The chance that it lasts: that no more are needed than are on hand.
    pub lasts_probability: f64,
    /// When it runs out.
    pub runs_out: RunsOut,
    /// Pieces to buy now, once, so that it lasts with the chance `service`; `None` when more than 20,000 would be needed.
    pub buy_now: Option<u32>,
    /// What was believed before any need was seen.
    pub prior: Prior,
    /// Years watched.
    pub watched_years: f64,
    /// Needs seen.
    pub needs_seen: usize,
    /// Pieces that they took.
    pub pieces_seen: u64,
    /// The visits reckoned with, when it was by visits.
    #[serde(default)]
    pub visits: Option<Visits>,
    /// Needs in a year to come.
    pub rate_per_year: PerYear,
    /// Pieces that a need takes on the average.
    pub pieces_per_need: f64,
    /// Pieces needed until then, on the average.
    pub pieces_expected: f64,
    /// What is left, day by day, for drawing.
    pub fan: Vec<FanPoint>,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Forecasts a drawer with so many on hand; `service` is the chance with which it is to last, above 0 and below 1.
///
/// # Errors
/// [`ForecastError`] when a number is outside its meaning, or `until` is not ahead.
///
/// # Example
/// ```
/// use fettle_reason::demand::{History, Prior, Until, forecast};
/// use jiff::civil::date;
///
/// let rows = [(date(2026, 1, 1), 0), (date(2026, 5, 20), 1), (date(2027, 2, 3), 2)];
/// let history = History::of_rows(rows, Some(date(2028, 1, 1)))?;
/// let forecast = forecast(&history, &Prior::default(), 4, Until::Years(5.0), 0.95)?;
/// assert!((0.4..0.5).contains(&forecast.lasts_probability));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn forecast(
    history: &History,
    prior: &Prior,
    on_hand: u32,
    until: Until,
    service: f64,
) -> Result<Forecast, ForecastError> {
    prior.check()?;
    let rates = Rates::of(history, prior);
    Asked::check(history, on_hand, until, service)?.answer(history, prior, &rates)
}

/// The same by use per visit: needs were seen in so many visits, and others are expected in a year to come than there were. The prior's
/// needs came in as many visits as its years would bring.
///
/// # Errors
/// [`ForecastError`] as [`forecast()`], and when needs were seen in no visit.
pub fn forecast_by_visits(
    history: &History,
    visits: &Visits,
    prior: &Prior,
    on_hand: u32,
    until: Until,
    service: f64,
) -> Result<Forecast, ForecastError> {
    prior.check()?;
    visits.check(history)?;
    let mut rates = Rates::of(history, prior);
    rates.exposure = visits.exposure(prior.years);
    let asked = Asked::check(history, on_hand, until, service)?;
    let answer = asked.answer(history, prior, &rates)?;
    Ok(Forecast {
        visits: Some(*visits),
        ..answer
    })
}

/// The pieces that will be needed in so many years.
///
/// # Errors
/// [`ForecastError`] when a number is outside its meaning.
pub fn pieces(history: &History, prior: &Prior, years: f64) -> Result<Pieces, ForecastError> {
    prior.check()?;
    check_years(years)?;
    Ok(Pieces::of(&Rates::of(history, prior), years))
}

fn check_years(years: f64) -> Result<(), ForecastError> {
    let sane = years > 0.0 && years <= MOST_YEARS;
    within("the years ahead", "above 0 and at most 100", years, sane)
}

/// A question with a meaning.
struct Asked {
    on_hand: u32,
    until: Date,
    years: f64,
    service: f64,
}

impl Asked {
    fn check(
        history: &History,
        on_hand: u32,
        until: Until,
        service: f64,
    ) -> Result<Self, ForecastError> {
        let sane = service > 0.0 && service < 1.0;
        within("the service level", "above 0 and below 1", service, sane)?;
        let count = f64::from(on_hand);
        let sane = on_hand <= MOST_ON_HAND;
        within("the pieces on hand", "at most 10000", count, sane)?;
        let today = history.today();
        let (until, years) = match until {
            Until::Date(until) if until <= today => {
                return Err(ForecastError::NotAhead { until, today });
            }
            Until::Date(until) => (
                Some(until),
                days_between(today, until) as f64 / DAYS_PER_YEAR,
            ),
            Until::Years(years) => {
                check_years(years)?;
                let days = (years * DAYS_PER_YEAR).round() as i64;
                (days_after(today, days), years)
            }
        };
        check_years(years)?;
        let until = until.ok_or(ForecastError::OutOfRange {
            what: "the years ahead",
            must: "within the calendar",
            value: years,
        })?;
        Ok(Self {
            on_hand,
            until,
            years,
            service,
        })
    }

    fn answer(
        &self,
        history: &History,
        prior: &Prior,
        rates: &Rates,
    ) -> Result<Forecast, ForecastError> {
        let today = history.today();
        let mut findings = findings(history, self.years);
        let buy_now = self.buy(rates);
        if buy_now.is_none() {
            let counted = MOST_COUNTED;
            findings.push(Finding::BeyondCounting { counted });
        }
        let days = [0.1, 0.5, 0.9].map(|p| self.runs_out(rates, p));
        let [p10, p50, p90] = days.map(|days| days_after(today, days?));
        let horizon = days_between(today, self.until).max(1);
        let furthest = (FAN_PAST * horizon as f64) as i64;
        let late = days[2].unwrap_or(MOST_DAYS).clamp(horizon, furthest);
        let rate_per_year = PerYear {
            mean: rates.per_year(),
            p10: rates.per_year_at(0.1),
            p90: rates.per_year_at(0.9),
        };
        Ok(Forecast {
            today,
            until: self.until,
            years: self.years,
            on_hand: self.on_hand,
            service: self.service,
            lasts_probability: at_most(rates, self.years, self.on_hand),
            runs_out: RunsOut { p10, p50, p90 },
            buy_now,
            prior: prior.clone(),
            watched_years: history.years(),
            needs_seen: history.needs().len(),
            pieces_seen: history.pieces(),
            visits: None,
            rate_per_year,
            pieces_per_need: rates.pieces_per_need(),
            pieces_expected: rate_per_year.mean * rates.pieces_per_need() * self.years,
            fan: fan(rates, today, late, self.on_hand),
            findings,
        })
    }

    /// The fewest more with which the drawer lasts.
    fn buy(&self, rates: &Rates) -> Option<u32> {
        let mut walk = Walk::new(rates, self.years, MOST_COUNTED);
        let mut sum = 0.0;
        let enough = (0..=MOST_COUNTED).find(|_| {
            sum += walk.step();
            sum >= self.service
        })?;
        Some(enough.saturating_sub(self.on_hand))
    }

    /// The first day by which the drawer has run out with the chance `p`.
    fn runs_out(&self, rates: &Rates, p: f64) -> Option<i64> {
        let has_run_out =
            |days: i64| 1.0 - at_most(rates, days as f64 / DAYS_PER_YEAR, self.on_hand) >= p;
        if !has_run_out(MOST_DAYS) {
            return None;
        }
        let (mut before, mut after) = (0, MOST_DAYS);
        while after - before > 1 {
            let middle = i64::midpoint(before, after);
            if has_run_out(middle) {
                after = middle;
            } else {
                before = middle;
            }
        }
        Some(after)
    }
}

//! Figures that a person read off, judged against their limit.

use fettle_measure::Verdict as Decided;

use crate::{change::ReadingRow, words::Verdict};

impl From<Decided> for Verdict {
    fn from(decided: Decided) -> Self {
        match decided {
            Decided::In => Self::In,
            Decided::Out => Self::Out,
            Decided::Undecided => Self::Undecided,
        }
    }
}

impl From<Verdict> for Decided {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::In => Self::In,
            Verdict::Out => Self::Out,
            Verdict::Undecided => Self::Undecided,
        }
    }
}

impl ReadingRow {
    /// A value against `target ± limit`, all in `unit`; `uncertainty` is the expanded uncertainty (k = 2).
    ///
    /// Without an uncertainty there is no verdict: ISO 14253-1 decides on an interval, not on a point.
    #[must_use]
    pub fn of_value(
        name: &str,
        unit: &str,
        value: f64,
        uncertainty: Option<f64>,
        target: f64,
        limit: f64,
    ) -> Self {
        Self {
            nominal: Some(target),
            value: Some(value),
            ..Self::of_deviation(name, unit, value - target, uncertainty, limit)
        }
    }

    /// A deviation from what should be, against `± limit`, all in `unit`; otherwise as [`ReadingRow::of_value`].
    #[must_use]
    pub fn of_deviation(
        name: &str,
        unit: &str,
        deviation: f64,
        uncertainty: Option<f64>,
        limit: f64,
    ) -> Self {
        Self {
            name: name.to_owned(),
            unit: unit.to_owned(),
            error: Some(deviation),
            error_unit: unit.to_owned(),
            uncertainty,
            limit: Some(limit),
            verdict: uncertainty.map(|u| Decided::of(deviation, u, limit).into()),
            ..Self::default()
        }
    }

    /// An exposure time in seconds against its mark; error, uncertainty and limit are in stops, `log2` of the time over the
    /// nominal time (positive is longer). The uncertainty of the time is expanded (k = 2) and carried over as
    /// `u / (t ln 2)`. `None` when a time is not more than 0.
    #[must_use]
    pub fn of_exposure(
        mark: &str,
        effective_s: f64,
        uncertainty_s: Option<f64>,
        nominal_s: f64,
        limit_stops: Option<f64>,
    ) -> Option<Self> {
        if !(effective_s > 0.0 && nominal_s > 0.0) {
            return None;
        }
        let error = (effective_s / nominal_s).log2();
        let uncertainty = uncertainty_s.map(|u| u / (effective_s * std::f64::consts::LN_2));
        let verdict = uncertainty
            .zip(limit_stops)
            .map(|(u, limit)| Decided::of(error, u, limit).into());
        Some(Self {
            name: mark.to_owned(),
            unit: "s".to_owned(),
            nominal: Some(nominal_s),
            value: Some(effective_s),
            error: Some(error),
            error_unit: "stops".to_owned(),
            uncertainty,
            limit: limit_stops,
            verdict,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_without_an_uncertainty_is_not_judged() {
        let row = ReadingRow::of_value("register", "mm", 78.53, None, 78.52, 0.03);
        assert_eq!(row.verdict, None);
        assert!((row.error.unwrap_or_default() - 0.01).abs() < 1e-9);
    }

    #[test]
    fn an_interval_across_the_limit_is_undecided() {
        let judged = |u| ReadingRow::of_value("x", "mm", 1.02, Some(u), 1.0, 0.03).verdict;
        assert_eq!(judged(0.005), Some(Verdict::In));
        assert_eq!(judged(0.02), Some(Verdict::Undecided));
        let beyond = ReadingRow::of_deviation("x", "mm", -0.05, Some(0.01), 0.03);
        assert_eq!(beyond.verdict, Some(Verdict::Out));
    }

    #[test]
    fn a_time_twice_the_mark_is_one_stop_long() {
        let row = ReadingRow::of_exposure("1/125", 0.016, Some(0.000_16), 0.008, Some(0.25));
        let row = row.unwrap_or_default();
        assert!((row.error.unwrap_or_default() - 1.0).abs() < 1e-12);
        assert!((row.uncertainty.unwrap_or_default() - 0.014_427).abs() < 1e-6);
        assert_eq!(row.verdict, Some(Verdict::Out));
        assert_eq!(ReadingRow::of_exposure("1", 0.0, None, 1.0, None), None);
    }
}

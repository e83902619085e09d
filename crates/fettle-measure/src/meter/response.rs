//! What current a light cell gives at what light, so that a meter can be read by its current.

/// Fewer points are no table.
const LEAST_POINTS: usize = 2;

/// A cell's expected current over the light.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Exposure value at ISO 100 and binary logarithm of the current in µA, both rising.
    points: Vec<(f64, f64)>,
    /// Whether the line goes on beyond its ends.
    endless: bool,
}

/// A response that no cell has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ResponseError {
    /// A current or a rise that is not above zero, or anything not finite.
    #[error(
        "a cell's current and its rise with the light are finite and above zero: write them in µA and in stops of current per EV"
    )]
    NotACurrent,
    /// Fewer than two points.
    #[error("a cell's table needs two points or more: write an EV and its current in µA for each")]
    TooFew,
    /// Points that do not rise together.
    #[error(
        "in a cell's table EV and current rise from point to point: sort it by EV, and take out what falls or stands twice"
    )]
    NotRising,
}

impl Response {
    /// A current that rises evenly on the logarithmic scale: `current_ua` at `ev`, and `stops_per_ev` doublings of the current
    /// for each EV, 1 for an ideal cell into no resistance. EV are at ISO 100.
    ///
    /// # Errors
    /// What is not finite, and a current or rise that is not above zero.
    pub fn log_linear(ev: f64, current_ua: f64, stops_per_ev: f64) -> Result<Self, ResponseError> {
        let known = |x: f64| x.is_finite() && x > 0.0;
        if !(ev.is_finite() && known(current_ua) && known(stops_per_ev)) {
            return Err(ResponseError::NotACurrent);
        }
        let log = current_ua.log2();
        Ok(Self {
            points: vec![(ev, log), (ev + 1.0, log + stops_per_ev)],
            endless: true,
        })
    }

    /// A table of EV at ISO 100 and current in µA, as a service manual gives it. Between points the logarithm of the current is
    /// taken as straight; beyond the ends nothing is known.
    ///
    /// # Errors
    /// Fewer than two points, points that do not rise in both, currents not above zero, and what is not finite.
    pub fn table(points: &[(f64, f64)]) -> Result<Self, ResponseError> {
        if points.len() < LEAST_POINTS {
            return Err(ResponseError::TooFew);
        }
        if !points
            .iter()
            .all(|(ev, ua)| ev.is_finite() && ua.is_finite() && *ua > 0.0)
        {
            return Err(ResponseError::NotACurrent);
        }
        if !points
            .windows(2)
            .all(|p| p[0].0 < p[1].0 && p[0].1 < p[1].1)
        {
            return Err(ResponseError::NotRising);
        }
        Ok(Self {
            points: points.iter().map(|(ev, ua)| (*ev, ua.log2())).collect(),
            endless: false,
        })
    }

    /// The EV that a current tells; `None` for a current that is not above zero or lies beyond the table.
    #[must_use]
    pub fn ev_of(&self, current_ua: f64) -> Option<f64> {
        if !(current_ua.is_finite() && current_ua > 0.0) {
            return None;
        }
        let log = current_ua.log2();
        let (first, last) = (self.points.first()?, self.points.last()?);
        if !self.endless && !(first.1..=last.1).contains(&log) {
            return None;
        }
        let pieces = self.points.len() - 1;
        let piece = self
            .points
            .windows(2)
            .enumerate()
            .find(|(i, p)| log <= p[1].1 || i + 1 == pieces);
        let ((ev0, log0), (ev1, log1)) = piece.map(|(_, p)| (p[0], p[1]))?;
        Some(ev0 + (log - log0) * (ev1 - ev0) / (log1 - log0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_response_is_turned_round() {
        let cell = Response::log_linear(10.0, 20.0, 0.8).unwrap();
        for ev in [3.0, 10.0, 17.5] {
            let current = 20.0 * (0.8_f64 * (ev - 10.0)).exp2();
            assert!((cell.ev_of(current).unwrap() - ev).abs() < 1e-9);
        }
        assert_eq!(cell.ev_of(0.0), None);
        assert_eq!(cell.ev_of(f64::NAN), None);
    }

    #[test]
    fn a_table_holds_at_its_points_and_ends_with_them() {
        let cell = Response::table(&[(6.0, 1.0), (9.0, 8.0), (12.0, 16.0)]).unwrap();
        for (current, ev) in [(1.0, 6.0), (2.0, 7.0), (8.0, 9.0), (16.0, 12.0)] {
            assert!(
                (cell.ev_of(current).unwrap() - ev).abs() < 1e-9,
                "{current}"
            );
        }
        assert_eq!(cell.ev_of(0.9), None);
        assert_eq!(cell.ev_of(16.1), None);
    }

    #[test]
    fn what_is_no_response_is_refused() {
        assert_eq!(
            Response::log_linear(10.0, 0.0, 1.0),
            Err(ResponseError::NotACurrent)
        );
        assert_eq!(
            Response::log_linear(10.0, 1.0, -1.0),
            Err(ResponseError::NotACurrent)
        );
        assert_eq!(Response::table(&[(1.0, 1.0)]), Err(ResponseError::TooFew));
        assert_eq!(
            Response::table(&[(1.0, 1.0), (2.0, 1.0)]),
            Err(ResponseError::NotRising)
        );
        assert_eq!(
            Response::table(&[(1.0, 1.0), (1.0, 2.0)]),
            Err(ResponseError::NotRising)
        );
        assert_eq!(
            Response::table(&[(1.0, -1.0), (2.0, 1.0)]),
            Err(ResponseError::NotACurrent)
        );
    }
}

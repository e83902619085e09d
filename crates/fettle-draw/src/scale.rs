//! A straight scale from values to the sheet, and the round values to write along it.

/// Maps `lo..hi` to `from..to`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    lo: f64,
    hi: f64,
    from: f64,
    to: f64,
}

/// Nothing that is drawn is farther from zero; wider ranges have no extent that a float can hold.
const FARTHEST: f64 = 1e300;

impl Scale {
    /// A scale over `lo < hi`; a range without extent is widened by a hair so that it can be drawn.
    pub(crate) fn new(lo: f64, hi: f64, from: f64, to: f64) -> Self {
        let (lo, hi) = (lo.clamp(-FARTHEST, FARTHEST), hi.clamp(-FARTHEST, FARTHEST));
        let hi = if hi > lo { hi } else { lo + lo.abs().max(1e-9) };
        Self { lo, hi, from, to }
    }

    /// Where a value stands; values beyond the range stand at its end.
    pub(crate) fn place(&self, value: f64) -> f64 {
        let share = ((value - self.lo) / (self.hi - self.lo)).clamp(0.0, 1.0);
        self.from + share * (self.to - self.from)
    }

    pub(crate) fn contains(&self, value: f64) -> bool {
        (self.lo..=self.hi).contains(&value)
    }

    /// Round values inside the range, at most about `wanted` of them, in steps of 1, 2 or 5.
    pub(crate) fn ticks(&self, wanted: usize) -> Ticks {
        let step = round_step((self.hi - self.lo) / wanted.max(1) as f64);
        self.ticks_by(step)
    }

    /// The multiples of `step` inside the range.
    pub(crate) fn ticks_by(&self, step: f64) -> Ticks {
        let slack = step * 1e-6;
        let first = ((self.lo - slack) / step).ceil() as i64;
        let last = ((self.hi + slack) / step).floor() as i64;
        Ticks {
            step,
            values: (first..=last).map(|k| k as f64 * step).collect(),
        }
    }
}

/// The values to write along a scale.
#[derive(Debug, Clone)]
pub(crate) struct Ticks {
    step: f64,
    values: Vec<f64>,
}

impl Ticks {
    pub(crate) fn values(&self) -> &[f64] {
        &self.values
    }

    /// The decimals that tell one tick from the next.
    pub(crate) fn decimals(&self) -> usize {
        (0..9)
            .find(|&d| {
                let scaled = self.step * 10f64.powi(d);
                (scaled - scaled.round()).abs() < 1e-6 * scaled.abs().max(1.0)
            })
            .unwrap_or(9)
            .max(0) as usize
    }
}

/// The smallest of 1, 2, 5 × 10ⁿ that is at least `least`.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.abs().max(1e-12).log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .iter()
        .map(|m| m * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(lo: f64, hi: f64, wanted: usize) -> Vec<String> {
        let ticks = Scale::new(lo, hi, 0.0, 100.0).ticks(wanted);
        ticks
            .values()
            .iter()
            .map(|v| crate::written::signed_off(*v, ticks.decimals()))
            .collect()
    }

    #[test]
    fn ticks_are_round_and_include_both_borders() {
        assert_eq!(labels(0.0, 10.0, 5), ["0", "2", "4", "6", "8", "10"]);
        assert_eq!(
            labels(0.0, 1.0, 5),
            ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]
        );
        assert_eq!(
            labels(-0.3, 0.3, 6),
            ["−0.3", "−0.2", "−0.1", "0.0", "0.1", "0.2", "0.3"]
        );
        assert_eq!(
            labels(0.0, 0.002_5, 5),
            ["0.0000", "0.0005", "0.0010", "0.0015", "0.0020", "0.0025"]
        );
    }

    #[test]
    fn a_range_without_extent_still_has_a_scale() {
        let scale = Scale::new(4.0, 4.0, 0.0, 100.0);
        assert!(scale.place(4.0).is_finite());
        assert!(!scale.ticks(4).values().is_empty());
    }

    #[test]
    fn a_range_beyond_every_float_has_figures_too() {
        let scale = Scale::new(f64::NEG_INFINITY, f64::MAX, 0.0, 100.0);
        assert!(
            scale
                .ticks(5)
                .values()
                .iter()
                .all(|value| value.is_finite())
        );
        assert!((scale.place(0.0) - 50.0).abs() < 1e-9);
    }

    #[test]
    fn values_beyond_the_range_stand_at_its_end() {
        let scale = Scale::new(-1.0, 1.0, 200.0, 0.0);
        assert_eq!(crate::svg::number(scale.place(5.0)), "0");
        assert_eq!(crate::svg::number(scale.place(-5.0)), "200");
        assert_eq!(crate::svg::number(scale.place(0.0)), "100");
    }
}

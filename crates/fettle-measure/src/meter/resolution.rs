//! How finely a meter was read.

/// Steps in which scales are read, coarsest first. Thirds and sixths are written with one or two decimals.
const STEPS: [f64; 12] = [
    1.0,
    1.0 / 2.0,
    1.0 / 3.0,
    1.0 / 4.0,
    1.0 / 5.0,
    1.0 / 6.0,
    1.0 / 8.0,
    1.0 / 10.0,
    1.0 / 20.0,
    1.0 / 50.0,
    1.0 / 100.0,
    1.0 / 1000.0,
];
/// What a figure may differ from its step by.
const SAME: f64 = 1e-6;

/// The coarsest step that all readings lie on; the finest, a thousandth, when they lie on none.
pub(super) fn step_of(readings: &[f64]) -> f64 {
    STEPS
        .into_iter()
        .find(|step| readings.iter().all(|value| lies_on(*value, *step)))
        .unwrap_or(1.0 / 1000.0)
}

fn lies_on(value: f64, step: f64) -> bool {
    let exact = (value / step).round() * step;
    [1.0, 10.0, 100.0, 1000.0]
        .into_iter()
        .map(|per_one| (exact * per_one).round() / per_one)
        // A whole number stands for itself alone: 9 is no ninth third cut short to 9.33.
        .skip(usize::from(step >= 0.5))
        .chain([exact])
        .any(|written| (value - written).abs() < SAME && (written - exact).abs() < 0.04)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_step_is_seen_however_it_is_written() {
        for (readings, want) in [
            (&[4.0, 7.0, 12.0][..], 1.0),
            (&[4.0, 7.5, 12.0], 0.5),
            (&[4.0, 7.3, 11.7], 1.0 / 3.0),
            (&[4.0, 7.33, 11.67], 1.0 / 3.0),
            (&[4.0, 7.333, 11.667], 1.0 / 3.0),
            (&[4.25, 7.5], 0.25),
            (&[4.2, 7.6, 9.4], 0.2),
            (&[4.1, 7.3, 9.8], 0.1),
            (&[4.05, 7.3], 0.05),
            (&[4.13, 7.37], 0.01),
            (&[4.123_4, 7.37], 0.001),
            (&[-0.3, 0.7], 1.0 / 3.0),
        ] {
            assert!(
                (step_of(readings) - want).abs() < 1e-9,
                "{readings:?}: {}",
                step_of(readings)
            );
        }
    }
}

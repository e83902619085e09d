//! The standard normal distribution, quickly.

/// Distribution function of the standard normal to 1e-7, by Abramowitz and Stegun, Handbook of Mathematical
/// Functions, 7.1.26.
pub(super) fn below(x: f64) -> f64 {
    let z = x.abs() * std::f64::consts::FRAC_1_SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * z);
    let series = t
        * (0.254_829_592
            + t * (-0.284_496_736
                + t * (1.421_413_741 + t * (-1.453_152_027 + t * 1.061_405_429))));
    let tail = 0.5 * series * (-z * z).exp();
    if x > 0.0 { 1.0 - tail } else { tail }
}

/// Chance that a Gaussian lies within `±limit`.
pub(super) fn within(mean: f64, sd: f64, limit: f64) -> f64 {
    if sd > 0.0 {
        (below((limit - mean) / sd) - below((-limit - mean) / sd)).max(0.0)
    } else {
        f64::from(mean.abs() <= limit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::function::erf::erf;

    #[test]
    fn the_quick_normal_agrees_with_the_exact_one() {
        for n in -600..=600 {
            let x = f64::from(n) / 100.0;
            let exact = 0.5 * (1.0 + erf(x * std::f64::consts::FRAC_1_SQRT_2));
            assert!((below(x) - exact).abs() < 1.5e-7, "{x}");
        }
    }
}

//! Shares of so many in so many, with their intervals.

use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF};

/// The author's figure of a work's success weighs as much as so many cases.
const AUTHOR_CASES: f64 = 4.0;
/// An author's figure of 0 or 1 is taken as this near to it: nothing is so sure that cases could not tell otherwise.
const SUREST: f64 = 0.01;

/// A share of cases.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// How many.
    pub count: u64,
    /// Of how many.
    pub of: u64,
    /// 90 % interval of the share behind them, from 0 to 1.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

/// The interval of a share: the equal-tailed 90 % interval of the Beta posterior under the prior of Jeffreys, Beta(½, ½), which covers
/// as it says even for few cases; it reaches to 0 when there are none and to 1 when there are all (L. D. Brown and others, "Interval
/// estimation for a binomial proportion", Statist. Sci. 16 (2001) 101, §4.1.2).
///
/// More than there are count as all. Of none nothing is known: 0 to 1.
#[must_use]
pub fn share(count: u64, of: u64) -> Share {
    let count = count.min(of);
    let (yes, no) = (count as f64, (of - count) as f64);
    let (low, high) = middle_nine_tenths(yes + 0.5, no + 0.5);
    Share {
        count,
        of,
        low: if count == 0 { 0.0 } else { low },
        high: if count == of { 1.0 } else { high },
    }
}

/// What was learned of the success of one work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LearnedSuccess {
    /// The author's figure.
    pub author: f64,
    /// The learned figure: the mean of what is now believed.
    pub learned: f64,
    /// 90 % interval of it.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Cases counted.
    pub cases: usize,
    /// How many of them did not hold.
    pub failed: usize,
}

/// Learns how often a work cures, from the cases in which it held and those in which it did not: a Beta posterior about the author's
/// figure, which weighs as much as four cases. An author's figure that is no chance counts as one half.
#[must_use]
pub fn learn_success(author: f64, held: usize, failed: usize) -> LearnedSuccess {
    let believed = if (0.0..=1.0).contains(&author) {
        author.clamp(SUREST, 1.0 - SUREST)
    } else {
        0.5
    };
    let yes = AUTHOR_CASES * believed + held as f64;
    let no = AUTHOR_CASES * (1.0 - believed) + failed as f64;
    let (low, high) = middle_nine_tenths(yes, no);
    LearnedSuccess {
        author,
        learned: yes / (yes + no),
        low,
        high,
        cases: held + failed,
        failed,
    }
}

/// The 5 % and 95 % points of a Beta distribution.
fn middle_nine_tenths(yes: f64, no: f64) -> (f64, f64) {
    Beta::new(yes, no).map_or((0.0, 1.0), |beta| {
        (beta.inverse_cdf(0.05), beta.inverse_cdf(0.95))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() < within, "{got} is not {want}");
    }

    #[test]
    fn a_share_has_the_interval_of_jeffreys() {
        // Beta(½, 1½) is reckoned by hand: its distribution function is (2/π)(asin √x + √(x(1-x))).
        let of_one = share(0, 1);
        assert_eq!((of_one.low, of_one.count, of_one.of), (0.0, 0, 1));
        let x = of_one.high;
        let below = (x.sqrt().asin() + (x * (1.0 - x)).sqrt()) * std::f64::consts::FRAC_2_PI;
        close(below, 0.95, 1e-6);
        let all = share(7, 7);
        close(all.high, 1.0, 1e-12);
        close(all.low, 1.0 - share(0, 7).high, 1e-6);
        let half = share(500, 1000);
        // Many cases: the normal approximation, 1.645 · √(p(1-p)/n).
        close(half.low, 0.5 - 0.0260, 2e-4);
        close(half.high, 0.5 + 0.0260, 2e-4);
    }

    #[test]
    fn of_none_nothing_is_known() {
        let none = share(0, 0);
        assert_eq!((none.low, none.high), (0.0, 1.0));
        assert_eq!(share(3, 2).count, 2);
    }

    /// The true share lies within the interval about nine times in ten.
    #[test]
    fn the_interval_covers_as_it_says() {
        let of = 25_u64;
        for truth in [0.1, 0.3, 0.5, 0.8] {
            let mut covered = 0.0;
            let mut chance = (1.0_f64 - truth).powi(25);
            for count in 0..=of {
                let it = share(count, of);
                if (it.low..=it.high).contains(&truth) {
                    covered += chance;
                }
                chance *= (of - count) as f64 / (count + 1) as f64 * truth / (1.0 - truth);
            }
            assert!((0.83..0.97).contains(&covered), "{truth}: {covered}");
        }
    }

    #[test]
    fn success_starts_from_the_author_and_moves_with_the_cases() {
        let untried = learn_success(0.9, 0, 0);
        close(untried.learned, 0.9, 1e-12);
        assert_eq!((untried.cases, untried.failed), (0, 0));
        // Four cases' worth of 0.9 and four that failed: 3.6 of 8.
        let bad = learn_success(0.9, 0, 4);
        close(bad.learned, 0.45, 1e-12);
        assert!(bad.low < bad.learned && bad.learned < bad.high);
        assert!(learn_success(0.9, 40, 0).learned > 0.98);
    }

    #[test]
    fn an_author_who_is_quite_sure_can_be_contradicted() {
        let sure = learn_success(1.0, 0, 3);
        assert!(sure.learned < 0.6 && sure.low > 0.0, "{sure:?}");
        assert!(learn_success(f64::NAN, 1, 0).learned > 0.5);
    }
}

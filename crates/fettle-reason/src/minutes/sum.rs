//! Minutes of several works together.

use serde::Serialize;

use super::LearnedMinutes;

/// The 90 % point of the standard normal distribution.
const NINE_IN_TEN: f64 = 1.281_551_565_544_6;
/// Logarithms that scatter by more than this (standard deviation) tell nothing; they are taken to scatter by so much.
const SCATTER_MAX: f64 = 3.0;

/// How long something takes: the likely figure, and what will do nine times in ten.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Taking {
    /// The median.
    pub likely: f64,
    /// The 90 % point.
    pub nine_in_ten: f64,
}

impl Taking {
    /// The same, so many times as long.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            likely: self.likely * factor,
            nine_in_ten: self.nine_in_ten * factor,
        }
    }
}

impl From<&LearnedMinutes> for Taking {
    fn from(it: &LearnedMinutes) -> Self {
        Self {
            likely: it.likely,
            nine_in_ten: it.nine_in_ten,
        }
    }
}

/// How long works take together, each known by its likely and its nine-in-ten figure.
///
/// Each is taken as log-normal with those two quantiles, the works as independent of each other, and their sum as the log-normal of
/// the same mean and variance (L. F. Fenton, "The sum of log-normal probability distributions in scatter transmission systems", IRE
/// Trans. Commun. Syst. 8 (1960) 57). For a single work that gives back its own figures; the nine-in-ten figure of a sum is less than
/// the sum of the figures, for seldom does everything take long at once. Works of which no figure is positive and finite add nothing.
#[must_use]
pub fn take_together(works: &[Taking]) -> Taking {
    let (mut mean, mut variance) = (0.0, 0.0);
    for work in works {
        if !(work.likely.is_finite() && work.likely > 0.0) {
            continue;
        }
        let ratio = work.nine_in_ten / work.likely;
        let scatter = if ratio.is_finite() && ratio > 1.0 {
            (ratio.ln() / NINE_IN_TEN).min(SCATTER_MAX)
        } else {
            0.0
        };
        let squared = scatter * scatter;
        let of_it = work.likely * (0.5 * squared).exp();
        mean += of_it;
        variance += of_it * of_it * squared.exp_m1();
    }
    if mean <= 0.0 {
        return Taking::default();
    }
    let squared = (variance / (mean * mean)).ln_1p();
    let likely = mean * (-0.5 * squared).exp();
    Taking {
        likely,
        nine_in_ten: likely * (NINE_IN_TEN * squared.sqrt()).exp(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taking(likely: f64, scatter: f64) -> Taking {
        Taking {
            likely,
            nine_in_ten: likely * (NINE_IN_TEN * scatter).exp(),
        }
    }

    /// Uniform numbers between 0 and 1, the same every time (Steele, Lea & Flood, "Fast splittable pseudorandom number generators",
    /// OOPSLA 2014).
    struct Uniform(u64);

    impl Uniform {
        fn next(&mut self) -> f64 {
            self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
        }

        /// A standard normal number (Box & Muller 1958).
        fn normal(&mut self) -> f64 {
            let radius = (-2.0 * (1.0 - self.next()).ln()).sqrt();
            radius * (std::f64::consts::TAU * self.next()).cos()
        }
    }

    /// Median and 90 % point of sums that were drawn.
    fn drawn(works: &[(f64, f64)], seed: u64) -> Taking {
        const DRAWS: usize = 40_000;
        let mut dice = Uniform(seed);
        let mut sums: Vec<f64> = (0..DRAWS)
            .map(|_| {
                let one = |(likely, scatter): &(f64, f64)| likely * (scatter * dice.normal()).exp();
                works.iter().map(one).sum()
            })
            .collect();
        sums.sort_by(f64::total_cmp);
        Taking {
            likely: sums[DRAWS / 2],
            nine_in_ten: sums[DRAWS * 9 / 10],
        }
    }

    #[test]
    fn the_figures_of_a_sum_agree_with_those_of_sums_that_were_drawn() {
        // Works as they are quoted: a few of unlike length; and the scatter of what was never timed (a factor of 1.75).
        let cases: [&[(f64, f64)]; 5] = [
            &[(55.0, 0.35), (20.0, 0.35), (12.0, 0.35)],
            &[(55.0, 0.44), (40.0, 0.44), (10.0, 0.44), (5.0, 0.44)],
            &[(90.0, 0.2), (8.0, 0.6)],
            &[(15.0, 0.44); 8],
            &[(30.0, 0.7), (30.0, 0.7)],
        ];
        for (seed, works) in cases.iter().enumerate() {
            let got = take_together(
                &works
                    .iter()
                    .map(|(likely, scatter)| taking(*likely, *scatter))
                    .collect::<Vec<_>>(),
            );
            let want = drawn(works, 7 + seed as u64);
            let (likely, nine) = (
                got.likely / want.likely - 1.0,
                got.nine_in_ten / want.nine_in_ten - 1.0,
            );
            assert!(likely.abs() < 0.03, "{works:?}: {got:?}, drawn {want:?}");
            assert!(nine.abs() < 0.03, "{works:?}: {got:?}, drawn {want:?}");
        }
    }

    #[test]
    fn one_work_alone_keeps_its_figures() {
        let one = taking(55.0, 0.4);
        let got = take_together(&[one]);
        assert!((got.likely - one.likely).abs() < 1e-9, "{got:?}");
        assert!((got.nine_in_ten - one.nine_in_ten).abs() < 1e-9, "{got:?}");
    }

    #[test]
    fn what_will_do_for_all_is_less_than_what_will_do_for_each() {
        let works = [taking(55.0, 0.4), taking(20.0, 0.5), taking(12.0, 0.3)];
        let got = take_together(&works);
        let each: f64 = works.iter().map(|it| it.nine_in_ten).sum();
        let likely: f64 = works.iter().map(|it| it.likely).sum();
        assert!(likely < got.likely && got.nine_in_ten < each, "{got:?}");
    }

    #[test]
    fn figures_that_are_none_add_nothing_and_none_gives_none() {
        let odd = [f64::NAN, f64::INFINITY, 0.0, -3.0].map(|likely| Taking {
            likely,
            nine_in_ten: 10.0,
        });
        assert_eq!(take_together(&odd), Taking::default());
        let certain = Taking {
            likely: 30.0,
            nine_in_ten: f64::NAN,
        };
        let got = take_together(&[certain]);
        assert!((got.likely - 30.0).abs() < 1e-9 && (got.nine_in_ten - 30.0).abs() < 1e-9);
        let wild = Taking {
            likely: 1.0,
            nine_in_ten: 1e300,
        };
        assert!(take_together(&[wild, certain]).nine_in_ten.is_finite());
    }
}

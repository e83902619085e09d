//! Minutes that work takes, learned from the minutes that it took.
//!
//! Minutes of one kind of work are log-normal: their logarithm is normal, with mean and variance unknown, for which the
//! normal-inverse-gamma distribution is conjugate; the next case is then Student-t (Gelman et al., *Bayesian Data Analysis*, 3rd
//! ed., §3.3). Few cases are seen of each kind, so each starts from the author's figure times a pace common to the bench, which all
//! kinds estimate together.

mod sum;

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

pub use self::sum::{Taking, take_together};

/// The author's figure weighs as much as so many cases of the kind itself.
const AUTHOR_CASES: f64 = 2.0;
/// A pace of 1 weighs as much as so many cases of all kinds.
const PACE_CASES: f64 = 4.0;
/// Cases of one kind scatter by about this part (standard deviation of the logarithm), a belief worth so many cases.
const SCATTER: f64 = 0.35;
const SCATTER_CASES: f64 = 4.0;

/// What was learned of the minutes of one kind of work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LearnedMinutes {
    /// The author's figure.
    pub author: f64,
    /// The likely figure: the median of the next case.
    pub likely: f64,
    /// What will do nine times in ten.
    pub nine_in_ten: f64,
    /// 90 % interval of the likely figure.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Cases counted.
    pub cases: usize,
}

/// Learns the minutes of several kinds of work of one bench: for each kind the author's figure and the minutes that its cases took.
///
/// Figures and cases that are not finite and positive are passed over; a kind without a usable author's figure starts from the
/// mean of its cases, and is left out of the common pace.
#[must_use]
pub fn learn_minutes(kinds: &[(f64, &[f64])]) -> Vec<LearnedMinutes> {
    let logs: Vec<(Option<f64>, Vec<f64>)> = kinds
        .iter()
        .map(|(author, cases)| {
            let cases = cases.iter().filter(|it| usable(**it)).map(|it| it.ln());
            (usable(*author).then(|| author.ln()), cases.collect())
        })
        .collect();
    let (mut sum, mut count) = (0.0, 0.0);
    for (author, cases) in &logs {
        if let Some(author) = author {
            sum += cases.iter().map(|case| case - author).sum::<f64>();
            count += cases.len() as f64;
        }
    }
    let pace = sum / (count + PACE_CASES);
    kinds
        .iter()
        .zip(&logs)
        .map(|((author, _), (author_log, cases))| one(*author, *author_log, cases, pace))
        .collect()
}

/// The posterior of one kind: normal-inverse-gamma about the author's figure at the bench's pace.
fn one(author: f64, author_log: Option<f64>, cases: &[f64], pace: f64) -> LearnedMinutes {
    let n = cases.len() as f64;
    let mean = cases.iter().sum::<f64>() / n.max(1.0);
    let start = author_log.map_or(mean, |author| author + pace);
    let weight = AUTHOR_CASES + n;
    let middle = (AUTHOR_CASES * start + n * mean) / weight;
    let shape = 0.5 * (SCATTER_CASES + n);
    let within: f64 = cases.iter().map(|case| (case - mean).powi(2)).sum();
    let between = AUTHOR_CASES * n / weight * (mean - start).powi(2);
    let rate = 0.5 * (SCATTER_CASES * SCATTER * SCATTER + within + between);
    let variance = rate / shape;
    let quantile = |p: f64| {
        StudentsT::new(0.0, 1.0, 2.0 * shape).map_or(0.0, |student| student.inverse_cdf(p))
    };
    let of_middle = quantile(0.95) * (variance / weight).sqrt();
    let of_next = quantile(0.9) * (variance * (1.0 + 1.0 / weight)).sqrt();
    LearnedMinutes {
        author,
        likely: middle.exp(),
        nine_in_ten: (middle + of_next).exp(),
        low: (middle - of_middle).exp(),
        high: (middle + of_middle).exp(),
        cases: cases.len(),
    }
}

fn usable(minutes: f64) -> bool {
    minutes.is_finite() && minutes > 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Even spread of a normal distribution: its quantiles.
    fn scattered(median: f64, scatter: f64, count: usize) -> Vec<f64> {
        let student = StudentsT::new(0.0, 1.0, 1e6).unwrap();
        (0..count)
            .map(|n| student.inverse_cdf((n as f64 + 0.5) / count as f64))
            .map(|z| median * (scatter * z).exp())
            .collect()
    }

    #[test]
    fn without_cases_the_author_s_figure_stands() {
        let learned = learn_minutes(&[(30.0, &[])])[0];
        assert!((learned.likely - 30.0).abs() < 1e-9, "{learned:?}");
        assert!(learned.low < 30.0 && learned.high > 30.0);
        let ratio = learned.nine_in_ten / 30.0;
        assert!((1.5..2.1).contains(&ratio), "{ratio}");
        assert_eq!(learned.cases, 0);
    }

    #[test]
    fn many_cases_outweigh_the_author() {
        let cases = scattered(60.0, 0.2, 400);
        let learned = learn_minutes(&[(30.0, &cases)])[0];
        assert!((learned.likely / 60.0 - 1.0).abs() < 0.01, "{learned:?}");
        // The 90 % point of a log-normal: median times e^(1.2816 s).
        let want = 60.0 * (1.2816_f64 * 0.2).exp();
        assert!(
            (learned.nine_in_ten / want - 1.0).abs() < 0.03,
            "{learned:?}"
        );
    }

    #[test]
    fn a_slow_bench_is_slow_at_what_it_has_not_done_yet() {
        let slow = scattered(40.0, 0.1, 30);
        let learned = learn_minutes(&[(20.0, &slow), (10.0, &[])]);
        assert!((17.0..20.0).contains(&learned[1].likely), "{learned:?}");
    }

    #[test]
    fn broken_figures_are_passed_over() {
        let learned = learn_minutes(&[(f64::NAN, &[12.0, -3.0, f64::INFINITY]), (10.0, &[0.0])]);
        assert_eq!((learned[0].cases, learned[1].cases), (1, 0));
        assert!((learned[0].likely - 12.0).abs() < 1e-9, "{learned:?}");
        assert!(
            learned
                .iter()
                .all(|it| it.low.is_finite() && it.nine_in_ten.is_finite())
        );
    }
}

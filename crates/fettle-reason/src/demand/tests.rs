//! The forecast against formulas, against enumeration, against lots, and against what comes.

use jiff::civil::{Date, date};
use statrs::function::gamma::ln_gamma;

use super::coverage::{FAMILIES, Family};
use super::drawn::gamma;
use super::pieces::{Pieces, Walk, at_most};
use super::rates::Rates;
use super::{
    Finding, ForecastError, History, Prior, Until, Visits, forecast, forecast_by_visits, pieces,
};
use crate::lots::Lots;

const TODAY: Date = date(2030, 1, 1);

fn history(quantities: &[u32], years: i16) -> History {
    let from = date(2030 - years, 1, 1);
    let spaced = (1..).map(|n| from + jiff::SignedDuration::from_hours(24 * 20 * n));
    let needs = spaced.zip(quantities.iter().copied());
    let rows = std::iter::once((from, 0)).chain(needs);
    History::of_rows(rows, Some(TODAY)).unwrap()
}

fn rates(by_size: &[(u32, f64)], years: f64) -> Rates {
    Rates {
        by_size: by_size.to_vec(),
        exposure: vec![(1.0, years)],
    }
}

/// The chance of so many needs: Gelman et al., *Bayesian Data Analysis*, 3rd ed., §2.6.
fn negative_binomial(needs: u32, shape: f64, exposure: f64, years: f64) -> f64 {
    let n = f64::from(needs);
    let log = ln_gamma(shape + n)
        - ln_gamma(shape)
        - ln_gamma(n + 1.0)
        - shape * (years / exposure).ln_1p()
        - n * (exposure / years).ln_1p();
    log.exp()
}

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

#[test]
fn single_pieces_are_negative_binomial() {
    for (shape, exposure, years) in [(0.5, 1.0, 10.0), (7.5, 6.0, 3.0), (40.5, 21.0, 0.1)] {
        let mut walk = Walk::new(&rates(&[(1, shape)], exposure), years, 60);
        for needs in 0..=60 {
            let want = negative_binomial(needs, shape, exposure, years);
            close(walk.step(), want, 1e-12 * want.max(1e-3));
        }
    }
}

#[test]
fn several_sizes_are_the_convolution_of_their_needs() {
    let by_size = [(1, 2.25), (3, 0.75), (4, 1.5)];
    let (exposure, years) = (5.0, 8.0);
    let mut want = vec![1.0];
    for (pieces, shape) in by_size {
        let mut sum = vec![0.0; 41];
        for (before, chance) in want.iter().enumerate() {
            for needs in 0..=40_u32 {
                let after = before + (needs * pieces) as usize;
                if let Some(it) = sum.get_mut(after) {
                    *it += chance * negative_binomial(needs, shape, exposure, years);
                }
            }
        }
        want = sum;
    }
    let mut walk = Walk::new(&rates(&by_size, exposure), years, 40);
    for want in want {
        close(walk.step(), want, 1e-14);
    }
}

#[test]
fn lots_of_rate_and_sizes_agree() {
    let by_size = [(1, 3.0), (2, 1.5), (5, 0.5)];
    let (exposure, years, up_to) = (4.0, 3.0, 6_u32);
    let (count, mut lots) = (100_000, Lots::of(41));
    let mut few = 0;
    for _ in 0..count {
        let mut needed = 0;
        let each = by_size.map(|(pieces, shape)| (pieces, gamma(shape, &mut lots)));
        let rate: f64 = each.iter().map(|(_, rate)| rate).sum::<f64>() / exposure;
        let mut time = -lots.next().max(1e-300).ln() / rate;
        while time < years {
            let mut left = lots.next() * rate * exposure;
            needed += each
                .iter()
                .find(|(_, rate)| {
                    left -= rate;
                    left < 0.0
                })
                .map_or(1, |(pieces, _)| *pieces);
            time -= lots.next().max(1e-300).ln() / rate;
        }
        few += u32::from(needed <= up_to);
    }
    let share = f64::from(few) / f64::from(count);
    let exact = at_most(&rates(&by_size, exposure), years, up_to);
    let error = (exact * (1.0 - exact) / f64::from(count)).sqrt();
    close(share, exact, 4.0 * error);
}

#[test]
fn many_needs_do_not_run_under_the_smallest_number() {
    // The chance of none is e to -2773.
    let many = Pieces::of(&rates(&[(1, 4000.0)], 10.0), 10.0);
    close(many.chances().iter().sum(), 1.0, 1e-9);
    let mean: f64 = (0_u32..)
        .zip(many.chances())
        .map(|(n, p)| f64::from(n) * p)
        .sum();
    close(mean, 4000.0, 1e-3);
    close(many.mean(), 4000.0, 1e-9);
}

#[test]
fn the_drawer_lasts_by_the_formula() {
    let history = history(&[1, 1, 1, 1, 1, 1, 1, 1], 8);
    let told = forecast(&history, &Prior::default(), 5, Until::Years(5.0), 0.95).unwrap();
    let exposure = 1.0 + history.years();
    let want: f64 = (0..=5)
        .map(|n| negative_binomial(n, 8.5, exposure, 5.0))
        .sum();
    // Sizes that were not seen are left a thousandth of the needs.
    close(told.lasts_probability, want, 2e-3);
    close(told.rate_per_year.mean, 8.5 / exposure, 1e-12);
    assert!(told.rate_per_year.p10 < told.rate_per_year.mean);
    assert!(told.rate_per_year.p90 > told.rate_per_year.mean);
}

#[test]
fn what_is_bought_is_just_enough() {
    let history = history(&[1, 2, 1, 4, 1], 6);
    let prior = Prior::default();
    let until = Until::Date(date(2040, 1, 1));
    let told = forecast(&history, &prior, 3, until, 0.9).unwrap();
    let buy = told.buy_now.unwrap();
    let lasts = |on_hand| {
        let told = forecast(&history, &prior, on_hand, until, 0.9).unwrap();
        (told.lasts_probability, told.buy_now)
    };
    let (enough, nothing) = lasts(3 + buy);
    assert!(enough >= 0.9 && nothing == Some(0), "{enough} {nothing:?}");
    let (short, one) = lasts(3 + buy - 1);
    assert!(short < 0.9 && one == Some(1), "{short} {one:?}");
}

#[test]
fn run_out_days_and_the_chance_to_last_are_one_answer() {
    let history = history(&[1, 2, 1, 4, 1], 6);
    let prior = Prior::default();
    let told = forecast(&history, &prior, 6, Until::Years(10.0), 0.9).unwrap();
    for (p, day) in [
        (0.1, told.runs_out.p10),
        (0.5, told.runs_out.p50),
        (0.9, told.runs_out.p90),
    ] {
        let day = day.unwrap();
        let lasts = |day| {
            let told = forecast(&history, &prior, 6, Until::Date(day), 0.9).unwrap();
            told.lasts_probability
        };
        assert!(lasts(day) <= 1.0 - p && lasts(day.yesterday().unwrap()) > 1.0 - p);
    }
}

#[test]
fn a_drawer_that_nobody_opens_never_runs_out() {
    let told = forecast(
        &history(&[], 20),
        &Prior::default(),
        40,
        Until::Years(5.0),
        0.95,
    )
    .unwrap();
    assert_eq!(told.runs_out.p50, None);
    assert_eq!(told.buy_now, Some(0));
    assert!(told.lasts_probability > 0.999, "{}", told.lasts_probability);
    assert!(told.findings.contains(&Finding::NothingSeen {
        years: told.watched_years
    }));
}

#[test]
fn the_fan_narrows_to_what_is_on_hand_today_and_falls() {
    let told = forecast(
        &history(&[1, 1, 2, 1], 5),
        &Prior::default(),
        8,
        Until::Years(6.0),
        0.95,
    )
    .unwrap();
    let first = told.fan.first().unwrap();
    assert_eq!((first.date, first.p10, first.p90), (TODAY, 8, 8));
    for (a, b) in told.fan.iter().zip(told.fan.iter().skip(1)) {
        assert!(a.date < b.date && a.lasts_probability >= b.lasts_probability);
        assert!(a.p10 >= b.p10 && a.p50 >= b.p50 && a.p90 >= b.p90);
    }
    for it in &told.fan {
        assert!(it.p10 <= it.p25 && it.p25 <= it.p50 && it.p50 <= it.p75 && it.p75 <= it.p90);
    }
    assert!(told.fan.last().unwrap().date >= told.until);
}

#[test]
fn visits_as_many_as_before_change_nothing_when_they_are_sure() {
    let history = history(&[1, 2, 1, 1], 10);
    let (prior, until) = (Prior::default(), Until::Years(5.0));
    let by_time = forecast(&history, &prior, 3, until, 0.9).unwrap();
    let years = history.years();
    let visits = Visits {
        seen: 100,
        per_year: 100.0 / years,
        worth: 1e6,
    };
    let told = forecast_by_visits(&history, &visits, &prior, 3, until, 0.9).unwrap();
    close(told.lasts_probability, by_time.lasts_probability, 1e-5);
    let twice = Visits {
        per_year: 200.0 / years,
        ..visits
    };
    let told = forecast_by_visits(&history, &twice, &Prior::new(0.5, 1e-3), 3, until, 0.9).unwrap();
    let want = forecast(&history, &Prior::new(0.5, 1e-3), 3, Until::Years(10.0), 0.9).unwrap();
    close(told.lasts_probability, want.lasts_probability, 1e-3);
}

#[test]
fn visits_that_are_uncertain_are_summed_over() {
    let history = history(&[1, 1, 1, 1], 10);
    for worth in [1.0, 4.0, 400.0] {
        let visits = Visits {
            seen: 50,
            per_year: 8.0,
            worth,
        };
        let prior = Prior::default();
        let told =
            forecast_by_visits(&history, &visits, &prior, 0, Until::Years(5.0), 0.9).unwrap();
        let (count, mut lots) = (200_000, Lots::of(43));
        let mut sum = 0.0;
        for _ in 0..count {
            let per_year = gamma(worth, &mut lots) * 8.0 / worth;
            let per_visit = gamma(4.5, &mut lots) / (50.0 + 8.0);
            sum += (-5.0 * per_year * per_visit).exp();
        }
        close(told.lasts_probability, sum / f64::from(count), 4e-3);
    }
}

#[test]
fn like_parts_lend_their_rate_and_sizes() {
    let often: Vec<History> = (0..8).map(|n| history(&[2; 20][..18 + n % 3], 6)).collect();
    let pooled = Prior::pooled(&often.iter().collect::<Vec<_>>());
    let rate = pooled.shape / pooled.years;
    assert!((2.9..3.3).contains(&rate), "{pooled:?}");
    assert!((1.5..20.0).contains(&pooled.shape), "{pooled:?}");
    assert_eq!((pooled.parts, pooled.sizes.len()), (8, 1));
    let unlike = [
        history(&[], 6),
        history(&[1; 60], 6),
        history(&[], 6),
        history(&[1; 3], 6),
    ];
    let apart = Prior::pooled(&unlike.iter().collect::<Vec<_>>());
    assert!(apart.shape < 0.5, "{apart:?}");
    assert_eq!(Prior::pooled(&[&unlike[1], &unlike[3]]), Prior::default());
}

fn holds(families: &[Family], seed: u64, least: f64, most: f64) {
    for (n, family) in families.iter().enumerate() {
        let held = family.held(500, &mut Lots::of(seed + n as u64));
        let share = f64::from(held.runs_out) / f64::from(held.histories);
        assert!((least..=most).contains(&share), "{}: {share}", family.name);
    }
}

#[test]
fn four_intervals_in_five_hold_when_like_parts_are_known() {
    holds(&FAMILIES[2..6], 2026, 0.78, 0.86);
}

#[test]
fn four_intervals_in_five_hold_about_the_default_prior() {
    // Drawers that hardly ever run out are safe by their upper end, which is never.
    holds(&FAMILIES[0..2], 2026, 0.76, 0.90);
}

#[test]
fn questions_without_a_meaning_are_refused() {
    let history = history(&[1], 5);
    let ask = |prior: &Prior, on_hand, until, service| {
        forecast(&history, prior, on_hand, until, service)
            .unwrap_err()
            .to_string()
    };
    let (prior, until) = (Prior::default(), Until::Years(5.0));
    for service in [0.0, 1.0, f64::NAN, -0.5] {
        assert!(ask(&prior, 1, until, service).starts_with("the service level"));
    }
    for years in [0.0, -1.0, f64::NAN, f64::INFINITY, 101.0] {
        assert!(ask(&prior, 1, Until::Years(years), 0.9).starts_with("the years ahead"));
    }
    assert!(ask(&prior, 1, Until::Date(TODAY), 0.9).contains("not after today"));
    assert!(ask(&Prior::new(0.0, 1.0), 1, until, 0.9).starts_with("the prior's needs"));
    assert!(ask(&Prior::new(1.0, f64::NAN), 1, until, 0.9).starts_with("the prior's years"));
    assert!(ask(&prior, 10_001, until, 0.9).starts_with("the pieces on hand"));
    let none = Visits {
        seen: 0,
        per_year: 5.0,
        worth: 5.0,
    };
    assert_eq!(
        forecast_by_visits(&history, &none, &prior, 1, until, 0.9),
        Err(ForecastError::NoVisits { needs: 1 })
    );
}

#[test]
fn more_than_can_be_counted_is_said() {
    let history = history(&[10_000; 40], 4);
    let told = forecast(&history, &Prior::default(), 10, Until::Years(50.0), 0.95).unwrap();
    assert_eq!(told.buy_now, None);
    assert!(
        told.findings
            .iter()
            .any(|it| matches!(it, Finding::BeyondCounting { .. }))
    );
    assert!(
        pieces(&history, &Prior::default(), 50.0)
            .unwrap()
            .quantile(0.5)
            .is_none()
    );
}

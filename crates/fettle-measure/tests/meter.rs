//! The meter on simulated cells: intervals that hold, models and outliers that are told rightly.
#![expect(clippy::unwrap_used, reason = "a helper of tests")]

mod cells;

use cells::{CELLS, Cell, FINE, Lots, MANNER, Manner, coverage};
use fettle_measure::meter::{self, Finding, MeterError, Model, Options, Reading, Report};

const RUNS: u32 = 1_000;
/// Intervals of 95 % hold this often.
const LEAST: f64 = 0.93;
const MOST: f64 = 0.97;

#[test]
fn intervals_hold_in_95_of_100_runs_for_every_kind_of_cell() {
    let coarse = Manner {
        readings: 16,
        noise: 0.15,
        step: 1.0 / 3.0,
    };
    // So coarse a run seldom tells a knee from a bend; the intervals then hold both and are wider than they need be.
    let smooth = &CELLS[..3];
    for (manner, cells, seed) in [
        (MANNER, &CELLS[..], 7),
        (FINE, &CELLS, 8),
        (coarse, smooth, 9),
    ] {
        for cell in cells {
            for (name, tally) in coverage(cell, &manner, RUNS, seed) {
                // A knee that chance made clear enough to be told is not a fair sample of knees.
                if 10 * tally.of < 9 * RUNS {
                    continue;
                }
                let rate = tally.rate();
                assert!(
                    (LEAST..=MOST).contains(&rate),
                    "{} {manner:?} {name}: {rate:.3}",
                    cell.name
                );
            }
        }
    }
}

fn analysed(
    cell: &Cell,
    manner: &Manner,
    lots: &mut Lots,
    change: impl Fn(&mut [Reading]),
) -> Report {
    let mut readings = manner.read(cell, lots);
    change(&mut readings);
    meter::analyse(&readings, &Options::default()).unwrap()
}

fn left_out(report: &Report) -> Vec<usize> {
    let lines: Vec<usize> = report
        .readings
        .iter()
        .filter(|r| !r.kept)
        .map(|r| r.line)
        .collect();
    let named = report.findings.iter().filter_map(|f| match f {
        Finding::Outlier { line, .. } => Some(*line),
        _ => None,
    });
    assert_eq!(lines, named.collect::<Vec<_>>(), "left out and named");
    lines
}

#[test]
fn the_model_told_is_that_of_the_cell() {
    let wanted = [Model::Offset, Model::Slope, Model::Curvature, Model::Knee];
    let mut lots = Lots::new(21);
    for (cell, model) in CELLS.iter().zip(wanted) {
        let right = (0..200)
            .filter(|_| {
                let report = analysed(cell, &FINE, &mut lots, |_| {});
                let knee = report
                    .findings
                    .iter()
                    .any(|f| matches!(f, Finding::Knee { .. }));
                assert_eq!(knee, report.card_piecewise);
                report.model == model
            })
            .count();
        // Where a term is nothing `AICc` still takes it in one run of six.
        assert!(
            (150..=200).contains(&right),
            "{}: {right} of 200",
            cell.name
        );
    }
}

#[test]
fn one_stray_and_two_that_hide_each_other_are_named_and_left_out() {
    let mut lots = Lots::new(22);
    let manner = Manner {
        readings: 20,
        ..MANNER
    };
    for cell in &CELLS {
        let (mut one, mut two, mut clean) = (0, 0, 0);
        for _ in 0..100 {
            let report = analysed(cell, &manner, &mut lots, |r| r[4].indicated_ev -= 1.0);
            one += u32::from(left_out(&report) == [6]);
            // Two neighbours off alike pull the curve to themselves.
            let report = analysed(cell, &manner, &mut lots, |r| {
                r[5].indicated_ev += 1.0;
                r[6].indicated_ev += 1.0;
            });
            two += u32::from(left_out(&report) == [7, 8]);
            let report = analysed(cell, &manner, &mut lots, |_| {});
            clean += u32::from(left_out(&report).is_empty());
        }
        assert!((90..=100).contains(&one), "{}: one {one}", cell.name);
        assert!((85..=100).contains(&two), "{}: two {two}", cell.name);
        assert!((95..=100).contains(&clean), "{}: none {clean}", cell.name);
    }
}

#[test]
fn another_offset_moves_the_shift_and_nothing_else() {
    let mut lots = Lots::new(24);
    for cell in &CELLS {
        let readings = MANNER.read(cell, &mut lots);
        let raised: Vec<_> = readings
            .iter()
            .map(|r| Reading {
                indicated_ev: r.indicated_ev + 0.5,
                ..*r
            })
            .collect();
        let report = meter::analyse(&readings, &Options::default()).unwrap();
        let other = meter::analyse(&raised, &Options::default()).unwrap();
        assert_eq!(report.model, other.model);
        let usable = |r: &Report| r.usable_from_ev.zip(r.usable_to_ev).unwrap_or_default();
        for (got, want) in [
            (other.shift_stops, report.shift_stops - 0.5),
            (other.offset_stops, report.offset_stops + 0.5),
            (other.worst_after_stops, report.worst_after_stops),
            (usable(&other).0, usable(&report).0),
            (usable(&other).1, usable(&report).1),
        ] {
            assert!((got - want).abs() < 1e-6, "{}: {got} {want}", cell.name);
        }
        assert_eq!(report.card.len(), other.card.len());
    }
}

fn run(pairs: &[(f64, f64)]) -> Result<Report, MeterError> {
    let readings: Vec<Reading> = pairs
        .iter()
        .enumerate()
        .map(|(i, (true_ev, indicated_ev))| Reading {
            line: i + 2,
            true_ev: *true_ev,
            indicated_ev: *indicated_ev,
            resolution_stops: None,
        })
        .collect();
    meter::analyse(&readings, &Options::default())
}

#[test]
fn too_few_too_many_and_no_numbers_are_refused() {
    assert_eq!(run(&[]), Err(MeterError::TooFew(0)));
    assert_eq!(run(&[(5.0, 5.0)]), Err(MeterError::TooFew(1)));
    assert_eq!(
        run(&[(5.0, 5.0), (f64::NAN, 5.0)]),
        Err(MeterError::NotFinite(3))
    );
    assert_eq!(run(&[(5.0, 5.0); 501]), Err(MeterError::TooMany(501)));
}

#[test]
fn few_readings_tell_what_they_can() {
    let two = run(&[(5.0, 5.5), (9.0, 9.6)]).unwrap();
    assert_eq!(
        (two.model, two.slope_stops_per_ev, two.curvature),
        (Model::Offset, None, None)
    );
    assert!(two.offset_stops_u.is_some());
    let one_light = run(&[(9.0, 9.5), (9.0, 9.6), (9.0, 9.4), (9.0, 9.5), (9.0, 9.6)]).unwrap();
    assert_eq!(
        (one_light.model, one_light.slope_stops_per_ev),
        (Model::Offset, None)
    );
    let few = |f: &Finding| matches!(f, Finding::Few { .. });
    assert!(one_light.findings.iter().any(few));
}

#[test]
fn a_dead_cell_has_no_card_and_is_said_to_be_blind() {
    let pairs: Vec<(f64, f64)> = (0..10).map(|i| (5.0 + f64::from(i), 7.0)).collect();
    let dead = run(&pairs).unwrap();
    assert!(dead.card.is_empty());
    let blind = |f: &Finding| matches!(f, Finding::Blind { .. });
    assert!(dead.findings.iter().any(blind));
    for finding in &dead.findings {
        assert!(!finding.describe().ends_with('.'));
    }
}

#[test]
fn a_shift_that_costs_most_of_the_range_is_said_to() {
    // Right up to 12 EV, then falling off steeply: the least worst error is bought with the whole lower range.
    let pairs: Vec<(f64, f64)> = (0..14)
        .map(|i| {
            let v = 3.0 + f64::from(i);
            (v, v - 0.43 * (v - 12.0).max(0.0))
        })
        .collect();
    let aged = run(&pairs).unwrap();
    assert_eq!(aged.model, Model::Knee);
    let left = aged.findings.iter().find_map(|f| match f {
        Finding::ShiftNarrows { from_ev, to_ev } => Some((*from_ev, *to_ev)),
        _ => None,
    });
    let (from, to) = left.unwrap();
    assert!(
        (from - 3.0).abs() < 1e-6 && (to - 12.0 - 0.5 / 0.43).abs() < 1e-3,
        "{from} {to}"
    );
}

proptest::proptest! {
    #[test]
    fn no_readings_make_it_stumble(
        pairs in proptest::collection::vec((-15.0..35.0_f64, -15.0..35.0_f64), 2..30),
        whole in proptest::bool::ANY,
        step in 0.01..4.0_f64,
    ) {
        let readings: Vec<Reading> = pairs
            .iter()
            .enumerate()
            .map(|(i, (v, m))| Reading {
                line: i + 2,
                true_ev: if whole { v.round() } else { *v },
                indicated_ev: if whole { m.round() } else { *m },
                resolution_stops: (i % 2 == 0).then_some(step),
            })
            .collect();
        let report = meter::analyse(&readings, &Options::default()).unwrap();
        proptest::prop_assert!(report.offset_stops.is_finite());
        proptest::prop_assert!(report.curve.iter().all(|p| p.error_stops.is_finite()));
        proptest::prop_assert!(report.curve.iter().all(|p| p.error_stops_u.is_none_or(f64::is_finite)));
        proptest::prop_assert!(report.worst_after_stops <= report.worst_before_stops + 1e-9);
        let json = serde_json::to_string(&report).unwrap();
        proptest::prop_assert_eq!(serde_json::from_str::<Report>(&json).unwrap(), report);
    }
}

//! The register from its rows to its report.

use proptest::prelude::*;

use super::*;
use crate::synth::Gauss;
use crate::{Refused, Verdict};

const NINE: [(f64, f64); 9] = [
    (-16.0, 10.0),
    (0.0, 10.0),
    (16.0, 10.0),
    (-16.0, 0.0),
    (0.0, 0.0),
    (16.0, 0.0),
    (-16.0, -10.0),
    (0.0, -10.0),
    (16.0, -10.0),
];

fn readings(points: &[(f64, f64)], depth: impl FnMut(&(f64, f64)) -> f64) -> Vec<Reading> {
    let depths = points.iter().map(depth);
    points
        .iter()
        .zip(depths)
        .zip(2..)
        .map(|(((x_mm, y_mm), reading_mm), line)| Reading {
            line,
            x_mm: *x_mm,
            y_mm: *y_mm,
            reading_mm,
        })
        .collect()
}

fn assert_close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "{got}, wanted {want} ± {tolerance}"
    );
}

fn has(report: &Report, wanted: impl Fn(&Finding) -> bool) -> bool {
    report.findings.iter().any(wanted)
}

fn refusal(rows: &str, options: &Options) -> String {
    let readings = match read(rows.as_bytes()) {
        Ok(readings) => readings,
        Err(error) => return error.to_string(),
    };
    analyse(&readings, options).unwrap_err().to_string()
}

/// The plane by Cramer's rule on the normal equations about the middle of the points.
fn plane_by_determinants(readings: &[Reading]) -> (f64, f64, f64) {
    let n = readings.len() as f64;
    let mean = |of: fn(&Reading) -> f64| readings.iter().map(of).sum::<f64>() / n;
    let (mx, my, mz) = (mean(|r| r.x_mm), mean(|r| r.y_mm), mean(|r| r.reading_mm));
    let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for r in readings {
        let (x, y, z) = (r.x_mm - mx, r.y_mm - my, r.reading_mm - mz);
        xx += x * x;
        xy += x * y;
        yy += y * y;
        xz += x * z;
        yz += y * z;
    }
    let determinant = xx * yy - xy * xy;
    let a = (xz * yy - yz * xy) / determinant;
    let b = (yz * xx - xz * xy) / determinant;
    (mz - a * mx - b * my, a, b)
}

#[test]
fn a_short_and_tilted_register_is_told_with_its_shims() {
    let mut options = Options::new(44.50, 0.03);
    options.shims = Stock::read("0.05x3,0.1x2").unwrap();
    options.seats = [(-20.0, 15.0), (20.0, 15.0), (0.0, -25.0)]
        .map(|(x_mm, y_mm)| Place { x_mm, y_mm })
        .to_vec();
    options.repeatability_mm = Some(0.002);
    options.f = Some(2.0);
    options.coc_mm = Some(0.03);
    options.focal_mm = Some(50.0);
    let report = analyse(
        &readings(&NINE, |(x, y)| 44.36 + 0.001 * x - 0.0005 * y),
        &options,
    )
    .unwrap();
    assert_close(report.mean_mm, 44.36, 1e-9);
    assert_close(report.error_mm, -0.14, 1e-9);
    assert_close(report.tilt_x_rad, 0.001, 1e-12);
    assert_close(report.frame_tilt_mm, 0.036 + 0.012, 1e-9);
    assert_close(report.worst_mm, -0.14 - 0.018 - 0.006, 1e-9);
    assert_eq!(report.verdict, Verdict::Out);
    // 0.15 is nearest: one 0.1 and one 0.05.
    assert_eq!(report.shims, [0.1, 0.05]);
    assert_close(report.left_mm, 0.01, 1e-9);
    // 0.01 at the middle, up to 0.034 at a corner that is known to 0.003.
    assert_eq!(report.left_verdict, Verdict::Out);
    // They want 0.1675, 0.1275, 0.1275: there is not 0.15 for each.
    let wants: Vec<f64> = report.seats.iter().map(|s| s.shim_mm).collect();
    for (got, want) in wants.iter().zip([0.167_5, 0.127_5, 0.127_5]) {
        assert_close(*got, want, 1e-9);
    }
    let used: Vec<f64> = report.seats.iter().flat_map(|s| s.shims.clone()).collect();
    assert!(options.shims.without(&used).is_some(), "{used:?}");
    let worst = report
        .seats
        .iter()
        .map(|s| s.left_mm.abs())
        .fold(0.0, f64::max);
    assert_close(worst, 0.027_5, 1e-9);
    let at_film = report.at_film.unwrap();
    assert_close(at_film.error_depths.unwrap(), -0.14 / 0.06, 1e-9);
    assert_eq!(at_film.sharp_at_m, None, "the film lies too shallow");
    assert!(has(&report, |f| matches!(f, Finding::Tilt { .. })));
    let json = serde_json::to_string(&report).unwrap();
    assert_eq!(serde_json::from_str::<Report>(&json).unwrap(), report);
}

#[test]
fn a_register_too_long_is_sharp_nearer_and_no_shim_mends_it() {
    let mut options = Options::new(28.80, 0.02);
    options.shims = Stock::read("0.05x3").unwrap();
    options.focal_mm = Some(35.0);
    let report = analyse(&readings(&NINE, |_| 28.90), &options).unwrap();
    assert!(report.shims.is_empty());
    assert_close(report.left_mm, 0.1, 1e-9);
    assert!(has(&report, |f| matches!(f, Finding::TooLong { .. })));
    assert!(has(&report, |f| matches!(f, Finding::NoScatter)));
    let sharp = report.at_film.unwrap().sharp_at_m.unwrap();
    assert_close(sharp, 35.1 * 35.1 / 0.1 / 1000.0, 1e-6);
}

#[test]
fn three_readings_decide_nothing_without_a_repeatability() {
    let three = readings(&[(-15.0, -10.0), (15.0, -10.0), (0.0, 11.0)], |_| 44.505);
    let mut options = Options::new(44.5, 0.02);
    let report = analyse(&three, &options).unwrap();
    assert_eq!(
        (report.freedom, report.mean_mm_u, report.tilt_x_rad_u),
        (0, None, None)
    );
    assert_eq!(report.verdict, Verdict::Undecided);
    assert!(has(&report, |f| matches!(f, Finding::NoFreedom)));
    options.repeatability_mm = Some(0.002);
    let report = analyse(&three, &options).unwrap();
    assert!(
        report.mean_mm_u.is_some_and(|u| u > 0.002 && u < 0.004),
        "{report:?}"
    );
    assert_eq!(report.verdict, Verdict::In);
    // Repeats at the three points leave as many degrees of freedom.
    let noise = [0.001, -0.001];
    let six: Vec<Reading> = (0..6)
        .map(|i| Reading {
            reading_mm: 44.505 + noise[i / 3],
            ..three[i % 3]
        })
        .collect();
    let report = analyse(&six, &Options::new(44.5, 0.02)).unwrap();
    assert_eq!(report.freedom, 3);
    assert_close(report.reading_sd_mm.unwrap(), (6e-6_f64 / 3.0).sqrt(), 1e-9);
}

#[test]
fn one_reading_far_from_the_plane_is_named_and_kept() {
    let mut gauss = Gauss::new(11);
    let mut nine = readings(&NINE, |_| 44.5 + 0.003 * gauss.normal());
    nine[3].reading_mm += 0.08;
    let report = analyse(&nine, &Options::new(44.5, 0.03)).unwrap();
    assert!(has(
        &report,
        |f| matches!(f, Finding::Outlier { line: 5, miss_mm, .. } if *miss_mm > 0.06)
    ));
    assert_close(report.mean_mm, plane_by_determinants(&nine).0, 1e-7);
    let mut wide = Options::new(44.5, 0.03);
    wide.repeatability_mm = Some(0.003);
    let report = analyse(&nine, &wide).unwrap();
    assert!(has(&report, |f| matches!(f, Finding::Scatter { .. })));
}

#[test]
fn sound_readings_are_seldom_called_far_or_askew() {
    let mut gauss = Gauss::new(12);
    let (mut far, mut askew) = (0, 0);
    for _ in 0..1000 {
        let nine = readings(&NINE, |_| 44.5 + 0.003 * gauss.normal());
        let report = analyse(&nine, &Options::new(44.5, 0.03)).unwrap();
        far += usize::from(has(&report, |f| matches!(f, Finding::Outlier { .. })));
        askew += usize::from(has(&report, |f| matches!(f, Finding::Tilt { .. })));
    }
    assert!((20..=70).contains(&far), "{far} of 1000 wanted about 45");
    assert!(
        (30..=70).contains(&askew),
        "{askew} of 1000 wanted about 50"
    );
}

#[test]
fn intervals_hold_the_truth_95_times_in_a_hundred() {
    let mut gauss = Gauss::new(13);
    for (points, repeatability) in [(5, None), (9, None), (9, Some(0.004))] {
        let mut options = Options::new(44.5, 0.03);
        options.repeatability_mm = repeatability;
        let mut held = [0; 5];
        for _ in 0..1000 {
            let (c, a, b) = (
                44.5 + 0.05 * gauss.normal(),
                0.002 * gauss.normal(),
                0.002 * gauss.normal(),
            );
            // Every other point: corners and middle.
            let few = NINE.iter().step_by(if points == 5 { 2 } else { 1 });
            let few: Vec<_> = few.copied().collect();
            let run = readings(&few, |(x, y)| c + a * x + b * y + 0.004 * gauss.normal());
            let report = analyse(&run, &options).unwrap();
            let corner = report.corners[1];
            let pairs = [
                (report.mean_mm, report.mean_mm_u, c),
                (report.error_mm, report.error_mm_u, c - 44.5),
                (report.tilt_x_rad, report.tilt_x_rad_u, a),
                (report.tilt_y_rad, report.tilt_y_rad_u, b),
                (
                    corner.error_mm,
                    corner.error_mm_u,
                    c + a * 18.0 + b * 12.0 - 44.5,
                ),
            ];
            for (held, (got, u, want)) in held.iter_mut().zip(pairs) {
                *held += usize::from((got - want).abs() <= u.unwrap());
            }
        }
        for held in held {
            assert!(
                (930..=970).contains(&held),
                "{points} points: {held} of 1000"
            );
        }
    }
}

#[test]
fn readings_that_cannot_be_are_refused_with_their_line() {
    let options = Options::new(44.5, 0.03);
    let head = "x_mm,y_mm,reading_mm\n";
    for (rows, wanted) in [
        ("0,0,0.0445\n", "line 2, column `reading_mm`"),
        (
            "0,0,1.752\n9,0,1.752\n0,9,44.5\n",
            "line 2, column `reading_mm`: 1.752 cannot be a register that should be 44.5 mm: it looks like inches",
        ),
        (
            "0,0,44.5\n9,0,4.45\n0,9,44.5\n",
            "line 3, column `reading_mm`: 4.45 cannot be a register that should be 44.5 mm: it looks like centimetres",
        ),
        (
            "0,0,deep\n",
            "line 2, column `reading_mm`: `deep` is no number",
        ),
        ("0,0,44.5\n", "three points"),
        ("0,0,44.5\n9,0,44.5\n", "three points"),
        ("1,1,44.5\n1,1,44.5\n1,1,44.6\n", "one place"),
        ("0,0,44.5\n5,5,44.5\n9,9,44.5\n12,12,44.5\n", "on a line"),
        (
            "0,0,44.5\n18,0.3,44.5\n-18,0,44.5\n9,-0.2,44.5\n",
            "on a line",
        ),
    ] {
        let said = refusal(&format!("{head}{rows}"), &options);
        assert!(said.contains(wanted), "{rows}: {said}");
    }
    assert!(refusal("x_mm,reading_mm\n0,44.5\n", &options).contains("`y_mm`: is missing"));
}

#[test]
fn options_without_meaning_are_refused() {
    let good = readings(&NINE, |_| 44.5);
    let with = |change: fn(&mut Options)| {
        let mut options = Options::new(44.5, 0.03);
        change(&mut options);
        match analyse(&good, &options) {
            Err(Refused::Option(error)) => error.option,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(with(|o| o.limit_mm = -0.03), "--limit-mm");
    assert_eq!(with(|o| o.target_mm = 0.0445), "--target-mm");
    assert_eq!(with(|o| o.frame_mm.1 = f64::NAN), "--frame-mm");
    assert_eq!(
        with(|o| o.repeatability_mm = Some(0.0)),
        "--repeatability-mm"
    );
    assert_eq!(with(|o| o.f = Some(2.0)), "--f");
    assert_eq!(with(|o| o.focal_mm = Some(-5.0)), "--focal-mm");
    assert_eq!(
        with(|o| o.seats = vec![
            Place {
                x_mm: 0.0,
                y_mm: 0.0
            };
            9
        ]),
        "--seats-mm"
    );
}

proptest! {
    #[test]
    fn the_plane_is_that_of_the_normal_equations(
        points in prop::collection::vec((-18.0..18.0_f64, -12.0..12.0_f64, -0.5..0.5_f64), 4..30),
    ) {
        let run: Vec<Reading> = points
            .iter()
            .map(|(x_mm, y_mm, off)| Reading { line: 2, x_mm: *x_mm, y_mm: *y_mm, reading_mm: 44.5 + off })
            .collect();
        if let Ok(report) = analyse(&run, &Options::new(44.5, 0.03)) {
            let (c, a, b) = plane_by_determinants(&run);
            for (x, y) in [(0.0, 0.0), (18.0, 12.0), (-18.0, 12.0)] {
                let got = report.mean_mm + report.tilt_x_rad * x + report.tilt_y_rad * y;
                prop_assert!((got - (c + a * x + b * y)).abs() <= 1e-7);
            }
        }
    }

    #[test]
    fn nothing_makes_it_stumble(
        rows in prop::collection::vec((-300.0..300.0_f64, -300.0..300.0_f64, 1.0..600.0_f64), 0..8),
        target in 5.0..500.0_f64,
    ) {
        let run: Vec<Reading> = rows
            .iter()
            .map(|(x_mm, y_mm, reading_mm)| Reading { line: 2, x_mm: *x_mm, y_mm: *y_mm, reading_mm: *reading_mm })
            .collect();
        let mut options = Options::new(target, 0.03);
        options.shims = Stock::read("0.1x50,0.0254x9,0.05x20").unwrap();
        options.seats = vec![Place { x_mm: 20.0, y_mm: 0.0 }, Place { x_mm: -20.0, y_mm: 3.0 }];
        let _ = analyse(&run, &options);
    }
}

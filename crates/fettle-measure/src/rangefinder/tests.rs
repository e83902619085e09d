//! The rangefinder from its rows to its report.

use proptest::prelude::*;

use super::*;
use crate::focus::Lens;
use crate::synth::Gauss;
use crate::{Refused, Verdict};

const DISTANCES_M: [f64; 7] = [1.0, 1.3, 1.8, 2.7, 5.0, 12.0, f64::INFINITY];

/// A 50 mm f/2 lens, one depth 0.06 mm, and a finder of 38 mm base.
fn options() -> Options {
    let mut options = Options::new(50.0, 2.0, 0.03);
    options.base_mm = Some(38.0);
    options.magnification = 0.8;
    options
}

fn readings(
    distances_m: &[f64],
    lens: &Lens,
    mut read: impl FnMut(f64, f64) -> f64,
) -> Vec<Reading> {
    let rows = distances_m.iter().zip(2..);
    rows.map(|(distance_m, line)| Reading {
        line,
        distance_m: *distance_m,
        extension_mm: read(*distance_m, lens.extension_mm(distance_m * 1000.0).unwrap()),
        vertical_arcmin: None,
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

/// The least worst error that a line leaves, in depths: what any three readings, the middle one against the outer two, force on it.
fn least_worst_by_triples(run: &[Reading], lens: &Lens, depth_mm: f64) -> f64 {
    let mut points: Vec<(f64, f64)> = run
        .iter()
        .map(|r| {
            (
                r.extension_mm,
                lens.extension_mm(r.distance_m * 1000.0).unwrap(),
            )
        })
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut most = 0.0_f64;
    for (i, a) in points.iter().enumerate() {
        for (j, b) in points.iter().enumerate().skip(i + 1) {
            for c in points.iter().skip(j + 1) {
                let share = (b.0 - a.0) / (c.0 - a.0);
                most = most.max((b.1 - a.1 - share * (c.1 - a.1)).abs() / 2.0);
            }
        }
    }
    most / depth_mm
}

#[test]
fn a_finder_off_in_infinity_and_rate_is_told_and_set_right() {
    let options = options();
    let lens = options.lens().unwrap();
    let report = analyse(
        &readings(&DISTANCES_M, &lens, |_, e| 0.08 + 1.03 * e),
        &options,
    )
    .unwrap();
    assert_close(report.infinity_mm, 0.08, 1e-9);
    assert_close(report.rate, 1.03, 1e-9);
    let nearest = lens.extension_mm(1000.0).unwrap();
    assert_close(report.worst_in_depths, (0.08 + 0.03 * nearest) / 0.06, 1e-6);
    assert_eq!(report.verdict, Verdict::Out);
    assert_close(report.settings.infinity_change_mm, -0.08, 1e-6);
    assert_close(report.settings.rate_factor, 1.0 / 1.03, 1e-7);
    assert_close(report.left_in_depths, 0.0, 1e-5);
    assert_eq!(report.left_verdict, Verdict::In);
    let base = report.base.unwrap();
    assert_close(base.effective_mm, 30.4, 1e-9);
    // 60 seconds of arc are 0.290 888 mrad: times 2500 mm² over 0.06 mm.
    assert_close(base.needed_mm, 12.120_34, 1e-4);
    let far = report.residuals.last().unwrap();
    assert_close(far.resolvable_in_depths.unwrap(), 12.120_34 / 30.4, 1e-5);
    assert_close(
        report.residuals[0].resolvable_m.unwrap(),
        2.908_882e-4 / 30.4 * 1000.0,
        1e-6,
    );
    let json = serde_json::to_string(&report).unwrap();
    assert!(json.contains(r#""distance_m":"inf""#), "{json}");
    assert_eq!(serde_json::from_str::<Report>(&json).unwrap(), report);
}

#[test]
fn settings_by_angle_bring_a_finder_of_known_deflection_right() {
    let mut options = options();
    options.nodal_mm = 2.0;
    let lens = options.lens().unwrap();
    let base = 38.0;
    let ideal = |e: f64| base * e / ((50.0 + e).powi(2) + 2.0 * e);
    // A finder that is ideal but for 0.1 mrad at infinity and 0.3 mrad/mm too much.
    let deflection = |e: f64| ideal(e) + 1e-4 + 3e-4 * e;
    let meet = |distance_m: f64, _: f64| {
        let wanted = if distance_m.is_finite() {
            base / (distance_m * 1000.0)
        } else {
            0.0
        };
        let (mut low, mut high) = (-2.0, 6.0);
        for _ in 0..100 {
            let middle = f64::midpoint(low, high);
            if deflection(middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    };
    let report = analyse(&readings(&DISTANCES_M, &lens, meet), &options).unwrap();
    assert_close(report.settings.infinity_change_rad.unwrap(), -1e-4, 1e-9);
    assert_close(report.settings.rate_change_rad_per_mm.unwrap(), -3e-4, 1e-9);
    assert_close(report.settings.left_by_angle_in_depths.unwrap(), 0.0, 1e-5);
}

#[test]
fn turns_follow_from_the_adjusters_effects() {
    let mut options = options();
    let adjuster = |name: &str, infinity_mm_per_turn, rate_per_turn| Adjuster {
        name: name.to_owned(),
        infinity_mm_per_turn,
        rate_per_turn,
    };
    options.adjusters = vec![
        adjuster("cam screw", 0.4, 0.01),
        adjuster("arm screw", -0.1, 0.08),
    ];
    let lens = options.lens().unwrap();
    let run = readings(&DISTANCES_M, &lens, |_, e| 0.08 + 1.03 * e);
    let settings = analyse(&run, &options).unwrap().settings;
    let (cam, arm) = (settings.turns[0].turns, settings.turns[1].turns);
    assert_close(0.08 + 0.4 * cam - 0.1 * arm, 0.0, 1e-6);
    assert_close(1.03 + 0.01 * cam + 0.08 * arm, 1.0, 1e-6);
    assert_eq!(settings.turns[1].name, "arm screw");
    // The infinity screw alone splits the error of the rate between far and near.
    options.adjusters.truncate(1);
    options.adjusters[0].rate_per_turn = 0.0;
    let settings = analyse(&run, &options).unwrap().settings;
    let nearest = lens.extension_mm(1000.0).unwrap();
    assert_close(
        settings.turns[0].turns * 0.4,
        -0.08 - 0.015 * nearest,
        0.005 * 0.06 + 1e-6,
    );
    let left = settings.left_by_turns_in_depths.unwrap();
    assert_close(left, 0.015 * nearest / 0.06, 0.005 + 1e-6);
}

#[test]
fn the_settings_leave_hardly_more_than_the_least_worst_error() {
    let options = options();
    let lens = options.lens().unwrap();
    let mut gauss = Gauss::new(21);
    let mut over = Vec::new();
    for run in 0..200 {
        let bend = if run % 2 == 0 { 0.02 } else { 0.0 };
        let (infinity, rate) = (0.1 * gauss.normal(), 1.0 + 0.05 * gauss.normal());
        let noisy = readings(&DISTANCES_M, &lens, |_, e| {
            infinity + rate * e + bend * e * (2.6 - e) + 0.02 * gauss.normal()
        });
        let report = analyse(&noisy, &options).unwrap();
        if !has(&report, |f| matches!(f, Finding::Outlier { .. })) {
            over.push(report.left_in_depths - least_worst_by_triples(&noisy, &lens, 0.06));
        }
    }
    over.sort_by(f64::total_cmp);
    assert!(over.len() > 190, "{}", over.len());
    let (least, median, high) = (over[0], over[over.len() / 2], over[over.len() * 95 / 100]);
    assert!(least >= -1e-7, "{least}");
    assert!(
        (0.0..=0.01).contains(&median) && (0.0..=0.1).contains(&high),
        "{median} {high}"
    );
}

#[test]
fn intervals_hold_the_truth_95_times_in_a_hundred() {
    let lens = Lens::new(50.0, 0.0).unwrap();
    for (count, base, eye) in [
        (4, None, 60.0),
        (7, Some(38.0), 60.0),
        (7, Some(60.0), 15.0),
    ] {
        let mut options = options();
        (options.base_mm, options.eye_arcsec) = (base, eye);
        let mut gauss = Gauss::new(22);
        let mut held = [0; 3];
        for _ in 0..1000 {
            let (infinity, rate) = (0.1 * gauss.normal(), 1.0 + 0.05 * gauss.normal());
            let spaced = DISTANCES_M.iter().step_by(if count == 4 { 2 } else { 1 });
            let spaced: Vec<f64> = spaced.copied().collect();
            // Eye and tape half again as bad as stated: the scatter has to tell.
            let run = readings(&spaced, &lens, |distance_m, e| {
                let sd = 1.5 * options.reading_sd_mm(&lens, distance_m * 1000.0);
                infinity + rate * e + sd * gauss.normal()
            });
            let report = analyse(&run, &options).unwrap();
            let point = report.curve.last().unwrap();
            let ideal = lens.extension_mm(point.distance_m * 1000.0).unwrap();
            let pairs = [
                (report.infinity_mm, report.infinity_mm_u, infinity),
                (report.rate, report.rate_u, rate),
                (
                    point.error_depths,
                    point.error_depths_u,
                    (infinity + (rate - 1.0) * ideal) / 0.06,
                ),
            ];
            for (held, (got, u, want)) in held.iter_mut().zip(pairs) {
                *held += usize::from((got - want).abs() <= u.unwrap());
            }
        }
        for held in held {
            assert!(
                (930..=970).contains(&held),
                "{count} readings: {held} of 1000"
            );
        }
    }
}

#[test]
fn one_reading_far_from_the_line_is_named_and_left_out() {
    let options = options();
    let lens = options.lens().unwrap();
    let mut gauss = Gauss::new(23);
    let mut run = readings(&DISTANCES_M, &lens, |_, e| {
        0.02 + e + 0.004 * gauss.normal()
    });
    run[2].extension_mm += 0.3;
    let report = analyse(&run, &options).unwrap();
    assert!(has(
        &report,
        |f| matches!(f, Finding::Outlier { line: 4, miss_mm, .. } if (*miss_mm - 0.3).abs() < 0.03)
    ));
    assert!(report.residuals[2].left_out && report.residuals[2].residual_depths > 4.0);
    assert!(report.left_in_depths < 0.3, "{}", report.left_in_depths);
    assert_close(report.infinity_mm, 0.02, 0.01);
}

#[test]
fn a_bent_finder_and_a_short_base_are_told() {
    let mut options = options();
    options.base_mm = Some(10.0);
    let lens = options.lens().unwrap();
    let mut gauss = Gauss::new(24);
    let run = readings(&DISTANCES_M, &lens, |_, e| {
        e + 0.15 * e * (2.6 - e) + 0.002 * gauss.normal()
    });
    let report = analyse(&run, &options).unwrap();
    assert!(has(&report, |f| matches!(f, Finding::Curved { .. })));
    assert!(has(&report, |f| matches!(f, Finding::BaseTooShort { .. })));
    assert!(has(&report, |f| matches!(f, Finding::LeftOutside { .. })));
    let mut bent = 0;
    for _ in 0..1000 {
        let run = readings(&DISTANCES_M, &lens, |_, e| e + 0.02 * gauss.normal());
        let report = analyse(&run, &options).unwrap();
        bent += usize::from(has(&report, |f| matches!(f, Finding::Curved { .. })));
    }
    assert!((2..=25).contains(&bent), "{bent} of 1000 wanted about 10");
}

#[test]
fn the_vertical_error_has_its_own_verdict() {
    let mut options = options();
    let lens = options.lens().unwrap();
    let mut run = readings(&DISTANCES_M, &lens, |_, e| e);
    assert_eq!(analyse(&run, &options).unwrap().vertical, None);
    run[0].vertical_arcmin = Some(9.5);
    let vertical = analyse(&run, &options).unwrap().vertical.unwrap();
    assert_eq!(
        (vertical.mean_arcmin_u, vertical.verdict),
        (None, Verdict::Undecided)
    );
    options.vertical_arcmin = vec![10.5, 10.0];
    let vertical = analyse(&run, &options).unwrap().vertical.unwrap();
    assert_close(vertical.mean_arcmin, 10.0, 1e-12);
    // t(2) = 4.303, standard deviation 0.5 of three.
    assert_close(
        vertical.mean_arcmin_u.unwrap(),
        4.302_65 * 0.5 / 3.0_f64.sqrt(),
        1e-4,
    );
    assert_eq!(vertical.verdict, Verdict::Out);
}

#[test]
fn the_next_distances_fill_what_is_least_known() {
    let options = options();
    let lens = options.lens().unwrap();
    let next = |distances: &[f64], nearest_m| {
        let mut options = options.clone();
        options.nearest_m = nearest_m;
        let mut gauss = Gauss::new(25);
        let run = readings(distances, &lens, |_, e| e + 0.02 * gauss.normal());
        analyse(&run, &options).unwrap().next
    };
    // Only far readings, the near end unread: it comes first.
    assert_close(
        next(&[4.0, 7.0, 12.0, f64::INFINITY], Some(1.0))[0].distance_m,
        1.0,
        1e-9,
    );
    // Only near ones: far off.
    let far = next(&[1.0, 1.1, 1.2, 1.3], None);
    assert!(far[0].distance_m >= 7.0, "{far:?}");
    // Both ends read well: what bends between them.
    let between = next(
        &[1.0, 1.0, 1.0, f64::INFINITY, f64::INFINITY, f64::INFINITY],
        None,
    );
    assert!((1.2..=4.0).contains(&between[0].distance_m), "{between:?}");
    for pair in between.windows(2) {
        assert_close(
            pair[1].worst_before_depths,
            pair[0].worst_after_depths,
            1e-9,
        );
    }
    assert!(
        between
            .iter()
            .all(|n| n.worst_after_depths <= n.worst_before_depths + 1e-9)
    );
}

#[test]
fn two_readings_need_a_known_base_for_an_uncertainty() {
    let mut options = options();
    let lens = options.lens().unwrap();
    let run = readings(&[1.0, f64::INFINITY], &lens, |_, e| e + 0.01);
    let report = analyse(&run, &options).unwrap();
    assert!(has(&report, |f| matches!(f, Finding::NoFreedom)));
    assert!(report.rate_u.is_some());
    options.base_mm = None;
    let report = analyse(&run, &options).unwrap();
    assert_eq!((report.rate_u, report.worst_in_depths_u), (None, None));
    assert_eq!((report.verdict, report.base), (Verdict::Undecided, None));
}

#[test]
fn readings_that_cannot_be_are_refused_with_their_line() {
    let options = options();
    let refusal = |rows: &str| {
        let text = format!("distance_m,extension_mm\n{rows}");
        match read(text.as_bytes()) {
            Ok(readings) => analyse(&readings, &options).unwrap_err().to_string(),
            Err(error) => error.to_string(),
        }
    };
    for (rows, wanted) in [
        ("1,2.64\n1,2.66\n", "two distances"),
        ("1,2.64\n", "two distances"),
        (
            "inf,0\n-2,1.2\n",
            "line 3, column `distance_m`: -2 m cannot be right",
        ),
        (
            "inf,0\n0.15,1.2\n",
            "line 3, column `distance_m`: 0.15 m is nearer than this lens has an image, 0.200 m",
        ),
        ("inf,0\n1,2640\n", "line 3, column `extension_mm`"),
        (
            "inf,0\n1,264\n",
            "line 3, column `extension_mm`: 264 mm cannot be right",
        ),
        ("inf,0\n1,0.00264\n2,0.00128\n", "look like metres"),
        ("inf,0\n1,0.104\n2,0.0505\n", "look like inches"),
        ("inf,0\n3.28,2.64\n6.56,1.28\n", "look like feet"),
        ("inf,0\n100,2.64\n200,1.28\n", "look like centimetres"),
        ("inf,0\n1000,2.64\n2000,1.28\n", "look like millimetres"),
        (
            "inf,near\n",
            "line 2, column `extension_mm`: `near` is no number",
        ),
    ] {
        let said = refusal(rows);
        assert!(said.contains(wanted), "{rows}: {said}");
    }
    assert!(analyse(&[], &options).is_err());
}

#[test]
fn options_without_meaning_are_refused() {
    let run = readings(&DISTANCES_M, &options().lens().unwrap(), |_, e| e);
    let with = |change: fn(&mut Options)| {
        let mut options = options();
        change(&mut options);
        match analyse(&run, &options) {
            Err(Refused::Option(error)) => error.option,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(with(|o| o.focal_mm = 0.05), "--focal-mm");
    assert_eq!(with(|o| o.f = -2.0), "--f");
    assert_eq!(with(|o| o.coc_mm = f64::NAN), "--coc-mm");
    assert_eq!(with(|o| o.limit_depths = -1.0), "--limit-depths");
    assert_eq!(with(|o| o.base_mm = Some(0.0)), "--base-mm");
    assert_eq!(with(|o| o.magnification = 0.0), "--magnification");
    assert_eq!(with(|o| o.eye_arcsec = 0.0), "--eye-arcsec");
    assert_eq!(with(|o| o.nearest_m = Some(0.1)), "--nearest-m");
    let same = |o: &mut Options| {
        let adjuster = Adjuster {
            name: "screw".to_owned(),
            infinity_mm_per_turn: 0.1,
            rate_per_turn: 0.02,
        };
        o.adjusters = vec![adjuster.clone(), adjuster];
    };
    assert_eq!(with(same), "--adjuster");
}

proptest! {
    #[test]
    fn nothing_makes_it_stumble(
        rows in prop::collection::vec((0.05..50.0_f64, -5.0..20.0_f64), 0..8),
        focal in 5.0..300.0_f64,
        far in prop::bool::ANY,
    ) {
        let mut run: Vec<Reading> = rows
            .iter()
            .map(|(distance_m, extension_mm)| Reading { line: 2, distance_m: *distance_m, extension_mm: *extension_mm, vertical_arcmin: Some(*extension_mm) })
            .collect();
        run.extend(far.then_some(Reading { line: 3, distance_m: f64::INFINITY, extension_mm: 0.0, vertical_arcmin: None }));
        let mut options = Options::new(focal, 2.0, 0.03);
        options.base_mm = Some(40.0);
        let _ = analyse(&run, &options);
    }

    #[test]
    fn a_change_of_infinity_and_rate_is_followed(infinity in -0.3..0.3_f64, rate in 0.9..1.1_f64, nodal in -3.0..3.0_f64) {
        let mut options = options();
        options.nodal_mm = nodal;
        let run = readings(&DISTANCES_M, &options.lens().unwrap(), |_, e| infinity + rate * e);
        let report = analyse(&run, &options).unwrap();
        prop_assert!((report.infinity_mm - infinity).abs() < 1e-9 && (report.rate - rate).abs() < 1e-9);
        prop_assert!(report.left_in_depths < 1e-5);
    }
}

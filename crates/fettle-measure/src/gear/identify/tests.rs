//! Gears from their readings.

use std::f64::consts::PI;

use super::*;
use crate::gear::{Cutter, Wheel, involute};
use crate::synth::Gauss;

/// Module, teeth, angle, shift, teeth in the first span.
const GEARS: [(f64, u32, f64, f64, u32); 6] = [
    (0.5, 20, 20.0, 0.0, 2),
    (0.4, 30, 14.5, 0.0, 3),
    (0.5, 14, 20.0, 0.35, 2),
    (0.6, 40, 20.0, -0.2, 4),
    (0.3, 60, 14.5, 0.1, 5),
    (1.0, 25, 20.0, 0.5, 3),
];
const RACK_PITCHES: u32 = 20;

fn readings(
    (module, teeth, angle_deg, shift, over): (f64, u32, f64, f64, u32),
    mut error: impl FnMut() -> f64,
) -> Options {
    let (z, angle) = (f64::from(teeth), angle_deg.to_radians());
    let mut span = |over: u32| Over {
        teeth: over,
        mm: module * angle.cos() * (PI * (f64::from(over) - 0.5) + z * involute(angle))
            + 2.0 * shift * module * angle.sin()
            + error(),
    };
    let mut options = Options::new(Some(teeth));
    options.spans = vec![span(over), span(over + 1)];
    options.tip_mm = Some(module * (z + 2.0 + 2.0 * shift) + error());
    options.rack = Some(Over {
        teeth: RACK_PITCHES,
        mm: PI * module * f64::from(RACK_PITCHES) + error(),
    });
    options.caliper_mm = 0.01;
    options
}

fn assert_close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: {got}, wanted {want} ± {tolerance}"
    );
}

#[test]
fn exact_readings_give_the_gear_back() {
    for gear in GEARS {
        let (module, teeth, angle, shift, _) = gear;
        let told = analyse(&readings(gear, || 0.0)).unwrap();
        assert_close(told.module_mm, module, 1e-5, "module");
        assert_close(told.angle_deg.unwrap(), angle, 0.011, "angle");
        assert_close(told.shift.unwrap(), shift, 0.001, "shift");
        assert!(
            told.usual.iter().any(|u| (u.angle_deg - angle).abs() < 0.1),
            "{teeth}"
        );
    }
}

#[test]
fn a_span_is_what_a_wheel_shows_between_flanks() {
    for gear in GEARS {
        let (module, teeth, angle, shift, over) = gear;
        let wheel = Wheel::new(module, teeth, angle, shift, Cutter::Sharp).unwrap();
        let span = readings(gear, || 0.0).spans[0].mm;
        // The jaws touch half the span from the base circle's tangent point, over `over - 1` pitches and one tooth.
        let touches = wheel.base_radius_mm().hypot(span / 2.0);
        let between = PI / f64::from(teeth) * f64::from(over - 1) + wheel.half_tooth_rad(touches);
        let straight = 2.0 * touches * between.sin();
        let leaning = (between - (span / 2.0 / wheel.base_radius_mm()).atan()).abs();
        assert_close(
            leaning,
            0.0,
            1e-9,
            "the jaws stand along the line of action",
        );
        assert_close(straight, span, 1e-9, "span");
    }
}

#[test]
fn the_intervals_hold_in_nineteen_of_twenty() {
    let runs = 1000;
    for (seed, gear) in [(71, GEARS[0]), (72, GEARS[3]), (73, GEARS[5])] {
        let (module, _, angle, shift, _) = gear;
        let mut gauss = Gauss::new(seed);
        let mut held = [0; 3];
        for _ in 0..runs {
            // What is refused does not hold.
            let Ok(told) = analyse(&readings(gear, || 0.005 * gauss.normal())) else {
                continue;
            };
            let within = [
                (told.module_mm - module).abs() <= told.module_mm_u,
                told.angle_deg_u
                    .is_none_or(|u| (told.angle_deg.unwrap() - angle).abs() <= u),
                (told.shift.unwrap() - shift).abs() <= told.shift_u.unwrap(),
            ];
            for (count, held_now) in held.iter_mut().zip(within) {
                *count += i32::from(held_now);
            }
        }
        for count in held {
            assert_close(f64::from(count) / f64::from(runs), 0.955, 0.025, "coverage");
        }
    }
}

#[test]
fn a_wrong_count_is_refused_and_the_right_one_named() {
    for gear in GEARS {
        for by in [-1, 1] {
            let mut options = readings(gear, || 0.0);
            let right = gear.1;
            options.teeth = right.checked_add_signed(by);
            let Err(IdentifyError::Count { agree, .. }) = analyse(&options) else {
                panic!("{options:?} is taken");
            };
            assert!(agree.contains(&Count::Teeth(right)), "{agree:?}");

            let mut options = readings(gear, || 0.0);
            options.rack = options.rack.map(|rack| Over {
                teeth: RACK_PITCHES.saturating_add_signed(by),
                ..rack
            });
            let Err(IdentifyError::Count { agree, .. }) = analyse(&options) else {
                panic!("{options:?} is taken");
            };
            assert!(
                agree.contains(&Count::RackPitches(RACK_PITCHES)),
                "{agree:?}"
            );
        }
    }
}

#[test]
fn a_wrong_count_is_refused_without_a_rack() {
    for gear in GEARS {
        for by in [-1, 1] {
            let mut options = readings(gear, || 0.0);
            (options.rack, options.teeth) = (None, gear.1.checked_add_signed(by));
            let refused = analyse(&options).unwrap_err();
            let IdentifyError::Count { agree, .. } = &refused else {
                panic!("{refused}");
            };
            assert!(agree.contains(&Count::Teeth(gear.1)), "{refused}");
        }
    }
}

#[test]
fn what_the_readings_cannot_tell_is_said() {
    let mut options = readings(GEARS[0], || 0.0);
    options.rack = None;
    let told = analyse(&options).unwrap();
    assert!(told.findings.contains(&Finding::AngleNotTold), "{told:?}");
    options.angle_deg = Some(20.0);
    let told = analyse(&options).unwrap();
    assert_close(told.module_mm, 0.5, 1e-9, "module");
    assert_close(told.shift.unwrap(), 0.0, 1e-9, "shift");
    assert_eq!(told.angle_deg_u, None);
}

#[test]
fn a_rack_alone_gives_its_module() {
    let mut options = Options::new(None);
    options.rack = Some(Over {
        teeth: 20,
        mm: 31.42,
    });
    let told = analyse(&options).unwrap();
    assert_close(told.module_mm, 0.500_065, 1e-6, "module");
    assert_close(told.module_mm_u, 0.000_318, 1e-6, "uncertainty");
    assert_eq!((told.angle_deg, told.shift), (None, None));
}

#[test]
fn what_has_no_meaning_is_refused_by_name() {
    let refusal = |change: fn(&mut Options)| {
        let mut options = readings(GEARS[0], || 0.0);
        change(&mut options);
        analyse(&options).unwrap_err().to_string()
    };
    for (starts, change) in [
        (
            "--teeth: 0 cannot be",
            (|o| o.teeth = Some(0)) as fn(&mut Options),
        ),
        ("--teeth: 3 cannot be", |o| o.teeth = Some(3)),
        ("--teeth: missing", |o| o.teeth = None),
        ("--angle-deg: 0 cannot be", |o| o.angle_deg = Some(0.0)),
        ("--angle-deg: 90 cannot be", |o| o.angle_deg = Some(90.0)),
        ("--caliper-mm: 0 cannot be", |o| o.caliper_mm = 0.0),
        ("--tip-mm: NaN cannot be", |o| o.tip_mm = Some(f64::NAN)),
        ("--span-mm: 0 cannot be", |o| o.spans[0].teeth = 0),
        ("--span-mm: 19 cannot be", |o| o.spans[0].teeth = 19),
        ("--rack-mm: 0 cannot be", |o| {
            o.rack = Some(Over { teeth: 0, mm: 3.0 });
        }),
        ("--tip-mm: missing", |o| *o = Options::new(Some(20))),
        ("--span-mm: one reading", |o| {
            (o.spans, o.rack) = (Vec::new(), None);
        }),
        ("the readings are of no standard", |o| o.tip_mm = Some(16.0)),
    ] {
        let message = refusal(change);
        assert!(message.starts_with(starts), "{message}, wanted {starts}");
    }
}

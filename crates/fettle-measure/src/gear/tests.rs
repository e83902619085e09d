//! Gears against brute force: teeth cut by sweeping the cutter's polygon, pairs of them rolled on one another.

use proptest::prelude::*;

use super::curve::distance_to_line;
use super::mesh::{Finding, Mate, Of, Options, Placed, Report, analyse, placed};
use super::swept::{Rolled, Swept};
use super::*;

/// Module, teeth, angle, shift: whole and undercut, old and usual angles, shifted both ways.
const WHEELS: [(f64, u32, f64, f64); 9] = [
    (1.0, 12, 20.0, 0.0),
    (0.5, 20, 20.0, 0.0),
    (0.4, 8, 20.0, 0.0),
    (0.5, 12, 14.5, 0.0),
    (1.0, 40, 20.0, 0.3),
    (0.3, 60, 14.5, -0.2),
    (0.5, 10, 20.0, 0.4),
    (0.5, 25, 20.0, -0.4),
    (0.6, 15, 25.0, 0.1),
];

fn assert_close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: {got}, wanted {want} ± {tolerance}"
    );
}

fn report(options: &Options) -> Report {
    analyse(options).unwrap()
}

fn rack(module_mm: f64, teeth: u32) -> Options {
    Options::new(module_mm, teeth, Mate::Rack)
}

fn pair(module_mm: f64, teeth: u32, mate: u32) -> Options {
    Options::new(module_mm, teeth, Mate::Gear { teeth: mate })
}

#[test]
fn the_gap_is_what_the_cutter_sweeps() {
    for (module, teeth, angle, shift) in WHEELS {
        let wheel = Wheel::new(module, teeth, angle, shift, Cutter::Sharp).unwrap();
        let swept = Swept::cut(module, teeth, angle, shift);
        for (radius, half) in swept.radii().skip(1) {
            let off = (wheel.half_gap_rad(radius) - half) * radius;
            assert_close(off, 0.0, 2e-6, &format!("{teeth} teeth at {radius} mm"));
        }
    }
}

#[test]
fn twelve_teeth_on_a_rack_have_what_the_literature_says() {
    let report = report(&rack(1.0, 12));
    assert_close(
        report.contact_ratio_no_undercut,
        1.41,
        0.005,
        "to the base tangent",
    );
    assert_close(report.contact_ratio, 1.18, 0.005, "with undercut");
    assert!(report.findings.iter().any(|f| matches!(
        f,
        Finding::Undercut {
            of: Of::Pinion,
            least_teeth: 22,
            ..
        }
    )));
}

/// Pairs with the withdrawals that are tried, in modules.
fn pairs() -> Vec<(Options, [f64; 2])> {
    let shifted = |mut options: Options, shift: f64, mate_shift: f64, angle_deg: f64| {
        (options.shift, options.mate_shift, options.angle_deg) = (shift, mate_shift, angle_deg);
        options
    };
    vec![
        (rack(1.0, 12), [0.05, 0.3]),
        (rack(0.5, 20), [0.1, 0.5]),
        (rack(0.4, 9), [0.02, 0.1]),
        (shifted(rack(0.5, 10), 0.4, 0.0, 20.0), [0.05, 0.2]),
        (shifted(rack(0.5, 14), 0.0, 0.0, 14.5), [0.1, 0.2]),
        (pair(1.0, 12, 40), [0.05, 0.3]),
        (pair(0.5, 20, 31), [0.1, 0.5]),
        (pair(0.4, 13, 14), [0.1, 0.3]),
        (shifted(pair(0.5, 15, 28), 0.3, -0.1, 20.0), [0.05, 0.3]),
        (shifted(pair(0.5, 24, 36), 0.0, 0.1, 14.5), [0.1, 0.4]),
    ]
}

fn cut(options: &Options) -> (Swept, Option<Swept>) {
    let wheel = |teeth, shift| Swept::cut(options.module_mm, teeth, options.angle_deg, shift);
    let mate = match options.mate {
        Mate::Rack => None,
        Mate::Gear { teeth } => Some(wheel(teeth, options.mate_shift)),
    };
    (wheel(options.teeth, options.shift), mate)
}

#[test]
fn backlash_and_contact_ratio_are_those_of_swept_teeth() {
    for (mut options, aparts) in pairs() {
        let (pinion, mate) = cut(&options);
        for apart in aparts {
            options.apart_mm = apart * options.module_mm;
            let told = report(&options);
            let (play, contact) = Rolled {
                pinion: &pinion,
                mate: mate.as_ref(),
                distance: told.distance_mm,
            }
            .play_and_contact();
            let what = format!("{} on {:?} at {apart}", options.teeth, options.mate);
            assert_close(told.backlash_mm, play, 0.000_1, &what);
            assert_close(told.contact_ratio, contact, 0.01, &what);
        }
    }
}

#[test]
fn without_withdrawal_swept_teeth_have_no_play() {
    for (options, _) in pairs() {
        let (pinion, mate) = cut(&options);
        let told = report(&options);
        let (play, _) = Rolled {
            pinion: &pinion,
            mate: mate.as_ref(),
            distance: told.free_distance_mm,
        }
        .play_and_contact();
        assert_close(play, 0.0, 0.000_1, &format!("{options:?}"));
        assert_close(told.backlash_mm, 0.0, 1e-12, "backlash");
    }
}

#[test]
fn the_limit_is_where_swept_teeth_lose_continuous_drive() {
    for (options, _) in pairs() {
        let told = report(&options);
        let Some(limit) = told.apart_limit_mm else {
            assert!(told.contact_ratio < 1.0, "{options:?}");
            continue;
        };
        let (pinion, mate) = cut(&options);
        let contact = |apart: f64| {
            Rolled {
                pinion: &pinion,
                mate: mate.as_ref(),
                distance: told.free_distance_mm + apart,
            }
            .play_and_contact()
            .1
        };
        let what = format!("{} on {:?}: limit {limit}", options.teeth, options.mate);
        assert!(contact(limit - 0.005) > 1.0, "{what}");
        assert!(contact(limit + 0.005) < 1.0, "{what}");
    }
}

#[test]
fn teeth_ride_over_where_swept_tips_pass() {
    for (options, _) in pairs() {
        let (pinion, mate) = cut(&options);
        let other = mate.as_ref().map_or(options.module_mm, Swept::outermost);
        let told = report(&options);
        let passes = pinion.outermost() + other - told.free_distance_mm;
        assert_close(told.ride_over_mm, passes, 0.005, &format!("{options:?}"));
        let mut farther = options;
        farther.apart_mm = told.ride_over_mm + 0.01;
        let told = report(&farther);
        assert_close(told.working_depth_mm, -0.01, 1e-9, "depth");
        assert!(
            told.findings
                .iter()
                .any(|f| matches!(f, Finding::RideOver { .. }))
        );
    }
}

#[test]
fn swept_teeth_come_to_a_point_where_the_wheel_does() {
    let wheel = Wheel::new(1.0, 8, 20.0, 0.8, Cutter::Sharp).unwrap();
    assert!(wheel.is_pointed());
    let swept = Swept::cut(1.0, 8, 20.0, 0.8);
    assert_close(wheel.tip_radius_mm(), swept.outermost(), 0.001, "point");
}

#[test]
fn a_loose_bearing_parts_the_teeth_by_its_lever() {
    let mut options = rack(0.5, 24);
    (options.arm_mm, options.mesh_arm_mm, options.play_mm) = (Some(10.0), Some(25.0), 0.08);
    options.apart_mm = 0.05;
    let told = report(&options);
    assert_close(told.apart_mm, 0.25, 1e-12, "apart");
    assert_close(told.apart_from_play_mm.unwrap(), 0.2, 1e-12, "from play");
    let limit = told.apart_limit_mm.unwrap();
    options.play_mm = told.play_limit_mm.unwrap();
    assert_close(report(&options).contact_ratio, 1.0, 1e-9, "at the limit");
    assert_close(
        report(&options).apart_mm,
        limit,
        1e-12,
        "apart at the limit",
    );
    options.play_mm = told.play_ride_over_mm.unwrap();
    assert_close(report(&options).working_depth_mm, 0.0, 1e-12, "riding over");
}

#[test]
fn feet_that_no_cutter_relieved_are_dug_into() {
    let mut options = rack(0.5, 12);
    options.cutter = Cutter::None;
    let told = report(&options);
    assert!(
        told.findings
            .iter()
            .any(|f| matches!(f, Finding::Interference { of: Of::Pinion, .. }))
    );
    assert_close(
        told.contact_ratio,
        told.contact_ratio_no_undercut,
        1e-12,
        "ratios",
    );
    options.teeth = 18;
    assert_eq!(report(&options).findings, vec![Finding::NotAlwaysInvolute]);
    options.teeth = 30;
    assert_eq!(report(&options).findings, vec![]);
}

#[test]
fn what_has_no_meaning_is_refused_by_name() {
    let refusal = |change: fn(&mut Options)| {
        let mut options = pair(0.5, 20, 30);
        change(&mut options);
        analyse(&options).unwrap_err().to_string()
    };
    for (starts, change) in [
        (
            "--teeth: 0 cannot be",
            (|o| o.teeth = 0) as fn(&mut Options),
        ),
        ("--teeth: 3 cannot be", |o| o.teeth = 3),
        ("--mate-teeth: 3 cannot be", |o| {
            o.mate = Mate::Gear { teeth: 3 }
        }),
        ("--angle-deg: 0 cannot be", |o| o.angle_deg = 0.0),
        ("--angle-deg: 90 cannot be", |o| o.angle_deg = 90.0),
        ("--module-mm: 0 cannot be", |o| o.module_mm = 0.0),
        ("--module-mm: NaN cannot be", |o| o.module_mm = f64::NAN),
        ("--apart-mm: -0.1 cannot be", |o| o.apart_mm = -0.1),
        ("--apart-mm: inf cannot be", |o| o.apart_mm = f64::INFINITY),
        ("--shift: 2 cannot be", |o| o.shift = 2.0),
        ("--mate-shift: -2 cannot be", |o| o.mate_shift = -2.0),
        ("--mate-shift: 0.2 cannot be", |o| {
            (o.mate, o.mate_shift) = (Mate::Rack, 0.2);
        }),
        ("--arm-mm: missing", |o| o.play_mm = 0.1),
        ("--mesh-arm-mm: missing", |o| o.arm_mm = Some(3.0)),
        (
            "--teeth: 4 teeth of 20 degrees with profile shift -1",
            |o| (o.teeth, o.shift) = (4, -1.0),
        ),
    ] {
        let message = refusal(change);
        assert!(message.starts_with(starts), "{message}, wanted {starts}");
    }
}

#[test]
fn outlines_are_closed_and_their_chords_within_a_micron() {
    for cutter in [Cutter::Sharp, Cutter::None] {
        for (module, teeth, angle, shift) in WHEELS {
            let wheel = Wheel::new(module, teeth, angle, shift, cutter).unwrap();
            check_outline(&wheel.outline());
        }
    }
    check_outline(&Rack::new(0.5, 20, 20.0, 2.0, 0.01).unwrap().outline());
}

fn check_outline(outline: &Outline) {
    let next = outline.curves.iter().cycle().skip(1);
    for (curve, after) in outline.curves.iter().zip(next) {
        let (end, begin) = (curve.at(1.0), after.at(0.0));
        assert_close(
            (end[0] - begin[0]).hypot(end[1] - begin[1]),
            0.0,
            1e-9,
            "joint",
        );
        let mut from = curve.at(0.0);
        let mut chords = Vec::new();
        for to in curve.points(0.001) {
            chords.push((from, to));
            from = to;
        }
        for i in 0..=1000 {
            let point = curve.at(f64::from(i) / 1000.0);
            let off = chords
                .iter()
                .map(|(from, to)| distance_to_chord(point, *from, *to))
                .fold(f64::INFINITY, f64::min);
            assert_close(off, 0.0, 0.001, "chord");
        }
        for part in [0.1, 0.5, 0.9] {
            let (a, b) = (curve.at(part - 1e-5), curve.at(part + 1e-5));
            let slope = curve.slope(part);
            for axis in [0, 1] {
                assert_close(slope[axis], (b[axis] - a[axis]) / 2e-5, 1e-6, "slope");
            }
        }
        let cubics = curve.cubics(0.000_1);
        assert!(cubics.len() <= 16, "{} cubics for {curve:?}", cubics.len());
    }
    let polygon = outline.polygon(0.001);
    let area: f64 = polygon
        .iter()
        .zip(polygon.iter().cycle().skip(1))
        .map(|(a, b)| (a[0] * b[1] - b[0] * a[1]) / 2.0)
        .sum();
    assert!(area > 0.0, "clockwise");
}

fn distance_to_chord(point: Point, from: Point, to: Point) -> f64 {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let along = (point[0] - from[0]) * dx + (point[1] - from[1]) * dy;
    if along < 0.0 {
        (point[0] - from[0]).hypot(point[1] - from[1])
    } else if along > dx * dx + dy * dy {
        (point[0] - to[0]).hypot(point[1] - to[1])
    } else {
        distance_to_line(point, from, to)
    }
}

#[test]
fn thinned_teeth_have_the_backlash_asked_for() {
    let plain = Wheel::new(0.5, 20, 20.0, 0.0, Cutter::Sharp).unwrap();
    let thin = Wheel::with_thinner_teeth(0.5, 20, 20.0, 0.0, Cutter::Sharp, 0.04).unwrap();
    let pitch = plain.pitch_radius_mm();
    let thinner = 2.0 * pitch * (plain.half_tooth_rad(pitch) - thin.half_tooth_rad(pitch));
    assert_close(thinner, 0.04, 1e-12, "thinner");
    check_outline(&thin.outline());
}

/// A placed outline's corners in the pair's plane, turned on by part of a tooth.
fn corners(of: &Placed, teeth: f64) -> Vec<Point> {
    let (sin, cos) = (of.turned_rad + teeth * of.tooth_rad).sin_cos();
    let polygon = of.outline.polygon(1e-4).into_iter();
    polygon
        .map(|[x, y]| {
            [
                of.origin[0] + teeth * of.tooth_mm + x * cos - y * sin,
                of.origin[1] + x * sin + y * cos,
            ]
        })
        .collect()
}

fn to_edge(point: Point, polygon: &[Point]) -> f64 {
    let next = polygon.iter().cycle().skip(1);
    polygon
        .iter()
        .zip(next)
        .map(|(a, b)| {
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let along = (point[0] - a[0]) * dx + (point[1] - a[1]) * dy;
            let part = (along / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            (point[0] - a[0] - part * dx).hypot(point[1] - a[1] - part * dy)
        })
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn a_placed_pair_touches_on_its_line_of_action_however_far_it_turns() {
    let mut whole = pair(1.0, 24, 40);
    whole.apart_mm = 0.2;
    let mut apart = rack(0.5, 30);
    apart.apart_mm = 0.1;
    for options in [whole, apart] {
        let pair = placed(&options, options.apart_mm, 10).unwrap();
        let [from, to] = pair.contact.unwrap();
        let base = std::f64::consts::PI * options.module_mm * 20_f64.to_radians().cos();
        for turned in [0.0, 0.25, 0.6] {
            let (pinion, mate) = (corners(&pair.pinion, turned), corners(&pair.mate, turned));
            // Both edges cross the line of action at the same places, one base pitch apart.
            let on = |part: f64| [0, 1].map(|a| from[a] + part * (to[a] - from[a]));
            let long = (to[0] - from[0]).hypot(to[1] - from[1]);
            let steps = 400;
            let touches: Vec<f64> = (1..steps)
                .map(|i| f64::from(i) / f64::from(steps))
                .filter(|part| {
                    to_edge(on(*part), &pinion).max(to_edge(on(*part), &mate))
                        < long / f64::from(steps)
                })
                .collect();
            assert!(
                !touches.is_empty(),
                "{options:?} turned by {turned} touches nowhere"
            );
            let least = touches.iter().fold(1.0, |a: f64, b| a.min(*b)) * long;
            assert!(least <= base * 1.001, "{least} of {base}");
        }
    }
}

proptest! {
    /// Any options give a report with finite figures, or a refusal.
    #[test]
    fn any_pair_is_answered(
        module_mm in 0.01..12.0,
        teeth in 0_u32..200,
        mate in proptest::option::of(0_u32..200),
        angle_deg in 5.0..35.0,
        (shift, mate_shift) in (-1.2..1.2, -1.2..1.2),
        apart_mm in 0.0..3.0,
        sharp in any::<bool>(),
    ) {
        let mate = mate.map_or(Mate::Rack, |teeth| Mate::Gear { teeth });
        let mut options = Options::new(module_mm, teeth, mate);
        (options.angle_deg, options.shift, options.apart_mm) = (angle_deg, shift, apart_mm);
        options.mate_shift = if mate == Mate::Rack { 0.0 } else { mate_shift };
        options.cutter = if sharp { Cutter::Sharp } else { Cutter::None };
        if let Ok(told) = analyse(&options) {
            prop_assert!(told.backlash_mm >= -1e-9 && told.backlash_mm.is_finite());
            prop_assert!(told.contact_ratio >= 0.0 && told.contact_ratio <= told.contact_ratio_no_undercut + 1e-9);
            prop_assert!(told.working_depth_mm.is_finite() && told.ride_over_mm.is_finite());
            if let Some(limit) = told.apart_limit_mm {
                prop_assert!(limit <= told.ride_over_mm + 1e-9);
            }
            let text = serde_json::to_string(&told).unwrap();
            prop_assert_eq!(serde_json::from_str::<Report>(&text).unwrap(), told);
            let Ok(pinion) = options.pinion() else { unreachable!() };
            prop_assert!(!pinion.outline().polygon(0.001).is_empty());
        }
    }
}

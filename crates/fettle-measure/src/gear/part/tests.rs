//! Parts against their dimensions, and what must not be made.

use proptest::prelude::*;

use super::*;
use crate::gear::mesh::{self, Mate};
use crate::gear::{Curve, Outline};

fn assert_close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: {got}, wanted {want} ± {tolerance}"
    );
}

fn gear(module_mm: f64, teeth: u32) -> Options {
    Options::new(Form::Gear, module_mm, teeth, 2.0)
}

fn rack(module_mm: f64, teeth: u32) -> Options {
    Options::new(Form::Rack, module_mm, teeth, 2.0)
}

fn hole(diameter_mm: f64, x_mm: f64, y_mm: f64) -> Hole {
    Hole {
        diameter_mm,
        x_mm,
        y_mm,
    }
}

fn slot(length_mm: f64, width_mm: f64, x_mm: f64, y_mm: f64) -> Slot {
    Slot {
        length_mm,
        width_mm,
        x_mm,
        y_mm,
    }
}

/// Gears and racks of all kinds.
fn parts() -> Vec<Part> {
    let mut all = vec![
        gear(0.5, 20),
        gear(1.0, 12),
        gear(0.3, 60),
        rack(0.5, 15),
        rack(1.0, 3),
    ];
    let mut old = gear(0.4, 30);
    (old.angle_rad, old.shift, old.backlash_mm) = (14.5_f64.to_radians(), 0.2, 0.02);
    all.push(old);
    for mut relieved in [gear(0.8, 24), rack(0.8, 9)] {
        (relieved.tip_relief_mm, relieved.backlash_mm) = (0.02, 0.01);
        all.push(relieved);
    }
    let mut bored = gear(1.0, 40);
    bored.bore_mm = Some(6.0);
    bored.holes = vec![hole(3.0, 9.0, 4.0)];
    bored.slots = vec![slot(8.0, 2.5, -3.0, -9.0)];
    all.push(bored);
    let mut slotted = rack(0.5, 24);
    slotted.height_mm = 5.0;
    slotted.holes = vec![hole(2.0, 4.0, -3.0)];
    slotted.slots = vec![slot(6.0, 1.6, 20.0, -3.0)];
    all.push(slotted);
    all.into_iter()
        .map(|options| options.part().unwrap())
        .collect()
}

fn edges(part: &Part) -> Vec<&Outline> {
    let inner = part.inner.iter().map(|opening| &opening.outline);
    std::iter::once(&part.outer).chain(inner).collect()
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[test]
fn every_outline_is_closed_and_has_its_material_to_the_left() {
    for part in parts() {
        for (n, edge) in edges(&part).into_iter().enumerate() {
            let next = edge.curves.iter().cycle().skip(1);
            for (curve, next) in edge.curves.iter().zip(next) {
                assert_close(distance(curve.at(1.0), next.at(0.0)), 0.0, 1e-9, "a joint");
            }
            let area = edge.area_mm2(1e-4);
            assert_eq!(
                area > 0.0,
                n == 0,
                "{:?}: outline {n} has {area}",
                part.options
            );
        }
    }
}

#[test]
fn polygons_keep_to_a_micrometre_of_every_curve() {
    for part in parts() {
        for curve in edges(&part).into_iter().flat_map(|edge| &edge.curves) {
            let mut corners = vec![curve.at(0.0)];
            corners.extend(curve.points(1e-3));
            let worst = (0..=2000)
                .map(|i| {
                    let point = curve.at(f64::from(i) / 2000.0);
                    let to_chords = corners
                        .windows(2)
                        .map(|pair| to_chord(point, pair[0], pair[1]));
                    to_chords.fold(f64::INFINITY, f64::min)
                })
                .fold(0.0, f64::max);
            assert!(worst <= 1e-3, "{curve:?}: {worst}");
        }
    }
}

fn to_chord(point: [f64; 2], from: [f64; 2], to: [f64; 2]) -> f64 {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let along = (point[0] - from[0]) * dx + (point[1] - from[1]) * dy;
    let part = (along / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    distance(point, [from[0] + part * dx, from[1] + part * dy])
}

#[test]
fn slopes_are_what_the_points_do() {
    for part in parts() {
        for curve in edges(&part).into_iter().flat_map(|edge| &edge.curves) {
            for at in [0.1, 0.5, 0.9] {
                let (a, b) = (curve.at(at - 1e-5), curve.at(at + 1e-5));
                let slope = curve.slope(at);
                for axis in 0..2 {
                    let want = (b[axis] - a[axis]) / 2e-5;
                    assert_close(slope[axis], want, 1e-6, &format!("{curve:?} at {at}"));
                }
            }
        }
    }
}

/// Smallest and largest radius of an outline.
fn radii(outline: &Outline) -> (f64, f64) {
    outline
        .polygon(1e-5)
        .iter()
        .map(|p| p[0].hypot(p[1]))
        .fold((f64::INFINITY, 0.0), |(least, most), r| {
            (least.min(r), most.max(r))
        })
}

#[test]
fn the_drawn_gear_has_the_diameters_it_is_said_to_have() {
    for part in parts() {
        let Dimensions::Gear(of) = part.dimensions else {
            continue;
        };
        let (least, most) = radii(&part.outer);
        assert_close(2.0 * least, of.root_diameter_mm, 1e-6, "root");
        assert_close(2.0 * most, of.tip_diameter_mm, 1e-6, "tip");
    }
}

/// The distance of two parallel jaws about `teeth` teeth, the gap's or tooth's middle upright between them.
fn jaws(part: &Part, teeth: u32, whole_to: f64) -> f64 {
    let pitch = std::f64::consts::TAU / f64::from(part.options.teeth);
    let turn = -pitch * f64::from(teeth - 1) / 2.0;
    // The jaws stand on the outermost flanks: of the teeth spanned, how far they reach aside below the tips' easing.
    let half = pitch * f64::from(teeth) / 2.0;
    part.outer
        .curves
        .iter()
        .filter(|curve| matches!(curve, Curve::Involute { .. }))
        .flat_map(|curve| curve.points(1e-6))
        .filter(|p| p[0].hypot(p[1]) < whole_to)
        .map(|p| (p[1].atan2(p[0]) + turn, p[0].hypot(p[1])))
        .map(|(angle, r)| {
            (
                (angle + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU)
                    - std::f64::consts::PI,
                r,
            )
        })
        .filter(|(angle, _)| angle.abs() < half)
        .map(|(angle, r)| 2.0 * r * angle.sin())
        .fold(0.0, f64::max)
}

#[test]
fn a_caliper_on_the_drawn_teeth_reads_the_span() {
    let mut spans = 0;
    for part in parts() {
        let Dimensions::Gear(of) = part.dimensions else {
            continue;
        };
        let Some(span) = of.span else { continue };
        let read = jaws(&part, span.teeth, of.tip_diameter_mm / 2.0 + 1.0);
        assert_close(read, span.limits.mm, 2e-6, &format!("{:?}", part.options));
        assert!(span.limits.least_mm < span.limits.mm && span.limits.mm <= span.limits.most_mm);
        spans += 1;
    }
    assert!(spans >= 5, "{spans} spans");
}

#[test]
fn a_relieved_flank_stands_back_at_the_tip_and_nowhere_below_the_easing() {
    let mut options = gear(0.8, 24);
    let whole = options.part().unwrap();
    options.tip_relief_mm = 0.02;
    let eased = options.part().unwrap();
    let widths = |part: &Part, radius: f64| {
        let polygon = part.outer.polygon(1e-6);
        polygon
            .windows(2)
            .filter(|pair| {
                (pair[0][0].hypot(pair[0][1]) - radius) * (pair[1][0].hypot(pair[1][1]) - radius)
                    < 0.0
            })
            .map(|pair| {
                let [(a0, r0), (a1, r1)] = [0, 1].map(|n: usize| {
                    let [x, y] = pair[n];
                    (y.atan2(x).abs(), x.hypot(y))
                });
                (a0 + (a1 - a0) * (radius - r0) / (r1 - r0)) * radius
            })
            .fold(f64::INFINITY, f64::min)
    };
    let tip = 0.8 * 13.0;
    let half = |radius: f64| widths(&whole, radius) - widths(&eased, radius);
    let base = 0.8 * 12.0 * 20_f64.to_radians().cos();
    assert_close(half(tip - 0.8 * 0.65), 0.0, 2e-5, "below the easing");
    // Normal to the flank 0.02, round the circle that by r/r_b.
    assert_close(half(tip - 1e-5), 0.02 * tip / base, 1e-4, "at the tip");
    let Dimensions::Gear(of) = eased.dimensions else {
        panic!("a gear")
    };
    assert_close(
        of.tip_thickness_mm,
        2.0 * widths(&eased, tip - 1e-7),
        1e-4,
        "tip thickness",
    );
}

#[test]
fn a_rack_is_as_long_and_high_as_it_is_said_to_be_and_its_roots_are_round() {
    for part in parts() {
        let Dimensions::Rack(of) = part.dimensions else {
            continue;
        };
        let polygon = part.outer.polygon(1e-4);
        let range = |axis: usize| {
            polygon
                .iter()
                .map(|p| p[axis])
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
                    (a.min(v), b.max(v))
                })
        };
        let ((left, right), (low, high)) = (range(0), range(1));
        assert_close(right - left, of.length_mm, 1e-9, "length");
        assert_close(high - low, of.over_all_mm, 1e-9, "height");
        assert_close(high, part.options.module_mm, 1e-9, "tips");
        let arcs = part
            .outer
            .curves
            .iter()
            .filter(|c| matches!(c, Curve::Arc { .. }))
            .count();
        assert_eq!(arcs, 2 * part.options.teeth as usize);
        // ISO 53: 0.38 modules, ending 1 module below the pitch line.
        assert_close(
            of.fillet_mm,
            0.38 * part.options.module_mm,
            0.001 * part.options.module_mm,
            "fillet",
        );
        for curve in &part.outer.curves {
            if let Curve::Arc { .. } = curve {
                let ends = [curve.at(0.0)[1], curve.at(1.0)[1]];
                assert_close(
                    ends[0].max(ends[1]),
                    -part.options.module_mm,
                    1e-9,
                    "where the fillet ends",
                );
            }
        }
    }
}

#[test]
fn roots_join_bottoms_and_flanks_without_a_kink() {
    for part in parts().iter().filter(|part| {
        !part
            .findings
            .iter()
            .any(|f| matches!(f, Finding::Undercut { .. }))
    }) {
        let curves = &part.outer.curves;
        let next = curves.iter().cycle().skip(1);
        for (curve, next) in curves.iter().zip(next) {
            let round = |c: &Curve| !matches!(c, Curve::Line { .. });
            let at_tip = curve.at(1.0)[0].hypot(curve.at(1.0)[1]);
            let is_gear = part.options.form == Form::Gear;
            let is_tip = if is_gear {
                matches!(part.dimensions, Dimensions::Gear(of) if at_tip > of.tip_diameter_mm / 2.0 - 1e-6)
            } else {
                curve.at(1.0)[1] > part.options.module_mm - 1e-6
            };
            if is_tip || !(round(curve) || round(next)) {
                continue;
            }
            let (a, b) = (curve.slope(1.0), next.slope(0.0));
            let turn = (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]);
            assert_close(turn, 0.0, 1e-6, &format!("{curve:?} to {next:?}"));
        }
    }
}

fn refused(options: &Options, option: &str, says: &str) {
    let error = options.part().unwrap_err();
    assert_eq!(error.option, option, "{error}");
    assert!(error.reason.contains(says), "{error}");
    assert_eq!(options.check().unwrap_err(), error);
}

#[test]
fn what_cannot_be_is_refused_with_what_is_wrong() {
    type Change = fn(&mut Options);
    let of_gear: [(Change, &str, &str); 14] = [
        (
            |o| o.angle_rad = 0.0,
            "--angle-deg",
            "give 10 to 30 degrees",
        ),
        (
            |o| o.angle_rad = std::f64::consts::FRAC_PI_2,
            "--angle-deg",
            "give 10 to 30 degrees",
        ),
        (
            |o| o.angle_rad = f64::NAN,
            "--angle-deg",
            "give 10 to 30 degrees",
        ),
        (|o| o.teeth = 0, "--teeth", "give 4 to 1000 teeth"),
        (|o| o.teeth = 3, "--teeth", "give 4 to 1000 teeth"),
        (|o| o.module_mm = -1.0, "--module-mm", "give 0.05 to 10 mm"),
        (
            |o| o.module_mm = f64::INFINITY,
            "--module-mm",
            "give 0.05 to 10 mm",
        ),
        (
            |o| o.thickness_mm = 0.0,
            "--thickness-mm",
            "give 0.05 to 200 mm",
        ),
        (|o| o.backlash_mm = -0.1, "--backlash-mm", "for this module"),
        (
            |o| o.tip_relief_mm = 1.0,
            "--tip-relief-mm",
            "for this module",
        ),
        (|o| o.bore_mm = Some(17.5), "--bore-mm", "past the gaps"),
        (
            |o| o.bore_mm = Some(f64::NAN),
            "--bore-mm",
            "give 0.1 to 1000 mm",
        ),
        (
            |o| o.holes.push(hole(2.0, 8.0, 0.0)),
            "--hole-mm",
            "past the gaps",
        ),
        (
            |o| o.slots.push(slot(3.0, 3.0, 0.0, 0.0)),
            "--slot-mm",
            "is round",
        ),
    ];
    for (change, option, says) in of_gear {
        let mut options = gear(1.0, 20);
        options.part().unwrap();
        change(&mut options);
        refused(&options, option, says);
    }
    let of_rack: [(Change, &str, &str); 6] = [
        (|o| o.teeth = 0, "--teeth", "give 2 to 1000 teeth"),
        (|o| o.bore_mm = Some(2.0), "--bore-mm", "a rack has no bore"),
        (|o| o.shift = 0.2, "--shift", "no profile shift"),
        (|o| o.height_mm = 0.0, "--height-mm", "give 0.1 to 200 mm"),
        (
            |o| o.holes.push(hole(2.0, 5.0, 0.0)),
            "--hole-mm",
            "past the gaps",
        ),
        (
            |o| o.slots.push(slot(9.0, 1.0, 2.0, -2.5)),
            "--slot-mm",
            "from the left end",
        ),
    ];
    for (change, option, says) in of_rack {
        let mut options = rack(1.0, 10);
        options.part().unwrap();
        change(&mut options);
        refused(&options, option, says);
    }
}

#[test]
fn openings_that_run_into_one_another_are_refused_and_near_ones_are_told() {
    let mut options = gear(1.0, 40);
    options.bore_mm = Some(6.0);
    options.holes = vec![hole(4.0, 4.9, 0.0)];
    refused(&options, "--hole-mm", "runs into the bore of 6 mm");
    options.holes = vec![hole(4.0, 5.2, 0.0)];
    let part = options.part().unwrap();
    assert!(
        part.findings
            .iter()
            .any(|f| matches!(f, Finding::ThinWall { mm, .. } if (mm - 0.2).abs() < 1e-9))
    );
    options.holes = vec![hole(4.0, 5.4, 0.0)];
    assert!(
        options
            .part()
            .unwrap()
            .findings
            .iter()
            .all(|f| !matches!(f, Finding::ThinWall { .. }))
    );
    // Crossing slots, whose middles and ends are far apart.
    options.slots = vec![slot(14.0, 1.0, 0.0, -8.0), slot(1.0, 6.0, 2.0, -9.0)];
    refused(&options, "--slot-mm", "runs into the slot of 14 x 1 mm");
}

#[test]
fn findings_come_at_their_borders_and_not_before() {
    let finds = |options: &Options, kind: fn(&Finding) -> bool| {
        options.part().unwrap().findings.iter().any(kind)
    };
    let undercut: fn(&Finding) -> bool = |f| matches!(f, Finding::Undercut { .. });
    assert!(finds(&gear(1.0, 21), undercut));
    assert!(!finds(&gear(1.0, 22), undercut));
    let rim: fn(&Finding) -> bool = |f| matches!(f, Finding::ThinRim { .. });
    let mut bored = gear(1.0, 40);
    bored.bore_mm = Some(35.4);
    assert!(!finds(&bored, rim));
    bored.bore_mm = Some(35.6);
    assert!(finds(&bored, rim));
    let pointed: fn(&Finding) -> bool = |f| matches!(f, Finding::PointedTeeth { .. });
    let mut shifted = gear(1.0, 12);
    assert!(!finds(&shifted, pointed));
    shifted.shift = 0.7;
    assert!(finds(&shifted, pointed));
    let sharp: fn(&Finding) -> bool = |f| matches!(f, Finding::SharpInside { .. });
    assert!(finds(&rack(0.39, 10), sharp));
    assert!(!finds(&rack(0.40, 10), sharp));
    assert!(!finds(&gear(1.0, 12), sharp));
    assert!(finds(&gear(1.0, 30), sharp));
}

#[test]
fn the_sharpest_inside_radius_is_the_trochoids() {
    for teeth in [12, 24, 60] {
        let part = gear(0.3, teeth).part().unwrap();
        let told = part.findings.iter().find_map(|f| match f {
            Finding::SharpInside { radius_mm, .. } => Some(*radius_mm),
            _ => None,
        });
        let trochoid = part
            .outer
            .curves
            .iter()
            .find(|c| matches!(c, Curve::Trochoid { .. }))
            .unwrap();
        let sharpest = (1..1000)
            .map(|i| {
                let at = f64::from(i) / 1000.0;
                let (a, b) = (trochoid.slope(at - 1e-4), trochoid.slope(at + 1e-4));
                let turn = ((a[0] * b[1] - a[1] * b[0]) / (a[0] * b[0] + a[1] * b[1])).atan();
                let v = trochoid.slope(at);
                (v[0].hypot(v[1]) * 2e-4 / turn).abs()
            })
            .fold(f64::INFINITY, f64::min);
        assert_close(
            told.unwrap(),
            sharpest,
            0.01 * sharpest,
            &format!("{teeth} teeth"),
        );
    }
}

#[test]
fn the_pair_widens_what_the_span_may_be() {
    let part = gear(0.5, 20).part().unwrap();
    let mut pair = part.options.pair(Mate::Rack);
    pair.apart_mm = 0.1;
    let report = mesh::analyse(&pair).unwrap();
    let span = part.span_in(&report).unwrap();
    let half = 0.1 * 20_f64.to_radians().tan() * 20_f64.to_radians().cos();
    assert_close(span.limits.most_mm - span.limits.mm, half, 1e-9, "thicker");
    assert_close(span.limits.mm - span.limits.least_mm, half, 1e-9, "thinner");
    assert_eq!(gear(0.5, 21).part().unwrap().span_in(&report), None);
    assert_eq!(rack(0.5, 20).part().unwrap().span_in(&report), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn whatever_is_asked_a_part_is_closed_or_refused(
        is_rack: bool,
        module in 0.02..12.0_f64,
        teeth in 0_u32..300,
        angle in -0.1..0.7_f64,
        shift in -1.2..1.2_f64,
        backlash in -0.01..0.3_f64,
        relief in -0.01..0.2_f64,
        bore in proptest::option::of(0.0..40.0_f64),
        hole in proptest::option::of((0.0..6.0_f64, -20.0..20.0_f64, -20.0..20.0_f64)),
    ) {
        let mut options = Options::new(if is_rack { Form::Rack } else { Form::Gear }, module, teeth, 1.0);
        options.angle_rad = angle;
        options.backlash_mm = backlash;
        options.tip_relief_mm = relief;
        if !is_rack {
            options.shift = shift;
            options.bore_mm = bore;
        }
        if let Some((diameter_mm, x_mm, y_mm)) = hole {
            options.holes.push(Hole { diameter_mm, x_mm, y_mm });
        }
        if let Ok(part) = options.part() {
            for edge in edges(&part) {
                let next = edge.curves.iter().cycle().skip(1);
                for (curve, next) in edge.curves.iter().zip(next) {
                    let gap = distance(curve.at(1.0), next.at(0.0));
                    prop_assert!(gap < 1e-7, "{gap} between {curve:?} and {next:?}");
                }
            }
            prop_assert!(part.volume_mm3() > 0.0);
        }
    }
}

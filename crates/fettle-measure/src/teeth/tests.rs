//! The instrument on made photographs with known damage, and on what is no photograph of teeth.

use std::f64::consts::TAU;

use super::*;
use crate::photograph::Photograph;
use crate::synth::{Gauss, TeethScene, TeethShot, ToothDamage, ToothedPart};

fn rack() -> TeethScene {
    let mut scene = TeethScene::plain(ToothedPart::Rack, 12, 0.5, 70.0);
    scene.turn_rad = 0.06;
    scene.askew_rad = [0.02, -0.03];
    scene.uneven = 0.6;
    scene.noise = 0.02;
    scene.blur_px = 1.4;
    scene.dust = 20;
    scene
}

fn gear() -> TeethScene {
    let mut scene = TeethScene::plain(ToothedPart::Gear(0.1), 18, 0.5, 85.0);
    scene.turn_rad = 0.4;
    scene.askew_rad = [-0.03, 0.02];
    scene.uneven = 0.4;
    scene.noise = 0.015;
    scene
}

fn options(scene: &TeethScene) -> Options {
    let kind = match scene.part {
        ToothedPart::Rack => Kind::Rack,
        ToothedPart::Gear(_) => Kind::Gear,
    };
    Options::new(kind, Scale::PxPerMm(scene.px_per_mm))
}

/// The photograph's report with its teeth in the order of the truth.
fn report(scene: &TeethScene) -> (TeethShot, Report, Vec<Tooth>) {
    let shot = scene.take().unwrap();
    let report = analyse(&shot.photograph, &options(scene)).unwrap();
    assert_eq!(report.teeth.len(), scene.teeth as usize);
    let matched = shot
        .truth
        .iter()
        .map(|truth| {
            let near = |t: &&Tooth| (t.x_px - truth.at_px[0]).hypot(t.y_px - truth.at_px[1]);
            let tooth = report
                .teeth
                .iter()
                .min_by(|a, b| near(a).total_cmp(&near(b)))
                .unwrap();
            assert!(
                near(&tooth) < 3.0,
                "{truth:?} {} {}",
                tooth.x_px,
                tooth.y_px
            );
            tooth.clone()
        })
        .collect();
    (shot, report, matched)
}

fn assert_px(got: Option<f64>, report: &Report, want: f64, tolerance: f64) {
    let got = got.unwrap() * report.px_per_mm;
    assert!(
        (got - want).abs() <= tolerance,
        "{got} px, wanted {want} ± {tolerance}"
    );
}

fn assert_damage(mut scene: TeethScene) {
    scene.damage = vec![
        (1, ToothDamage::Flank(1.0, 6.0)),
        (3, ToothDamage::Tip(4.0)),
        (5, ToothDamage::Bent(5.0)),
        (7, ToothDamage::Missing),
        (9, ToothDamage::Flank(-1.0, 3.0)),
        (10, ToothDamage::Burr(1.0, 7.0)),
    ];
    let (shot, report, teeth) = report(&scene);
    for (truth, tooth) in shot.truth.iter().zip(&teeth) {
        if truth.is_missing {
            assert_eq!(tooth.verdict, Verdict::Missing);
            assert_eq!(
                (tooth.flank_mm, tooth.tip_loss_mm, tooth.bend_mm),
                (None, None, None)
            );
            continue;
        }
        assert_px(tooth.flank_mm, &report, truth.flank_px, 0.4);
        assert_px(tooth.tip_loss_mm, &report, truth.tip_px, 0.25);
        assert_px(tooth.bend_mm.map(f64::abs), &report, truth.bend_px, 0.25);
        let want = match (truth.is_sound(), truth.burr_px > 0.0) {
            (true, _) => Verdict::Sound,
            (false, true) => Verdict::Undecided,
            (false, false) => Verdict::Worn,
        };
        assert_eq!(tooth.verdict, want, "{truth:?} {tooth:?}");
    }
    assert_eq!(teeth[1].worse_flank, Some(Side::Right));
    assert_eq!(teeth[9].worse_flank, Some(Side::Left));
    assert!(
        report
            .findings
            .iter()
            .any(|f| matches!(f, Finding::Bent { .. }))
    );
    assert!(
        report
            .findings
            .iter()
            .any(|f| matches!(f, Finding::StandsOut { .. }))
    );
    let pitch = std::f64::consts::PI * scene.module_mm;
    let allowed = if matches!(scene.part, ToothedPart::Rack) {
        0.003
    } else {
        0.02
    };
    assert!(
        (report.pitch_mm / pitch - 1.0).abs() < allowed,
        "{}",
        report.pitch_mm
    );
}

#[test]
fn a_racks_damage_is_measured_to_a_part_of_a_pixel() {
    assert_damage(rack());
}

#[test]
fn a_gears_damage_is_measured_to_a_part_of_a_pixel() {
    assert_damage(gear());
}

#[test]
fn a_hair_at_the_foot_of_one_flank_is_no_loss_of_the_other() {
    let mut scene = rack();
    scene.turn_rad = 0.0;
    let shot = scene.take().unwrap();
    let clean = analyse(&shot.photograph, &options(&scene)).unwrap();
    let foot = clean.teeth[4].trace.last().unwrap();
    let (x, y) = (foot.x_px as usize, foot.y_px as usize);
    let mut grey = shot.grey;
    // It stands 16 pixels out of the gap's bottom, a few beside the right flank.
    for row in y - 16..y + 12 {
        grey[row * scene.width + x + 5..row * scene.width + x + 9].fill(30);
    }
    let report = analyse(&photograph(scene.width, &grey), &options(&scene)).unwrap();
    for (tooth, before) in report.teeth.iter().zip(&clean.teeth) {
        assert_px(tooth.flank_mm, &report, 0.0, 0.6);
        assert_px(tooth.bend_mm, &report, 0.0, 0.25);
        let want = if tooth.n == 5 {
            Verdict::Undecided
        } else {
            before.verdict
        };
        assert_eq!(tooth.verdict, want, "{tooth:?}");
    }
}

#[test]
fn a_hollow_that_blur_fills_is_measured_to_its_ground() {
    let mut scene = TeethScene::plain(ToothedPart::Gear(0.1), 24, 0.5, 35.0);
    scene.blur_px = 2.2;
    scene.damage = vec![
        (3, ToothDamage::Flank(1.0, 4.0)),
        (9, ToothDamage::Flank(-1.0, 3.0)),
    ];
    let (_, report, teeth) = report(&scene);
    assert_px(teeth[3].flank_mm, &report, 4.0, 0.2);
    assert_px(teeth[9].flank_mm, &report, 3.0, 0.2);
}

#[test]
fn teeth_are_numbered_from_left_to_right_whichever_way_they_point() {
    for (turn, is_upright) in [
        (0.0, false),
        (TAU / 2.0, false),
        (TAU / 4.0, true),
        (3.0, false),
    ] {
        let mut scene = rack();
        scene.turn_rad = turn;
        scene.height = 1500;
        let (_, report, _) = report(&scene);
        let places: Vec<f64> = report
            .teeth
            .iter()
            .map(|t| if is_upright { t.y_px } else { t.x_px })
            .collect();
        assert!(places.is_sorted(), "{turn}: {places:?}");
        assert_eq!(report.counts.sound, 12);
    }
}

#[test]
fn figures_follow_the_scale_that_is_given() {
    let mut scene = rack();
    scene.damage = vec![(4, ToothDamage::Tip(7.0))];
    let shot = scene.take().unwrap();
    let pitch = std::f64::consts::PI * scene.module_mm;
    let by_pitch = Options::new(Kind::Rack, Scale::PitchMm(pitch));
    let report = analyse(&shot.photograph, &by_pitch).unwrap();
    assert!(
        (report.px_per_mm / scene.px_per_mm - 1.0).abs() < 0.003,
        "{}",
        report.px_per_mm
    );
    assert!((report.module_mm - 0.5).abs() < 1e-9);
    assert!((report.teeth[4].tip_loss_mm.unwrap() - 0.1).abs() < 0.003);
}

#[test]
fn a_count_or_scale_that_the_photograph_contradicts_is_refused() {
    let scene = rack();
    let photo = scene.take().unwrap().photograph;
    let with = |change: fn(&mut Options)| {
        let mut options = options(&scene);
        change(&mut options);
        analyse(&photo, &options)
    };
    assert!(with(|o| o.teeth = Some(12)).is_ok());
    assert_eq!(
        with(|o| o.teeth = Some(13)),
        Err(TeethError::WrongTeeth {
            said: 13,
            counted: 12
        })
    );
    assert!(with(|o| o.pitch_mm = Some(1.57)).is_ok());
    assert!(matches!(
        with(|o| o.pitch_mm = Some(1.7)),
        Err(TeethError::WrongScale { .. })
    ));
    assert!(matches!(
        with(|o| o.scale = Scale::PxPerMm(1.5)),
        Err(TeethError::WrongScale { .. })
    ));
    assert!(matches!(
        with(|o| o.across_mm = Some(22.0)),
        Err(TeethError::WrongScale { .. })
    ));
    assert!(matches!(
        with(|o| o.scale = Scale::BarMm(10.0)),
        Err(TeethError::NoBar)
    ));
    for teeth in [0, 3] {
        let mut options = options(&scene);
        options.teeth = Some(teeth);
        assert!(matches!(
            analyse(&photo, &options),
            Err(TeethError::Option(_))
        ));
    }
}

#[test]
fn a_bar_beside_the_part_gives_the_scale() {
    let scene = rack();
    let shot = scene.take().unwrap();
    let mut grey = shot.grey;
    // 700 by 60 pixels: 10 mm.
    for y in 850..910 {
        grey[y * scene.width + 300..y * scene.width + 1000].fill(30);
    }
    let mut asked = options(&scene);
    asked.scale = Scale::BarMm(10.0);
    let report = analyse(&photograph(scene.width, &grey), &asked).unwrap();
    assert!(
        (report.px_per_mm - 70.0).abs() < 0.1,
        "{}",
        report.px_per_mm
    );
}

fn photograph(width: usize, grey: &[u8]) -> Photograph {
    let light = grey
        .iter()
        .map(|v| (crate::photograph::to_linear(f32::from(*v) / 255.0) * 65_535.0) as u16)
        .collect();
    Photograph::from_light(width, grey.len() / width, light).unwrap()
}

fn refusal(width: usize, kind: Kind, grey: &[u8]) -> TeethError {
    analyse(
        &photograph(width, grey),
        &Options::new(kind, Scale::PxPerMm(50.0)),
    )
    .unwrap_err()
}

#[test]
fn what_is_no_photograph_of_teeth_is_refused_with_what_to_do() {
    let (w, h) = (900_usize, 700_usize);
    let mut lots = Gauss::new(3);
    let place = |i: usize| {
        (
            (i % w) as f64 / w as f64 - 0.5,
            (i / w) as f64 / h as f64 - 0.5,
        )
    };
    let flat = vec![128_u8; w * h];
    let noise: Vec<u8> = (0..w * h).map(|_| (lots.uniform() * 255.0) as u8).collect();
    let gradient: Vec<u8> = (0..w * h).map(|i| ((i % w) * 255 / w) as u8).collect();
    let face: Vec<u8> = (0..w * h)
        .map(|i| {
            let (x, y) = place(i);
            let spot =
                |cx: f64, cy: f64, r: f64| (-((x - cx).powi(2) + (y - cy).powi(2)) / (r * r)).exp();
            let head =
                spot(0.0, 0.0, 0.3) - 0.5 * spot(-0.1, -0.08, 0.04) - 0.5 * spot(0.1, -0.08, 0.04);
            (60.0 + 150.0 * head - 60.0 * spot(0.0, 0.15, 0.07)).clamp(0.0, 255.0) as u8
        })
        .collect();
    let disc: Vec<u8> = (0..w * h)
        .map(|i| {
            let (x, y) = place(i);
            if x.hypot(y) < 0.35 { 10 } else { 220 }
        })
        .collect();
    for (name, grey) in [
        ("flat", flat),
        ("noise", noise),
        ("gradient", gradient),
        ("face", face),
        ("disc", disc),
    ] {
        for kind in [Kind::Rack, Kind::Gear] {
            let words = refusal(w, kind, &grey).to_string();
            assert!(
                words.contains("light the part")
                    || words.contains("check that")
                    || words.contains("focus"),
                "{name}: {words}"
            );
        }
    }
}

#[test]
fn a_poor_photograph_is_refused_for_what_is_poor_in_it() {
    let refuse = |scene: &TeethScene| {
        analyse(&scene.take().unwrap().photograph, &options(scene)).unwrap_err()
    };
    let mut blurred = rack();
    blurred.blur_px = 14.0;
    assert!(
        matches!(refuse(&blurred), TeethError::Blurred { .. }),
        "{}",
        refuse(&blurred)
    );
    let mut near = gear();
    near.place_px = [500.0, 0.0];
    assert!(
        matches!(refuse(&near), TeethError::OutOfFrame { .. }),
        "{}",
        refuse(&near)
    );
    let mut high = rack();
    high.place_px = [0.0, -465.0];
    high.turn_rad = 0.0;
    assert!(
        matches!(refuse(&high), TeethError::OutOfFrame { .. }),
        "{}",
        refuse(&high)
    );
    let mut dim = rack();
    dim.stray = 0.6;
    assert!(
        matches!(refuse(&dim), TeethError::LowContrast { .. }),
        "{}",
        refuse(&dim)
    );
    let mut far = rack();
    (far.teeth, far.px_per_mm) = (60, 14.0);
    assert!(
        matches!(refuse(&far), TeethError::FewPixels { .. }),
        "{}",
        refuse(&far)
    );

    // Bright teeth before a dark ground, as a lamp from the front shows them.
    let scene = rack();
    let shot = scene.take().unwrap();
    let turned: Vec<u8> = shot.grey.iter().map(|v| 255 - v).collect();
    let error = refusal(scene.width, Kind::Rack, &turned);
    assert!(matches!(error, TeethError::Reversed), "{error}");
    // Machining marks that shine on the part.
    let mut lots = Gauss::new(5);
    let mut streak = 0.0;
    let lit: Vec<u8> = shot
        .grey
        .iter()
        .map(|v| {
            streak = 0.9 * streak + 0.1 * lots.uniform();
            if *v < 90 {
                (60.0 + 300.0 * streak * lots.uniform()) as u8
            } else {
                *v
            }
        })
        .collect();
    let words = refusal(scene.width, Kind::Rack, &lit).to_string();
    assert!(words.contains("light the part from behind"), "{words}");
}

#[test]
fn a_row_that_runs_out_of_the_photograph_gives_its_whole_teeth() {
    let mut scene = rack();
    scene.teeth = 24;
    let shot = scene.take().unwrap();
    let report = analyse(&shot.photograph, &options(&scene)).unwrap();
    assert!(report.findings.contains(&Finding::RowCut));
    assert!(
        (12..=14).contains(&report.teeth.len()),
        "{}",
        report.teeth.len()
    );
    assert_eq!(report.counts.sound as usize, report.teeth.len());
}

#[test]
fn two_photographs_of_a_gear_are_laid_over_each_other_however_it_was_turned() {
    let mut before = gear();
    before.damage = vec![(2, ToothDamage::Tip(5.0)), (11, ToothDamage::Missing)];
    let mut after = before.clone();
    after.turn_rad = 2.3;
    after.seed = 9;
    after.damage.push((7, ToothDamage::Flank(1.0, 8.0)));
    let (_, old, _) = report(&before);
    let (_, new, truth) = report(&after);
    let comparison = compare(&old, &new).unwrap();
    assert!(comparison.is_turn_sure);
    let worn = truth[7].n;
    for change in &comparison.teeth {
        if let Some(mm) = change.flank_mm {
            let want = if change.new_n == worn { 8.0 } else { 0.0 };
            let px = mm * new.px_per_mm;
            assert!((px - want).abs() < 0.5, "{change:?} {px}");
        } else {
            assert_eq!(
                (change.old_verdict, change.new_verdict),
                (Verdict::Missing, Verdict::Missing)
            );
        }
    }
    let (_, sound, _) = report(&gear());
    assert!(!compare(&sound, &sound).unwrap().is_turn_sure);
    assert_eq!(compare(&old, &report(&rack()).1), None);
}

#[test]
fn a_report_has_the_names_of_the_contract() {
    let mut scene = rack();
    scene.damage = vec![(3, ToothDamage::Missing)];
    let (_, report, _) = report(&scene);
    let json = serde_json::to_value(&report).unwrap();
    for key in ["pitch_mm", "module_mm", "px_per_mm", "limit_mm", "findings"] {
        assert!(json.get(key).is_some(), "{key}");
    }
    let teeth = &json["teeth"];
    for key in [
        "n",
        "x_px",
        "y_px",
        "flank_mm",
        "flank_u_mm",
        "tip_loss_mm",
        "pitch_error_mm",
        "burr_mm",
        "bend_mm",
        "verdict",
    ] {
        assert!(teeth[0].get(key).is_some(), "{key}");
    }
    assert_eq!(teeth[3]["verdict"], "missing");
    assert!(teeth[3]["flank_mm"].is_null());
    let back: Report = serde_json::from_value(json).unwrap();
    assert_eq!(back, report);
}

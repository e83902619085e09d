//! Teeth on their photograph.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use fettle_draw::{Sheet, teeth_overlay};
use fettle_measure::synth::{TeethScene, ToothDamage, ToothedPart};
use fettle_measure::teeth::{Kind, Options, Report, Scale, analyse};

fn report(part: ToothedPart, kind: Kind, teeth: u32, damage: &[(u32, ToothDamage)]) -> Report {
    let scene = TeethScene {
        damage: damage.to_vec(),
        ..TeethScene::plain(part, teeth, 0.5, 50.0)
    };
    let shot = scene.take().unwrap();
    let options = Options {
        limit_mm: Some(0.05),
        ..Options::new(kind, Scale::PxPerMm(50.0))
    };
    analyse(&shot.photograph, &options).unwrap()
}

#[test]
fn every_tooth_has_its_number_and_the_worn_one_is_drawn_large() {
    let worn = [(3, ToothDamage::Flank(1.0, 5.0))];
    let report = report(ToothedPart::Rack, Kind::Rack, 12, &worn);
    let svg = teeth_overlay(&report, Some("/photos/7/display"), Sheet::Inherit);
    let document = roxmltree::Document::parse(&svg).unwrap();
    let words: Vec<&str> = document
        .descendants()
        .filter(|it| it.has_tag_name("text"))
        .filter_map(|it| it.text())
        .collect();
    for n in 1..=12 {
        assert!(words.contains(&n.to_string().as_str()), "{n}: {words:?}");
    }
    assert!(
        words
            .iter()
            .any(|it| it.starts_with("tooth 4, worn, drawn"))
    );
    assert_eq!(svg.matches("href=\"/photos/7/display\"").count(), 1);
    assert_eq!(svg.matches("<use ").count(), 1);
}

#[test]
fn a_sound_gear_without_its_photograph_is_drawn_by_its_outline() {
    let report = report(ToothedPart::Gear(0.0), Kind::Gear, 20, &[]);
    let svg = teeth_overlay(&report, None, Sheet::Light);
    assert!(roxmltree::Document::parse(&svg).is_ok());
    assert!(!svg.contains("<image") && !svg.contains("<use"));
    assert!(!svg.contains("NaN"), "{svg}");
}

#[test]
fn an_address_with_signs_of_its_own_does_not_break_the_drawing() {
    let report = report(ToothedPart::Rack, Kind::Rack, 8, &[]);
    let svg = teeth_overlay(&report, Some("/x?a=\"<b>&c"), Sheet::Light);
    assert!(roxmltree::Document::parse(&svg).is_ok(), "{svg}");
}

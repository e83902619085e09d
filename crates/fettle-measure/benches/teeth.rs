//! How long a photograph of 12 million pixels takes, from its file to the verdicts.

use std::io::Cursor;

use fettle_measure::photograph::Photograph;
use fettle_measure::synth::{TeethScene, ToothDamage, ToothedPart};
use fettle_measure::teeth::{Kind, Options, Report, Scale, analyse};

fn main() {
    divan::main();
}

fn scene(part: ToothedPart) -> TeethScene {
    let (teeth, px_per_mm) = match part {
        ToothedPart::Rack => (24, 90.0),
        ToothedPart::Gear(_) => (40, 120.0),
    };
    let mut scene = TeethScene::plain(part, teeth, 0.5, px_per_mm);
    (scene.width, scene.height) = (4000, 3000);
    scene.uneven = 0.5;
    scene.dust = 50;
    scene.damage = vec![(3, ToothDamage::Tip(6.0))];
    scene
}

fn jpeg(scene: &TeethScene) -> Vec<u8> {
    let grey = scene.take().map(|shot| shot.grey).unwrap_or_default();
    let colours = grey.iter().flat_map(|v| [*v; 3]).collect();
    let mut bytes = Vec::new();
    if let Some(picture) =
        image::RgbImage::from_raw(scene.width as u32, scene.height as u32, colours)
    {
        let _ = picture.write_to(&mut Cursor::new(&mut bytes), image::ImageFormat::Jpeg);
    }
    bytes
}

fn measured(bytes: &[u8], kind: Kind, px_per_mm: f64) -> Option<Report> {
    let photograph = Photograph::read(bytes).ok()?;
    analyse(&photograph, &Options::new(kind, Scale::PxPerMm(px_per_mm))).ok()
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn rack_of_12_megapixels(bencher: divan::Bencher<'_, '_>) {
    let bytes = jpeg(&scene(ToothedPart::Rack));
    bencher.bench_local(|| {
        let report = measured(&bytes, Kind::Rack, 90.0);
        assert_eq!(
            report.map(|r| (r.counts.sound, r.counts.worn)),
            Some((23, 1))
        );
    });
}

#[divan::bench(sample_count = 10, sample_size = 1)]
fn gear_of_12_megapixels(bencher: divan::Bencher<'_, '_>) {
    let bytes = jpeg(&scene(ToothedPart::Gear(0.0)));
    bencher.bench_local(|| {
        let report = measured(&bytes, Kind::Gear, 120.0);
        assert_eq!(
            report.map(|r| (r.counts.sound, r.counts.worn)),
            Some((39, 1))
        );
    });
}

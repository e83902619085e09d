//! Photographs of toothed parts against the light, measured as at the bench.

use std::io::Cursor;

use fettle_bench::teeth_options;
use fettle_measure::photograph::Picture;
use fettle_measure::synth::{TeethScene, ToothDamage, ToothedPart};
use fettle_measure::teeth::{Report, analyse};
use fettle_notes::{TeethLimit, Toothed};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};

use crate::lots::Lots;

/// What a tablet at arm's length resolves.
const PX_PER_MM: f64 = 42.0;
const MARGIN_PX: f64 = 180.0;
const JPEG_QUALITY: u8 = 88;
/// Teeth where a count is not in the notes.
const TEETH: u32 = 20;

/// A photograph as it came from the camera, and what was read from it.
pub(crate) struct Taken {
    pub(crate) bytes: Vec<u8>,
    pub(crate) picture: Picture,
    pub(crate) report: Report,
}

/// The part of a limit, sound or worn where it is used most; `None` when it cannot be read.
pub(crate) fn photograph(limit: &TeethLimit, is_worn: bool, lots: &mut Lots) -> Option<Taken> {
    let teeth = limit.teeth.unwrap_or(TEETH);
    let module_mm = limit.pitch_mm / std::f64::consts::PI;
    let part = match limit.form {
        Toothed::Rack => ToothedPart::Rack,
        Toothed::Gear => ToothedPart::Gear(0.0),
    };
    let mut scene = TeethScene::plain(part, teeth, module_mm, PX_PER_MM);
    scene.angle_deg = limit.angle_deg;
    let long = match limit.form {
        Toothed::Rack => limit.pitch_mm * f64::from(teeth),
        Toothed::Gear => module_mm * f64::from(teeth + 2),
    };
    scene.width = (long * PX_PER_MM + 2.0 * MARGIN_PX) as usize;
    scene.height = match limit.form {
        Toothed::Rack => 460,
        Toothed::Gear => scene.width,
    };
    scene.turn_rad = lots.between(-0.01, 0.01);
    scene.askew_rad = [lots.between(-0.01, 0.01), lots.between(-0.01, 0.01)];
    scene.uneven = 0.08;
    scene.seed = lots.seed();
    if is_worn {
        let from = lots.whole(2, i64::from(teeth / 2));
        for step in 0..lots.whole(3, 5) {
            let tooth = u32::try_from(from + step).unwrap_or(0).min(teeth - 1);
            let px = lots.between(1.6, 3.4) * limit.wear_mm * PX_PER_MM;
            scene.damage.push((tooth, ToothDamage::Flank(1.0, px)));
        }
    }
    let grey = scene.take().ok()?.grey;
    let mut bytes = Vec::new();
    let (width, height) = (u32::try_from(scene.width), u32::try_from(scene.height));
    JpegEncoder::new_with_quality(Cursor::new(&mut bytes), JPEG_QUALITY)
        .write_image(&grey, width.ok()?, height.ok()?, ExtendedColorType::L8)
        .ok()?;
    let picture = Picture::read(&bytes).ok()?;
    let report = analyse(&picture.light(), &teeth_options(limit)).ok()?;
    Some(Taken {
        bytes,
        picture,
        report,
    })
}

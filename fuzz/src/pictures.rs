//! Photographs: as they are kept, and as teeth are measured in them.

use fettle_measure::photograph::{PHOTOGRAPH_MAX_BYTES, Picture};
use fettle_measure::teeth::{self, Kind, Options, Scale};

use crate::kind_of;

/// Pixels in which teeth are looked for; reading and keeping has no such bound.
const MOST_MEASURED: u64 = 300_000;

/// The reader of photographs, the smaller sizes that are kept, and the look at teeth.
pub fn images(bytes: &[u8]) -> String {
    assert!(bytes.len() <= PHOTOGRAPH_MAX_BYTES);
    let picture = match Picture::read(bytes) {
        Ok(picture) => picture,
        Err(error) => {
            let told = error.to_string();
            assert!(!told.is_empty() && !told.contains('\n'), "{told}");
            // The decoders' own words are of more kinds than there are ways to fail.
            return kind_of(&told).chars().take(56).collect();
        }
    };
    let (width, height) = (picture.width(), picture.height());
    assert!(width > 0 && height > 0);
    let mut answer = format!(
        "{} {} {}",
        picture.extension(),
        width.ilog2(),
        height.ilog2()
    );
    for side in [320, 1600] {
        let smaller = picture.smaller(side).map(|bytes| Picture::read(&bytes));
        match smaller {
            Ok(Ok(smaller)) => {
                assert!(smaller.width().max(smaller.height()) <= side.max(1));
                assert_eq!(smaller.extension(), "jpg");
            }
            // What was made here can be read.
            Ok(Err(error)) => panic!("{width} × {height} at {side}: {error}"),
            Err(error) => answer.push_str(&kind_of(&error.to_string())),
        }
    }
    if u64::from(width) * u64::from(height) > MOST_MEASURED {
        return answer;
    }
    let light = picture.light();
    for (kind, scale) in [
        (Kind::Rack, Scale::PxPerMm(20.0)),
        (Kind::Gear, Scale::PitchMm(1.5)),
    ] {
        match teeth::analyse(&light, &Options::new(kind, scale)) {
            Ok(report) => {
                assert!(report.px_per_mm.is_finite() && report.px_per_mm > 0.0);
                answer.push_str(&format!(" {}", report.teeth.len().min(40)));
            }
            Err(error) => {
                let told = error.to_string();
                assert!(!told.is_empty(), "{kind:?}");
                answer.push_str(&kind_of(&told));
            }
        }
    }
    answer
}

//! Photographs that were never taken: cameras, open shutters and trays, drawn point by point.

mod canvas;
mod paint;
mod scene;
mod shape;

use image::ExtendedColorType;
use image::codecs::jpeg::JpegEncoder;

use crate::DemoError;
use canvas::Canvas;

pub(crate) const WIDTH: u32 = 800;
pub(crate) const HEIGHT: u32 = 600;
/// No photograph is larger, so that the bench stays small.
const MOST_BYTES: usize = 60_000;
/// Tried in turn until the photograph is small enough.
const QUALITIES: [u8; 5] = [82, 74, 66, 58, 48];

/// What is before the lens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Body {
    /// Two lenses above each other.
    Twin,
    /// A small finder camera.
    Half,
    /// A wide body with a rangefinder.
    Rangefinder,
    /// A box.
    Box,
}

/// From where it is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum View {
    /// The front, with a rule.
    Front,
    /// The top.
    Top,
    /// The shutter without its cover.
    Open,
    /// The tray with what came off.
    Tray,
}

impl View {
    /// What is written under the photograph.
    pub(crate) const fn caption(self) -> &'static str {
        match self {
            Self::Front => "front, as it came, with the rule",
            Self::Top => "top, as it came",
            Self::Open => "shutter without its cover",
            Self::Tray => "the tray",
        }
    }
}

/// A photograph as JPEG; `variant` changes wear and arrangement.
pub(crate) fn draw(body: Body, view: View, variant: u64) -> Result<Vec<u8>, DemoError> {
    let mut canvas = Canvas::new(WIDTH as usize, HEIGHT as usize);
    let seed = variant * 16 + body as u64 * 4 + view as u64;
    match view {
        View::Front => scene::front(&mut canvas, body, seed),
        View::Top => scene::top(&mut canvas, body, seed),
        View::Open => scene::open(&mut canvas, body, seed),
        View::Tray => scene::tray(&mut canvas, seed),
    }
    let pixels = canvas.to_rgb(seed);
    let mut jpeg = Vec::new();
    for quality in QUALITIES {
        jpeg.clear();
        JpegEncoder::new_with_quality(&mut jpeg, quality)
            .encode(&pixels, WIDTH, HEIGHT, ExtendedColorType::Rgb8)
            .map_err(|error| DemoError::Picture(error.to_string()))?;
        if jpeg.len() <= MOST_BYTES {
            break;
        }
    }
    Ok(jpeg)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_photograph_is_small_reads_back_and_is_the_same_every_time() {
        for (body, view) in [(Body::Twin, View::Front), (Body::Half, View::Tray)] {
            let jpeg = draw(body, view, 1).unwrap();
            assert!(jpeg.len() <= MOST_BYTES, "{} bytes", jpeg.len());
            assert_eq!(jpeg, draw(body, view, 1).unwrap());
            let picture = image::load_from_memory(&jpeg).unwrap();
            assert_eq!((picture.width(), picture.height()), (WIDTH, HEIGHT));
        }
    }

    #[test]
    fn each_variant_is_another_photograph() {
        let one = draw(Body::Rangefinder, View::Open, 1).unwrap();
        assert_ne!(one, draw(Body::Rangefinder, View::Open, 2).unwrap());
    }
}

//! Photographs on a paper: read, turned upright, made as small as print needs.

use std::io::Cursor;
use std::num::NonZero;
use std::thread;

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageFormat, ImageReader, Limits};
use serde::Serialize;

use crate::language::Language;
use crate::pdf::PaperWarning;
use crate::words::Words;

/// From this many photographs on they stand three side by side, before two.
const MANY: usize = 13;
/// The longer side in pixels of one of two, and of one of three, side by side: about 300 to the inch.
const LARGE_PX: u32 = 1000;
const SMALL_PX: u32 = 680;
const JPEG_QUALITY: u8 = 82;
/// What decoding one photograph may take.
const DECODING_MAX_BYTES: u64 = 600_000_000;
const SIDE_MAX_PX: u32 = 32_767;

/// A photograph with what it shows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Photograph {
    /// The file: JPEG, PNG or WebP.
    pub bytes: Vec<u8>,
    /// What it shows; may be empty.
    pub caption: String,
}

/// Photographs as a template sets them.
#[derive(Debug, Default, Serialize)]
pub(crate) struct Prints {
    across: usize,
    prints: Vec<Print>,
    #[serde(skip)]
    pub(crate) files: Vec<(String, Vec<u8>)>,
    #[serde(skip)]
    pub(crate) warnings: Vec<PaperWarning>,
}

#[derive(Debug, Serialize)]
struct Print {
    /// `None` when the photograph cannot be read.
    file: Option<String>,
    /// Width over height.
    ratio: f64,
    caption: String,
    alt: String,
}

impl Prints {
    /// Prepares them all. What cannot be read is told of and leaves its place empty.
    pub(crate) fn new(photographs: &[Photograph], language: Language) -> Self {
        let (across, side_px) = if photographs.len() < MANY {
            (2, LARGE_PX)
        } else {
            (3, SMALL_PX)
        };
        let mut prints = Self {
            across,
            ..Self::default()
        };
        let small = all_for_print(photographs, side_px);
        for ((at, photograph), small) in (1..).zip(photographs).zip(small) {
            let number = [("n", at.to_string())];
            let name = Words::of(language).fill("house.photograph_of", &number);
            let file = format!("photograph-{at}.jpg");
            let alt = if photograph.caption.trim().is_empty() {
                name
            } else {
                photograph.caption.clone()
            };
            prints.prints.push(Print {
                file: small.is_some().then(|| file.clone()),
                ratio: small.as_ref().map_or(1.0, |it| it.ratio),
                caption: photograph.caption.clone(),
                alt: alt.clone(),
            });
            match small {
                Some(small) => prints.files.push((file, small.bytes)),
                None => prints.warnings.push(PaperWarning::Photograph(alt)),
            }
        }
        prints
    }
}

/// A photograph made ready.
#[derive(Debug, Clone, PartialEq)]
struct ForPrint {
    bytes: Vec<u8>,
    ratio: f64,
}

/// Decoding takes longest, so it is shared among the processor's cores; the outcome is the same on any number of them.
fn all_for_print(photographs: &[Photograph], side_px: u32) -> Vec<Option<ForPrint>> {
    let cores = thread::available_parallelism().map_or(1, NonZero::get);
    let share = photographs.len().div_ceil(cores).max(1);
    thread::scope(|scope| {
        let workers: Vec<_> = photographs
            .chunks(share)
            .map(|share| {
                let work = move || -> Vec<Option<ForPrint>> {
                    share
                        .iter()
                        .map(|it| for_print(&it.bytes, side_px))
                        .collect()
                };
                (share.len(), scope.spawn(work))
            })
            .collect();
        workers
            .into_iter()
            .flat_map(|(len, worker)| worker.join().unwrap_or_else(|_| vec![None; len]))
            .collect()
    })
}

/// A JPEG for print, without the EXIF part that tells where it was taken; `None` when the bytes are no photograph.
fn for_print(bytes: &[u8], side_px: u32) -> Option<ForPrint> {
    let format = image::guess_format(bytes).ok()?;
    if !matches!(
        format,
        ImageFormat::Jpeg | ImageFormat::Png | ImageFormat::WebP
    ) {
        return None;
    }
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_image_width = Some(SIDE_MAX_PX);
    limits.max_image_height = Some(SIDE_MAX_PX);
    limits.max_alloc = Some(DECODING_MAX_BYTES);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().ok()?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let has_exif = !matches!(decoder.exif_metadata(), Ok(None));
    let plain = matches!(
        decoder.original_color_type(),
        ExtendedColorType::L8 | ExtendedColorType::Rgb8
    );
    let mut picture = DynamicImage::from_decoder(decoder).ok()?;
    let fits = picture.width().max(picture.height()) <= side_px;
    if format == ImageFormat::Jpeg && fits && plain && !has_exif {
        return Some(ForPrint {
            bytes: bytes.to_vec(),
            ratio: ratio(&picture),
        });
    }
    if !fits {
        picture = picture.thumbnail(side_px, side_px);
    }
    picture.apply_orientation(orientation);
    let mut small = Vec::new();
    on_white(&picture)
        .write_with_encoder(JpegEncoder::new_with_quality(&mut small, JPEG_QUALITY))
        .ok()?;
    Some(ForPrint {
        bytes: small,
        ratio: ratio(&picture),
    })
}

fn ratio(picture: &DynamicImage) -> f64 {
    f64::from(picture.width()) / f64::from(picture.height().max(1))
}

/// JPEG has no transparency: what lets light through shows white paper.
fn on_white(picture: &DynamicImage) -> DynamicImage {
    if !picture.color().has_alpha() {
        return DynamicImage::ImageRgb8(picture.to_rgb8());
    }
    let white = image::Rgba([255, 255, 255, 255]);
    let mut paper = image::RgbaImage::from_pixel(picture.width(), picture.height(), white);
    image::imageops::overlay(&mut paper, &picture.to_rgba8(), 0, 0);
    DynamicImage::ImageRgba8(paper).to_rgb8().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn encoded(width: u32, height: u32, format: ImageFormat) -> Vec<u8> {
        let picture = image::RgbImage::from_fn(width, height, |x, y| {
            image::Rgb([(x % 251) as u8, (y % 241) as u8, 90])
        });
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    }

    #[test]
    fn a_small_photograph_is_left_alone_and_a_large_one_shrunk() {
        let small = encoded(300, 200, ImageFormat::Jpeg);
        let same = for_print(&small, 1000).unwrap();
        assert_eq!((same.bytes, same.ratio), (small, 1.5));
        let shrunk = for_print(&encoded(1500, 900, ImageFormat::Jpeg), 1000).unwrap();
        let picture = image::load_from_memory(&shrunk.bytes).unwrap();
        assert_eq!((picture.width(), picture.height()), (1000, 600));
    }

    #[test]
    fn what_is_no_photograph_leaves_its_place_and_is_told() {
        let mut cut = encoded(300, 200, ImageFormat::Jpeg);
        cut.truncate(90);
        let photographs = [
            ("a burr", encoded(60, 40, ImageFormat::Png)),
            ("", cut),
            ("text", b"no picture".to_vec()),
        ]
        .map(|(caption, bytes)| Photograph {
            caption: caption.to_owned(),
            bytes,
        });
        let prints = Prints::new(&photographs, Language::En);
        assert_eq!(prints.files.len(), 1);
        assert_eq!(
            prints.warnings,
            [
                PaperWarning::Photograph("Photograph 2".to_owned()),
                PaperWarning::Photograph("text".to_owned())
            ]
        );
    }
}

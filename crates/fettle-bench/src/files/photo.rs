//! Photographs: what is one, which way up it is, and its smaller sizes.

use std::io::Cursor;

use image::{
    DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, codecs::jpeg::JpegEncoder,
    imageops::FilterType, metadata::Orientation,
};

use super::in_megabytes;
use crate::error::BenchError;

/// The longest file of a photograph that is taken, in bytes: 40 MB.
pub const PHOTO_MAX_BYTES: usize = 40_000_000;
/// The largest photograph, before it is decoded. Decoding takes at most 9 bytes a pixel (a progressive JPEG: 6 of coefficients, 3 of
/// colour), so below 600 MB; tablets take up to 50 million pixels.
const PIXELS_MAX: u64 = 64_000_000;
/// The most that its pixels may take; turning or shrinking them takes about as much again.
const DECODED_MAX_BYTES: u64 = 260_000_000;
/// The longest side; no format of ours has more.
const SIDE_MAX_PX: u32 = 32_767;
/// What decoding may take.
const DECODING_MAX_BYTES: u64 = 600_000_000;
/// Small enough to load at once, good enough to see a scratch.
const JPEG_QUALITY: u8 = 84;

/// The longer side of a photograph that is shown and not kept.
const PREVIEW_SIDE_PX: u32 = 1400;

/// A small JPEG of a photograph, to show it without keeping it.
///
/// # Errors
/// When the bytes are not a JPEG, PNG or WebP photograph, or are too large.
pub fn preview(bytes: &[u8]) -> Result<Vec<u8>, BenchError> {
    let (_, picture) = read_photo(bytes)?;
    shrink(&picture, PREVIEW_SIDE_PX)
}

/// A photograph that is one, as displayed.
pub(crate) struct Upright {
    /// The ending that its content calls for.
    pub(crate) extension: &'static str,
    pub(crate) width_px: u32,
    pub(crate) height_px: u32,
}

/// Looks at the bytes of a photograph and decodes it once, so that what is kept can be shown.
pub(crate) fn read_photo(bytes: &[u8]) -> Result<(Upright, DynamicImage), BenchError> {
    let refuse = |why: String| BenchError::NotAPhoto { why };
    if bytes.is_empty() {
        return Err(refuse("the file is empty".to_owned()));
    }
    if bytes.len() > PHOTO_MAX_BYTES {
        return Err(BenchError::TooLarge {
            what: "photograph",
            size: in_megabytes(bytes.len()),
            most: in_megabytes(PHOTO_MAX_BYTES),
        });
    }
    let format = image::guess_format(bytes)
        .map_err(|_| refuse("its content is none of the known kinds".to_owned()))?;
    let extension = match format {
        ImageFormat::Jpeg => "jpg",
        ImageFormat::Png => "png",
        ImageFormat::WebP => "webp",
        other => return Err(refuse(format!("its content is {other:?}"))),
    };
    let unreadable = |error: image::ImageError| refuse(format!("it cannot be decoded: {error}"));
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_image_width = Some(SIDE_MAX_PX);
    limits.max_image_height = Some(SIDE_MAX_PX);
    limits.max_alloc = Some(DECODING_MAX_BYTES);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(unreadable)?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > PIXELS_MAX {
        return Err(BenchError::TooLarge {
            what: "photograph",
            size: format!("{width} × {height} pixels"),
            most: format!("{} million pixels", PIXELS_MAX / 1_000_000),
        });
    }
    if decoder.total_bytes() > DECODED_MAX_BYTES {
        return Err(BenchError::TooLarge {
            what: "photograph",
            size: format!("{} bytes of colour", decoder.total_bytes()),
            most: format!("{DECODED_MAX_BYTES}; save it with 8 bits a colour"),
        });
    }
    // A picture whose EXIF part is damaged is still a picture.
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(unreadable)?;
    picture.apply_orientation(orientation);
    let upright = Upright {
        extension,
        width_px: picture.width(),
        height_px: picture.height(),
    };
    Ok((upright, picture))
}

/// A JPEG of the picture, its longer side at most this long; never enlarged. It carries no EXIF part, so that the place where it was
/// taken does not leave the bench.
pub(crate) fn shrink(picture: &DynamicImage, side_px: u32) -> Result<Vec<u8>, BenchError> {
    let small = if picture.width().max(picture.height()) > side_px {
        picture.resize(side_px, side_px, FilterType::CatmullRom)
    } else {
        picture.clone()
    };
    let mut bytes = Vec::new();
    on_white(&small)
        .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY))
        .map_err(|error| BenchError::NotAPhoto {
            why: format!("it cannot be made smaller: {error}"),
        })?;
    Ok(bytes)
}

/// JPEG has no transparency: what lets light through shows white paper.
fn on_white(picture: &DynamicImage) -> DynamicImage {
    if !picture.color().has_alpha() {
        return DynamicImage::ImageRgb8(picture.to_rgb8());
    }
    let mut paper = image::RgbaImage::from_pixel(
        picture.width(),
        picture.height(),
        image::Rgba([255, 255, 255, 255]),
    );
    image::imageops::overlay(&mut paper, &picture.to_rgba8(), 0, 0);
    DynamicImage::ImageRgb8(DynamicImage::ImageRgba8(paper).to_rgb8())
}

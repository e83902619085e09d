//! Photographs: read within bounds, made smaller, and as the light that fell on the sensor.
//!
//! JPEG, PNG and WebP are told by their content. Sizes are checked before anything is laid out for the pixels, so that a small file that
//! claims to be a huge picture costs nothing. [`Photograph`] keeps one number a pixel: relative luminance, linear in the light (sRGB's
//! transfer function of IEC 61966-2-1 undone, weights of ITU-R BT.709), upright as the camera was held.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits, Rgba};

/// The longest file that is taken, in bytes: 40 MB.
pub const PHOTOGRAPH_MAX_BYTES: usize = 40_000_000;
/// The largest picture. Decoding takes at most 9 bytes a pixel (a progressive JPEG: 6 of coefficients, 3 of colour), so below 600 MB;
/// tablets take up to 50 million pixels.
const PIXELS_MAX: u64 = 64_000_000;
/// The longest side; no format of ours has more.
const SIDE_MAX_PX: u32 = 32_767;
/// What the decoded colours may take.
const DECODED_MAX_BYTES: u64 = 260_000_000;
/// What decoding may take beside them.
const DECODING_MAX_BYTES: u64 = 600_000_000;
/// Small enough to load at once, good enough to see a scratch.
const JPEG_QUALITY: u8 = 84;
/// Luminance of red, green and blue, ITU-R BT.709.
const WEIGHTS: [f32; 3] = [0.2126, 0.7152, 0.0722];
/// White.
pub(crate) const WHITE: f32 = 65_535.0;

/// The light of a photograph, row by row from the top.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photograph {
    width: usize,
    height: usize,
    light: Vec<u16>,
}

/// Why there is no photograph.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PhotographError {
    /// Nothing was sent.
    #[error("the file is empty: choose the photograph again")]
    Empty,
    /// The content is of no kind that can be read.
    #[error("the file is not a photograph that can be read: give a JPEG, PNG or WebP file")]
    Unknown,
    /// More than is taken.
    #[error(
        "the photograph is too large: {size}, the most is {most}; make it smaller, or cut it to what it should show"
    )]
    TooLarge {
        /// What it has.
        size: String,
        /// What it may have.
        most: String,
    },
    /// The file ends before the picture does.
    #[error("the photograph is cut short: copy it from the camera again")]
    CutShort,
    /// The content breaks its own format.
    #[error(
        "the photograph cannot be decoded ({reason}): copy it from the camera again, or save it anew as JPEG or PNG"
    )]
    Broken {
        /// What the decoder says.
        reason: String,
    },
}

/// A photograph decoded, in colour.
#[derive(Clone, Debug)]
pub struct Picture {
    extension: &'static str,
    /// As it lies in the file.
    lying: DynamicImage,
    /// How it is turned to stand as the camera was held.
    orientation: Orientation,
}

impl Picture {
    /// Reads a JPEG, PNG or WebP file.
    ///
    /// # Errors
    /// [`PhotographError`] for what is no picture, too large, cut short or broken.
    pub fn read(bytes: &[u8]) -> Result<Self, PhotographError> {
        if bytes.is_empty() {
            return Err(PhotographError::Empty);
        }
        if bytes.len() > PHOTOGRAPH_MAX_BYTES {
            return Err(too_large(
                megabytes(bytes.len()),
                megabytes(PHOTOGRAPH_MAX_BYTES),
            ));
        }
        let format = image::guess_format(bytes).map_err(|_| PhotographError::Unknown)?;
        let extension = match format {
            ImageFormat::Jpeg if !jpeg_ends(bytes) => return Err(PhotographError::CutShort),
            ImageFormat::Jpeg => "jpg",
            ImageFormat::Png => "png",
            ImageFormat::WebP => "webp",
            _ => return Err(PhotographError::Unknown),
        };
        let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
        let mut limits = Limits::default();
        limits.max_image_width = Some(SIDE_MAX_PX);
        limits.max_image_height = Some(SIDE_MAX_PX);
        limits.max_alloc = Some(DECODING_MAX_BYTES);
        reader.limits(limits);
        let mut decoder = reader.into_decoder().map_err(|e| refused(&e))?;
        let (width, height) = decoder.dimensions();
        let pixels = u64::from(width) * u64::from(height);
        if pixels > PIXELS_MAX {
            return Err(too_large(
                format!("{width} × {height} pixels"),
                format!("{} million pixels", PIXELS_MAX / 1_000_000),
            ));
        }
        if decoder.total_bytes() > DECODED_MAX_BYTES {
            return Err(too_large(
                format!("{} bytes of colour", decoder.total_bytes()),
                format!("{DECODED_MAX_BYTES}; save it with 8 bits a colour"),
            ));
        }
        // A picture whose EXIF part is damaged is still a picture.
        let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
        let lying = DynamicImage::from_decoder(decoder).map_err(|e| refused(&e))?;
        Ok(Self {
            extension,
            lying,
            orientation,
        })
    }

    /// The ending of a file's name that its content calls for: `jpg`, `png` or `webp`.
    #[must_use]
    pub const fn extension(&self) -> &'static str {
        self.extension
    }

    /// Pixels from left to right, upright.
    #[must_use]
    pub fn width(&self) -> u32 {
        if is_across(self.orientation) {
            self.lying.height()
        } else {
            self.lying.width()
        }
    }

    /// Pixels from top to bottom, upright.
    #[must_use]
    pub fn height(&self) -> u32 {
        if is_across(self.orientation) {
            self.lying.width()
        } else {
            self.lying.height()
        }
    }

    /// A JPEG of it, its longer side at most this long; never enlarged. What lets light through shows white paper. It carries no EXIF
    /// part, so that the place where it was taken does not leave the bench.
    ///
    /// # Errors
    /// [`PhotographError::Broken`] when it cannot be coded, as with a side of 0.
    pub fn smaller(&self, side_px: u32) -> Result<Vec<u8>, PhotographError> {
        let mut small = if self.lying.width().max(self.lying.height()) > side_px {
            on_white(&self.lying.resize(side_px, side_px, FilterType::CatmullRom))
        } else {
            on_white(&self.lying)
        };
        small.apply_orientation(self.orientation);
        let mut bytes = Vec::new();
        small
            .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY))
            .map_err(|e| refused(&e))?;
        Ok(bytes)
    }

    /// Its light, upright.
    #[must_use]
    pub fn light(&self) -> Photograph {
        let (width, height) = (self.lying.width() as usize, self.lying.height() as usize);
        // The picture has as many numbers as pixels, so the fallback is never taken.
        Photograph::from_light(width, height, light_of(&self.lying))
            .map_or_else(Photograph::black, |lying| lying.turned(self.orientation))
    }
}

/// JPEG has no transparency.
fn on_white(picture: &DynamicImage) -> DynamicImage {
    if !picture.color().has_alpha() {
        return DynamicImage::ImageRgb8(picture.to_rgb8());
    }
    let white = Rgba([255, 255, 255, 255]);
    let mut paper = image::RgbaImage::from_pixel(picture.width(), picture.height(), white);
    image::imageops::overlay(&mut paper, &picture.to_rgba8(), 0, 0);
    DynamicImage::ImageRgb8(DynamicImage::ImageRgba8(paper).to_rgb8())
}

/// Whether turning it upright changes width and height over.
fn is_across(orientation: Orientation) -> bool {
    matches!(
        orientation,
        Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH
    )
}

impl Photograph {
    /// Reads a JPEG, PNG or WebP file.
    ///
    /// # Errors
    /// [`PhotographError`] for what is no picture, too large, cut short or broken.
    pub fn read(bytes: &[u8]) -> Result<Self, PhotographError> {
        Picture::read(bytes).map(|picture| picture.light())
    }

    /// From light as numbers, 0 dark to 65535 white, row by row from the top; `None` when they do not fill the picture.
    #[must_use]
    pub fn from_light(width: usize, height: usize, light: Vec<u16>) -> Option<Self> {
        (width > 0 && height > 0 && width.checked_mul(height) == Some(light.len())).then_some(
            Self {
                width,
                height,
                light,
            },
        )
    }

    /// A single black pixel.
    pub(crate) fn black() -> Self {
        Self {
            width: 1,
            height: 1,
            light: vec![0],
        }
    }

    /// Pixels from left to right.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Pixels from top to bottom.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.height
    }

    /// The rows of light from the top.
    pub(crate) fn rows(&self) -> impl Iterator<Item = &[u16]> {
        self.light.chunks_exact(self.width)
    }

    /// The light of a pixel; the nearest one's outside the picture.
    pub(crate) fn at(&self, x: i64, y: i64) -> f32 {
        let x = x.clamp(0, self.width as i64 - 1) as usize;
        let y = y.clamp(0, self.height as i64 - 1) as usize;
        self.light
            .get(y * self.width + x)
            .map_or(0.0, |v| f32::from(*v))
    }

    /// The light between pixels, bilinear; pixel (0, 0) has its middle at (0.5, 0.5).
    pub(crate) fn between(&self, x: f64, y: f64) -> f64 {
        let (x, y) = (x - 0.5, y - 0.5);
        let (left, top) = (x.floor(), y.floor());
        let (right, down) = (x - left, y - top);
        let (i, j) = (left as i64, top as i64);
        let row = |j: i64| {
            f64::from(self.at(i, j)) * (1.0 - right) + f64::from(self.at(i + 1, j)) * right
        };
        row(j) * (1.0 - down) + row(j + 1) * down
    }

    /// Upright, as the camera was held.
    fn turned(self, orientation: Orientation) -> Self {
        let (w, h) = (self.width, self.height);
        if orientation == Orientation::NoTransforms {
            return self;
        }
        let (width, height) = if is_across(orientation) {
            (h, w)
        } else {
            (w, h)
        };
        let mut light = Vec::with_capacity(self.light.len());
        for y in 0..height {
            for x in 0..width {
                let (i, j) = match orientation {
                    Orientation::NoTransforms => (x, y),
                    Orientation::FlipHorizontal => (w - 1 - x, y),
                    Orientation::FlipVertical => (x, h - 1 - y),
                    Orientation::Rotate180 => (w - 1 - x, h - 1 - y),
                    Orientation::Rotate90 => (y, h - 1 - x),
                    Orientation::Rotate270 => (w - 1 - y, x),
                    Orientation::Rotate90FlipH => (y, x),
                    Orientation::Rotate270FlipH => (w - 1 - y, h - 1 - x),
                };
                light.push(self.light.get(j * w + i).copied().unwrap_or(0));
            }
        }
        Self {
            width,
            height,
            light,
        }
    }
}

fn too_large(size: impl Into<String>, most: impl Into<String>) -> PhotographError {
    PhotographError::TooLarge {
        size: size.into(),
        most: most.into(),
    }
}

/// Rounded up, so that what is too much never reads as what is allowed.
fn megabytes(bytes: usize) -> String {
    format!("{} MB", bytes.div_ceil(1_000_000))
}

fn refused(error: &ImageError) -> PhotographError {
    match error {
        ImageError::Limits(_) => too_large(
            "sides or memory beyond the bounds",
            format!("{SIDE_MAX_PX} pixels a side"),
        ),
        ImageError::IoError(e) if e.kind() == std::io::ErrorKind::UnexpectedEof => {
            PhotographError::CutShort
        }
        other => PhotographError::Broken {
            // Decoders write over several lines.
            reason: one_line(&other.to_string()),
        },
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether a JPEG has its end marker after the picture itself; the decoder fills what is missing with grey. A small picture inside
/// the file's head has an end of its own, so the head's segments are stepped over.
fn jpeg_ends(bytes: &[u8]) -> bool {
    let mut at = 2;
    while let Some(&[0xff, marker]) = bytes.get(at..at + 2) {
        match marker {
            0xff => at += 1,
            0x01 | 0xd0..=0xd8 => at += 2,
            0xda => {
                return bytes
                    .get(at..)
                    .is_some_and(|rest| rest.windows(2).any(|pair| pair == [0xff, 0xd9]));
            }
            _ => {
                let Some(&[high, low]) = bytes.get(at + 2..at + 4) else {
                    return false;
                };
                at += 2 + usize::from(u16::from_be_bytes([high, low]));
            }
        }
    }
    false
}

/// sRGB to linear light, both 0 to 1 (IEC 61966-2-1).
pub(crate) fn to_linear(coded: f32) -> f32 {
    if coded <= 0.040_45 {
        coded / 12.92
    } else {
        ((coded + 0.055) / 1.055).powf(2.4)
    }
}

fn light_of(picture: &DynamicImage) -> Vec<u16> {
    let byte: Vec<f32> = (0..=255_u8)
        .map(|v| to_linear(f32::from(v) / 255.0) * WHITE)
        .collect();
    let of = |v: u8| byte.get(usize::from(v)).copied().unwrap_or(0.0);
    let grey = |rgb: [f32; 3]| rgb.iter().zip(WEIGHTS).map(|(v, w)| v * w).sum::<f32>();
    let over_white = |light: f32, opaque: f32| WHITE + (light - WHITE) * opaque;
    match picture {
        DynamicImage::ImageLuma8(p) => p.as_raw().iter().map(|v| rounded(of(*v))).collect(),
        DynamicImage::ImageRgb8(p) => p.pixels().map(|p| rounded(grey(p.0.map(of)))).collect(),
        DynamicImage::ImageLumaA8(p) => p
            .pixels()
            .map(|p| rounded(over_white(of(p.0[0]), f32::from(p.0[1]) / 255.0)))
            .collect(),
        DynamicImage::ImageRgba8(p) => p
            .pixels()
            .map(|p| {
                let [r, g, b, a] = p.0;
                rounded(over_white(grey([r, g, b].map(of)), f32::from(a) / 255.0))
            })
            .collect(),
        other => {
            let word: Vec<f32> = (0..=u16::MAX)
                .map(|v| to_linear(f32::from(v) / WHITE) * WHITE)
                .collect();
            let of = |v: u16| word.get(usize::from(v)).copied().unwrap_or(0.0);
            other
                .to_rgba16()
                .pixels()
                .map(|p| {
                    let [r, g, b, a] = p.0;
                    rounded(over_white(grey([r, g, b].map(of)), f32::from(a) / WHITE))
                })
                .collect()
        }
    }
}

/// The cast saturates.
fn rounded(light: f32) -> u16 {
    (light + 0.5) as u16
}

#[cfg(test)]
mod tests {
    use image::{GrayImage, ImageEncoder, Luma, RgbImage};

    use super::*;

    fn coded(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
        let mut bytes = Vec::new();
        picture
            .write_to(&mut Cursor::new(&mut bytes), format)
            .unwrap();
        bytes
    }

    fn wedge() -> DynamicImage {
        GrayImage::from_fn(64, 40, |x, y| Luma([(x * 2 + y * 3) as u8])).into()
    }

    #[test]
    fn the_light_is_linear_whatever_the_format() {
        let picture: DynamicImage =
            RgbImage::from_fn(30, 20, |x, _| image::Rgb([if x < 15 { 188 } else { 0 }; 3])).into();
        for format in [ImageFormat::Png, ImageFormat::WebP, ImageFormat::Jpeg] {
            let photo = Photograph::read(&coded(&picture, format)).unwrap();
            assert_eq!((photo.width(), photo.height()), (30, 20));
            // sRGB 188 of 255 is half the light: 0.5029.
            assert!(
                (photo.at(3, 10) / WHITE - 0.5029).abs() < 0.01,
                "{format:?}"
            );
            assert!(photo.at(27, 10) / WHITE < 0.002, "{format:?}");
        }
        let sixteen = coded(
            &DynamicImage::ImageRgb16(picture.to_rgb16()),
            ImageFormat::Png,
        );
        let photo = Photograph::read(&sixteen).unwrap();
        assert!((photo.at(3, 10) / WHITE - 0.5029).abs() < 0.001);
    }

    #[test]
    fn a_picture_stands_as_the_camera_was_held() {
        let lying = wedge();
        for (exif, orientation) in (1_u8..=8).map(|n| (n, Orientation::from_exif(n).unwrap())) {
            let mut bytes = Vec::new();
            let mut encoder = image::codecs::png::PngEncoder::new(&mut bytes);
            let tag = [
                b'M', b'M', 0, 42, 0, 0, 0, 8, 0, 1, 1, 18, 0, 3, 0, 0, 0, 1, 0, exif, 0, 0, 0, 0,
                0, 0,
            ];
            encoder.set_exif_metadata(tag.to_vec()).unwrap();
            encoder
                .write_image(lying.as_bytes(), 64, 40, image::ExtendedColorType::L8)
                .unwrap();
            let mut wanted = lying.clone();
            wanted.apply_orientation(orientation);
            let plain = Photograph::read(&coded(&wanted, ImageFormat::Png)).unwrap();
            assert_eq!(Photograph::read(&bytes).unwrap(), plain, "{exif}");
        }
    }

    #[test]
    fn a_file_cut_short_is_refused_wherever_it_is_cut() {
        for format in [ImageFormat::Png, ImageFormat::WebP, ImageFormat::Jpeg] {
            let whole = coded(&wedge(), format);
            // The last bytes of a PNG are its end chunk, which no pixel needs.
            for length in 0..whole.len().saturating_sub(16) {
                assert!(
                    Photograph::read(&whole[..length]).is_err(),
                    "{format:?} {length}"
                );
            }
        }
    }

    #[test]
    fn a_small_file_of_a_huge_picture_is_refused_before_it_is_laid_out() {
        let mut bomb = coded(&wedge(), ImageFormat::Png);
        // Width and height of the PNG's header chunk, with its checksum.
        bomb[16..20].copy_from_slice(&30_000_u32.to_be_bytes());
        bomb[20..24].copy_from_slice(&30_000_u32.to_be_bytes());
        let sum = crc(&bomb[12..29]);
        bomb[29..33].copy_from_slice(&sum.to_be_bytes());
        let error = Photograph::read(&bomb).unwrap_err();
        assert!(matches!(error, PhotographError::TooLarge { .. }), "{error}");
        assert!(
            error.to_string().contains("30000 × 30000 pixels"),
            "{error}"
        );
    }

    fn crc(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |mut sum, byte| {
            sum ^= u32::from(*byte);
            for _ in 0..8 {
                sum = (sum >> 1) ^ (0xedb8_8320 * (sum & 1));
            }
            sum
        })
    }

    #[test]
    fn what_is_wrong_with_a_picture_is_told_in_one_line() {
        let sound = coded(&wedge(), ImageFormat::Jpeg);
        let mut broken = 0;
        for at in 2..sound.len().min(700) {
            let mut bytes = sound.clone();
            bytes.splice(at..at, [0xff, 0xff, 0xd8, 0xff]);
            if let Err(error) = Photograph::read(&bytes) {
                broken += usize::from(matches!(error, PhotographError::Broken { .. }));
                assert!(!error.to_string().contains('\n'), "{at}: {error}");
            }
        }
        assert!(broken > 10, "only {broken} could not be decoded");
    }

    #[test]
    fn what_is_no_picture_is_refused() {
        assert_eq!(Photograph::read(&[]), Err(PhotographError::Empty));
        assert_eq!(
            Photograph::read(b"x_mm,y_mm\n1,2\n"),
            Err(PhotographError::Unknown)
        );
        assert_eq!(
            Photograph::read(b"GIF89a\0\0\0\0"),
            Err(PhotographError::Unknown)
        );
    }
}

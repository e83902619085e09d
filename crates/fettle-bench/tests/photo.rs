//! Photographs, recordings and papers: what is taken, what is refused, and how they come back.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::io::Cursor;

use fettle_bench::{
    BenchError, Change, PaperKind, PhotoId, PhotoSize, RECORDING_MAX_BYTES, Stage, VisitId,
};
use fettle_measure::photograph::PHOTOGRAPH_MAX_BYTES;
use image::{DynamicImage, ImageFormat, Rgb, RgbImage};
use support::{Shop, noise, shop};

/// 400 × 200: red at the left, blue at the right; a quarter green at the top left, to tell every turn from every other.
fn picture() -> RgbImage {
    RgbImage::from_fn(400, 200, |x, y| match (x < 200, y < 100 && x < 100) {
        (_, true) => Rgb([0, 255, 0]),
        (true, false) => Rgb([255, 0, 0]),
        (false, false) => Rgb([0, 0, 255]),
    })
}

fn encoded(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

/// The EXIF part that says only which way up the picture is.
fn exif(orientation: u8) -> Vec<u8> {
    let mut exif = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    exif.extend([orientation, 0, 0, 0, 0, 0, 0]);
    exif
}

/// A JPEG with an APP1 segment after its start.
fn turned_jpeg(orientation: u8) -> Vec<u8> {
    let jpeg = encoded(&picture(), ImageFormat::Jpeg);
    let mut segment = b"Exif\0\0".to_vec();
    segment.extend(exif(orientation));
    let length = u16::try_from(segment.len() + 2).unwrap().to_be_bytes();
    [&jpeg[..2], &[0xFF, 0xE1], &length, &segment, &jpeg[2..]].concat()
}

fn attach(shop: &Shop, visit: VisitId, bytes: &[u8]) -> PhotoId {
    let change = shop
        .bench
        .keep_photo(visit, Stage::Arrived, "as it came", bytes)
        .unwrap();
    shop.apply(10, vec![change]).photo().unwrap()
}

fn shown(shop: &Shop, photo: PhotoId, size: PhotoSize) -> DynamicImage {
    image::open(shop.bench.photo_file(photo, size).unwrap().path).unwrap()
}

fn colour(picture: &DynamicImage, x: u32, y: u32) -> char {
    match picture.to_rgb8().get_pixel(x, y).0 {
        [200..=255, 0..=60, 0..=60] => 'r',
        [0..=60, 200..=255, 0..=60] => 'g',
        [0..=60, 0..=60, 200..=255] => 'b',
        other => panic!("{other:?} at {x}, {y}"),
    }
}

#[test]
fn a_photograph_stands_upright_however_the_camera_was_held() {
    let shop = shop();
    let visit = shop.arrive(1);
    // The corners as displayed: top left, top right, bottom left, bottom right.
    for (orientation, corners) in [
        (1, "gbrb"),
        (2, "bgbr"),
        (3, "brbg"),
        (4, "rbgb"),
        (5, "grbb"),
        (6, "rgbb"),
        (7, "bbrg"),
        (8, "bbgr"),
    ] {
        let photo = attach(&shop, visit, &turned_jpeg(orientation));
        let view = shop.bench.visit(visit).unwrap();
        let attached = &view.photos.last().unwrap().what;
        let upright = if orientation < 5 {
            (400, 200)
        } else {
            (200, 400)
        };
        assert_eq!(
            (attached.width_px, attached.height_px),
            upright,
            "orientation {orientation}"
        );
        for size in [PhotoSize::Display, PhotoSize::Thumb] {
            let small = shown(&shop, photo, size);
            let (right, bottom) = (small.width() - 10, small.height() - 10);
            let got: String = [(10, 10), (right, 10), (10, bottom), (right, bottom)]
                .map(|(x, y)| colour(&small, x, y))
                .iter()
                .collect();
            assert_eq!(got, corners, "orientation {orientation}");
        }
    }
}

#[test]
fn the_three_kinds_are_taken_by_their_content_and_given_back_unchanged() {
    let shop = shop();
    let visit = shop.arrive(1);
    for (format, media_type) in [
        (ImageFormat::Jpeg, "image/jpeg"),
        (ImageFormat::Png, "image/png"),
        (ImageFormat::WebP, "image/webp"),
    ] {
        let bytes = encoded(&picture(), format);
        let photo = attach(&shop, visit, &bytes);
        let original = shop.bench.photo_file(photo, PhotoSize::Original).unwrap();
        assert_eq!(original.media_type, media_type);
        assert_eq!(std::fs::read(&original.path).unwrap(), bytes);
        assert_eq!(
            original.path.file_stem().unwrap().to_str(),
            Some(blake3::hash(&bytes).to_hex().as_str())
        );
        let thumb = shown(&shop, photo, PhotoSize::Thumb);
        assert_eq!((thumb.width(), thumb.height()), (320, 160));
    }
}

#[test]
fn smaller_sizes_are_made_again_when_they_are_gone() {
    let shop = shop();
    let visit = shop.arrive(1);
    let photo = attach(&shop, visit, &noise(700, 400));
    let thumb = shop.bench.photo_file(photo, PhotoSize::Thumb).unwrap().path;
    let before = std::fs::read(&thumb).unwrap();
    std::fs::remove_file(&thumb).unwrap();
    shop.bench.photo_file(photo, PhotoSize::Thumb).unwrap();
    assert_eq!(std::fs::read(&thumb).unwrap(), before);
    std::fs::remove_file(
        shop.bench
            .photo_file(photo, PhotoSize::Original)
            .unwrap()
            .path,
    )
    .unwrap();
    std::fs::remove_file(&thumb).unwrap();
    let error = shop.bench.photo_file(photo, PhotoSize::Thumb).unwrap_err();
    assert!(matches!(error, BenchError::File { .. }), "{error:?}");
}

#[test]
fn what_is_not_a_photograph_is_refused_and_nothing_is_kept() {
    let shop = shop();
    let whole = encoded(&picture(), ImageFormat::Png);
    let mut gif = b"GIF89a".to_vec();
    gif.extend([0; 40]);
    for (bytes, why) in [
        (&b""[..], "the file is empty"),
        (
            b"Dear Ines, the camera",
            "not a photograph that can be read",
        ),
        (&gif, "not a photograph that can be read"),
        (&whole[..whole.len() / 2], "cut short"),
        (&whole[..40], "photograph"),
        (b"\xFF\xD8\xFF\xE0\0\0", "cut short"),
        (b"RIFF\x04\0\0\0WEBP", "photograph"),
    ] {
        let error = shop
            .bench
            .keep_photo(VisitId::new(1), Stage::Arrived, "", bytes)
            .unwrap_err();
        assert!(matches!(error, BenchError::NotAPhoto(_)), "{error:?}");
        assert!(
            error.to_string().contains(why),
            "{error} does not say {why}"
        );
    }
    let kept = std::fs::read_dir(shop.dir.path().join("photos")).unwrap();
    assert_eq!(
        kept.filter(|entry| entry.as_ref().unwrap().path().is_file())
            .count(),
        0
    );
}

#[test]
fn a_small_file_that_unpacks_to_a_vast_picture_is_refused_before_it_is_unpacked() {
    let shop = shop();
    let bomb = claiming(30_000, 30_000, 8);
    let start = std::time::Instant::now();
    let error = shop
        .bench
        .keep_photo(VisitId::new(1), Stage::Arrived, "", &bomb)
        .unwrap_err();
    assert!(
        matches!(
            error,
            BenchError::TooLarge { .. } | BenchError::NotAPhoto(_)
        ),
        "{error:?}"
    );
    assert!(start.elapsed().as_millis() < 500, "it was unpacked first");
}

#[test]
fn a_photograph_or_recording_beyond_its_limit_is_refused() {
    let shop = shop();
    let visit = shop.arrive(1);
    let refused = |error: BenchError, size: &str| {
        assert!(matches!(error, BenchError::TooLarge { .. }), "{error:?}");
        assert!(error.to_string().contains(size), "{error}");
    };
    let bytes = vec![0; PHOTOGRAPH_MAX_BYTES + 1];
    let error = shop.bench.keep_photo(visit, Stage::Arrived, "", &bytes);
    refused(error.unwrap_err(), "41 MB, the most is 40 MB");
    let bytes = vec![0; RECORDING_MAX_BYTES + 1];
    let error = shop
        .bench
        .keep_recording(visit, Stage::Proved, "", "a.wav", &bytes);
    refused(error.unwrap_err(), "301 MB, the most is 300 MB");
    for (picture, why) in [
        (claiming(13_200, 5_000, 8), "the most is 64 million pixels"),
        (claiming(8_000, 6_000, 16), "save it with 8 bits a colour"),
    ] {
        let error = shop.bench.keep_photo(visit, Stage::Arrived, "", &picture);
        refused(error.unwrap_err(), why);
    }
}

/// A PNG whose header claims this size and so many bits a colour.
fn claiming(width: u32, height: u32, bits: u8) -> Vec<u8> {
    let mut png = encoded(&RgbImage::new(1, 1), ImageFormat::Png);
    // Width, height and bits stand at bytes 16 to 25 of the header chunk, its checksum after it.
    png[16..20].copy_from_slice(&width.to_be_bytes());
    png[20..24].copy_from_slice(&height.to_be_bytes());
    png[24] = bits;
    let checksum = crc32(&png[12..29]);
    png[29..33].copy_from_slice(&checksum.to_be_bytes());
    png
}

/// The checksum of a PNG chunk (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 {
                (crc >> 1) ^ 0xEDB8_8320
            } else {
                crc >> 1
            }
        })
    })
}

#[test]
fn what_lets_light_through_shows_white_paper() {
    let shop = shop();
    let visit = shop.arrive(1);
    let mut bytes = Cursor::new(Vec::new());
    image::RgbaImage::from_pixel(40, 40, image::Rgba([0, 0, 0, 0]))
        .write_to(&mut bytes, ImageFormat::Png)
        .unwrap();
    let photo = attach(&shop, visit, bytes.get_ref());
    let thumb = shown(&shop, photo, PhotoSize::Thumb).to_rgb8();
    assert!(
        thumb
            .pixels()
            .all(|pixel| pixel.0.iter().all(|&level| level > 250))
    );
}

#[test]
fn recordings_and_papers_come_back_with_their_kind() {
    let shop = shop();
    let visit = shop.arrive(1);
    let recording = shop
        .bench
        .keep_recording(visit, Stage::Proved, "all speeds", "Take 3.WAV", b"RIFF...")
        .unwrap();
    let paper = shop
        .bench
        .keep_paper(visit, PaperKind::ProofSheet, "proof sheet", "pdf", b"%PDF-")
        .unwrap();
    let applied = shop.apply(5, vec![recording, paper]);
    let file = shop
        .bench
        .recording_file(applied.recording().unwrap())
        .unwrap();
    assert_eq!(
        (file.media_type, std::fs::read(file.path).unwrap()),
        ("audio/wav", b"RIFF...".to_vec())
    );
    let file = shop.bench.paper_file(applied.paper().unwrap()).unwrap();
    assert_eq!(
        (file.media_type, file.name.as_str()),
        ("application/pdf", "proof sheet.pdf")
    );
}

#[test]
fn a_recording_without_an_ending_takes_that_of_its_content() {
    let shop = shop();
    let visit = shop.arrive(1);
    for name in [
        "",
        "take",
        "x.",
        "x.a/b",
        "x.../../etc/passwd",
        "x.averylongone",
    ] {
        for (bytes, ending) in [
            (&b"RIFF\0\0\0\0WAVEfmt "[..], "wav"),
            (b"FORM\0\0\0\0AIFFCOMM", "aiff"),
            (b"fLaC\0", "flac"),
            (b"OggS\0", "ogg"),
            (b"ID3\x04", "mp3"),
            (b"x", "bin"),
        ] {
            let kept = shop
                .bench
                .keep_recording(visit, Stage::Proved, "", name, bytes)
                .unwrap();
            let Change::RecordingAttached(it) = &kept else {
                panic!("another kind of change")
            };
            assert_eq!(it.file.extension, ending, "{name}");
            shop.apply(5, vec![kept]);
        }
    }
}

#[test]
fn a_recording_is_kept_by_its_content_whatever_its_name_says() {
    let shop = shop();
    let visit = shop.arrive(1);
    for (name, bytes, ending) in [
        ("take.svg", &b"RIFF\0\0\0\0WAVEfmt "[..], "wav"),
        ("take.mp3", b"fLaC\0", "flac"),
        ("take.aif", b"FORM\0\0\0\0AIFFCOMM", "aif"),
        ("take.csv", b"time_s,volts\n", "csv"),
        (
            "take.svg",
            b"<svg xmlns='http://www.w3.org/2000/svg'/>",
            "bin",
        ),
        ("take.html", b"<script>alert(1)</script>", "bin"),
        ("take.pdf", b"%PDF-", "bin"),
    ] {
        let kept = shop
            .bench
            .keep_recording(visit, Stage::Proved, "", name, bytes)
            .unwrap();
        let Change::RecordingAttached(it) = kept else {
            panic!("another kind of change")
        };
        assert_eq!(it.file.extension, ending, "{name}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_in_the_place_of_a_kept_file_is_not_followed() {
    let shop = shop();
    let visit = shop.arrive(1);
    let recording = shop
        .bench
        .keep_recording(visit, Stage::Proved, "", "a.wav", b"RIFF")
        .unwrap();
    let photo = shop
        .bench
        .keep_photo(visit, Stage::Arrived, "", &noise(8, 6))
        .unwrap();
    let applied = shop.apply(5, vec![recording, photo]);
    let (recording, photo) = (applied.recording().unwrap(), applied.photo().unwrap());
    let secret = shop.bench.dir().join("secret");
    std::fs::write(&secret, b"secret").unwrap();
    let replaced = |path: std::path::PathBuf| {
        std::fs::remove_file(&path).unwrap();
        std::os::unix::fs::symlink(&secret, &path).unwrap();
    };
    replaced(shop.bench.recording_file(recording).unwrap().path);
    for size in [PhotoSize::Original, PhotoSize::Display, PhotoSize::Thumb] {
        replaced(shop.bench.photo_file(photo, size).unwrap().path);
        let told = shop.bench.photo_file(photo, size).unwrap_err().to_string();
        assert!(told.contains("not followed"), "{told}");
    }
    let told = shop
        .bench
        .recording_file(recording)
        .unwrap_err()
        .to_string();
    assert!(told.contains("not followed"), "{told}");
}

#[test]
fn a_change_cannot_name_a_file_outside_the_shelf_or_one_that_is_not_there() {
    let shop = shop();
    let visit = shop.arrive(1);
    let Change::PaperAttached(good) = shop
        .bench
        .keep_paper(visit, PaperKind::Bill, "", "pdf", b"%PDF-")
        .unwrap()
    else {
        panic!("another kind of change")
    };
    let mut outside = good.clone();
    outside.file.hash = "../../../../etc/passwd".to_owned();
    assert!(
        shop.refusal(5, vec![outside.into()])
            .contains("not a BLAKE3 hash")
    );
    let mut gone = good.clone();
    gone.file.hash = "0".repeat(64);
    assert!(
        shop.refusal(5, vec![gone.into()])
            .contains("keep the file first")
    );
    let mut longer = good;
    longer.file.bytes += 1;
    assert!(
        shop.refusal(5, vec![longer.into()])
            .contains("has 5 bytes instead of 6")
    );
}

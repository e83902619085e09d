//! What the tests share: a bench in a folder of its own, and a visit to write to.
#![allow(dead_code, reason = "each test file takes what it needs")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

pub(crate) mod child;
pub(crate) mod dice;
pub(crate) mod disk;
pub(crate) mod keep;

use fettle_bench::{
    Applied, ArrivalDetails, Bench, BenchSettings, CameraDetails, CameraId, Change, Currency, Hand,
    OwnerDetails, OwnerId, Serial, Stage, StageMoved, VisitId, VisitOpened,
};
use jiff::Timestamp;

pub(crate) fn hand() -> Hand {
    Hand::new("Ines")
}

/// The day of the tests' moments.
pub(crate) fn today() -> jiff::civil::Date {
    jiff::tz::TimeZone::UTC.to_datetime(at(0)).date()
}

/// A moment, so many seconds into the tests' day.
pub(crate) fn at(second: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + second).unwrap()
}

pub(crate) fn settings() -> BenchSettings {
    BenchSettings {
        place: "Saltmere".to_owned(),
        hourly_rate: Some("60".parse().unwrap()),
        ..BenchSettings::new("The bench at Saltmere", Currency::new("XTS").unwrap())
    }
}

pub(crate) struct Shop {
    pub(crate) bench: Bench,
    pub(crate) dir: tempfile::TempDir,
}

pub(crate) fn shop() -> Shop {
    let dir = tempfile::tempdir().unwrap();
    let bench = Bench::create(dir.path(), settings(), &hand(), at(0)).unwrap();
    Shop { bench, dir }
}

impl Shop {
    pub(crate) fn apply(&self, second: i64, changes: Vec<Change>) -> Applied {
        self.bench.apply(&hand(), at(second), changes).unwrap()
    }

    pub(crate) fn refusal(&self, second: i64, changes: Vec<Change>) -> String {
        let before = self.bench.journal(fettle_bench::Page::first(500)).unwrap();
        let error = self.bench.apply(&hand(), at(second), changes).unwrap_err();
        assert_eq!(
            self.bench.journal(fettle_bench::Page::first(500)).unwrap(),
            before
        );
        error.to_string()
    }

    /// A camera arrives from its owner.
    pub(crate) fn arrive(&self, second: i64) -> VisitId {
        self.apply(second, arrival("K 10482")).visit().unwrap()
    }

    pub(crate) fn go(&self, second: i64, visit: VisitId, stages: &[Stage]) {
        for &to in stages {
            self.apply(
                second,
                vec![
                    StageMoved {
                        visit,
                        to,
                        note: String::new(),
                    }
                    .into(),
                ],
            );
        }
    }
}

pub(crate) fn owner(name: &str) -> OwnerDetails {
    OwnerDetails {
        name: name.to_owned(),
        ..OwnerDetails::default()
    }
}

pub(crate) fn camera(serial: &str) -> CameraDetails {
    CameraDetails {
        maker: "Aldous".to_owned(),
        model: "Corran 66".to_owned(),
        notes_id: Some("corran-66".to_owned()),
        serials: vec![Serial {
            at: "body".to_owned(),
            number: serial.to_owned(),
        }],
        note: String::new(),
    }
}

pub(crate) fn arrival_details(owner: OwnerId) -> ArrivalDetails {
    ArrivalDetails {
        owner,
        arrived: "2026-09-21".parse().unwrap(),
        words: "slow speeds hang".to_owned(),
        wanted: "a full service".to_owned(),
        condition: "leather lifting".to_owned(),
        came_with: vec!["case".to_owned(), "cap".to_owned()],
        declared: None,
        promised: None,
        guarantee_of: None,
    }
}

/// Owner, camera and visit in one go.
pub(crate) fn arrival(serial: &str) -> Vec<Change> {
    vec![
        owner("Marít Halvarsén").into(),
        camera(serial).into(),
        VisitOpened {
            camera: CameraId::LATEST,
            arrival: arrival_details(OwnerId::LATEST),
        }
        .into(),
    ]
}

/// A photograph that cannot be packed small: noise from a fixed seed.
pub(crate) fn noise(width: u32, height: u32) -> Vec<u8> {
    let mut state = 1_u32;
    let picture = image::RgbImage::from_fn(width, height, |_, _| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let [a, b, c, _] = state.to_be_bytes();
        image::Rgb([a, b, c])
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

//! What targets over a bench begin with.

use std::error::Error;
use std::path::Path;

use fettle_bench::{
    ArrivalDetails, Bench, BenchSettings, CameraDetails, CameraId, Currency, Hand, OwnerDetails,
    OwnerId, VisitOpened,
};
use jiff::Timestamp;

/// A folder in memory where there is one.
pub(crate) fn folder() -> std::io::Result<tempfile::TempDir> {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory)
    } else {
        tempfile::tempdir()
    }
}

/// A new bench to which this camera has come.
pub(crate) fn with_a_camera(
    place: &Path,
    camera: CameraDetails,
    hand: &Hand,
    at: Timestamp,
) -> Result<Bench, Box<dyn Error>> {
    let settings = BenchSettings::new("The bench at Saltmere", Currency::new("XTS")?);
    let bench = Bench::create(place, settings, hand, at)?;
    let arrival = ArrivalDetails {
        owner: OwnerId::LATEST,
        arrived: "2026-09-01".parse()?,
        words: "the slow speeds hang".to_owned(),
        wanted: String::new(),
        condition: String::new(),
        came_with: vec!["case".to_owned()],
        declared: None,
        promised: None,
        guarantee_of: None,
    };
    let owner = OwnerDetails {
        name: "Ada Wren".to_owned(),
        ..OwnerDetails::default()
    };
    let opened = VisitOpened {
        camera: CameraId::LATEST,
        arrival,
    };
    bench.apply(hand, at, vec![owner.into(), camera.into(), opened.into()])?;
    Ok(bench)
}

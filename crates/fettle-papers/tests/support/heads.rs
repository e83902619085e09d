//! The bench and the camera of all papers that are tried.

use fettle_papers::{BenchHead, CameraHead};

/// The bench that all of them come from.
pub(crate) fn bench() -> BenchHead {
    BenchHead {
        name: "The Saltmere Bench".to_owned(),
        lines: vec![
            "3 Ropewalk Stairs, Saltmere".to_owned(),
            "bench@saltmere.example".to_owned(),
        ],
    }
}

/// The camera that all of them are of.
pub(crate) fn camera() -> CameraHead {
    CameraHead {
        maker: "Aldous".to_owned(),
        model: "Corran 66".to_owned(),
        serials: vec![
            ("body".to_owned(), "20417".to_owned()),
            ("lens".to_owned(), "C 3301982".to_owned()),
        ],
    }
}

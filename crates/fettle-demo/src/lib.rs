//! The invented scenario: a bench in the harbour town of Saltmere, made from a seed.
//!
//! Nothing here is real: makers, models, owners, places and marks are made up. What is wrong with each
//! camera is drawn forward through its model's service notes, so that circumstances, faults, signs,
//! works, parts and readings agree with each other.
//!
//! - [`generate`] makes the bench in a folder; [`is_demo`] knows one again.
//! - [`notes`] are the service notes of its three models.
//! - [`browser_recording`] is a shutter session with its truth, for tests.
//!
//! ```
//! let dir = tempfile::tempdir()?;
//! let today = jiff::civil::date(2026, 11, 25);
//! let scale = fettle_demo::Scale { cameras: 2, recordings: 0 };
//! let bench = fettle_demo::generate(dir.path(), 66, today, scale, &mut |_| ())?;
//! assert_eq!(bench.settings()?.place, "Saltmere");
//! assert!(fettle_demo::is_demo(dir.path()));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod error;
mod generate;
mod lots;
mod matter;
mod models;
mod people;
mod picture;
mod plan;
mod readings;
mod runs;
mod sound;
mod stock;
mod tell;
mod worn;

use std::path::Path;

pub use error::DemoError;
pub use generate::{Scale, generate};
pub use models::notes;
pub use sound::{KnownRecording, browser_recording};

/// The seed of the bench that `fettle demo` makes.
pub const SEED: u64 = 66;

/// The file by which a demo bench is known.
const MARKER: &str = "demo.txt";

/// Whether this folder holds a bench that [`generate`] made.
#[must_use]
pub fn is_demo(dir: &Path) -> bool {
    dir.join(MARKER).is_file() && dir.join("bench.db").is_file()
}

//! Exposure times from recordings of light behind a shutter.

mod apertures;
mod channel;
mod coupling;
mod describe;
mod detect;
mod draw;
mod error;
mod expose;
mod finding;
mod flicker;
mod hum;
mod level;
mod limits;
mod local;
mod marks;
mod options;
mod overview;
mod patterns;
mod report;
mod session;
mod size;
mod speeds;
mod steady;
mod trace;

pub use error::ShutterError;
pub use finding::{Finding, FindingKind, Flag};
pub use limits::{Limits, LimitsError};
pub use options::{Kind, Options, Sense};
pub use report::{
    Aperture, Budget, Curtain, Extent, Flash, NamedExtent, Position, Report, Shot, Speed,
};
pub use trace::{Trace, TraceMarks, TracePoint};

use crate::Recording;

/// Measures a session: all recordings share the dial, the fully open level and the chain.
///
/// # Errors
/// When nothing in the recordings can be measured at all, or an option has no meaning.
pub fn analyse(session: &[Recording], options: &Options) -> Result<Report, ShutterError> {
    if session.is_empty() {
        return Err(ShutterError::NoRecording);
    }
    options.check()?;
    session::analyse(session, options)
}

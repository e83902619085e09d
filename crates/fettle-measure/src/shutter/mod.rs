//! Exposure times from recordings of light behind a shutter.
//!
//! The way of a recording, file by file: `overview` takes block means and the noise; `detect` finds
//! the flanks and pairs them to shots; `hum` and `flicker` find what the mains does; `lost` finds where samples are missing; `local` models
//! one shot with its surroundings and `coupling` finds the input's poles from all of them;
//! `expose` reads the light for its edges and crossings; `saturation` tells whether it ends at a rail;
//! `tail`, and `form` with the `blades` that it fits to the `flanks`, tell what the sensor adds;
//! `channel` runs these in order. The session
//! then agrees the fully open level (`level`), gives each shot its times and budget (`size`), its
//! mark (`marks`), and sums up (`speeds`, `apertures`, `patterns`, `describe`, `draw`).
//!
//! A recording of sound goes its own way through `sound`, to the same report.

mod apertures;
mod band;
mod beside;
mod blades;
mod channel;
mod check;
mod clicks;
mod colour;
mod coupling;
mod describe;
mod detect;
mod draw;
mod edges;
mod error;
mod expose;
mod finding;
mod flanks;
mod flash;
mod flicker;
mod focal;
mod form;
mod frame;
mod gain;
mod heard;
mod hum;
mod lamp;
mod level;
mod limits;
pub mod live;
mod local;
mod lost;
mod mains;
mod marks;
mod normal;
mod options;
mod overview;
mod pairing;
mod patterns;
mod poles;
mod quiet;
mod report;
mod said;
mod same;
mod saturation;
mod session;
mod size;
mod sound;
mod speeds;
mod squares;
mod state;
mod steady;
mod steps;
mod stretch;
mod tail;
mod trace;
mod wander;

pub use check::{ChainCheck, ChannelCheck, Coupled, Flickers, Hums, ProvedMark, check};
pub use error::ShutterError;
pub use finding::{Finding, FindingKind, Flag};
pub use frame::{FlashAtMark, FrameAtMark, Mean, at_centre, flash_by_mark, frames_by_mark};
pub use heard::{Click, ClickOf, Proposal};
pub use limits::{Limits, LimitsError};
pub use lost::{LostAs, LostStretch};
pub use options::{Kind, Options, Sense};
pub use report::{
    Aperture, Budget, Curtain, Extent, Flash, MeanBudget, NamedExtent, Position, Report, Shot,
    Speed,
};
pub use said::Said;
pub use trace::{Trace, TraceMarks, TracePoint};

use crate::Recording;

/// Measures a session: its recordings share the dial and the fully open level.
///
/// ```
/// use fettle_measure::synth::{Chain, Firing, LeafShutter, Scene};
/// use fettle_measure::{Seconds, shutter};
///
/// let scene = Scene {
///     shutter: LeafShutter::default(),
///     firings: vec![Firing::new(Seconds::s(0.5), Seconds::ms(17.0))],
///     chain: Chain::default(),
///     lasting: Seconds::s(1.5),
///     seed: 1,
/// };
/// let recording = scene.record().into_recording("made.wav")?;
/// let options = shutter::Options { speeds: vec!["1/60".parse()?], ..Default::default() };
/// let report = shutter::analyse(&[recording], &options)?;
/// let effective = report.shots[0].effective_s.ok_or("the time cannot be told")?;
/// assert!((effective.to_ms() - 17.0).abs() < 0.01);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When nothing in the recordings can be measured at all, or an option has no meaning.
pub fn analyse(session: &[Recording], options: &Options) -> Result<Report, ShutterError> {
    if session.is_empty() {
        return Err(ShutterError::NoRecording);
    }
    options.check()?;
    match (options.sense, options.kind) {
        (Sense::Light, Kind::Leaf) => session::analyse(session, options),
        (Sense::Light, Kind::FocalPlane) => focal::analyse(session, options),
        (Sense::Sound, _) => sound::analyse(session, options),
    }
}

//! One case: recordings, how they are to be read, and what is true of them.

use std::io::Cursor;

use fettle_measure::shutter::{self, Options, Report};
use fettle_measure::{Marked, Recording, Seconds, recording};

/// A recording as made, or the bytes of a file.
pub(crate) enum Source {
    Made(Recording),
    File { name: String, bytes: Vec<u8> },
}

/// What the instrument is to do with a case.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wanted {
    /// Every shot measured.
    Measured,
    /// No time stated at all.
    Refused,
}

/// What is true of one sensor's view of one firing.
pub(crate) struct TrueShot {
    /// Name of the recording.
    pub(crate) recording: String,
    /// Channel, from 1.
    pub(crate) channel: u16,
    /// First 1 % crossing on the file's clock.
    pub(crate) start: Seconds,
    pub(crate) effective: Seconds,
    pub(crate) total: Seconds,
    pub(crate) mark: Option<Marked>,
    /// Whether the recording holds it whole, so that it is to be measured.
    pub(crate) whole: bool,
    /// Effective times at the stops of the options; empty where not told.
    pub(crate) stopped: Vec<Seconds>,
}

/// Kinds of findings by their names in JSON.
#[derive(Default)]
pub(crate) struct Findings {
    /// Must be told.
    pub(crate) wanted: Vec<&'static str>,
    /// May be told: true, but at the border of what is worth a word, or a matter of view.
    pub(crate) allowed: Vec<&'static str>,
}

pub(crate) struct Case {
    pub(crate) sources: Vec<Source>,
    pub(crate) options: Options,
    pub(crate) shots: Vec<TrueShot>,
    pub(crate) wanted: Wanted,
    pub(crate) findings: Findings,
}

impl Case {
    /// A case of which nothing is to be measured.
    pub(crate) fn refused(source: Source) -> Self {
        Self {
            sources: vec![source],
            options: Options::default(),
            shots: Vec::new(),
            wanted: Wanted::Refused,
            findings: Findings::default(),
        }
    }

    /// What the instrument makes of it, or why nothing.
    pub(crate) fn measure(&mut self) -> Result<Report, String> {
        let mut session = Vec::new();
        for source in self.sources.drain(..) {
            session.push(match source {
                Source::Made(recording) => recording,
                Source::File { name, bytes } => {
                    recording::read(&name, Cursor::new(bytes)).map_err(|error| error.to_string())?
                }
            });
        }
        shutter::analyse(&session, &self.options).map_err(|error| error.to_string())
    }
}

impl Findings {
    pub(crate) fn want(&mut self, kind: &'static str) {
        self.wanted.push(kind);
    }

    pub(crate) fn allow(&mut self, kind: &'static str) {
        self.allowed.push(kind);
    }

    /// Wanted from `value` above the border, allowed around it.
    pub(crate) fn about(&mut self, kind: &'static str, value: f64, border: f64) {
        if value > 1.25 * border {
            self.want(kind);
        } else if value > 0.8 * border {
            self.allow(kind);
        }
    }
}

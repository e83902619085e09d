//! One case: recordings, how they are to be read, and what is true of them.

use std::io::Cursor;

use fettle_measure::shutter::{self, Options, Report};
use fettle_measure::{Marked, Millimetres, Recording, Seconds, Stops, recording};

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

/// What is asked of one shot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Asked {
    /// To be measured.
    Told,
    /// May be left untold.
    Free,
    /// The recording does not hold it whole, or hardly any light of it.
    Nothing,
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
    /// `None` where the generator does not tell it.
    pub(crate) total: Option<Seconds>,
    pub(crate) mark: Option<Marked>,
    pub(crate) asked: Asked,
    /// Effective times at the stops of the options; empty where not told.
    pub(crate) stopped: Vec<Seconds>,
    /// Its release among the case's.
    pub(crate) release: usize,
}

/// What is true of one release beside its shots.
#[derive(Default)]
pub(crate) struct TrueRelease {
    /// The curtains' travels over the gate, first and second; empty where it is not to be told.
    pub(crate) travels: Vec<Seconds>,
    /// The far end of the frame against the near one; `None` when capped or not to be told.
    pub(crate) evenness: Option<Stops>,
    /// From where on the slit is closed, counted from the gate's edge that the sensors' places are.
    pub(crate) capped_from: Option<Millimetres>,
    /// Contact to full opening, with a contact; `Some(None)` when it is never fully open.
    pub(crate) flash: Option<Option<Seconds>>,
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
    /// Empty where nothing is known of them beside their shots.
    pub(crate) releases: Vec<TrueRelease>,
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
            releases: Vec::new(),
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

//! One session: what was heard, and the recording it is written to.

use std::fs::File;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use fettle_bench::{BenchError, RecordingDraft};
use fettle_measure::recording::{wave_head, wave_samples};
use fettle_measure::shutter::live::{Heard, Level, Listener};
use fettle_measure::shutter::{Options, Report};
use fettle_measure::{Marked, Seconds};
use tokio::sync::mpsc;

use super::message::{Asked, Told};
use super::sheet;
use crate::shutter;

/// The longest session.
const LONGEST: Duration = Duration::from_secs(2 * 3600);
/// Samples may run ahead of the clock by so much: what a page had waiting.
const AHEAD_S: f64 = 30.0;

/// A session of listening.
#[derive(Debug)]
pub(crate) struct Session {
    pub(crate) token: String,
    begun: Instant,
    heard: AtomicBool,
    taken: Mutex<Taken>,
}

/// What a session holds.
#[derive(Debug)]
pub(crate) struct Taken {
    name: String,
    listener: Listener,
    draft: RecordingDraft,
    /// Frames that the recording's head speaks of.
    headed: u64,
    last: Instant,
}

/// What the socket hands to the session's thread.
#[derive(Debug)]
pub(crate) enum Order {
    Block(u64, Vec<f32>),
    Asked(Asked),
}

impl Session {
    /// A session that begins now and is written into `draft`.
    pub(crate) fn new(
        token: String,
        name: String,
        listener: Listener,
        mut draft: RecordingDraft,
    ) -> Result<Self, BenchError> {
        draft.append(&head(&listener, 0))?;
        let taken = Taken {
            name,
            listener,
            draft,
            headed: 0,
            last: Instant::now(),
        };
        Ok(Self {
            token,
            begun: Instant::now(),
            heard: AtomicBool::new(true),
            taken: Mutex::new(taken),
        })
    }

    pub(crate) fn taken(&self) -> MutexGuard<'_, Taken> {
        self.taken.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether a page is listening.
    pub(super) fn is_heard(&self) -> bool {
        self.heard.load(Ordering::Relaxed)
    }

    /// How long nothing has happened.
    pub(super) fn idle(&self) -> Duration {
        self.taken().last.elapsed()
    }

    /// Does what comes until nothing more can come; runs on a thread of its own.
    pub(super) fn run(
        self: &Arc<Self>,
        mut orders: mpsc::Receiver<Order>,
        told: &mpsc::Sender<Told>,
    ) {
        let mut unsent = None;
        while let Some(order) = orders.blocking_recv() {
            let outcome = self.obey(order, told, &mut unsent);
            if let Err(why) = outcome {
                // The page may be gone; then nobody needs to know.
                let _ = told.blocking_send(Told::Refused { why });
                break;
            }
            if let Some(state) = unsent.take()
                && let Err(mpsc::error::TrySendError::Full(state)) = told.try_send(state)
            {
                unsent = Some(state);
            }
        }
        let mut taken = self.taken();
        taken.last = Instant::now();
        if let Err(error) = taken.write_head() {
            crate::log::fault(&format!(
                "the head of a recording could not be written: {error}"
            ));
        }
        drop(taken);
        self.leave();
    }

    /// No page listens any more.
    pub(super) fn leave(&self) {
        self.heard.store(false, Ordering::Relaxed);
    }

    fn obey(
        &self,
        order: Order,
        told: &mpsc::Sender<Told>,
        unsent: &mut Option<Told>,
    ) -> Result<(), String> {
        let mut taken = self.taken();
        taken.last = Instant::now();
        let state = match order {
            Order::Block(first, frames) => {
                let ahead = first as f64 / taken.listener.rate().to_hz()
                    - self.begun.elapsed().as_secs_f64();
                if ahead > AHEAD_S {
                    return Err("samples come faster than they can have been recorded: begin listening anew".to_owned());
                }
                if self.begun.elapsed() > LONGEST {
                    return Err(
                        "two hours are the longest session: keep this one and begin another"
                            .to_owned(),
                    );
                }
                let heard = taken.take(first, &frames)?;
                let fresh = heard.iter().find_map(|it| match it {
                    Heard::Shot { start_s } => Some(*start_s),
                    _ => None,
                });
                for it in &heard {
                    if let Heard::Level(level) = it {
                        // A page that is behind can do without this one.
                        let _ = told.try_send(taken.level(level));
                    }
                }
                let changed = heard.iter().any(|it| !matches!(it, Heard::Level(_)));
                changed.then(|| taken.state(&self.token, fresh))
            }
            Order::Asked(Asked::Strike { start_s, struck }) => {
                let found =
                    start_s.is_finite() && taken.listener.strike(Seconds::s(start_s), struck);
                found.then(|| taken.state(&self.token, None))
            }
            Order::Asked(Asked::Firing { mark }) => {
                let mark = mark.and_then(|mark| mark.parse::<Marked>().ok());
                taken.listener.fire_at(mark);
                None
            }
            Order::Asked(Asked::Lost { from, to }) => {
                let noted = taken.listener.miss(from, to);
                noted.then(|| taken.state(&self.token, None))
            }
            Order::Asked(Asked::Finish) => {
                taken.write_head().map_err(|error| error.to_string())?;
                drop(taken);
                if let Some(state) = unsent.take() {
                    let _ = told.blocking_send(state);
                }
                let _ = told.blocking_send(Told::Finished);
                return Ok(());
            }
            Order::Asked(Asked::Begin { .. }) => {
                return Err("the session has begun already".to_owned());
            }
        };
        if state.is_some() {
            // A shot's first telling carries its tone and must not be overtaken.
            if let Some(before @ Told::State { fresh: Some(_), .. }) = unsent.take() {
                let _ = told.blocking_send(before);
            }
            *unsent = state;
        }
        Ok(())
    }
}

impl Taken {
    fn take(&mut self, first: u64, frames: &[f32]) -> Result<Vec<Heard>, String> {
        let before = self.listener.samples();
        let heard = self
            .listener
            .hear(first, frames)
            .map_err(|error| error.to_string())?;
        let lost = first.saturating_sub(before) as usize * self.listener.channels();
        let mut bytes = Vec::new();
        wave_samples(&vec![f32::NAN; lost], &mut bytes);
        wave_samples(frames, &mut bytes);
        self.draft
            .append(&bytes)
            .map_err(|error| error.to_string())?;
        Ok(heard)
    }

    fn write_head(&mut self) -> Result<(), BenchError> {
        let frames = self.listener.samples();
        if self.headed != frames {
            let head = head(&self.listener, frames);
            self.draft.write_over_start(&head)?;
            self.headed = frames;
        }
        Ok(())
    }

    fn level(&self, level: &Level) -> Told {
        let (words, wrong) = sheet::level(level, self.listener.lost());
        Told::Level { words, wrong }
    }

    /// What the page is to show, with a shot heard for the first time.
    pub(super) fn state(&self, token: &str, fresh: Option<Seconds>) -> Told {
        let report = self.report();
        let options = self.listener.options();
        Told::State {
            fresh: fresh.and_then(|start| sheet::fresh(&report, options, start)),
            last: report
                .shots
                .last()
                .map(|shot| (shot.start_s.to_s(), shot.struck)),
            html: sheet::html(&report, options, token),
        }
    }

    pub(crate) fn name(&self) -> &str {
        &self.name
    }

    /// Samples of each channel by now.
    pub(crate) fn samples(&self) -> usize {
        usize::try_from(self.listener.samples()).unwrap_or(usize::MAX)
    }

    pub(crate) fn options(&self) -> &Options {
        self.listener.options()
    }

    /// The session as heard.
    pub(crate) fn report(&self) -> Report {
        self.listener.report(&self.name)
    }

    /// The recording by now, to be read from its start.
    pub(crate) fn read(&self) -> Result<File, BenchError> {
        self.draft.read()
    }

    pub(crate) fn draft(&self) -> &RecordingDraft {
        &self.draft
    }

    /// `options` with what the mechanic said of the session's shots and where samples went missing.
    pub(crate) fn heard_so(&self, options: Options) -> Options {
        Options {
            said: self.listener.said(),
            lost: self.listener.missing(),
            ..options
        }
    }

    /// The whole recording by now, with a head that gives its length.
    pub(crate) fn open(&mut self) -> Result<File, BenchError> {
        self.write_head()?;
        self.read()
    }

    /// Measures the whole recording as any other.
    ///
    /// # Errors
    /// A message that says what, why and what to do.
    pub(crate) fn measure(&mut self, options: &Options) -> Result<Report, String> {
        let file = self.open().map_err(|error| error.to_string())?;
        shutter::measure(&self.name, file, options)
    }
}

fn head(listener: &Listener, frames: u64) -> Vec<u8> {
    let rate = listener.rate().to_hz().round() as u32;
    let channels = u16::try_from(listener.channels()).unwrap_or(1);
    wave_head(rate, channels, frames)
}

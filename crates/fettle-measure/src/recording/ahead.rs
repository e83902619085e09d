//! An intake on a thread of its own, which looks at samples while the next ones are decoded.

use std::panic::resume_unwind;
use std::sync::mpsc::{Receiver, SyncSender, channel, sync_channel};
use std::thread::{Builder, JoinHandle};

use super::RecordingError;
use super::intake::Intake;
use super::samples::Samples;

/// Samples of each channel handed over at a time.
const BATCH: usize = 1 << 14;
/// Batches that wait at most.
const WAITING: usize = 2;

/// The next samples of each channel, equally many.
type Batch = Vec<Vec<f32>>;

/// Takes in a recording as [`Intake`] does.
pub(super) struct Ahead {
    /// Samples of each channel so far, and at most.
    length: usize,
    most: usize,
    batch: Batch,
    batches: SyncSender<Batch>,
    /// Batches looked at, to be filled again.
    done: Receiver<Batch>,
    thread: JoinHandle<Samples>,
}

impl Ahead {
    /// Starts the thread; `name` is the recording's.
    pub(super) fn start(name: &str, mut intake: Intake) -> Result<Self, RecordingError> {
        let (length, most) = (intake.length(), intake.most_samples());
        let batch = vec![Vec::new(); intake.channels()];
        let (batches, waiting) = sync_channel::<Batch>(WAITING);
        let (give_back, done) = channel();
        let look = move || {
            for mut batch in waiting {
                intake.push(&batch);
                batch.iter_mut().for_each(Vec::clear);
                // Once all are handed over nobody asks for them.
                let _ = give_back.send(batch);
            }
            intake.finish()
        };
        let thread = Builder::new().spawn(look).map_err(|error| {
            let reason = format!("it cannot be read ({})", super::error::in_words(&error));
            let remedy = "close other programs and try again";
            RecordingError::new(name, "start", reason, remedy)
        })?;
        Ok(Self {
            length,
            most,
            batch,
            batches,
            done,
            thread,
        })
    }

    /// Samples of each channel so far.
    pub(super) const fn length(&self) -> usize {
        self.length
    }

    /// Whether so many samples of each channel are not too many in all.
    pub(super) const fn has_room_for(&self, samples: usize) -> bool {
        samples <= self.most
    }

    /// Takes the next samples of each channel, equally many.
    pub(super) fn push(&mut self, part: &[Vec<f32>]) {
        let count = part.iter().map(Vec::len).min().unwrap_or(0);
        for (batch, samples) in self.batch.iter_mut().zip(part) {
            batch.extend_from_slice(&samples[..count]);
        }
        self.length += count;
        if self.batch.first().is_some_and(|it| it.len() >= BATCH) {
            let empty = self.done.try_recv();
            let empty = empty.unwrap_or_else(|_| vec![Vec::new(); self.batch.len()]);
            let full = std::mem::replace(&mut self.batch, empty);
            // A thread that broke off says so in the end.
            let _ = self.batches.send(full);
        }
    }

    /// What is held in the end.
    pub(super) fn finish(self) -> Samples {
        let _ = self.batches.send(self.batch);
        drop(self.batches);
        self.thread
            .join()
            .unwrap_or_else(|panic| resume_unwind(panic))
    }
}

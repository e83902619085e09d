//! Listening to a session while it is being recorded: each shot measured as soon as it has closed.
//!
//! [`Listener::hear`] takes blocks of samples. A cheap watch notices jumps of the light; once they have
//! been over for 70 ms, the stretch since the last rest goes through the same
//! [`analyse`](crate::shutter::analyse) as a file does, with a stretch that shows the fully open level where it
//! has none itself. When the dark after a shot has lasted a second, which is all that the analysis
//! looks at, the shot is measured once more. Marks, means and findings are those of the whole session.
//!
//! `watch` notices jumps, `ring` holds what came last; `stretches` chooses what is analysed together,
//! `releases` takes over what that shows, and `summary` makes a report of it.

mod releases;
mod ring;
mod stretches;
mod summary;
mod watch;

use std::collections::VecDeque;
use std::ops::Range;

use self::releases::Release;
use self::ring::Ring;
use self::stretches::{CONTEXT_S, Stretch};
use self::watch::Watch;
use super::{Finding, LostStretch, Options, Sense, ShutterError};
use crate::{Hertz, Marked, Seconds};

/// Samples a second that are listened to.
const RATES_HZ: std::ops::RangeInclusive<f64> = 8_000.0..=400_000.0;
const MOST_CHANNELS: usize = 8;
/// A shot is over when no jump came for this long: bounces fall within 30 ms.
const QUIET_S: f64 = 0.07;
/// Clicks of one release lie farther apart.
const QUIET_SOUND_S: f64 = 0.4;
/// Dark after a shot that the analysis looks at.
const AFTER_S: f64 = 1.05;
/// Dark before a shot that it looks at.
const BEFORE_S: f64 = 0.45;
/// Kept clear of a shot that is not looked at.
const CLEAR_S: f64 = 0.02;
/// An opening longer than the slowest mark by this factor, and a second, is no shot.
const LONGEST: f64 = 2.0;
/// The slowest mark where the dial is not known.
const SLOWEST_S: f64 = 2.0;
/// Jumps without rest for this long are told.
const RESTLESS_S: f64 = 3.0;
/// Levels are told this often.
const LEVEL_S: f64 = 0.1;
/// A sample from here on is at the end of the range.
const CLIPS_FROM: f32 = 0.98;
/// More samples lost at once than this and the session is not one any more.
const MOST_LOST_S: f64 = 30.0;

/// More stretches with samples missing than this are not told apart.
const MOST_MISSING: usize = 1000;

/// How loud the channels are.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// Each channel's greatest sample since the last level, against full scale.
    pub peak: Vec<f64>,
    /// Each channel's usual step from half a millisecond to the next: its noise with hum.
    pub noise: Vec<f64>,
    /// Whether a sample reached the end of the range.
    pub clipped: bool,
    /// Whether jumps have come without rest, so that no shot can be told.
    pub restless: bool,
    /// Whether the shutter stands open, or the light was changed.
    pub open: bool,
}

/// What was heard.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// How loud it is, ten times a second.
    Level(Level),
    /// Samples did not arrive.
    Lost {
        /// How many of each channel.
        samples: u64,
    },
    /// A shot was measured for the first time.
    Shot {
        /// When it starts, which names it.
        start_s: Seconds,
    },
    /// Shots measured before were measured anew.
    Settled,
}

/// Why a block was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HearError {
    /// The sample counter went back, or far ahead.
    #[error("the sample counter jumped from {from} to {to}: begin listening anew")]
    Counter {
        /// The sample expected.
        from: u64,
        /// The sample given.
        to: u64,
    },
    /// A block that is no whole number of frames.
    #[error("a block does not hold whole frames of {0} channels: begin listening anew")]
    Frames(usize),
}

/// A session being listened to.
#[derive(Debug)]
pub struct Listener {
    rate: Hertz,
    options: Options,
    ring: Ring,
    watches: Vec<Watch>,
    heard: u64,
    lost: u64,
    /// Samples between which some are missing, as was said.
    missing: Vec<Range<usize>>,
    releases: Vec<Release>,
    findings: Vec<Finding>,
    /// The first jump since the last rest, the last one, and where looked at last.
    first_jump: Option<usize>,
    last_jump: usize,
    looked: usize,
    /// Nothing before this sample is looked at.
    floor: usize,
    /// The usual flank of a shot.
    typical: f64,
    donors: VecDeque<Stretch>,
    waiting: VecDeque<Stretch>,
    level_at: usize,
    at_rest_at: usize,
    firing: Option<Marked>,
    /// The channels in which more light gives less voltage, and how often lately it seemed otherwise.
    inverted: Vec<u16>,
    other_way: u8,
}

impl Listener {
    /// Begins to listen to channels at a rate, read as the options say.
    ///
    /// # Errors
    /// When the rate lies beyond 8 to 400 kHz, there are no channels or more than eight, or an option
    /// has no meaning.
    pub fn new(rate: Hertz, channels: usize, options: Options) -> Result<Self, ShutterError> {
        let refuse = |option, reason: String| Err(ShutterError::Option { option, reason });
        if !RATES_HZ.contains(&rate.to_hz()) {
            return refuse(
                "rate",
                format!(
                    "{} samples a second are not listened to: give 8000 to 400000",
                    rate.to_hz()
                ),
            );
        }
        if channels == 0 || channels > MOST_CHANNELS {
            return refuse(
                "channels",
                format!("{channels} channels are not listened to: give one to eight"),
            );
        }
        options.check()?;
        let holds = 2.0 * longest(&options) + CONTEXT_S + AFTER_S + BEFORE_S;
        let rectified = options.sense == Sense::Sound;
        Ok(Self {
            rate,
            ring: Ring::new(channels, (holds * rate.to_hz()) as usize),
            watches: (0..channels)
                .map(|_| Watch::new(rate.to_hz(), rectified))
                .collect(),
            options,
            heard: 0,
            lost: 0,
            missing: Vec::new(),
            releases: Vec::new(),
            findings: Vec::new(),
            first_jump: None,
            last_jump: 0,
            looked: 0,
            floor: 0,
            typical: 0.0,
            donors: VecDeque::new(),
            waiting: VecDeque::new(),
            level_at: 0,
            at_rest_at: 0,
            firing: None,
            inverted: Vec::new(),
            other_way: 0,
        })
    }

    /// Samples a second.
    #[must_use]
    pub const fn rate(&self) -> Hertz {
        self.rate
    }

    /// How many channels there are.
    #[must_use]
    pub fn channels(&self) -> usize {
        self.watches.len()
    }

    /// Samples of each channel that came or were lost.
    #[must_use]
    pub const fn samples(&self) -> u64 {
        self.heard
    }

    /// Samples of each channel that were lost.
    #[must_use]
    pub const fn lost(&self) -> u64 {
        self.lost
    }

    /// The options it listens with.
    #[must_use]
    pub const fn options(&self) -> &Options {
        &self.options
    }

    /// Takes note that samples are missing somewhere between two sample numbers, which the numbers
    /// do not show: shots that the stretch touches stay untold. `false` when it lies beyond what was heard.
    pub fn miss(&mut self, from: u64, to: u64) -> bool {
        let ends = usize::try_from(from).ok().zip(usize::try_from(to).ok());
        let Some((from, to)) = ends.filter(|_| from < to && from <= self.heard) else {
            return false;
        };
        if let Some(last) = self
            .missing
            .last_mut()
            .filter(|it| it.end >= from && it.start <= from)
        {
            last.end = last.end.max(to);
        } else if self.missing.len() < MOST_MISSING {
            self.missing.push(from..to);
        }
        self.untell(from..to);
        true
    }

    /// Where samples are missing, as was said, for the recording's own analysis.
    #[must_use]
    pub fn missing(&self) -> Vec<LostStretch> {
        self.missing_in(0..usize::MAX, None)
    }

    /// Which mark the shots to come are fired at; `None` leaves them to be recognised.
    pub fn fire_at(&mut self, mark: Option<Marked>) {
        self.firing = mark;
    }

    /// Takes a block: `first` is the number of its first frame from the beginning, `frames` one sample
    /// of each channel after the other. Frames left out count as lost and spoil the shots they touch.
    ///
    /// # Errors
    /// When the counter goes back or too far ahead, or the block is no whole number of frames.
    pub fn hear(&mut self, first: u64, frames: &[f32]) -> Result<Vec<Heard>, HearError> {
        let width = self.channels();
        if !frames.len().is_multiple_of(width) {
            return Err(HearError::Frames(width));
        }
        let gap = first.checked_sub(self.heard);
        let Some(gap) = gap.filter(|gap| *gap as f64 <= MOST_LOST_S * self.rate.to_hz()) else {
            return Err(HearError::Counter {
                from: self.heard,
                to: first,
            });
        };
        let mut heard = Vec::new();
        if gap > 0 {
            self.lost += gap;
            self.take(&vec![f32::NAN; gap as usize * width], gap);
            heard.push(Heard::Lost { samples: gap });
        }
        self.take(frames, (frames.len() / width) as u64);
        self.look(&mut heard);
        let now = self.ring.end();
        if now - self.level_at >= self.samples_in(LEVEL_S) {
            self.level_at = now;
            heard.push(Heard::Level(self.level()));
        }
        Ok(heard)
    }

    fn take(&mut self, frames: &[f32], count: u64) {
        self.ring.push(frames);
        self.heard += count;
        let end = self.ring.end();
        let width = self.watches.len();
        let mut latest: Option<usize> = None;
        for (index, watch) in self.watches.iter_mut().enumerate() {
            let samples = frames.iter().skip(index).step_by(width).copied();
            if let Some(blocks) = watch.hear(samples, self.typical) {
                let at = end.saturating_sub(blocks * watch.block());
                latest = Some(latest.map_or(at, |other| other.max(at)));
            }
        }
        if let Some(at) = latest {
            // The first jump of the block may lie anywhere in it.
            let begun = end
                .saturating_sub(count as usize)
                .saturating_sub(self.samples_in(2e-3));
            self.first_jump.get_or_insert(begun);
            self.last_jump = at;
        } else if self.ring.end() - self.last_jump >= self.samples_in(self.quiet()) {
            self.at_rest_at = end;
        }
    }

    fn quiet(&self) -> f64 {
        if self.options.sense == Sense::Sound {
            QUIET_SOUND_S
        } else {
            QUIET_S
        }
    }

    fn samples_in(&self, seconds: f64) -> usize {
        (seconds * self.rate.to_hz()) as usize
    }

    /// Measures what is due: a shot that has closed, or one whose dark has lasted a second.
    fn look(&mut self, heard: &mut Vec<Heard>) {
        let now = self.ring.end();
        let quiet = now - self.last_jump >= self.samples_in(self.quiet());
        if let Some(jump) = self.first_jump
            && quiet
            && self.looked <= self.last_jump
        {
            self.looked = now;
            self.measure(jump, heard);
            self.end_of_jump(now, jump);
            return;
        }
        if quiet && self.first_jump.is_none() {
            self.settle(heard);
        }
    }

    /// Measures the last shot once more when a second of dark has followed it; others have had theirs.
    fn settle(&mut self, heard: &mut Vec<Heard>) {
        let now = self.ring.end();
        let after = self.samples_in(AFTER_S);
        let last = self.releases.len().saturating_sub(1);
        let is_due =
            |(place, it): (usize, &Release)| !it.settled && (place < last || now >= it.to + after);
        let Some(place) = self.releases.iter().enumerate().position(is_due) else {
            return;
        };
        let from = self.releases.get(place).map(|it| it.from);
        if let Some(from) = from.filter(|_| place == last) {
            self.measure(from, heard);
        }
        if let Some(release) = self.releases.get_mut(place) {
            release.settled = true;
        }
        self.keep_stretch(place);
    }

    /// After a look: the jumps belong to shots that were found, or the shutter still stands open.
    fn end_of_jump(&mut self, now: usize, jump: usize) {
        let last = self.last_jump;
        let slack = self.samples_in(CLEAR_S);
        if self
            .releases
            .last()
            .is_some_and(|release| release.to + slack >= last)
        {
            self.first_jump = None;
        } else if now - jump > self.samples_in(longest(&self.options)) {
            self.first_jump = None;
            self.floor = last + slack;
        }
    }

    /// Analyses the stretch from before `event` to now and takes over what it shows.
    fn measure(&mut self, event: usize, heard: &mut Vec<Heard>) {
        let start = self.context_start(event);
        let end = self.ring.end();
        let stretch = Stretch {
            from: start,
            to: end,
            samples: self.ring.copy(start, end),
        };
        let mut donors: Vec<&Stretch> = self
            .donors
            .iter()
            .filter(|donor| donor.to <= start)
            .collect();
        donors.push(&stretch);
        let Some(report) = self.analysed(&donors) else {
            return;
        };
        let place = donors.len() - 1;
        let before = self.releases.len();
        let taken = self.take_over(&report, place, start, heard);
        if taken > 0 && self.releases.len() == before {
            heard.push(Heard::Settled);
        }
    }

    fn level(&mut self) -> Level {
        let peaks: Vec<f32> = self.watches.iter_mut().map(Watch::take_peak).collect();
        let now = self.ring.end();
        Level {
            clipped: peaks.iter().any(|peak| *peak >= CLIPS_FROM),
            peak: peaks.into_iter().map(f64::from).collect(),
            noise: self.watches.iter().map(Watch::spread).collect(),
            restless: now - self.at_rest_at > self.samples_in(RESTLESS_S),
            open: self.first_jump.is_some(),
        }
    }
}

/// The longest opening that is taken for a shot, in seconds.
fn longest(options: &Options) -> f64 {
    let slowest = options
        .speeds
        .iter()
        .map(|mark| mark.nominal(options.series).to_s());
    let slowest = slowest.fold(0.0, f64::max);
    LONGEST * if slowest > 0.0 { slowest } else { SLOWEST_S } + 1.0
}

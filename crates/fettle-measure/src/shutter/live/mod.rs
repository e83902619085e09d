//! Listening to a session while it is being recorded: each shot measured as soon as it has closed.
//!
//! [`Listener::hear`] takes blocks of samples. A cheap watch notices jumps of the light; once they have
//! been over for 70 ms, the stretch since the last rest goes through the same
//! [`analyse`] as a file does, with a stretch that shows the fully open level where it
//! has none itself. When the dark after a shot has lasted a second, which is all that the analysis
//! looks at, the shot is measured once more. Marks, means and findings are those of the whole session.

mod ring;
mod watch;

use std::collections::VecDeque;

use self::ring::Ring;
use self::watch::Watch;
use super::{
    Curtain, Extent, Finding, FindingKind, Flag, Flash, Kind, NamedExtent, Options, Report, Said,
    Sense, Shot, ShutterError, analyse, patterns, speeds,
};
use crate::{Hertz, Marked, Recording, Seconds};

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
/// So much of the session before a shot is looked at with it, and so many shots.
const CONTEXT_S: f64 = 6.0;
const CONTEXT_SHOTS: usize = 3;
/// Kept clear of a shot that is not looked at.
const CLEAR_S: f64 = 0.02;
/// An opening longer than the slowest mark by this factor, and a second, is no shot.
const LONGEST: f64 = 2.0;
/// The slowest mark where the dial is not known.
const SLOWEST_S: f64 = 2.0;
/// A shot whose time cannot be told takes about so long.
const UNTOLD_S: f64 = 0.02;
/// Two shots this near are the same.
const SAME_S: f64 = 5e-3;
/// A release is named by its start, within this.
const NAMED_WITHIN_S: f64 = 0.03;
/// Stretches kept that show the fully open level, and that wait for one.
const DONORS: usize = 2;
const WAITING: usize = 12;
/// Jumps without rest for this long are told.
const RESTLESS_S: f64 = 3.0;
/// Levels are told this often.
const LEVEL_S: f64 = 0.1;
/// A sample from here on is at the end of the range.
const CLIPS_FROM: f32 = 0.98;
/// So many shots show which channel sees the light.
const SHOW_CHANNEL: usize = 2;
/// Looks in a row that show the light the other way up before the session is taken to be so.
const OTHER_WAY: u8 = 4;
/// More samples lost at once than this and the session is not one any more.
const MOST_LOST_S: f64 = 30.0;

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

/// A release measured so far.
#[derive(Clone, Debug)]
struct Release {
    shots: Vec<Shot>,
    curtain: Option<Curtain>,
    flash: Option<Flash>,
    /// From its first sample to past its last.
    from: usize,
    to: usize,
    /// Whether a second of dark was seen after it.
    settled: bool,
    struck: bool,
    told: Option<Marked>,
}

/// A stretch kept beyond the ring.
#[derive(Clone, Debug)]
struct Stretch {
    from: usize,
    to: usize,
    samples: Vec<Vec<f32>>,
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

    /// Where to begin: before the event and the last shots before it, so that each has its whole
    /// surroundings.
    fn context_start(&self, event: usize) -> usize {
        let (before, clear) = (self.samples_in(BEFORE_S), self.samples_in(CLEAR_S));
        let lowest = self.floor.max(self.ring.first());
        let mut start = event.saturating_sub(before);
        let earlier: Vec<&Release> = self
            .releases
            .iter()
            .rev()
            .filter(|it| it.from + clear < event)
            .collect();
        for (taken, release) in earlier.iter().enumerate() {
            let wanted = release.from.saturating_sub(before);
            let near = release.to + clear > start;
            let welcome = taken < CONTEXT_SHOTS && wanted + self.samples_in(CONTEXT_S) >= event;
            if wanted < lowest || !(near || welcome) {
                start = start.max(release.to + clear);
                break;
            }
            start = earlier
                .get(taken + 1)
                .map_or(wanted, |next| wanted.max(next.to + clear));
        }
        start.max(lowest)
    }

    /// A report over stretches, named by their place.
    fn analysed(&self, stretches: &[&Stretch]) -> Option<Report> {
        let session: Result<Vec<Recording>, _> = stretches
            .iter()
            .enumerate()
            .map(|(place, it)| {
                Recording::from_channels(&place.to_string(), self.rate, it.samples.clone())
            })
            .collect();
        let options = Options {
            channels: self.listened(),
            said: Vec::new(),
            ..self.options.clone()
        };
        analyse(&session.ok()?, &options).ok()
    }

    /// The channels to look at: once the last shots have shown which one sees the light of a leaf
    /// shutter, that one, which is half the work for two.
    fn listened(&self) -> Vec<u16> {
        let free = self.options.channels.is_empty() && self.options.flash_channel.is_none();
        let plain = self.options.kind == Kind::Leaf && self.options.sense == Sense::Light;
        let seen: Vec<u16> = (self.releases.iter().rev().take(SHOW_CHANNEL))
            .filter_map(|it| it.shots.first().map(|shot| shot.channel))
            .collect();
        match seen.as_slice() {
            [first, rest @ ..] if free && plain && rest.len() + 1 == SHOW_CHANNEL => {
                if rest.iter().all(|it| it == first) {
                    vec![*first]
                } else {
                    Vec::new()
                }
            }
            _ => self.options.channels.clone(),
        }
    }

    /// Takes over the whole releases of the stretch at `place`; gives how many.
    fn take_over(
        &mut self,
        report: &Report,
        place: usize,
        start: usize,
        heard: &mut Vec<Heard>,
    ) -> usize {
        let name = place.to_string();
        let offset = start as f64 / self.rate.to_hz();
        if !self.is_right_way_up(report, &name) {
            return 0;
        }
        let mut taken = 0;
        for shots in report.shots.chunk_by(|a, b| a.release == b.release) {
            let Some(first) = shots.first().filter(|shot| shot.recording == name) else {
                continue;
            };
            if shots.iter().any(|shot| shot.flags.contains(&Flag::CutOff)) {
                continue;
            }
            let number = first.release;
            let release = self.release(shots, offset, report, number);
            taken += 1;
            self.put(release, heard);
        }
        for finding in &report.findings {
            self.note(finding, &name);
        }
        taken
    }

    /// Whether the stretch opens the same way as the session: one that ends within a shot can seem to
    /// open the other way. When that goes on, the session was begun with the shutter open.
    fn is_right_way_up(&mut self, report: &Report, place: &str) -> bool {
        let of_stretch = |it: &&Finding| {
            it.what == FindingKind::Inverted && it.recording.as_deref() == Some(place)
        };
        let inverted: Vec<u16> = report
            .findings
            .iter()
            .filter(of_stretch)
            .filter_map(|it| it.channel)
            .collect();
        if self.releases.is_empty() {
            self.inverted = inverted;
        } else if self.inverted == inverted {
            self.other_way = 0;
        } else if self.other_way + 1 < OTHER_WAY {
            self.other_way += 1;
            return false;
        } else {
            self.other_way = 0;
            self.inverted = inverted;
        }
        true
    }

    fn release(&self, shots: &[Shot], offset: f64, report: &Report, number: u32) -> Release {
        let rate = self.rate.to_hz();
        let mut shots = shots.to_vec();
        let (mut from, mut to) = (f64::MAX, 0.0_f64);
        for shot in &mut shots {
            shot.start_s = Seconds::s(shot.start_s.to_s() + offset);
            let start = shot.start_s.to_s();
            let lasts = shot
                .total_s
                .or(shot.effective_s)
                .map_or(UNTOLD_S, Seconds::to_s);
            from = from.min(start);
            to = to.max(start + lasts + shot.bounce_s.map_or(0.0, Seconds::to_s));
        }
        let to = (to * rate) as usize + 1;
        Release {
            settled: false,
            curtain: report.curtains.iter().find(|it| it.n == number).cloned(),
            flash: report.flash.iter().find(|it| it.n == number).copied(),
            from: (from.max(0.0) * rate) as usize,
            to,
            struck: false,
            told: self.firing,
            shots,
        }
    }

    /// Puts a release into the session: in place of itself measured before, or as a new one.
    fn put(&mut self, mut release: Release, heard: &mut Vec<Heard>) {
        let same = self.samples_in(SAME_S);
        let shared = |old: &Release| {
            (old.to + same)
                .min(release.to)
                .saturating_sub(old.from.max(release.from))
        };
        let old = self
            .releases
            .iter()
            .enumerate()
            .max_by_key(|(_, old)| shared(old));
        let place = old
            .filter(|(_, old)| shared(old) > 0)
            .map(|(place, _)| place);
        if let Some(old) = place.and_then(|place| self.releases.get_mut(place)) {
            release.struck = old.struck;
            release.told = old.told;
            release.settled |= old.settled;
            *old = release;
            return;
        }
        if let Some(start_s) = release.shots.first().map(|shot| shot.start_s) {
            heard.push(Heard::Shot { start_s });
        }
        self.learn_flank();
        let place = self.releases.partition_point(|old| old.from < release.from);
        self.releases.insert(place, release);
    }

    /// The usual flank follows the weakest seen, so that no shot is passed over.
    fn learn_flank(&mut self) {
        let watches = self.watches.iter_mut();
        let steepest = watches.map(Watch::take_steepest).fold(0.0, f64::max);
        if self.typical <= 0.0 || steepest < self.typical {
            self.typical = steepest;
        }
    }

    /// Keeps a settled shot's stretch when it shows the fully open level, or waits for one; with the
    /// first that shows it, those that waited are measured again.
    fn keep_stretch(&mut self, place: usize) {
        let Some(last) = self.releases.get(place) else {
            return;
        };
        let clear = self.samples_in(CLEAR_S);
        let before = place.checked_sub(1).and_then(|it| self.releases.get(it));
        let before = before.map_or(0, |it| it.to + clear);
        let next = self.releases.get(place + 1);
        let next = next.map_or(usize::MAX, |it| it.from.saturating_sub(clear));
        let has = |flag: Flag| last.shots.iter().any(|shot| shot.flags.contains(&flag));
        let shows = ![
            Flag::E0Unknown,
            Flag::NeverFullyOpen,
            Flag::E0Borrowed,
            Flag::Clipped,
            Flag::CannotTell,
            Flag::Overlapping,
        ]
        .into_iter()
        .any(has);
        let from = last
            .from
            .saturating_sub(self.samples_in(BEFORE_S))
            .max(self.floor)
            .max(before);
        let to = (last.to + self.samples_in(AFTER_S)).min(next);
        let stretch = Stretch {
            from,
            to,
            samples: self.ring.copy(from, to),
        };
        if has(Flag::E0Unknown) {
            if self.waiting.len() == WAITING {
                self.waiting.pop_front();
            }
            self.waiting.push_back(stretch);
        } else if shows {
            if self.donors.len() == DONORS {
                self.donors.pop_front();
            }
            self.donors.push_back(stretch);
            let waiting: Vec<Stretch> = self.waiting.drain(..).collect();
            let mut session: Vec<&Stretch> = self.donors.iter().collect();
            let first = session.len();
            session.extend(&waiting);
            if session.len() == first {
                return;
            }
            if let Some(report) = self.analysed(&session) {
                for (place, stretch) in (first..).zip(&waiting) {
                    self.take_over(&report, place, stretch.from, &mut Vec::new());
                }
            }
        }
    }

    /// Keeps the latest finding of each kind.
    fn note(&mut self, finding: &Finding, place: &str) {
        let of_stretch = finding.recording.as_deref() == Some(place);
        if !of_stretch {
            return;
        }
        let finding = Finding {
            recording: None,
            ..finding.clone()
        };
        let kind = std::mem::discriminant(&finding.what);
        self.findings.retain(|old| {
            std::mem::discriminant(&old.what) != kind || old.channel != finding.channel
        });
        self.findings.push(finding);
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

    /// Strikes the release that starts there, or takes the stroke back. `false` when there is none.
    pub fn strike(&mut self, start: Seconds, struck: bool) -> bool {
        let found = self.find(start);
        if let Some(release) = found {
            release.struck = struck;
            return true;
        }
        false
    }

    /// Says which mark the release that starts there was fired at; `None` leaves it to be recognised.
    pub fn tell(&mut self, start: Seconds, mark: Option<Marked>) -> bool {
        let found = self.find(start);
        if let Some(release) = found {
            release.told = mark;
            return true;
        }
        false
    }

    fn find(&mut self, start: Seconds) -> Option<&mut Release> {
        let at = start.to_s() * self.rate.to_hz();
        let near = self.rate.to_hz() * NAMED_WITHIN_S;
        let apart = |it: &Release| (it.from as f64 - at).abs();
        let releases = self.releases.iter_mut().filter(|it| apart(it) <= near);
        releases.min_by(|a, b| apart(a).total_cmp(&apart(b)))
    }

    /// What was said of each release, for the recording's own analysis.
    #[must_use]
    pub fn said(&self) -> Vec<Said> {
        let said = |it: &Release| {
            let start_s = it.shots.first()?.start_s;
            (it.struck || it.told.is_some()).then_some(Said {
                start_s,
                struck: it.struck,
                marked: it.told,
            })
        };
        self.releases.iter().filter_map(said).collect()
    }

    /// The session so far: shots, means and findings as [`analyse`] gives them, without
    /// effective times at smaller stops; marks not fired yet are not told.
    #[must_use]
    pub fn report(&self, name: &str) -> Report {
        let mut report = Report {
            recording: self.extent(),
            recordings: vec![NamedExtent {
                name: name.to_owned(),
                extent: self.extent(),
            }],
            findings: self.findings.clone(),
            shots: Vec::new(),
            speeds: Vec::new(),
            apertures: Vec::new(),
            curtains: Vec::new(),
            flash: Vec::new(),
            clicks: Vec::new(),
        };
        let mut n = 0;
        for (number, release) in (1..).zip(&self.releases) {
            for shot in &release.shots {
                n += 1;
                let mut shot = shot.clone();
                shot.flags.retain(|flag| *flag != Flag::MarkUncertain);
                name.clone_into(&mut shot.recording);
                report.shots.push(Shot {
                    n,
                    release: number,
                    marked: release.told,
                    told: release.told.is_some(),
                    struck: release.struck,
                    guessed: false,
                    alternative: None,
                    error_stops: None,
                    ..shot
                });
            }
            report.curtains.extend(
                release
                    .curtain
                    .clone()
                    .map(|it| Curtain { n: number, ..it }),
            );
            report
                .flash
                .extend(release.flash.map(|it| Flash { n: number, ..it }));
        }
        speeds::mark(&mut report.shots, &self.options);
        report.speeds = speeds::of(&report.shots, &self.options);
        if self.lost > 0 {
            report
                .findings
                .retain(|it| !matches!(it.what, FindingKind::NotFinite { .. }));
            report
                .findings
                .push(Finding::of_session(FindingKind::NotFinite {
                    samples: self.lost,
                }));
        }
        let over_dial = patterns::over_dial(
            &report.shots,
            &report.speeds,
            &report.curtains,
            &self.options,
        );
        report.findings.extend(
            over_dial
                .into_iter()
                .filter(|it| !matches!(it.what, FindingKind::Missing { .. })),
        );
        report
    }

    fn extent(&self) -> Extent {
        Extent {
            sample_rate_hz: self.rate,
            channels: u16::try_from(self.channels()).unwrap_or(u16::MAX),
            seconds: Seconds::s(self.heard as f64 / self.rate.to_hz()),
        }
    }

    /// The options it listens with.
    #[must_use]
    pub const fn options(&self) -> &Options {
        &self.options
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

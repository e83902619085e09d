//! Which stretch of the session is looked at, together with which others.

use std::ops::Range;

use super::releases::Release;
use super::{AFTER_S, BEFORE_S, CLEAR_S, Listener};
use crate::Recording;
use crate::Seconds;
use crate::shutter::{Flag, Kind, LostStretch, Options, Report, Sense, analyse, focal, session};

/// So much of the session before a shot is looked at with it, and so many shots.
pub(super) const CONTEXT_S: f64 = 6.0;
const CONTEXT_SHOTS: usize = 3;
/// Stretches kept that show the fully open level, and that wait for one.
const DONORS: usize = 2;
const WAITING: usize = 12;
/// So many shots show which channel sees the light.
const SHOW_CHANNEL: usize = 2;

/// A stretch kept beyond the ring.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) samples: Vec<Vec<f32>>,
}

impl Listener {
    /// Where to begin: before the event and the last shots before it, so that each has its whole
    /// surroundings.
    pub(super) fn context_start(&self, event: usize) -> usize {
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
    pub(super) fn analysed(&self, stretches: &[&Stretch]) -> Option<Report> {
        let recordings: Result<Vec<Recording>, _> = stretches
            .iter()
            .enumerate()
            .map(|(place, it)| {
                Recording::from_channels(&place.to_string(), self.rate, it.samples.clone())
            })
            .collect();
        let lost = (0..).zip(stretches).flat_map(|(place, it)| {
            let name = place.to_string();
            self.missing_in(it.from..it.to, Some(&name))
        });
        let options = Options {
            channels: self.listened(),
            said: Vec::new(),
            lost: lost.collect(),
            ..self.options.clone()
        };
        let recordings = recordings.ok()?;
        match (options.sense, options.kind) {
            (Sense::Light, Kind::Leaf) => session::heard_so_far(&recordings, &options).ok(),
            (Sense::Light, Kind::FocalPlane) => focal::heard_so_far(&recordings, &options).ok(),
            (Sense::Sound, _) => analyse(&recordings, &options).ok(),
        }
    }

    /// The stretches with samples missing within a range, counted from its start.
    pub(super) fn missing_in(&self, range: Range<usize>, name: Option<&str>) -> Vec<LostStretch> {
        let seconds = |at: usize| {
            let within = at.clamp(range.start, range.end) - range.start;
            Seconds::s(within as f64 / self.rate.to_hz())
        };
        let touches = |it: &&Range<usize>| it.start < range.end && it.end > range.start;
        let stretch = |it: &Range<usize>| LostStretch {
            recording: name.map(str::to_owned),
            from_s: seconds(it.start),
            to_s: seconds(it.end),
        };
        self.missing.iter().filter(touches).map(stretch).collect()
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

    /// Keeps a settled shot's stretch when it shows the fully open level, or waits for one; with the
    /// first that shows it, those that waited are measured again.
    pub(super) fn keep_stretch(&mut self, place: usize) {
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
}

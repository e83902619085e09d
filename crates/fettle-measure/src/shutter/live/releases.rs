//! The releases of a session: put in as they are heard, measured anew, struck, said.

use std::ops::Range;

use super::watch::Watch;
use super::{Heard, Listener};
use crate::shutter::{
    Budget, Curtain, Finding, FindingKind, Flag, Flash, LostAs, Report, Said, Shot,
};
use crate::{Marked, Seconds};

/// A shot whose time cannot be told takes about so long.
const UNTOLD_S: f64 = 0.02;
/// Missing samples spoil the shots this near.
const MISSING_NEAR_S: f64 = 5e-3;
/// Places where samples were seen to be missing that are told.
const MOST_LOST: usize = 20;
/// Two shots this near are the same.
const SAME_S: f64 = 5e-3;
/// A release is named by its start, within this.
const NAMED_WITHIN_S: f64 = 0.03;
/// Looks in a row that show the light the other way up before the session is taken to be so.
const OTHER_WAY: u8 = 4;

/// A release measured so far.
#[derive(Clone, Debug)]
pub(super) struct Release {
    pub(super) shots: Vec<Shot>,
    pub(super) curtain: Option<Curtain>,
    pub(super) flash: Option<Flash>,
    /// From its first sample to past its last.
    pub(super) from: usize,
    pub(super) to: usize,
    /// Whether a second of dark was seen after it.
    pub(super) settled: bool,
    pub(super) struck: bool,
    pub(super) told: Option<Marked>,
}

impl Listener {
    /// Takes over the whole releases of the stretch at `place`; gives how many.
    pub(super) fn take_over(
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
            self.note(finding, &name, offset);
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

    /// Shots that the samples touch stay untold.
    pub(super) fn untell(&mut self, samples: Range<usize>) {
        let near = self.samples_in(MISSING_NEAR_S);
        let touches =
            |it: &&mut Release| it.from < samples.end + near && samples.start < it.to + near;
        for release in self.releases.iter_mut().filter(touches) {
            (release.curtain, release.flash) = (None, None);
            for shot in &mut release.shots {
                for flag in [Flag::LostSamples, Flag::CannotTell] {
                    if !shot.flags.contains(&flag) {
                        shot.flags.push(flag);
                    }
                }
                *shot = Shot {
                    effective_s: None,
                    total_s: None,
                    efficiency: None,
                    uncertainty_s: None,
                    total_uncertainty_s: None,
                    bounce_s: None,
                    budget: Budget::default(),
                    ..shot.clone()
                };
            }
        }
    }

    /// Keeps the latest finding of each kind, and each place where samples were seen to be missing.
    fn note(&mut self, finding: &Finding, place: &str, offset: f64) {
        let of_stretch = finding.recording.as_deref() == Some(place);
        if !of_stretch {
            return;
        }
        let mut finding = Finding {
            recording: None,
            ..finding.clone()
        };
        if let FindingKind::LostSamples { at_s, lost_as, .. } = &mut finding.what {
            *at_s = Seconds::s(at_s.to_s() + offset);
            let (at, lost_as) = (at_s.to_s(), *lost_as);
            self.note_lost(finding, at, lost_as);
            return;
        }
        let kind = std::mem::discriminant(&finding.what);
        self.findings.retain(|old| {
            std::mem::discriminant(&old.what) != kind || old.channel != finding.channel
        });
        self.findings.push(finding);
    }

    fn note_lost(&mut self, finding: Finding, at: f64, lost_as: LostAs) {
        let is_lost = |it: &&Finding| matches!(it.what, FindingKind::LostSamples { .. });
        let is_same = |it: &Finding| match it.what {
            FindingKind::LostSamples {
                at_s, lost_as: how, ..
            } => (at_s.to_s() - at).abs() < SAME_S && how == lost_as,
            _ => false,
        };
        // What was said is told from what was said.
        let told = lost_as == LostAs::Told || self.findings.iter().any(is_same);
        if !told && self.findings.iter().filter(is_lost).count() < MOST_LOST {
            self.findings.push(finding);
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
}

//! Shots from the readings of the clicks: times where one pair alone can be it, else proposals.

use super::Listened;
use super::band::quantile;
use super::click::{Click as Onset, FAINT_DB};
use super::sequence::{Form, Readings};
use super::voice::Voice;
use crate::shutter::overview::median;
use crate::shutter::size::Clock;
use crate::shutter::{Budget, Click, ClickOf, Flag, Kind, Proposal, Shot, session};
use crate::{Decibels, Seconds};

/// Coverage factor.
const K: f64 = 2.0;
/// Probability from which one pair alone is possible.
const SURE: f64 = 0.92;
/// So many other releases must bear a pair out: two knocks before two fast releases do so for one
/// another.
const BEARERS: usize = 2;
/// A release bears a pair out if this likely ...
const BEARS_OUT: f64 = 0.5;
/// ... and if its time differs by this part: a mirror's or a lever's clicks are always as far apart.
const OTHER_TIME: f64 = 0.12;
/// One camera's opening and closing are as loud, within this.
const ALIKE_DB: f64 = 12.0;
/// How much louder the one is than the other is the camera's own, within this and as far as other
/// releases scatter in it.
const LOUDER_WITHIN_DB: f64 = 3.0;
const LOUDER_SCATTERS: f64 = 3.0;
/// A click of its own this near that sounds like the opening or the closing may be the true one; shutters are cocked
/// as soon, now and then, and go untold then.
const LONE_NEAR_S: f64 = 1.6;
/// A pair is proposed from this probability.
const POSSIBLE: f64 = 0.02;
/// Shorter times, above about 1/30, are not told: the clicks run into one another.
const LEAST_TOLD_S: f64 = 0.030;
/// A click must stand above the floor by this to be heard; one that is faint must not be hidden.
const HEARD_DB: f64 = 9.0;
/// Between its clicks a release is quieter than them by this, or they overlap.
const VALLEY_DB: f64 = 6.0;
/// A rattle or a voice this near hides clicks, and a faint click this near may be a part.
const RATTLE_NEAR_S: f64 = 0.3;
/// An escapement's beat: one that ticks this much beyond two clicks does not run between them.
const BEAT_S: f64 = 0.06;
/// A recording that begins or ends this near may have cut a click off.
const EDGE_S: f64 = 0.1;
/// Sound travels 0.3 m in this time; what clips within it is the click.
const CLIP_NEAR_S: f64 = 4e-3;
/// Proposals listed of one release.
const MOST_PROPOSALS: usize = 10;

/// Standard uncertainty of the time between two clicks as an exposure.
///
/// Blades or curtains sound when they start, are stopped, or strike one another; half the light
/// passes anywhere within their travel. Blades of leaf shutters travel for 1.5 to 5 ms. A click
/// evenly likely within ±T/2 of the moment of half the light has the standard deviation `T/√12`,
/// the difference of two `T/√6`: 0.6 to 2 ms, 1.4 ms for the rms of such travels, taken as 1.5 ms. Curtains sound where they
/// are stopped, at the end of the gate; the exposure at the centre differs from that there
/// by a part of a travel of 10 to 25 ms that the two curtains do not share, and is taken as 2 ms.
const fn click_u(kind: Kind) -> f64 {
    match kind {
        Kind::Leaf => 1.5e-3,
        Kind::FocalPlane => 2.0e-3,
    }
}

pub(super) struct Told {
    /// Numbered from 1 within the recording.
    pub(super) shots: Vec<Shot>,
    pub(super) clicks: Vec<Click>,
}

pub(super) fn tell(it: &Listened<'_>, readings: &Readings, kind: Kind, clock: Clock) -> Told {
    let onsets = it.heard.clicks.iter();
    let teller = Teller {
        it,
        readings,
        voices: onsets.map(|click| Voice::of(&it.bands, click.at)).collect(),
        kind,
        clock,
    };
    let releases = teller.releases();
    let shots = releases.iter().map(|form| teller.shot(*form)).collect();
    Told {
        shots,
        clicks: teller.clicks(&releases),
    }
}

struct Teller<'a> {
    it: &'a Listened<'a>,
    readings: &'a Readings,
    /// Of each click.
    voices: Vec<Voice>,
    kind: Kind,
    clock: Clock,
}

impl Teller<'_> {
    fn onsets(&self) -> &[Onset] {
        &self.it.heard.clicks
    }

    /// The releases taken to be there: the likeliest readings that do not share clicks, those that
    /// account for more clicks first.
    fn releases(&self) -> Vec<Form> {
        let clicks = |form: &Form| {
            let mut own = vec![form.first, form.open, form.close, form.last];
            own.dedup();
            own.len() as f64
        };
        let mut order: Vec<(Form, f64)> = self
            .readings
            .forms
            .iter()
            .filter(|(form, chance)| *chance > if form.open == form.close { 0.3 } else { 0.1 })
            .map(|(form, chance)| (*form, chance * clicks(form)))
            .collect();
        order.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut used = vec![false; self.onsets().len()];
        let mut releases = Vec::new();
        for (form, _) in order {
            let range = form.first..=form.last;
            if used[range.clone()].iter().all(|used| !used) {
                used[range].fill(true);
                releases.push(form);
            }
        }
        releases.sort();
        releases
    }

    /// The probability that two clicks are opening and closing and nothing else belongs to them.
    fn plain(&self, open: usize, close: usize) -> f64 {
        let forms = self.readings.forms.iter();
        forms
            .filter(|(form, _)| form.is_plain() && (form.open, form.close) == (open, close))
            .map(|form| form.1)
            .sum()
    }

    fn budget(&self, open: usize, close: usize) -> Budget {
        let (open, close) = (&self.onsets()[open], &self.onsets()[close]);
        Budget {
            noise_s: Seconds::s(open.onset_u.hypot(close.onset_u)),
            travel_s: Seconds::s(click_u(self.kind)),
            coding_s: self.it.recording.coding() * 2.0_f64.sqrt(),
            clock_s: self.clock.deviation_of(Seconds::s(close.at - open.at)),
            ..Budget::default()
        }
    }

    fn proposal(&self, open: usize, close: usize) -> Proposal {
        let (from, to) = (self.onsets()[open].at, self.onsets()[close].at);
        Proposal {
            from_s: Seconds::s(from),
            to_s: Seconds::s(to),
            between_s: self.clock.corrected(Seconds::s(to - from)),
            uncertainty_s: self.budget(open, close).combined() * K,
        }
    }

    /// Pairs that share a click with the release, likeliest first, then all others within it.
    fn proposals(&self, release: Form) -> Vec<Proposal> {
        let within = release.first..=release.last;
        let mut pairs: Vec<(usize, usize, f64)> = Vec::new();
        let mut add = |open: usize, close: usize, chance: f64| match pairs
            .iter_mut()
            .find(|it| (it.0, it.1) == (open, close))
        {
            Some(pair) => pair.2 += chance,
            None => pairs.push((open, close, chance)),
        };
        for (form, chance) in &self.readings.forms {
            let near = within.contains(&form.open) || within.contains(&form.close);
            if form.open != form.close && near {
                add(form.open, form.close, *chance);
            }
        }
        if release.last > release.first + 1 {
            for open in within {
                for close in open + 1..=release.last {
                    add(open, close, POSSIBLE);
                }
            }
        }
        pairs.retain(|pair| pair.2 >= POSSIBLE);
        pairs.sort_by(|a, b| b.2.total_cmp(&a.2));
        pairs.truncate(MOST_PROPOSALS);
        let proposals = pairs.iter();
        proposals
            .map(|(open, close, _)| self.proposal(*open, *close))
            .collect()
    }

    fn shot(&self, release: Form) -> Shot {
        let (open, close) = (self.onsets()[release.open], self.onsets()[release.close]);
        let mut flags = Vec::new();
        let samples = self.it.recording.samples();
        let clipped = |at: f64| {
            let sample = |at: f64| (at.max(0.0) * self.it.bands.rate) as usize;
            let near = sample(at - 1e-3)..sample(at + CLIP_NEAR_S);
            !samples
                .track(self.it.index)
                .clipped
                .within(&near)
                .is_empty()
        };
        if clipped(open.at) || clipped(close.at) {
            flags.push(Flag::Clipped);
        }
        let proposals = self.proposals(release);
        let between = close.at - open.at;
        let overlapping = between < LEAST_TOLD_S || self.overlap(&open, &close);
        let told = self.is_one_pair(release) && !overlapping && self.nothing_hides(&open, &close);
        if overlapping {
            flags.push(Flag::Overlapping);
        }
        if self.at_edge(&open, &close) {
            flags.push(Flag::CutOff);
        }
        if !told {
            flags.push(Flag::CannotTell);
        }
        let budget = if told {
            self.budget(release.open, release.close)
        } else {
            Budget::default()
        };
        let time = self.clock.corrected(Seconds::s(between));
        Shot {
            effective_s: told.then_some(time),
            uncertainty_s: told.then(|| budget.combined() * K),
            budget,
            proposals,
            ..session::blank(self.it.recording, self.it.number, open.at, flags)
        }
    }

    /// Whether the clicks are opening and closing and nothing else can be. That nothing else was
    /// heard does not do: a lever's click, or a knock, and a release too fast to be heard as two
    /// clicks are a pair as well. An escapement between them, or the same two sounds at another
    /// distance in other releases, are only a shutter's.
    fn is_one_pair(&self, release: Form) -> bool {
        let (open, close) = (release.open, release.close);
        if !release.is_plain() {
            return false;
        }
        let (first, last) = (&self.onsets()[open], &self.onsets()[close]);
        if (first.level_db - last.level_db).abs() > ALIKE_DB {
            return false;
        }
        let chance = self.plain(open, close);
        let trains = self.it.heard.trains.iter();
        let crossing = trains.filter(|train| train.0 < last.at && train.1 > first.at);
        // An escapement that ran before the first click or runs on after the last is another release's, and
        // one that stops before the last lets the shutter close then.
        let beyond = |train: &(f64, f64)| train.0 < first.at - BEAT_S || train.1 > last.at + BEAT_S;
        if crossing.clone().any(beyond) {
            return false;
        }
        let ticks = crossing.map(|train| train.1).fold(f64::MIN, f64::max) > last.at - BEAT_S;
        chance >= SURE && (ticks || self.is_borne_out(open, close))
    }

    /// Whether other releases have the same two sounds at another distance, and no further click does.
    fn is_borne_out(&self, open: usize, close: usize) -> bool {
        let between = |open: usize, close: usize| self.onsets()[close].at - self.onsets()[open].at;
        let here = between(open, close);
        let bearers = self.readings.forms.iter().filter(|(form, chance)| {
            form.is_plain()
                && *chance >= BEARS_OUT
                && form.open != open
                && (between(form.open, form.close) / here).ln().abs() > OTHER_TIME
                && self.voices[open].is_same(&self.voices[form.open])
                && self.voices[close].is_same(&self.voices[form.close])
        });
        bearers.count() >= BEARERS && self.is_as_loud(open, close) && !self.has_rival(open, close)
    }

    /// Whether the closing is louder than the opening by as much as in other releases.
    fn is_as_loud(&self, open: usize, close: usize) -> bool {
        let louder = |open: usize, close: usize| {
            self.onsets()[close].level_db - self.onsets()[open].level_db
        };
        let others = self.readings.forms.iter().filter(|(form, chance)| {
            form.is_plain() && *chance >= BEARS_OUT && form.open != open && form.close != close
        });
        let others: Vec<f64> = others
            .map(|(form, _)| louder(form.open, form.close))
            .collect();
        let usual = median(&others);
        let apart: Vec<f64> = others.iter().map(|it| (it - usual).abs()).collect();
        let within = LOUDER_WITHIN_DB + LOUDER_SCATTERS * median(&apart);
        (louder(open, close) - usual).abs() <= within
    }

    /// Whether a click that no pair accounts for, soon before or after, sounds like the opening or the closing.
    fn has_rival(&self, open: usize, close: usize) -> bool {
        let paired = |n: usize| {
            let pairs = self.readings.forms.iter();
            let own = pairs.filter(|(form, _)| form.open != form.close && form.holds(n));
            own.map(|it| it.1).sum::<f64>() >= BEARS_OUT
        };
        let onsets = self.onsets().iter().enumerate();
        let mut near = onsets.filter(|(n, it)| {
            let before = *n < open && self.onsets()[open].at - it.at < LONE_NEAR_S;
            let after = *n > close && it.at - self.onsets()[close].at < LONE_NEAR_S;
            before && self.voices[*n].is_alike(&self.voices[open])
                || after && self.voices[*n].is_alike(&self.voices[close])
        });
        near.any(|(n, _)| !paired(n))
    }

    /// Whether the sound does not fall between two clicks.
    fn overlap(&self, open: &Onset, close: &Onset) -> bool {
        let bands = &self.it.bands;
        let (from, to) = (bands.steps(open.at) + 1, bands.steps(close.at));
        let to = to.saturating_sub(super::band::SHORT + 1);
        let least = (from..to).map(|n| bands.short(n)).fold(f64::MAX, f64::min);
        let quieter = open.level_db.min(close.level_db);
        10.0 * least.max(1e-30).log10() > quieter - VALLEY_DB
    }

    fn at_edge(&self, open: &Onset, close: &Onset) -> bool {
        open.at < EDGE_S || close.at > self.it.recording.duration().to_s() - EDGE_S
    }

    /// Whether a further click of the same camera would have been heard.
    fn nothing_hides(&self, open: &Onset, close: &Onset) -> bool {
        let it = self.it;
        let contrast = open.contrast_db.max(close.contrast_db);
        let (from, to) = (open.at - RATTLE_NEAR_S, close.at + RATTLE_NEAR_S);
        let rattles = it
            .heard
            .rattles
            .iter()
            .any(|rattle| rattle.0 < to && rattle.1 > from);
        let faint = it.heard.faint.iter().any(|at| (from..to).contains(at));
        let bands = &it.bands;
        let inner = bands.steps(open.at + 0.012)..bands.steps(close.at - 2e-3);
        let loud = quantile(
            inner
                .step_by(super::band::SHORT)
                .map(|n| bands.short(n))
                .collect(),
            0.9,
        );
        let louder = open.level_db.max(close.level_db);
        let filled = 10.0 * loud.max(1e-30).log10() > louder - VALLEY_DB;
        contrast >= FAINT_DB + HEARD_DB
            && !rattles
            && !faint
            && !filled
            && !it.gain_control
            && !self.at_edge(open, close)
    }

    fn clicks(&self, releases: &[Form]) -> Vec<Click> {
        let onsets = self.onsets().iter().enumerate();
        onsets
            .map(|(n, onset)| self.click(n, onset, releases))
            .collect()
    }

    fn click(&self, n: usize, onset: &Onset, releases: &[Form]) -> Click {
        let mut roles = [
            (ClickOf::Opening, 0.0),
            (ClickOf::Closing, 0.0),
            (ClickOf::MirrorUp, 0.0),
            (ClickOf::MirrorDown, 0.0),
            (ClickOf::Other, 1.0),
        ];
        for (form, chance) in &self.readings.forms {
            let own = [
                n == form.open,
                n == form.close,
                n == form.first && form.first != form.open,
                n == form.last && form.last != form.close,
            ];
            for (role, _) in roles.iter_mut().zip(own).filter(|it| it.1) {
                role.1 += chance;
            }
            if own.contains(&true) {
                roles[4].1 -= chance;
            }
        }
        roles.sort_by(|a, b| b.1.total_cmp(&a.1));
        let release = releases
            .iter()
            .position(|it| (it.first..=it.last).contains(&n));
        let number = release.and_then(|index| u32::try_from(index + 1).ok());
        Click {
            release: number,
            recording: self.it.recording.name().to_owned(),
            at_s: Seconds::s(onset.at),
            level_db: Decibels::db(onset.level_db),
            could_be: roles
                .iter()
                .filter(|role| role.1 >= POSSIBLE)
                .map(|role| role.0)
                .collect(),
        }
    }
}

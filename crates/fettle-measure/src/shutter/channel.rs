//! One channel of one recording: from samples to shots whose fully open level is still to be agreed.

use std::ops::Range;

use rayon::prelude::*;

use super::band::{self, Coded};
use super::beside::{Beside, Care};
use super::clicks::Click;
use super::colour::Colour;
use super::coupling::{self, Coupling};
use super::detect::{self, Candidate, Detection};
use super::edges::{self, Edges};
use super::expose::{self, Light};
use super::flanks::Flanks;
use super::flicker::{self, Flicker};
use super::form::{Form, Kind};
use super::gain;
use super::hum::{self, Hum};
use super::lamp::{self, Lamp};
use super::local::{Fit, Integral, Local, Prior, Regions, Signal};
use super::lost::Piece;
use super::mains;
use super::overview::Overview;
use super::pairing;
use super::poles::Poles;
use super::quiet::{self, NoShutter};
use super::saturation;
use super::stretch;
use super::tail::{self, Tail};
use super::wander;
use crate::recording::Samples;
use crate::{Recording, Seconds};

/// How much of the dark before and after a shot is fitted with it.
const BEFORE_S: f64 = 0.4;
const AFTER_S: f64 = 1.0;
/// Kept clear of the neighbouring shots.
const CLEAR_S: f64 = 3e-3;
/// Added to a flank found by the step filter.
const GUARD_S: f64 = 0.7e-3;
/// A stretch fully open shorter than this is left to the flanks.
const PLATEAU_S: f64 = 1e-3;
/// A second opening after the blades hit their stop comes within this time.
const BOUNCE_WITHIN_S: f64 = 0.03;
/// It stands out by so much of what a lossy coding or a lamp leaves before it.
const BEYOND_ECHOES: f64 = 1.5;
/// Time constants after which a sensor's tail is over.
const TAIL_LASTS: f64 = 6.0;
/// Dark after closing and before opening that hum is not looked for in.
const HUM_CLEAR_S: f64 = 0.05;
/// How often the flanks' ranges are drawn with room, at most.
const ROOMY_ROUNDS: usize = 3;
/// How often the lamp is found anew, each time with less of its swing left in the samples.
const LAMP_ROUNDS: usize = 2;
/// How often it is found before that, by turns with the coupling.
const ROUGH_ROUNDS: usize = 2;

/// What one channel holds.
pub(crate) struct Channel<'a> {
    pub(crate) overview: Overview<'a>,
    pub(crate) signal: Signal<'a>,
    pub(crate) inverted: bool,
    pub(crate) contrast: f64,
    /// Standard uncertainty that a lossy coding brings to each time, by the form of its file.
    pub(crate) coding: Seconds,
    /// Whether a lossy coding shows in the samples themselves.
    pub(crate) limited: bool,
    /// What a lossy coding leaves next to the flanks, where there is one.
    pub(crate) coded: Option<Vec<Coded>>,
    /// The light at which an earlier stage than the recorder ends, where one does.
    rail: Option<f64>,
    /// How far the noise is from white.
    pub(crate) colour: Colour,
    pub(crate) coupling: Coupling,
    pub(crate) hum: Option<Hum>,
    pub(crate) shots: Vec<Raw>,
    /// The lamp where it swings; divided out of the shots.
    pub(crate) lamp: Option<Lamp>,
    /// The flanks' noise against what dividing by its light makes of the dark's.
    pub(crate) lamp_noise: f64,
    /// The lamp's strongest swing where it is not divided out.
    pub(crate) undivided: Option<Flicker>,
    pub(crate) tail: Option<Tail>,
    /// What the flanks tell of the sensor.
    pub(crate) form: Option<Form>,
    /// The sensor's lag with its standard uncertainty, in seconds, where it sees a lamp that swings.
    pub(crate) lag: (f64, f64),
    /// Whether gain control or noise suppression was at work.
    pub(crate) controlled: bool,
    /// What steps in it, when that is no shutter's light.
    pub(crate) no_shutter: Option<NoShutter>,
    pub(crate) clicks: &'a [Click],
    /// Where samples are missing.
    pub(super) lost: Vec<Piece>,
    /// Where shots begin that the recording does not hold whole.
    pub(crate) cut_off: Vec<usize>,
}

/// A shot measured but for the fully open level.
pub(crate) struct Raw {
    pub(crate) local: Local,
    pub(crate) fit: Fit,
    /// Fits at one standard uncertainty of the coupling below and above, in each of its directions.
    pub(crate) beside: Vec<[Fit; 2]>,
    pub(crate) light: Light,
    /// Seconds between the flanks.
    pub(crate) open: f64,
    pub(crate) integral: Integral,
    /// The fully open level and its variance, where the shot shows it.
    pub(crate) level: Option<(f64, f64)>,
    /// The greatest light.
    pub(crate) peak: f64,
    pub(crate) spoiled: bool,
    /// Seconds at the end of the range, where the shot reaches it.
    pub(crate) clipped: Option<f64>,
    pub(crate) overlapping: bool,
}

/// Light below this part of the noise, or of fewer of the recorder's steps, is none.
const FAINT: f64 = 0.5;
const FAINT_STEPS: f64 = 3.0;

impl<'a> Channel<'a> {
    /// Measures a channel of a recording, counted from 0, as if its lamp were steady.
    pub(crate) fn of(recording: &'a Recording, beside: &'a Beside, channel: usize) -> Self {
        let (samples, clicks) = beside.samples(recording, channel);
        let care = beside.care();
        if care == Care::AtOnce {
            return Self::under(recording, samples, channel, clicks, None, care);
        }
        let dt = 1.0 / recording.sample_rate().to_hz();
        let rippled = lamp::smoothed(samples, channel, dt).and_then(|smooth| {
            let rough = Channel::rough(recording, samples, &smooth, channel, clicks, care);
            let lamp = rough.lamp.clone()?;
            let steady = rough.without(samples, &lamp);
            Some((lamp, steady))
        });
        let (mut lamp, mut steady) = match rippled {
            Some(found) => found,
            None => {
                let plain = Self::under(recording, samples, channel, clicks, None, care);
                let Some(lamp) = plain.lamp.clone() else {
                    return plain;
                };
                let rough = Channel::rough(recording, samples, samples, channel, clicks, care);
                let steady = rough.without(samples, &lamp);
                (lamp, steady)
            }
        };
        for _ in 0..LAMP_ROUNDS {
            let here = Channel::under(
                recording,
                &steady,
                channel,
                clicks,
                Some(&lamp),
                Care::WithoutSensor,
            );
            let Some(better) = here.lamp.clone() else {
                break;
            };
            let next = here.without(samples, &better);
            (lamp, steady) = (better, next);
        }
        let steady = beside.steadied(channel).get_or_init(|| steady);
        let mut found = Self::under(recording, steady, channel, clicks, Some(&lamp), care);
        found.lamp = found.lamp.or(Some(lamp));
        found
    }

    /// What a tail adds to the time of a shot whose light came to the part `peak`, in seconds, and its standard
    /// uncertainty.
    pub(crate) fn tail_at(&self, peak: f64) -> (f64, f64) {
        self.tail.map_or((0.0, 0.0), |tail| tail.correction(peak))
    }

    /// The lamp's strongest swing, divided out or not.
    pub(crate) fn flicker(&self) -> Option<Flicker> {
        self.lamp.as_ref().map(Lamp::strongest).or(self.undivided)
    }

    /// The samples with `lamp` divided out of this channel's shots.
    fn without(&self, samples: &Samples, lamp: &Lamp) -> Samples {
        let poles = self.coupling.poles;
        lamp::taken_off(samples, &self.signal, &self.shots, poles, lamp)
    }

    /// Measures samples from which `clicks` were taken off, and `lamp`'s swing too.
    fn under(
        recording: &Recording,
        samples: &'a Samples,
        channel: usize,
        clicks: &'a [Click],
        lamp: Option<&Lamp>,
        care: Care,
    ) -> Self {
        let (mut it, found) = Self::begun(recording, samples, samples, channel, clicks, care);
        if let Some(found) = found {
            it.measure(&found, lamp, care);
            pairing::spoil_astray(&mut it);
        }
        it
    }

    /// Looks for the lamp alone, in shots that are found in `shown` and taken with ample room.
    fn rough(
        recording: &Recording,
        samples: &'a Samples,
        shown: &'a Samples,
        channel: usize,
        clicks: &'a [Click],
        care: Care,
    ) -> Self {
        let (mut it, found) = Self::begun(recording, samples, shown, channel, clicks, care);
        let mut locals = found.map_or_else(Vec::new, |found| it.locals(&found));
        // Under a deep swing neither shows well until the other is known.
        for _ in 0..ROUGH_ROUNDS {
            it.lamp = lamp::find(&it.signal, &locals, it.coupling.poles, None);
            let swing = it.lamp.as_ref().map_or(0.0, Lamp::swing);
            locals = it.under_flicker(&locals, swing);
        }
        it.shots = it.raws(locals);
        it
    }

    /// Finds the shots, in `shown`, and the coupling; no shots where nothing is to be found.
    fn begun(
        recording: &Recording,
        samples: &'a Samples,
        shown: &'a Samples,
        channel: usize,
        clicks: &'a [Click],
        care: Care,
    ) -> (Self, Option<Detection>) {
        let dt = 1.0 / recording.sample_rate().to_hz();
        let overview = Overview::of(shown, channel, dt);
        let quiet = mains::taken_off(&overview);
        let means = quiet.as_ref().unwrap_or(overview.means());
        let first = detect::detect(&overview, means, 0.0);
        let mut channel = Self {
            signal: Signal::of(recording, samples, channel, &overview, first.inverted),
            inverted: first.inverted,
            contrast: first.contrast,
            coding: recording.coding(),
            limited: false,
            coded: None,
            rail: None,
            colour: Colour::WHITE,
            coupling: Coupling::NONE,
            hum: None,
            shots: Vec::new(),
            lamp: None,
            lamp_noise: 1.0,
            undivided: None,
            tail: None,
            form: None,
            lag: (0.0, 0.0),
            controlled: false,
            no_shutter: None,
            clicks,
            lost: Vec::new(),
            cut_off: Vec::new(),
            overview,
        };
        if channel.overview.is_dead() || first.candidates.is_empty() {
            return (channel, None);
        }
        let paired = pairing::settle(&mut channel, means, &first, care != Care::AtOnce);
        channel.hum = paired.hum;
        channel.coupling = paired.coupling;
        channel.turn(paired.found.inverted);
        (channel, Some(paired.found))
    }

    /// Takes more light to give less voltage, or more.
    pub(super) fn turn(&mut self, inverted: bool) {
        self.inverted = inverted;
        self.signal.sign = if inverted { -1.0 } else { 1.0 };
    }

    fn measure(&mut self, found: &Detection, lamp: Option<&Lamp>, care: Care) {
        let mut locals = self.locals(found);
        for round in 0..ROOMY_ROUNDS {
            let poles = self.coupling.poles;
            locals = locals
                .into_par_iter()
                .map(|local| self.tighten(local, poles, Edges::roomy))
                .collect();
            if let (0, Some(hum)) = (round, &mut self.hum) {
                (hum.hz, locals) = wander::follow(&self.signal, hum.hz, locals, poles);
            }
            self.coupling = coupling::find(&locals);
            // Light that a wrong coupling leaves crooked shows its edges in the wrong places.
            if self.coupling.is_like(poles) {
                break;
            }
        }
        let poles = self.coupling.poles;
        if care == Care::AtOnce {
            self.undivided = flicker::of_longest(&self.signal, &locals, poles);
        } else {
            self.lamp = lamp::find(&self.signal, &locals, poles, lamp);
        }
        let swing = match (&self.lamp, lamp) {
            (Some(found), Some(_)) => Some(found.left),
            (Some(found), None) => Some(found.swing()),
            (None, _) => self.undivided.map(Flicker::swing),
        };
        let locals = match swing {
            Some(swing) => self.under_flicker(&locals, swing),
            None => locals,
        };
        let poles = self.coupling.poles;
        let locals = locals
            .into_par_iter()
            .map(|local| self.tighten(local, poles, |edges| edges))
            .collect();
        self.shots = self.raws(locals);
        if self.is_faint() {
            self.shots.clear();
            return;
        }
        self.limited = band::is_limited(&self.signal, &self.shots);
        if self.is_lossy() {
            self.weigh_coding();
        } else {
            self.rail = saturation::rail(&self.signal, &self.shots);
            for shot in &mut self.shots {
                saturation::clip(&self.signal, shot, self.rail);
            }
        }
        self.tail = tail::find(&self.shots, self.signal.noise, self.signal.dt);
        if let Some(tail) = self.tail {
            self.shots = self.past_tail(tail.closing);
            self.tail = tail::find(&self.shots, self.signal.noise, self.signal.dt);
        }
        if care == Care::Whole {
            self.form = self.find_form();
            if let (Some(_), Some(form)) = (lamp, &self.form) {
                self.lag = form.lag();
            }
            // A lamp's swing and a lossy coding leave more of the flanks unexplained than the sensor, and say so
            // themselves; a tail's bounds are as wide.
            let told =
                self.is_lossy() || lamp.is_some() || self.lamp.is_some() || self.tail.is_some();
            self.form
                .take_if(|form| told && form.kind == Kind::Unexplained);
        }
        if let (Some(lamp), Care::Whole) = (lamp, care) {
            self.lamp_noise = lamp::noise_of_flanks(&self.signal, &self.shots, lamp);
        }
        let flickers = lamp.is_none() && self.flicker().is_some();
        self.colour = Colour::of(&self.signal, &self.shots);
        let lossy = self.is_lossy();
        let swing = lamp.map_or(0.0, Lamp::swing);
        self.controlled = gain::is_controlled(&self.signal, &self.shots, lossy, flickers, swing);
        // Under gain control nothing is told of the dark either.
        if !self.controlled {
            self.no_shutter = quiet::spoil(&self.signal, &mut self.shots);
            if self.no_shutter.is_some() {
                self.shots.clear();
                return;
            }
        }
        let cut = found
            .candidates
            .iter()
            .filter(|candidate| !candidate.is_whole());
        self.cut_off = cut
            .map(|it| it.opening.map_or(0, |opening| opening.start))
            .collect();
    }

    /// Whether a lossy coding was at work.
    pub(super) fn is_lossy(&self) -> bool {
        self.coding.to_s() > 0.0 || self.limited
    }

    /// Measures the shots again with what a lossy coding leaves of the light as noise while they stand
    /// open: it errs there far more than in the dark.
    fn weigh_coding(&mut self) {
        let coded = band::coded(&self.signal, &self.shots);
        let weighed = |shot: &Raw| {
            let bin = stretch::bin_of(shot.open.max(self.signal.dt));
            let errs = band::of_mean(&self.signal, shot, &coded, bin);
            let swing = shot.local.prior().flicker.hypot(errs);
            shot.local.with_flicker(&self.signal, swing)
        };
        let locals: Vec<Local> = self.shots.par_iter().map(weighed).collect();
        self.coupling = coupling::find(&locals);
        self.shots = self.raws(locals);
        self.coded = Some(band::coded(&self.signal, &self.shots));
    }

    /// What the flanks tell of the sensor; a tail that only they show is taken in.
    fn find_form(&mut self) -> Option<Form> {
        let of = |channel: &Self, tail: Option<f64>| {
            let flanks = Flanks::of(&channel.shots, channel.signal.noise, channel.signal.dt)?;
            Form::of(&flanks, tail)
        };
        let mut form = of(self, self.tail.map(|it| it.closing))?;
        if let (None, Some(tail)) = (self.tail, form.tail()) {
            self.shots = self.past_tail(tail.closing);
            form = of(self, Some(tail.closing))?;
        }
        // Fitted blades tell more of a tail than its end alone: blades that come to rest, and what bends the top
        // of a flank, look slower on closing.
        if form.kind != Kind::Unexplained && form.kind != Kind::Open {
            self.tail = form.tail();
        }
        Some(form)
    }

    fn under_flicker(&mut self, locals: &[Local], swing: f64) -> Vec<Local> {
        let height = |local: &Local| local.level(&local.fit(self.coupling.poles)?).map(|it| it.0);
        let height = locals.iter().filter_map(height).fold(0.0, f64::max);
        let amount = swing * height;
        let locals: Vec<Local> = locals
            .par_iter()
            .map(|local| local.with_flicker(&self.signal, amount))
            .collect();
        self.coupling = coupling::find(&locals);
        locals
    }

    pub(super) fn find_hum(&self, candidates: &[Candidate]) -> Option<Hum> {
        let samples = self.overview.block * hum::BLOCKS;
        let last = self.overview.length() / samples;
        let clear = (HUM_CLEAR_S / (self.overview.dt * samples as f64)) as usize;
        let mut dark = Vec::new();
        let mut from = 0;
        for candidate in candidates {
            let start = candidate
                .opening
                .map_or(0, |opening| opening.start / samples);
            let to = start.saturating_sub(clear);
            dark.extend((from <= to).then_some(from..to));
            from = (candidate.end / samples + clear).min(last);
        }
        dark.push(from..last);
        hum::of_dark(&self.overview, dark)
    }

    fn samples_in(&self, seconds: f64) -> usize {
        (seconds / self.overview.dt).round() as usize
    }

    pub(super) fn locals(&self, found: &Detection) -> Vec<Local> {
        let whole: Vec<&Candidate> = found.candidates.iter().collect();
        let height = found
            .candidates
            .iter()
            .filter_map(|it| it.opening)
            .fold(0.0_f64, |most, opening| most.max(opening.height.abs()));
        let local = |i: usize| {
            let before = i.checked_sub(1).map(|i| whole[i].end);
            let next = whole
                .get(i + 1)
                .and_then(|it| it.opening)
                .map(|opening| opening.start);
            let (regions, since) = self.crude(whole[i], before, next)?;
            let prior = Prior::of(height, since as f64 * self.overview.dt);
            Some(Local::new(&self.signal, regions, self.hum.as_ref(), prior))
        };
        (0..whole.len()).into_par_iter().filter_map(local).collect()
    }

    /// Ranges from the step filter, and how long the shot before has been over.
    fn crude(
        &self,
        candidate: &Candidate,
        before: Option<usize>,
        next: Option<usize>,
    ) -> Option<(Regions, usize)> {
        let (opening, closing) = (candidate.opening?, candidate.closing?);
        let clear = self.samples_in(CLEAR_S);
        let guard = self.samples_in(GUARD_S);
        let last = self.overview.length();
        let lowest = before.map_or(0, |end| end + clear);
        let first = opening.start.saturating_sub(guard).max(lowest + 8);
        let highest = next.map_or(last, |start| start.saturating_sub(clear));
        let after = candidate.end + guard;
        let whole_blocks = |samples: usize| samples / self.overview.block * self.overview.block;
        let start = whole_blocks(first.saturating_sub(self.samples_in(BEFORE_S)).max(lowest));
        let end = whole_blocks((after + self.samples_in(AFTER_S)).min(highest));
        let open = opening.end + 2 * guard;
        let second = closing.start.saturating_sub(2 * guard);
        let plateau = second > open + self.samples_in(2.0 * PLATEAU_S);
        let regions = Regions {
            before: start,
            first,
            open: if plateau { open } else { first },
            second: if plateau { second } else { first },
            after,
            end,
        };
        let since = before.map_or(start, |end| start - end.min(start));
        // Close behind the shot before, a short one may begin past its own end.
        let sound = regions.is_ordered() && end > after + 8 && first > start + 4;
        sound.then_some((regions, since))
    }

    /// Draws the ranges around the flanks, and takes in a small bounce.
    fn tighten(&self, local: Local, poles: Poles, drawn: fn(Edges) -> Edges) -> Local {
        let Some(fit) = local.fit(poles) else {
            return local;
        };
        let light = expose::light(&local, &self.signal, &fit);
        let noise = self.signal.noise;
        let regions = &local.regions;
        let least = self.samples_in(PLATEAU_S);
        let level = local.level(&fit).map(|level| level.0);
        let level = level.unwrap_or_else(|| peak(&light.first, noise));
        let rise = edges::rise(&light.first, level, noise);
        // A bounce may be as bright as the shot; it is taken in below.
        let main = expose::before_bounce(light.last(), level, noise, self.signal.dt);
        let fall = edges::fall(main, level, noise);
        let tight = rise.zip(fall).map(|(rise, fall)| {
            let (rise, fall) = ((regions.first, drawn(rise)), (regions.last(), drawn(fall)));
            edges::tightened(regions, rise, fall, least)
        });
        let Some(mut tight) = tight.filter(Regions::is_ordered) else {
            // A range that ends within a flank shows none; the next time it does.
            let wider = local.regions.wider();
            return local.with_regions(&self.signal, wider);
        };
        tight.after = self.past_bounce(&local, &fit, &tight, level);
        local.with_regions(&self.signal, tight)
    }

    /// Where a second opening after `tight.after`, if there is one, is over.
    fn past_bounce(&self, local: &Local, fit: &Fit, tight: &Regions, level: f64) -> usize {
        let to = (tight.after + self.samples_in(BOUNCE_WITHIN_S)).min(tight.end.saturating_sub(16));
        if to <= tight.after {
            return tight.after;
        }
        let [before, closing] = local.entry(fit);
        let (start, entry, light) = match local.level(fit) {
            Some((level, _)) => (local.regions.second, closing, level),
            None => (local.regions.first, before, 0.0),
        };
        let x = local.restore(&self.signal, fit, start..to, entry, light);
        let width = self.samples_in(0.2e-3).max(1);
        let smooth = expose::smoothed(&x[tight.after - start..], width);
        let echoes = BEYOND_ECHOES * band::beside(&self.signal, local, fit, width);
        let noise = 6.0 * self.signal.noise / (width as f64).sqrt();
        let threshold = (0.02 * level).max(noise).max(echoes);
        match smooth.iter().rposition(|value| *value > threshold) {
            Some(last) if last > width => {
                (tight.after + last + self.samples_in(0.8e-3)).min(tight.end.saturating_sub(8))
            }
            _ => tight.after,
        }
    }

    /// Measures the light of `event`, between the shots that end and begin at `between`, without
    /// looking for flanks; with a plateau from `open`'s start to its end.
    pub(crate) fn look_at(
        &self,
        event: Range<usize>,
        open: Option<Range<usize>>,
        between: (Option<usize>, Option<usize>),
    ) -> Option<Raw> {
        let clear = self.samples_in(CLEAR_S);
        let last = self.overview.length();
        let lowest = between.0.map_or(0, |end| end + clear);
        let highest = between.1.map_or(last, |start| start.saturating_sub(clear));
        let before = event.start.saturating_sub(self.samples_in(BEFORE_S));
        let open = open.unwrap_or(event.start..event.start);
        let regions = Regions {
            before: before.max(lowest),
            first: event.start,
            open: open.start,
            second: open.end,
            after: event.end,
            end: (event.end + self.samples_in(AFTER_S))
                .min(highest)
                .min(last),
        };
        let since = regions.before - lowest.min(regions.before);
        let known = self.shots.first()?.local.prior();
        let prior = Prior {
            remains: 2.0 * self.height(),
            since: since as f64 * self.overview.dt,
            ..known
        };
        let sound = regions.is_ordered() && regions.end > regions.after + 8;
        let local = || Local::new(&self.signal, regions, self.hum.as_ref(), prior);
        sound.then(local).and_then(|local| self.raw(local))
    }

    fn raws(&self, locals: Vec<Local>) -> Vec<Raw> {
        locals
            .into_par_iter()
            .filter_map(|it| self.raw(it))
            .collect()
    }

    /// The shots measured again with each closing's tail, of so many seconds, left to its flank.
    pub(super) fn past_tail(&mut self, closing: f64) -> Vec<Raw> {
        let further = self.samples_in(TAIL_LASTS * closing);
        let longer = |shot: &Raw| {
            let regions = &shot.local.regions;
            let most = regions.end.saturating_sub(16).max(regions.after);
            let regions = Regions {
                after: (regions.after + further).min(most),
                ..regions.clone()
            };
            shot.local.with_regions(&self.signal, regions)
        };
        let locals: Vec<Local> = self.shots.par_iter().map(longer).collect();
        self.coupling = coupling::find(&locals);
        self.raws(locals)
    }

    fn raw(&self, local: Local) -> Option<Raw> {
        let fit = local.fit(self.coupling.poles)?;
        let both = |[below, above]: [Poles; 2]| Some([local.fit(below)?, local.fit(above)?]);
        let beside = self.coupling.beside.into_iter().flatten();
        let beside = beside.filter_map(both).collect();
        let light = expose::light(&local, &self.signal, &fit);
        let integral = local.integral(&fit);
        let noise = self.signal.noise;
        let level = local.level(&fit);
        let peak = level.map_or_else(|| peak(&light.first, noise), |level| level.0);
        let level =
            level.or_else(|| flat_top(&light.first, peak, noise, integral.value / self.signal.dt));
        let regions = &local.regions;
        let event = regions.first..regions.after;
        let track = self.overview.track;
        let spoiled = !integral.value.is_finite()
            || !track.not_finite.within(&event).is_empty()
            || self.has_lost(regions);
        let at_end: usize = track
            .clipped
            .within(&event)
            .iter()
            .map(|run| run.count)
            .sum();
        let clipped = (at_end > 0).then_some(at_end as f64 * self.signal.dt);
        let overlapping = regions.end - regions.after < self.samples_in(0.01);
        let open = local.open();
        let mut shot = Raw {
            open,
            beside,
            light,
            integral,
            level,
            peak,
            spoiled,
            clipped,
            overlapping,
            fit,
            local,
        };
        saturation::clip(&self.signal, &mut shot, self.rail);
        Some(shot)
    }

    /// The greatest light of any shot.
    pub(crate) fn height(&self) -> f64 {
        self.shots
            .iter()
            .fold(0.0, |most, shot| most.max(shot.peak))
    }

    /// Whether what was taken for light is noise or the toggling of the last steps.
    fn is_faint(&self) -> bool {
        let least = (FAINT * self.signal.noise).max(FAINT_STEPS * self.signal.step());
        !self.shots.is_empty() && self.height() < least
    }

    /// Signal to noise of the fully open light, as a ratio of amplitudes.
    pub(crate) fn light_over_noise(&self) -> f64 {
        self.height() / self.signal.noise
    }

    /// Span of the dark level over the shots.
    pub(crate) fn dark_span(&self) -> f64 {
        let darks = self.shots.iter().map(|shot| shot.fit.params[0]);
        let (low, high) = darks.fold((f64::MAX, f64::MIN), |(low, high), dark| {
            (low.min(dark), high.max(dark))
        });
        (high - low).max(0.0)
    }

    /// Samples in the shortest shot.
    pub(crate) fn shortest(&self) -> f64 {
        let samples = |shot: &Raw| {
            (shot.integral.value / shot.peak.max(f64::MIN_POSITIVE) + shot.open) / self.signal.dt
        };
        self.shots.iter().map(samples).fold(f64::MAX, f64::min)
    }
}

/// The greatest light, noise averaged down.
fn peak(x: &[f64], noise: f64) -> f64 {
    let rough = x.iter().fold(0.0_f64, |most, value| most.max(*value));
    let wanted = (noise / (0.005 * rough.max(1e-12))).powi(2).ceil() as usize;
    let width = wanted.clamp(1, (x.len() / 30).max(1));
    expose::smoothed(x, width).into_iter().fold(0.0, f64::max)
}

/// The level of a flat top and its variance; a shot that never opens fully comes to a point.
fn flat_top(x: &[f64], peak: f64, noise: f64, effective: f64) -> Option<(f64, f64)> {
    let near = |value: &f64| *value > 0.96 * peak - 2.0 * noise;
    let from = x.iter().position(near)?;
    let to = x.iter().rposition(near)?;
    let length = to - from;
    if (length as f64) < 0.15 * effective / peak.max(1e-12) || length < 8 {
        return None;
    }
    let inner = &x[from + length / 4..=to - length / 4];
    let mean = inner.iter().sum::<f64>() / inner.len() as f64;
    Some((
        mean,
        noise * noise / inner.len() as f64 + (0.004 * peak).powi(2),
    ))
}

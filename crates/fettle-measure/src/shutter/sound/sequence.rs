//! Which clicks can be opening and closing: every reading of the whole row of clicks, weighed.
//!
//! A row of clicks is read as releases, rests between them and clicks that belong to none. Four
//! builds of camera are tried: opening and closing alone; with a mirror heard before, after, or
//! both. A mirror is driven by its own spring: its time to the opening, and from the closing, is the
//! same at every speed, and one camera has one build. Each reading has a probability density as
//! a marked point process; the forward and backward sums (Rabiner 1989) over all readings give each
//! pair the probability that it is opening and closing. A fast release, whose clicks run together, is one
//! click. No time is likelier for being marked on the dial.

use super::super::marks::log_add;
use super::click::{Click, Heard};
use crate::shutter::Kind;

/// Shortest time between clicks that are apart.
const SHORTEST_S: f64 = 10e-3;
/// A shutter may be slower than its slowest mark by this factor (one and a half stops).
const SLOWER: f64 = 2.83;
/// Releases a second of somebody at work ...
const RELEASES_A_SECOND: f64 = 0.3;
/// ... who must cock the shutter in between: sooner than this is less and less likely.
const COCKING_S: f64 = 1.5;
/// Mirror times.
const MIRROR_S: [f64; 2] = [12e-3, 0.3];
/// How alike a mirror's times are, relative standard deviation.
const MIRROR_WOBBLE: f64 = 0.05;
/// Part of the mirrors that are heard going up only; as many are heard coming down only.
const ONE_WAY: f64 = 0.1;
/// Part of the releases that are too fast to be heard as two clicks.
const FAST: f64 = 0.5;
/// Clicks a second that belong to no release: tried in turn, with the chance of each.
const STRAYS: [(f64, f64); 3] = [(0.0002, 0.6), (0.002, 0.3), (0.03, 0.1)];
/// Thuds a second.
const THUDS: f64 = 0.2;
/// What it takes to hear a thud as a part of the camera.
const THUD_IN_CAMERA: f64 = 0.02;
/// A rest does not sound like an escapement.
const TRAIN_IN_REST: f64 = 0.05;
/// Stray clicks within or between releases that are tried.
const STRAYS_BETWEEN: usize = 10;
const STRAYS_WITHIN: usize = 2;
/// Mirror times tried.
const MIRROR_TIMES: usize = 24;
/// Readings this much less likely (natural log) than the best are not followed.
const FOLLOWED: f64 = 14.0;
/// More clicks than these are no session of releases.
pub(super) const MOST_CLICKS: usize = 800;

/// One release within a reading, by the numbers of its clicks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Form {
    pub(super) first: usize,
    pub(super) open: usize,
    /// Equal to `open` when they run together.
    pub(super) close: usize,
    pub(super) last: usize,
}

impl Form {
    /// Whether it is opening and closing and nothing else.
    pub(super) fn is_plain(self) -> bool {
        self.first == self.open && self.close == self.last && self.open != self.close
    }

    pub(super) fn holds(self, n: usize) -> bool {
        n == self.first || n == self.open || n == self.close || n == self.last
    }
}

/// Every release that is possible, with its probability.
#[derive(Clone, Debug, Default)]
pub(super) struct Readings {
    pub(super) forms: Vec<(Form, f64)>,
}

#[derive(Clone, Copy, Debug)]
struct Build {
    up: Option<f64>,
    down: Option<f64>,
}

struct Row<'a> {
    clicks: &'a [Click],
    heard: &'a Heard,
    longest: f64,
}

/// Weighs all readings. `slowest` is the slowest mark in seconds.
pub(super) fn read(heard: &Heard, kind: Kind, slowest: f64) -> Readings {
    let row = Row {
        clicks: &heard.clicks,
        heard,
        longest: SLOWER * slowest,
    };
    let mut weighed = Vec::new();
    let mut best = f64::NEG_INFINITY;
    for (build, prior) in row.builds(kind) {
        let forms = row.forms(build);
        if forms.is_empty() {
            continue;
        }
        for (strays, chance) in STRAYS {
            let (total, chances) = row.sums(&forms, strays);
            let total = total + (prior * chance).ln() - strays * row.lasting();
            if total > best - FOLLOWED {
                best = best.max(total);
                weighed.push((total, forms.clone(), chances));
            }
        }
    }
    let all = weighed
        .iter()
        .fold(f64::NEG_INFINITY, |sum, it| log_add(sum, it.0));
    let mut by_form = std::collections::BTreeMap::new();
    for (total, forms, chances) in weighed {
        for ((form, _), chance) in forms.iter().zip(chances) {
            *by_form.entry(*form).or_insert(0.0) += (total - all).exp() * chance;
        }
    }
    let mut forms: Vec<(Form, f64)> = by_form.into_iter().collect();
    forms.retain(|form| form.1 > 1e-4);
    Readings { forms }
}

impl Row<'_> {
    fn lasting(&self) -> f64 {
        let ends = self.clicks.first().zip(self.clicks.last());
        ends.map_or(0.0, |(first, last)| last.at - first.at + 2.0)
    }

    fn apart(&self, from: usize, to: usize) -> f64 {
        self.clicks[to].at - self.clicks[from].at
    }

    /// The builds with the chance of each: the mirror times are those that occur in the row.
    fn builds(&self, kind: Kind) -> Vec<(Build, f64)> {
        let mirror = match kind {
            Kind::Leaf => 0.1,
            Kind::FocalPlane => 0.5,
        };
        let none = Build {
            up: None,
            down: None,
        };
        let mut builds = vec![(none, 1.0 - mirror)];
        let times = self.mirror_times();
        let range = (MIRROR_S[1] / MIRROR_S[0]).ln();
        // The width that one time stands for, against all that are possible.
        let width = MIRROR_WOBBLE * std::f64::consts::TAU.sqrt() / range;
        for time in &times {
            let (time, chance) = (Some(*time), ONE_WAY * mirror * width);
            builds.push((
                Build {
                    up: time,
                    down: None,
                },
                chance,
            ));
            builds.push((
                Build {
                    up: None,
                    down: time,
                },
                chance,
            ));
        }
        for up in &times {
            for down in &times {
                let build = Build {
                    up: Some(*up),
                    down: Some(*down),
                };
                builds.push((build, (1.0 - 2.0 * ONE_WAY) * mirror * width * width));
            }
        }
        builds
    }

    /// Gaps that could be a mirror's, each standing for those within its wobble, commonest first.
    fn mirror_times(&self) -> Vec<f64> {
        let gaps = (1..self.clicks.len()).map(|n| self.apart(n - 1, n));
        let mut gaps: Vec<f64> = gaps
            .filter(|gap| (MIRROR_S[0]..MIRROR_S[1]).contains(gap))
            .collect();
        gaps.sort_by(f64::total_cmp);
        let mut times: Vec<(f64, usize)> = Vec::new();
        let mut rest = gaps.as_slice();
        while let Some(first) = rest.first() {
            let count = rest.partition_point(|gap| *gap < first * (1.0 + 2.0 * MIRROR_WOBBLE));
            times.push((rest[count / 2], count));
            rest = &rest[count..];
        }
        times.sort_by_key(|time| std::cmp::Reverse(time.1));
        times.truncate(MIRROR_TIMES);
        times.into_iter().map(|time| time.0).collect()
    }

    /// Every release of a build, with the log of its density, in the order of its first click.
    fn forms(&self, build: Build) -> Vec<(Form, f64)> {
        let count = self.clicks.len();
        let mut forms = Vec::new();
        for first in 0..count {
            let open = match build.up {
                None => Some((first, 0.0)),
                Some(time) => self.after(first, time),
            };
            let Some((open, up)) = open else { continue };
            for close in open..(open + STRAYS_WITHIN + 2).min(count) {
                let time = self.apart(open, close);
                let lasting = if close == open {
                    FAST.ln()
                } else if (SHORTEST_S..self.longest).contains(&time) {
                    let range = (self.longest / SHORTEST_S).ln();
                    ((1.0 - FAST) / (time * range)).ln()
                } else {
                    continue;
                };
                let last = match build.down {
                    None => Some((close, 0.0)),
                    Some(time) => self.after(close, time),
                };
                let Some((last, down)) = last else { continue };
                let form = Form {
                    first,
                    open,
                    close,
                    last,
                };
                let own = (first..=last).filter(|n| form.holds(*n));
                let thuds = own.filter(|n| self.clicks[*n].thud).count() as f64;
                forms.push((form, up + lasting + down + thuds * THUD_IN_CAMERA.ln()));
            }
        }
        forms
    }

    /// The next click if it comes a mirror's time later, with the log of its density.
    fn after(&self, n: usize, time: f64) -> Option<(usize, f64)> {
        let next = n + 1;
        let gap = self.clicks.get(next)?.at - self.clicks[n].at;
        let off = (gap / time).ln() / MIRROR_WOBBLE;
        let density = -0.5 * off * off - (gap * MIRROR_WOBBLE * std::f64::consts::TAU.sqrt()).ln();
        (off.abs() < 3.5).then_some((next, density))
    }

    fn stray(&self, n: usize, strays: f64) -> f64 {
        if self.clicks[n].thud { THUDS } else { strays }.ln()
    }

    /// The log of the density of the rest between two clicks.
    fn rest(&self, from: usize, to: usize) -> f64 {
        let rest = self.apart(from, to);
        let cocked = 6.0 * (rest / COCKING_S).clamp(1e-3, 1.0).ln();
        let (begin, end) = (self.clicks[from].at, self.clicks[to].at);
        let crossed = |train: &&(f64, f64)| train.0 < end - 0.03 && train.1 > begin + 0.03;
        let trains = self.heard.trains.iter().filter(crossed).count();
        let train = if trains > 0 { TRAIN_IN_REST.ln() } else { 0.0 };
        RELEASES_A_SECOND.ln() + cocked - RELEASES_A_SECOND * rest + train
    }

    /// The log of the sum over all readings, and each form's probability within it.
    fn sums(&self, forms: &[(Form, f64)], strays: f64) -> (f64, Vec<f64>) {
        let count = self.clicks.len();
        // Log of the strays' densities up to each click.
        let mut stray = vec![0.0; count + 1];
        for n in 0..count {
            stray[n + 1] = stray[n] + self.stray(n, strays);
        }
        let within = |form: &Form| {
            let own = (form.first..=form.last).filter(|n| form.holds(*n));
            let own: f64 = own.map(|n| self.stray(n, strays)).sum();
            stray[form.last + 1] - stray[form.first] - own
        };
        let weight: Vec<f64> = forms.iter().map(|(form, own)| own + within(form)).collect();
        // Sums of the readings up to a release that ends with a click, and from one that begins.
        let mut ending = vec![f64::NEG_INFINITY; count];
        let mut before = vec![f64::NEG_INFINITY; count];
        let mut at = 0;
        for first in 0..count {
            let mut sum = stray[first] + RELEASES_A_SECOND.ln();
            for last in first.saturating_sub(STRAYS_BETWEEN)..first {
                let between = stray[first] - stray[last + 1];
                sum = log_add(sum, ending[last] + between + self.rest(last, first));
            }
            before[first] = sum;
            while let Some((form, _)) = forms.get(at).filter(|it| it.0.first == first) {
                ending[form.last] = log_add(ending[form.last], sum + weight[at]);
                at += 1;
            }
        }
        let mut beginning = vec![f64::NEG_INFINITY; count];
        let mut after = vec![f64::NEG_INFINITY; count];
        let mut at = forms.len();
        for n in (0..count).rev() {
            let mut sum = stray[count] - stray[n + 1];
            for first in n + 1..(n + 1 + STRAYS_BETWEEN).min(count) {
                let between = stray[first] - stray[n + 1];
                sum = log_add(sum, beginning[first] + between + self.rest(n, first));
            }
            after[n] = sum;
            while at > 0 && forms[at - 1].0.first == n {
                at -= 1;
                let through = weight[at] + after[forms[at].0.last];
                beginning[n] = log_add(beginning[n], through);
            }
        }
        let ends = ending.iter().zip(&after).map(|(ending, _)| *ending);
        let mut total = stray[count];
        for (n, ending) in ends.enumerate() {
            total = log_add(total, ending + stray[count] - stray[n + 1]);
        }
        let chances = forms.iter().zip(&weight).map(|((form, _), weight)| {
            (before[form.first] + weight + after[form.last] - total).exp()
        });
        (total, chances.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(times: &[f64]) -> Heard {
        let clicks = times.iter().map(|at| Click {
            at: *at,
            level_db: -10.0,
            contrast_db: 40.0,
            thud: false,
            onset_u: 1e-4,
        });
        Heard {
            clicks: clicks.collect(),
            ..Heard::default()
        }
    }

    fn plain(times: &[f64], open: usize, close: usize) -> f64 {
        let readings = read(&heard(times), Kind::Leaf, 1.0);
        let pair = readings
            .forms
            .iter()
            .find(|(form, _)| form.is_plain() && (form.open, form.close) == (open, close));
        pair.map_or(0.0, |pair| pair.1)
    }

    #[test]
    fn two_clicks_alone_are_opening_and_closing() {
        assert!(plain(&[1.0, 1.25], 0, 1) > 0.9);
    }

    #[test]
    fn a_third_click_leaves_it_open() {
        for middle in [1.05, 1.12, 1.2] {
            for (open, close) in [(0, 1), (1, 2), (0, 2)] {
                assert!(plain(&[1.0, middle, 1.25], open, close) < 0.9, "{middle}");
            }
        }
    }

    #[test]
    fn a_mirror_before_and_after_a_slow_speed_is_not_two_releases() {
        let once = [1.0, 1.06, 2.06, 2.10];
        assert!(plain(&once, 0, 1) < 0.9);
        let twice: Vec<f64> = [0.0, 4.0]
            .iter()
            .flat_map(|at| once.map(|it| it + at))
            .collect();
        assert!(plain(&twice, 0, 1) < 0.1);
        assert!(plain(&twice, 2, 3) < 0.1);
    }

    #[test]
    fn a_dial_of_two_clicks_each_is_read_although_rests_are_as_long_as_exposures() {
        let mut times = Vec::new();
        let mut at = 1.0;
        for lasting in [1.0, 0.5, 0.25, 0.13, 0.06] {
            times.extend([at, at + lasting]);
            at += lasting + 1.5;
        }
        for n in 0..5 {
            assert!(plain(&times, 2 * n, 2 * n + 1) > 0.8, "{n}");
        }
    }

    #[test]
    fn probabilities_of_one_click_add_to_no_more_than_one() {
        let times = [0.3, 0.5, 0.55, 1.9, 2.0, 2.4, 4.0];
        let readings = read(&heard(&times), Kind::FocalPlane, 1.0);
        for n in 0..times.len() {
            let with = readings.forms.iter().filter(|form| form.0.holds(n));
            let sum: f64 = with.map(|form| form.1).sum();
            assert!((0.0..=1.0 + 1e-9).contains(&sum), "{n}: {sum}");
        }
    }
}

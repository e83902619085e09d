//! Chances learned from finished cameras.
//!
//! Expectation-maximisation over the links of the noisy-OR network (Dempster, Laird & Rubin, JRSS B 39 (1977) 1): where a cause was not
//! looked for, the camera counts by its chance. Each chance has a Beta prior about the author's figure; the stated interval is
//! the Beta distribution whose weight is the prior's and the observed information's, the squares of the cameras' expected scores (Louis,
//! JRSS B 44 (1982) 226), so that what was not looked at adds nothing.

use std::borrow::Borrow;

use fettle_notes::ServiceNotes;
use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF};

use super::eliminate::Tangled;
use super::evidence::Evidence;
use super::network::{Chances, Network};
use super::tape::Var;
use super::traced::{Figure, Traced};

/// An author's figure is taken to be right within a factor of about two either way: it weighs as much as having seen so many of the
/// rarer outcome.
const AUTHOR_SEEN: f64 = 2.0;
/// Rounds of expectation and maximisation at most, and the change that ends them.
const ROUNDS: usize = 60;
const SETTLED: f64 = 1e-4;

/// One learned chance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Learned {
    /// Circumstance, fault or sign that it belongs to.
    pub id: String,
    /// The cause whose link it is; `None` for the chance without any cause.
    pub from: Option<String>,
    /// The author's figure.
    pub author: f64,
    /// The learned figure.
    pub chance: f64,
    /// 90 % interval of it.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// How many cameras' worth of seeing stand behind it, the author's weight not counted.
    pub seen: f64,
}

/// What was learned of one model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lesson {
    /// Every chance of the network, circumstances first, then faults, then signs, each with its links.
    pub chances: Vec<Learned>,
    /// How many cameras were learned from.
    pub cameras: usize,
    /// Cameras left out: what was written of them cannot be by the notes, or is too tangled.
    pub left_out: usize,
    /// The network with the learned chances.
    #[serde(skip)]
    pub network: Network,
}

/// Learns from finished cameras, each with what was seen, found and ruled out.
#[must_use]
pub fn learn<E: Borrow<Evidence>>(network: &Network, cameras: &[E]) -> Lesson {
    let author = network.clone();
    let mut learned = network.clone();
    let mut tallies = Tallies::of(network);
    let mut left_out = 0;
    let mut orders: Vec<Option<Vec<Var>>> = vec![None; cameras.len()];
    for _ in 0..ROUNDS {
        tallies = Tallies::of(network);
        left_out = 0;
        for (camera, order) in cameras.iter().zip(&mut orders) {
            if tallies.add(&learned, camera.borrow(), order).is_err() {
                left_out += 1;
            }
        }
        if tallies.update(&author, &mut learned) < SETTLED {
            break;
        }
    }
    Lesson {
        chances: tallies.lessons(&author, &learned),
        cameras: cameras.len() - left_out,
        left_out,
        network: learned,
    }
}

/// How many intervals of one kind of chance miss the truth.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Missed {
    /// What they are chances of.
    pub what: &'static str,
    /// Intervals of this kind.
    pub all: usize,
    /// That lie below the truth.
    pub below: usize,
    /// That lie above it.
    pub above: usize,
}

/// Expected counts of one chance.
#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    /// It brought its node on.
    yes: f64,
    /// It did not.
    no: f64,
    /// Sum of the squares of the cameras' expected scores.
    information: f64,
}

/// Counts of a node's leak and of its links.
#[derive(Debug, Clone)]
struct Tallies {
    causes: Vec<Vec<Tally>>,
    signs: Vec<Vec<Tally>>,
}

impl Tallies {
    fn of(network: &Network) -> Self {
        let blank = |all: &[Chances]| {
            all.iter()
                .map(|one| vec![Tally::default(); one.links.len() + 1])
                .collect()
        };
        Self {
            causes: blank(&network.causes),
            signs: blank(&network.signs),
        }
    }

    /// Adds one camera by the chances as now believed.
    fn add(
        &mut self,
        network: &Network,
        camera: &Evidence,
        order: &mut Option<Vec<Var>>,
    ) -> Result<(), Tangled> {
        let counts = Traced::of(network, camera, order)?.ok_or(Tangled)?.counts;
        for (figure, yes, no) in counts {
            let (tally, chance) = match figure {
                Figure::Cause(at, link) => (
                    &mut self.causes[at][link],
                    figure_of(&network.causes[at], link),
                ),
                Figure::Sign(at, link) => (
                    &mut self.signs[at][link],
                    figure_of(&network.signs[at], link),
                ),
            };
            tally.yes += yes;
            tally.no += no;
            let chance = chance.clamp(1e-6, 1.0 - 1e-6);
            tally.information += (yes / chance - no / (1.0 - chance)).powi(2);
        }
        Ok(())
    }

    /// Sets every chance to the middle of its posterior; returns the largest change in log odds.
    fn update(&self, author: &Network, learned: &mut Network) -> f64 {
        let mut change = 0.0_f64;
        let all = self
            .causes
            .iter()
            .zip(&author.causes)
            .zip(&mut learned.causes);
        for ((tallies, author), learned) in
            all.chain(self.signs.iter().zip(&author.signs).zip(&mut learned.signs))
        {
            for (link, tally) in tallies.iter().enumerate() {
                let (yes, no) = prior(figure_of(author, link));
                let figure = (yes + tally.yes) / (yes + no + tally.yes + tally.no);
                let before = if link == 0 {
                    &mut learned.leak
                } else {
                    &mut learned.links[link - 1].1
                };
                if yes > 0.0 && no > 0.0 {
                    change = change.max((log_odds(figure) - log_odds(*before)).abs());
                    *before = figure;
                }
            }
        }
        change
    }

    fn lessons(&self, author: &Network, learned: &Network) -> Vec<Learned> {
        let causes = self
            .causes
            .iter()
            .zip(&author.names)
            .zip(author.causes.iter().zip(&learned.causes));
        let signs = self
            .signs
            .iter()
            .zip(&author.sign_names)
            .zip(author.signs.iter().zip(&learned.signs));
        let mut lessons = Vec::new();
        for ((tallies, id), (author_of, learned_of)) in causes.chain(signs) {
            for (link, tally) in tallies.iter().enumerate() {
                let from = link
                    .checked_sub(1)
                    .map(|link| author.names[author_of.links[link].0].clone());
                let (first, now) = (figure_of(author_of, link), figure_of(learned_of, link));
                lessons.push(lesson(id, from, first, now, *tally));
            }
        }
        lessons
    }
}

fn lesson(id: &str, from: Option<String>, author: f64, chance: f64, tally: Tally) -> Learned {
    let (yes, no) = prior(author);
    let seen = tally.information * chance * (1.0 - chance);
    let weight = yes + no + seen;
    let beta = Beta::new(chance * weight, (1.0 - chance) * weight);
    let [low, high] =
        [0.05, 0.95].map(|part| beta.as_ref().map_or(chance, |beta| beta.inverse_cdf(part)));
    Learned {
        id: id.to_owned(),
        from,
        author,
        chance,
        low,
        high,
        seen,
    }
}

/// A chance by its place: the leak, then the links.
fn figure_of(chances: &Chances, link: usize) -> f64 {
    if link == 0 {
        chances.leak
    } else {
        chances.links[link - 1].1
    }
}

/// How often the author is taken to have seen yes and no; a figure of 0 or 1 is a fact and is kept.
fn prior(author: f64) -> (f64, f64) {
    let rarer = author.min(1.0 - author);
    if rarer <= 0.0 {
        return (author, 1.0 - author);
    }
    let weight = AUTHOR_SEEN / rarer;
    (author * weight, (1.0 - author) * weight)
}

fn log_odds(chance: f64) -> f64 {
    let chance = chance.clamp(1e-9, 1.0 - 1e-9);
    (chance / (1.0 - chance)).ln()
}

impl Lesson {
    /// The part of the intervals that hold the chances of `truth`, a network of the same links, as simulated cameras have one.
    #[must_use]
    pub fn holding(&self, truth: &Network) -> f64 {
        let nodes = truth.causes.iter().chain(&truth.signs);
        let figures = nodes.flat_map(|node| {
            std::iter::once(node.leak).chain(node.links.iter().map(|(_, chance)| *chance))
        });
        let pairs = self.chances.iter().zip(figures);
        let held = pairs.filter(|(learned, truth)| (learned.low..=learned.high).contains(truth));
        held.count() as f64 / self.chances.len() as f64
    }

    /// Which of the intervals miss the chances of `truth`, by what they are chances of.
    #[must_use]
    pub fn missed(&self, truth: &Network) -> Vec<Missed> {
        let mut kinds = [
            "circumstances",
            "faults by themselves",
            "faults by causes",
            "signs by themselves",
            "signs by faults",
        ]
        .map(|what| Missed {
            what,
            ..Missed::default()
        });
        let causes = truth.causes.iter().enumerate();
        let causes = causes.map(|(at, node)| (usize::from(at >= truth.circumstances), node));
        let nodes = causes.chain(truth.signs.iter().map(|node| (3, node)));
        let figures = nodes.flat_map(|(kind, node)| {
            let links = node
                .links
                .iter()
                .map(move |(_, chance)| (kind + 1, *chance));
            std::iter::once((kind, node.leak)).chain(links)
        });
        for ((kind, truth), learned) in figures.zip(&self.chances) {
            if let Some(missed) = kinds.get_mut(kind) {
                missed.all += 1;
                missed.below += usize::from(learned.high < truth);
                missed.above += usize::from(learned.low > truth);
            }
        }
        kinds.into_iter().filter(|it| it.all > 0).collect()
    }

    /// Whether the lesson was learned from these notes: same circumstances, faults and signs.
    #[must_use]
    pub fn fits(&self, notes: &ServiceNotes) -> bool {
        let of = Network::of(notes);
        of.names == self.network.names && of.sign_names == self.network.sign_names
    }
}

#[cfg(test)]
mod tests {
    use super::super::fixture::random;
    use super::*;
    use crate::lots::Lots;

    /// A finished camera of the true network: what shows was looked for, a few signs more, and faults settled now and then.
    fn camera(truth: &Network, lots: &mut Lots) -> Evidence {
        let mut present = vec![false; truth.causes.len()];
        let mut evidence = Evidence::none(truth);
        for at in &truth.order {
            present[*at] = lots.next() >= truth.causes[*at].absent(|cause| present[cause]);
        }
        for (at, there) in present.iter().enumerate() {
            let often = if at < truth.circumstances { 0.7 } else { 0.5 };
            if lots.next() < often {
                evidence.causes[at] = Some(*there);
            }
        }
        for (at, sign) in truth.signs.iter().enumerate() {
            if lots.next() < 0.8 {
                evidence.signs[at] = Some(lots.next() >= sign.absent(|cause| present[cause]));
            }
        }
        evidence
    }

    /// The notes' author was off by up to a factor of two either way.
    fn mistaken(truth: &Network, lots: &mut Lots) -> Network {
        let mut author = truth.clone();
        let mut off = |chance: f64| {
            let odds = chance / (1.0 - chance) * lots.pick(&[0.5, 2.0]);
            odds / (1.0 + odds)
        };
        for chances in author.causes.iter_mut().chain(&mut author.signs) {
            chances.leak = off(chances.leak);
            for link in &mut chances.links {
                link.1 = off(link.1);
            }
        }
        author
    }

    #[test]
    fn learned_intervals_hold_the_true_chances() {
        let (mut held, mut all, mut before, mut after) = (0.0, 0.0, 0.0, 0.0);
        for seed in 0..4 {
            let mut lots = Lots::of(40 + seed);
            let truth = random(&mut lots, 3, 8, 12);
            let author = mistaken(&truth, &mut lots);
            let mut lots = Lots::of(seed);
            let cameras: Vec<Evidence> = (0..500).map(|_| camera(&truth, &mut lots)).collect();
            let lesson = learn(&author, &cameras);
            assert_eq!(lesson.cameras, 500);
            let mut lessons = lesson.chances.iter();
            for chances in truth.causes.iter().chain(&truth.signs) {
                for link in 0..=chances.links.len() {
                    let learned = lessons.next().unwrap();
                    let want = figure_of(chances, link);
                    all += 1.0;
                    held += f64::from(u8::from((learned.low..=learned.high).contains(&want)));
                    before += (log_odds(learned.author) - log_odds(want)).abs();
                    after += (log_odds(learned.chance) - log_odds(want)).abs();
                }
            }
        }
        let part = held / all;
        assert!(
            (0.85..=0.95).contains(&part),
            "{part} of {all} intervals hold"
        );
        assert!(after < 0.7 * before, "{after} against {before}");
    }

    #[test]
    fn nothing_seen_leaves_the_author_s_figures() {
        let network = random(&mut Lots::of(3), 2, 5, 6);
        let lesson = learn::<Evidence>(&network, &[]);
        for learned in &lesson.chances {
            assert!((learned.chance - learned.author).abs() < 1e-12);
            assert!(learned.low <= learned.chance && learned.chance <= learned.high);
        }
    }

    #[test]
    fn an_order_found_with_other_chances_changes_no_digit() {
        for seed in 0..40 {
            let mut lots = Lots::of(900 + seed);
            let author = random(&mut lots, 3, 8, 12);
            let learned = mistaken(&author, &mut lots);
            let camera = camera(&author, &mut lots);
            let mut order = None;
            Traced::of(&author, &camera, &mut order).unwrap();
            let fresh = Traced::of(&learned, &camera, &mut None).unwrap().unwrap();
            let kept = Traced::of(&learned, &camera, &mut order).unwrap().unwrap();
            assert_eq!(kept.counts, fresh.counts, "seed {seed}");
        }
    }

    #[test]
    fn whole_counts_are_plain_counting() {
        let mut network = random(&mut Lots::of(3), 1, 1, 1);
        network.causes[1].links = vec![(0, 0.3)];
        network.signs[0].links = vec![(1, 0.5)];
        let mut camera = Evidence::none(&network);
        camera.causes = vec![Some(true), Some(false)];
        camera.signs[0] = Some(false);
        let traced = Traced::of(&network, &camera, &mut None).unwrap().unwrap();
        let want = [
            (Figure::Cause(0, 0), 1.0, 0.0),
            (Figure::Cause(1, 0), 0.0, 1.0),
            (Figure::Cause(1, 1), 0.0, 1.0),
            (Figure::Sign(0, 0), 0.0, 1.0),
        ];
        assert_eq!(traced.counts, want);
    }
}

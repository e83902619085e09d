//! Ways of working, and what a camera costs by each.

use std::collections::HashMap;

use fettle_notes::ServiceNotes;

use super::camera::Camera;
use crate::cause::advise::{Act, Reach, Spot};
use crate::cause::diagnose::{self, NoDiagnosis};
use crate::cause::evidence::Evidence;
use crate::cause::mind::Mind;
use crate::cause::network::Network;
use crate::cause::order::Care;
use crate::cause::standing::standing;
use crate::cause::task::Task;
use crate::way::{Removals, Set};

/// A way of working: what comes next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Working {
    /// What [`diagnose`](super::super::diagnose) ranks first.
    Ranked,
    /// The same with one answer of lookahead.
    OneAhead,
    /// Looks in the notes' order, passing over those whose faults, known for certain, could not save their minutes; when none is left, the
    /// works that pay, the most gainful first.
    NotesOrder,
    /// No looks; of the works that pay the one whose fault is likeliest.
    Chance,
    /// No looks; of the works that pay the one of most chance for its minutes, its removals among them.
    ChancePerMinute,
}

/// What one camera came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// Minutes of looks, of removals, each made once, of works, and of coming back for each fault left in.
    ///
    /// A work whose fault is there takes its minutes over its chance of success, the mean of doing it until it takes.
    pub minutes: f64,
    /// How many looks were made.
    pub looks: usize,
    /// How many works were done.
    pub works: usize,
    /// How many faults were left in.
    pub left_in: usize,
    /// What was known at the end.
    pub evidence: Evidence,
}

/// A bench at which cameras of one model are worked on, with what its mechanic believes of them.
#[derive(Debug)]
pub struct Workshop<'n> {
    notes: &'n ServiceNotes,
    believed: &'n Network,
    removals: Removals<'n>,
    /// What can be done and what it costs, by what is off.
    tasks: HashMap<Set, Task>,
    /// What comes next, by what is known and off: early steps are alike in many cameras.
    next: HashMap<(Working, Evidence, Set), Act>,
}

impl<'n> Workshop<'n> {
    /// `believed` is the network by which is decided, `notes` what looks, works and removals take.
    #[must_use]
    pub fn new(notes: &'n ServiceNotes, believed: &'n Network) -> Self {
        Self {
            notes,
            believed,
            removals: Removals::of(notes),
            tasks: HashMap::new(),
            next: HashMap::new(),
        }
    }

    /// Works on one camera to the end.
    ///
    /// # Errors
    /// When what shows cannot be by the believed network, or is too tangled for it.
    pub fn visit(&mut self, camera: &Camera, working: Working) -> Result<Visit, NoDiagnosis> {
        let mut off = Set::below(self.removals.steps.len());
        let mut evidence = Evidence::none(self.believed);
        evidence.observe(camera.complaint, true);
        let mut visit = Visit {
            minutes: 0.0,
            looks: 0,
            works: 0,
            left_in: 0,
            evidence,
        };
        loop {
            let act = self.next(working, &visit.evidence, &off)?;
            let task = self.task(&off);
            let evidence = &mut visit.evidence;
            let needs = match act {
                Act::Look(at) => {
                    let look = &task.looks[at];
                    evidence.observe(look.sign, camera.sign(look.sign, &evidence.cured));
                    visit.looks += 1;
                    visit.minutes += look.minutes;
                    &look.needs
                }
                Act::Work(at) => {
                    let cure = &task.cures[at];
                    let mut found = false;
                    for cause in &cure.cures {
                        if evidence.causes[*cause].is_none() {
                            found |= camera.present[*cause];
                            evidence.settle(*cause, camera.present[*cause]);
                        }
                    }
                    visit.works += 1;
                    visit.minutes += cure.costs(f64::from(u8::from(found)));
                    &cure.needs
                }
                Act::Stop => {
                    for (cause, there) in camera.present.iter().enumerate() {
                        let fault = task.comeback[cause] > 0.0;
                        if *there && fault && !evidence.cured.contains(&cause) {
                            visit.left_in += 1;
                            visit.minutes += task.comeback[cause];
                        }
                    }
                    return Ok(visit);
                }
            };
            visit.minutes += task.opening(needs, &task.closed());
            off.add_all(needs);
        }
    }

    fn task(&mut self, off: &Set) -> &Task {
        self.tasks.entry(off.clone()).or_insert_with(|| {
            Task::from(self.notes, self.believed, &self.removals, off, false, &[])
        })
    }

    fn next(
        &mut self,
        working: Working,
        evidence: &Evidence,
        off: &Set,
    ) -> Result<Act, NoDiagnosis> {
        let key = (working, evidence.clone(), off.clone());
        if let Some(act) = self.next.get(&key) {
            return Ok(*act);
        }
        let believed = self.believed;
        let task = self.task(off);
        let act = match diagnose::exact(believed, evidence, task, working.care())? {
            Some((spot, _)) => working.next(&spot, task, diagnose::REACH),
            None => {
                let (spot, _) = diagnose::sampled(believed, evidence, task)?;
                working.next(&spot, task, diagnose::SAMPLED_REACH)
            }
        };
        self.next.insert(key, act);
        Ok(act)
    }
}

impl Working {
    /// How often beliefs are asked what one more answer would change.
    const fn care(self) -> Care {
        match self {
            Self::Ranked => Care::Much,
            Self::OneAhead | Self::NotesOrder | Self::Chance | Self::ChancePerMinute => {
                Care::Little
            }
        }
    }

    fn next<M: Mind + Clone>(self, spot: &Spot<M>, task: &Task, reach: Reach) -> Act {
        let ranked = |reach| {
            let choices = spot.choices(task, reach);
            choices.first().map_or(Act::Stop, |best| best.act)
        };
        let chance = |at: usize| {
            let open = spot.mind.open();
            let cures = task.cures[at].cures.iter();
            cures.map(|cause| open[*cause]).fold(0.0, f64::max)
        };
        let minutes = |at: usize| {
            let cure = &task.cures[at];
            cure.costs(chance(at)) + task.opening(&cure.needs, &spot.open)
        };
        let works = || standing(task, spot.mind.open(), &spot.open).works;
        let most = |worth: &dyn Fn(usize) -> f64| {
            let best = works()
                .into_iter()
                .max_by(|a, b| worth(*a).total_cmp(&worth(*b)).then(b.cmp(a)));
            best.map_or(Act::Stop, Act::Work)
        };
        match self {
            Self::Ranked => ranked(reach),
            Self::OneAhead => ranked(Reach { depth: 1, ..reach }),
            Self::NotesOrder => {
                let look = (0..task.looks.len()).find(|at| spot.may_pay(task, *at));
                look.map(Act::Look)
                    .or_else(|| works().first().map(|at| Act::Work(*at)))
                    .unwrap_or(Act::Stop)
            }
            Self::Chance => most(&chance),
            Self::ChancePerMinute => most(&|at| chance(at) / minutes(at)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{cameras, off_by_a_factor};
    use super::*;
    use crate::fixture;

    /// One fault behind the base with a sign outside, and one that nothing shows but a look behind the hood.
    const CAUSES: &str = r#"
[fault.worn]
name = "worn"
is = "cause"
leak = 0.3
cured_by = ["renew"]
[fault.dry]
name = "dry"
is = "cause"
leak = 0.4
brought_on_by = { worn = 0.2 }
cured_by = ["oil"]
[sign.slips]
question = "Does it slip?"
at = "outside"
minutes = 0.5
links = { worn = 0.9, dry = 0.1 }
leak = 0.1
[sign.dull]
question = "Is it dull?"
at = "under the hood"
minutes = 2
needs_apart = ["hood"]
links = { dry = 0.95 }
leak = 0.02
[work.renew]
name = "renew"
minutes = 20
needs_apart = ["shutter"]
success = 0.8
[work.oil]
name = "oil"
minutes = 10
needs_apart = ["front"]
success = 1
"#;

    fn notes() -> ServiceNotes {
        let text = format!("{}{CAUSES}", fixture::TOML);
        fettle_notes::parse(&text, None).expect("sound").0
    }

    #[test]
    fn cameras_come_in_as_the_network_says() {
        let notes = notes();
        let network = Network::of(&notes);
        let drawn = cameras(&notes, &network, 4000, 3);
        let slips = network.sign("slips").unwrap();
        assert!(drawn.iter().all(|camera| camera.complaint == slips));
        // P(slips) with worn and dry as they come.
        let dry = |worn: f64| 1.0 - 0.6 * (1.0 - 0.2 * worn);
        let shown = |worn: f64| 1.0 - 0.9 * (1.0 - 0.9 * worn) * (1.0 - 0.1 * dry(worn));
        let want = 0.3 * shown(1.0) / (0.3 * shown(1.0) + 0.7 * shown(0.0));
        let worn = network.fault("worn").unwrap();
        let got = drawn.iter().filter(|camera| camera.present[worn]).count() as f64 / 4000.0;
        assert!((got - want).abs() < 0.02, "{got} {want}");
        assert_eq!(drawn[..10], cameras(&notes, &network, 10, 3));
    }

    #[test]
    fn minutes_count_what_was_done() {
        let notes = notes();
        let network = Network::of(&notes);
        let mut workshop = Workshop::new(&notes, &network);
        let fault = |id| network.fault(id).unwrap();
        for camera in cameras(&notes, &network, 200, 5) {
            for working in [Working::Ranked, Working::NotesOrder, Working::Chance] {
                let visit = workshop.visit(&camera, working).unwrap();
                let known = &visit.evidence.causes;
                let there = |id| f64::from(u8::from(camera.present[fault(id)]));
                let did = |id| known[fault(id)].is_some();
                let mut want = 0.0;
                // By the base 6, by hood and front 8 minutes, of which the hood is 1 and the front 2.
                let front = did("dry");
                let hood = front || visit.looks > 0;
                want += if hood { 1.0 } else { 0.0 } + if front { 2.0 } else { 0.0 };
                want += 2.0 * visit.looks as f64;
                want += if did("dry") {
                    10.0
                } else {
                    there("dry") * (60.0 + 3.0 + 10.0)
                };
                want += if did("worn") {
                    20.0 * (1.0 + there("worn") * 0.25)
                } else {
                    there("worn") * (60.0 + 6.0 + 25.0)
                };
                let way = if did("worn") {
                    visit.minutes - want
                } else {
                    6.0
                };
                // The shutter by the base, or by the front when that is off already.
                assert!(
                    [5.0, 6.0].iter().any(|way_in| (way - way_in).abs() < 1e-9),
                    "{visit:?} {want}"
                );
            }
        }
    }

    #[test]
    fn looking_pays_where_it_is_cheap() {
        let notes = notes();
        let network = Network::of(&notes);
        let cameras = cameras(&notes, &network, 400, 7);
        let mut workshop = Workshop::new(&notes, &network);
        let mut mean = |working| {
            let minutes = cameras.iter().map(|camera| {
                let visit = workshop.visit(camera, working);
                visit.unwrap().minutes
            });
            minutes.sum::<f64>() / 400.0
        };
        let (ranked, blind) = (mean(Working::Ranked), mean(Working::ChancePerMinute));
        assert!(ranked < blind, "{ranked} {blind}");
    }

    #[test]
    fn figures_are_off_by_two_in_their_odds() {
        let notes = notes();
        let network = Network::of(&notes);
        let off = off_by_a_factor(&network, 1);
        let odds = |chance: f64| chance / (1.0 - chance);
        for (was, is) in network.causes.iter().zip(&off.causes) {
            let by = odds(is.leak) / odds(was.leak);
            assert!((by - 2.0).abs() < 1e-9 || (by - 0.5).abs() < 1e-9, "{by}");
        }
    }
}

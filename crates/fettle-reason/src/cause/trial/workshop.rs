//! Ways of working, and what a camera costs by each.

use std::collections::HashMap;

use fettle_notes::ServiceNotes;

use super::camera::Camera;
use crate::cause::advise::{Act, Reach, Spot};
use crate::cause::diagnose::{self, NoDiagnosis};
use crate::cause::evidence::Evidence;
use crate::cause::mind::Mind;
use crate::cause::network::Network;
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
        self.tasks
            .entry(off.clone())
            .or_insert_with(|| Task::from(self.notes, self.believed, &self.removals, off, false))
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
        let act = match diagnose::exact(believed, evidence, task)? {
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

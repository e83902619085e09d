//! Which look or work comes next: decision-theoretic troubleshooting with lookahead.
//!
//! After Heckerman, Breese & Rommelse, CACM 38(3) (1995) 49, with several faults at once, openings shared by all that lies behind
//! them (Ottosen & Jensen, 2010), and an end that is a choice: what is left in costs its coming back. At the edge of the lookahead stands
//! the cost without another look (`standing`), which no policy exceeds that goes on from there.

use super::mind::Mind;
use super::network::{CauseAt, SignAt};
use super::standing::standing;
use super::task::Task;
use crate::way::Set;

/// A work that saves less than this part of its own minutes is not followed.
const WORTH_A_THOUGHT: f64 = 0.3;

/// How far and how wide the lookahead goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reach {
    /// Answers looked ahead, 1 or more.
    pub(crate) depth: u32,
    /// Acts followed beyond the first answer, the most promising ones.
    pub(crate) width: usize,
}

/// Something to do next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Act {
    /// Look at a sign; by place among the task's looks.
    Look(usize),
    /// Do a work; by place among the task's cures.
    Work(usize),
    /// Leave everything else as it is.
    Stop,
}

/// An act and the expected minutes when it comes next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Choice {
    pub(crate) act: Act,
    pub(crate) minutes: f64,
    /// The same when nothing more is looked at afterwards.
    pub(crate) alone: f64,
}

/// Where a repair stands: what is believed, what has been opened, what has been looked at.
#[derive(Clone)]
pub(crate) struct Spot<M> {
    pub(crate) mind: M,
    pub(crate) open: Set,
    pub(crate) looked: Vec<SignAt>,
}

impl<M: Mind + Clone> Spot<M> {
    /// Every act worth a thought with its expected minutes, the best first, and the expected minutes of the best.
    pub(crate) fn choices(&self, task: &Task, reach: Reach) -> Vec<Choice> {
        let mut choices = self.crude(task);
        if reach.depth > 1 {
            for choice in choices.iter_mut().take(reach.width) {
                choice.minutes = self.minutes_of(task, choice.act, deeper(reach));
            }
        }
        choices.sort_by(|a, b| a.minutes.total_cmp(&b.minutes).then(a.act.cmp(&b.act)));
        choices
    }

    /// Acts by one answer of lookahead.
    fn crude(&self, task: &Task) -> Vec<Choice> {
        let now = standing(task, self.mind.open(), &self.open);
        let left = self.left_in(task);
        let mut choices = vec![Choice {
            act: Act::Stop,
            minutes: left,
            alone: left,
        }];
        for at in 0..task.looks.len() {
            if self.may_pay(task, at) {
                choices.push(self.choice(task, Act::Look(at)));
            }
        }
        for at in 0..task.cures.len() {
            if now.works.contains(&at) || self.may_help(task, at) {
                choices.push(self.choice(task, Act::Work(at)));
            }
        }
        choices.sort_by(|a, b| a.minutes.total_cmp(&b.minutes).then(a.act.cmp(&b.act)));
        choices
    }

    fn choice(&self, task: &Task, act: Act) -> Choice {
        let minutes = self.minutes_of(task, act, Reach { depth: 0, width: 0 });
        Choice {
            act,
            minutes,
            alone: minutes,
        }
    }

    /// Expected minutes when everything is left in.
    fn left_in(&self, task: &Task) -> f64 {
        self.mind
            .open()
            .iter()
            .zip(&task.comeback)
            .map(|(chance, minutes)| chance * minutes)
            .sum()
    }

    /// Whether a look's answer could be worth its minutes: knowing its faults for certain would save more.
    pub(crate) fn may_pay(&self, task: &Task, at: usize) -> bool {
        let look = &task.looks[at];
        if self.looked.contains(&look.sign) {
            return false;
        }
        let open = self.mind.open();
        let cost = look.minutes + task.opening(&look.needs, &self.open);
        let most: f64 = task
            .shown_by(look.sign)
            .iter()
            .map(|cause| open[*cause] * task.comeback[*cause])
            .sum();
        most > cost
    }

    /// Whether a work that does not pay by itself might yet pay by what it shows.
    fn may_help(&self, task: &Task, at: usize) -> bool {
        let cure = &task.cures[at];
        let open = self.mind.open();
        let saved: f64 = cure
            .cures
            .iter()
            .map(|cause| open[*cause] * task.comeback[*cause])
            .sum();
        saved > WORTH_A_THOUGHT * (cure.minutes + task.opening(&cure.needs, &self.open))
    }

    /// Expected minutes of everything from here on when `act` comes next.
    pub(crate) fn minutes_of(&self, task: &Task, act: Act, reach: Reach) -> f64 {
        match act {
            Act::Stop => self.left_in(task),
            Act::Look(at) => {
                let look = &task.looks[at];
                let cost = look.minutes + task.opening(&look.needs, &self.open);
                cost + self
                    .after_look(task, at)
                    .into_iter()
                    .flatten()
                    .map(|(chance, spot)| chance * spot.best(task, reach))
                    .sum::<f64>()
            }
            Act::Work(at) => {
                let cure = &task.cures[at];
                let opening = task.opening(&cure.needs, &self.open);
                let ends = self.after_work(task, at);
                opening
                    + ends
                        .into_iter()
                        .map(|end| end.chance * (end.minutes + end.spot.best(task, reach)))
                        .sum::<f64>()
            }
        }
    }

    /// Expected minutes with the best act next.
    fn best(&self, task: &Task, reach: Reach) -> f64 {
        if reach.depth == 0 {
            return standing(task, self.mind.open(), &self.open).minutes;
        }
        let choices = self.crude(task);
        let least = choices.first().map_or(0.0, |choice| choice.minutes);
        if reach.depth == 1 {
            return least;
        }
        let deep = choices
            .iter()
            .take(reach.width)
            .map(|choice| self.minutes_of(task, choice.act, deeper(reach)));
        deep.fold(least, f64::min)
    }

    /// After no and yes to a look.
    pub(crate) fn after_look(&self, task: &Task, at: usize) -> [Option<(f64, Self)>; 2] {
        let look = &task.looks[at];
        let mut open = self.open.clone();
        open.add_all(&look.needs);
        let mut looked = self.looked.clone();
        looked.push(look.sign);
        self.mind.look(look.sign).map(|answer| {
            answer.map(|(chance, mind)| {
                (
                    chance,
                    Self {
                        mind,
                        open: open.clone(),
                        looked: looked.clone(),
                    },
                )
            })
        })
    }

    /// Everything a work can come to.
    pub(crate) fn after_work(&self, task: &Task, at: usize) -> Vec<Worked<M>> {
        let cure = &task.cures[at];
        let mut spot = self.clone();
        spot.open.add_all(&cure.needs);
        let mut ends = vec![Worked {
            chance: 1.0,
            found: false,
            minutes: 0.0,
            spot,
        }];
        for cause in &cure.cures {
            ends = ends
                .into_iter()
                .flat_map(|end| end.settled(*cause))
                .collect();
        }
        for end in &mut ends {
            end.minutes = cure.costs(f64::from(u8::from(end.found)));
        }
        ends
    }
}

/// What a work came to.
pub(crate) struct Worked<M> {
    pub(crate) chance: f64,
    /// Whether any of its faults was there.
    pub(crate) found: bool,
    /// Minutes of the work itself.
    pub(crate) minutes: f64,
    pub(crate) spot: Spot<M>,
}

impl<M: Mind + Clone> Worked<M> {
    fn settled(self, cause: CauseAt) -> Vec<Self> {
        if self.spot.mind.open()[cause] <= 0.0 {
            return vec![self];
        }
        let answers = self
            .spot
            .mind
            .settle(cause)
            .into_iter()
            .zip([self.found, true]);
        answers
            .filter_map(|(answer, found)| {
                let (part, mind) = answer?;
                let spot = Spot {
                    mind,
                    ..self.spot.clone()
                };
                Some(Self {
                    chance: self.chance * part,
                    found,
                    minutes: 0.0,
                    spot,
                })
            })
            .collect()
    }
}

const fn deeper(reach: Reach) -> Reach {
    Reach {
        depth: reach.depth - 1,
        width: reach.width,
    }
}

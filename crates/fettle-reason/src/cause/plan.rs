//! A plan some answers ahead: what to do next, and after each answer.

use serde::Serialize;

use super::advise::{Act, Reach, Spot};
use super::mind::Mind;
use super::network::Network;
use super::task::Task;

/// Branches less likely than this from where the plan begins are not drawn.
const LEAST_CHANCE: f64 = 0.005;
/// Lookahead at each branch.
const REACH: Reach = Reach { depth: 1, width: 1 };

/// One step of a plan and what follows each answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    /// What to do here: `look`, `work` or `stop`.
    pub act: &'static str,
    /// The sign or work; `None` at the end.
    pub id: Option<String>,
    /// Chance of coming here from the plan's beginning.
    pub probability: f64,
    /// Expected minutes from here on, this step included.
    pub expected_minutes: f64,
    /// The likeliest fault not yet settled here, with its chance.
    pub suspect: Option<(String, f64)>,
    /// What follows each answer; empty at the end and where the plan was cut off.
    pub then: Vec<Branch>,
}

/// An answer and the plan after it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Branch {
    /// `yes` and `no` of a look; `found` and `not found` of a work.
    pub answer: &'static str,
    /// Its chance where it is asked.
    pub probability: f64,
    /// What follows.
    pub plan: Plan,
}

pub(super) fn plan<M: Mind + Clone>(
    network: &Network,
    task: &Task,
    spot: &Spot<M>,
    depth: u32,
    coming_here: f64,
) -> Plan {
    let choices = spot.choices(task, REACH);
    let (act, minutes) = choices
        .first()
        .map_or((Act::Stop, 0.0), |best| (best.act, best.minutes));
    let open = spot
        .mind
        .open()
        .iter()
        .enumerate()
        .skip(network.circumstances);
    let suspect = open
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map(|(cause, chance)| (network.names[cause].clone(), *chance));
    let answers: Vec<(&'static str, f64, Spot<M>)> = match act {
        Act::Stop => Vec::new(),
        Act::Look(at) => {
            let answers = ["no", "yes"].into_iter().zip(spot.after_look(task, at));
            answers
                .filter_map(|(answer, end)| end.map(|(chance, spot)| (answer, chance, spot)))
                .collect()
        }
        Act::Work(at) => {
            let ends = spot.after_work(task, at).into_iter();
            ends.map(|end| {
                (
                    if end.found { "found" } else { "not found" },
                    end.chance,
                    end.spot,
                )
            })
            .collect()
        }
    };
    let then = answers
        .into_iter()
        .filter(|(_, chance, _)| depth > 0 && coming_here * chance >= LEAST_CHANCE)
        .map(|(answer, probability, spot)| Branch {
            answer,
            probability,
            plan: plan(network, task, &spot, depth - 1, coming_here * probability),
        })
        .collect();
    let (act, id) = match act {
        Act::Look(at) => (
            "look",
            Some(network.sign_names[task.looks[at].sign].clone()),
        ),
        Act::Work(at) => ("work", Some(task.cures[at].name.clone())),
        Act::Stop => ("stop", None),
    };
    Plan {
        act,
        id,
        probability: coming_here,
        expected_minutes: minutes,
        suspect: suspect.filter(|one| one.1 > 0.0),
        then,
    }
}

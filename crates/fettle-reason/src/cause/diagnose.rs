//! The whole answer: faults by chance, the next look, what it all costs, and what does not hang together.

use std::rc::Rc;

use fettle_notes::{FaultKind, PartId, ServiceNotes, WorkId};
use serde::Serialize;

use super::advise::{Act, Choice, Reach, Spot};
use super::belief::{Belief, Weights};
use super::evidence::{Evidence, UnknownName};
use super::mind::{Exact, Listed, Mind};
use super::network::{CauseAt, Network};
use super::order::Care;
use super::plan::{self, Plan};
use super::sample::{self, Sample};
use super::standing::standing;
use super::task::Task;
use super::why::{self, Item};
use crate::shares::LearnedSuccess;

/// Lookahead of the ranking.
pub(super) const REACH: Reach = Reach { depth: 2, width: 8 };
/// Lookahead over sampled cameras.
pub(super) const SAMPLED_REACH: Reach = Reach { depth: 1, width: 8 };

/// A cause less likely than this is not held against a repair.
const WORTH_SAYING: f64 = 0.1;

/// An answer points to a fault whose chance it raises by this or more: what can be seen in whole percents.
const POINTS: f64 = 0.005;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'q> {
    /// The model.
    pub notes: &'q ServiceNotes,
    /// Its network.
    pub network: &'q Network,
    /// What is known of the camera.
    pub evidence: &'q Evidence,
    /// Parts that are off.
    pub off: &'q [PartId],
    /// Whether the owner has ordered a full strip: openings then cost nothing.
    pub full_strip: bool,
    /// How many answers the drawn plan goes ahead; 0 for none.
    pub plan_depth: u32,
    /// What was learned of works' success; of those not named the notes' own figure holds.
    pub successes: &'q [(WorkId, LearnedSuccess)],
}

/// What is wrong as far as can be told, and what to do next.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Diagnosis {
    /// Every fault with its chance, likeliest first.
    pub faults: Vec<Suspect>,
    /// Circumstances with their chances, in the notes' order.
    pub circumstances: Vec<Suspect>,
    /// Looks not yet made that are worth a thought, in the order in which they would come next: by what they and the answers after
    /// them save, which `value_minutes` of one look alone does not show.
    pub looks: Vec<NextLook>,
    /// Works worth doing now as the chances stand, the most gainful first.
    pub works: Vec<NextWork>,
    /// What to do next.
    pub next: Next,
    /// Expected bench minutes until every fault present is found and cured, removals included, with the chance that one left in brings
    /// the camera back.
    pub expected_minutes: f64,
    /// The same when nothing more is looked at.
    pub without_looking_minutes: f64,
    /// Probability of everything known under the notes; `None` when it was not worked out exactly.
    pub evidence_probability: Option<f64>,
    /// Damage likely to be there whose cause, left in, would bring it on again.
    pub comes_back: Vec<ComesBack>,
    /// The plan to the depth asked for; `None` for depth 0.
    pub plan: Option<Plan>,
    /// What is to be kept in mind.
    pub findings: Vec<Finding>,
}

/// A cause and its chance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Suspect {
    /// Its id.
    pub id: String,
    /// Its chance.
    pub probability: f64,
}

/// A look that may come next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextLook {
    /// The sign.
    pub id: String,
    /// Expected minutes that this look alone saves against not looking at anything more; negative when it costs more than it saves.
    pub value_minutes: f64,
    /// Its own minutes with the removals that it needs.
    pub cost_minutes: f64,
    /// Parts that come off first, in the notes' order.
    pub opens: Vec<PartId>,
    /// Chance of yes.
    pub probability: f64,
    /// The fault, of those not yet known, whose chance yes raises most; `None` when it raises none by half a percent, or cannot be.
    pub if_yes: Option<String>,
    /// The same for no.
    pub if_no: Option<String>,
}

/// A work worth doing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextWork {
    /// The work.
    pub id: String,
    /// Faults not yet settled that it cures.
    pub cures: Vec<String>,
    /// Chance that the likeliest of them is there.
    pub probability: f64,
    /// Its minutes with the removals that it needs.
    pub cost_minutes: f64,
    /// Parts that come off first, in the notes' order.
    pub opens: Vec<PartId>,
}

/// Damage and a cause behind it that is not settled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComesBack {
    /// What broke.
    pub damage: String,
    /// What brings it on.
    pub cause: String,
    /// Chance that the cause is there when the damage is.
    pub probability: f64,
}

/// What to do next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "act", content = "id", rename_all = "kebab-case")]
pub enum Next {
    /// Look at a sign.
    Look(String),
    /// Do a work.
    Work(String),
    /// Nothing more pays.
    Stop,
}

/// What is to be kept in mind about a diagnosis.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// The answers do not hang together: so small a part of cameras as the notes know them answers as improbably.
    SomethingElse {
        /// That part.
        part: f64,
    },
    /// The network was too tangled for exact work; the chances come from sampled cameras.
    Sampled {
        /// Standard error of the least certain chance.
        error: f64,
    },
}

/// Why there is no diagnosis.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoDiagnosis {
    /// The notes have no such fault.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// What is known contradicts the notes for certain.
    #[error("by the service notes these cannot all be true: {}; take one back, or give its sign a leak above 0", .0.join(", "))]
    Impossible(Vec<String>),
    /// No camera could be drawn either.
    #[error(
        "the causal network is too tangled to be worked out: mark what is already settled, or give signs fewer causes"
    )]
    TooTangled,
}

/// Diagnoses one camera: exactly where the network allows, else from sampled cameras, which a finding then says.
///
/// # Errors
/// When what is known cannot be, or the network can neither be summed nor sampled.
pub fn diagnose(question: Question<'_>) -> Result<Diagnosis, NoDiagnosis> {
    let Question {
        notes,
        network,
        evidence,
        off,
        full_strip,
        successes,
        ..
    } = question;
    let task = Task::of(notes, network, off, full_strip, successes);
    let Some((spot, weights)) = exact(network, evidence, &task, Care::Much)? else {
        let (spot, sample) = sampled(network, evidence, &task)?;
        let mut diagnosis = told(&question, &task, &spot, &sample.chances, SAMPLED_REACH);
        let error = sample.error;
        diagnosis.findings.push(Finding::Sampled { error });
        return Ok(diagnosis);
    };
    let chances = weights.chances().ok_or(NoDiagnosis::TooTangled)?;
    let mut diagnosis = told(&question, &task, &spot, &chances, REACH);
    diagnosis.evidence_probability = Some(weights.total);
    if let Ok(Some(part)) = why::unlike(network, evidence) {
        diagnosis.findings.push(Finding::SomethingElse { part });
    }
    Ok(diagnosis)
}

/// Every fault with its chance, likeliest first, and without any advice.
///
/// # Errors
/// As [`diagnose`].
pub fn suspects(network: &Network, evidence: &Evidence) -> Result<Vec<Suspect>, NoDiagnosis> {
    let chances = match Belief::of(network, evidence, Care::Little) {
        Ok(mut belief) => belief
            .weights(&[])
            .chances()
            .ok_or_else(|| impossible(network, evidence))?,
        Err(_) => {
            sample::sample(network, evidence)
                .ok_or(NoDiagnosis::TooTangled)?
                .chances
        }
    };
    Ok(faults(network, &chances))
}

fn faults(network: &Network, chances: &[f64]) -> Vec<Suspect> {
    let mut faults: Vec<Suspect> = (network.circumstances..network.causes.len())
        .map(|at| suspect(network, chances, at))
        .collect();
    faults.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    faults
}

fn suspect(network: &Network, chances: &[f64], at: CauseAt) -> Suspect {
    Suspect {
        id: network.names[at].clone(),
        probability: chances[at],
    }
}

/// Where a repair stands by exact beliefs, and their weights.
type Standpoint<'n> = (Spot<Exact<'n>>, Rc<Weights>);

/// Where the repair stands by exact beliefs; `None` when the network is too tangled for them.
pub(super) fn exact<'n>(
    network: &'n Network,
    evidence: &'n Evidence,
    task: &Task,
    care: Care,
) -> Result<Option<Standpoint<'n>>, NoDiagnosis> {
    let Ok(mut belief) = Belief::of(network, evidence, care) else {
        return Ok(None);
    };
    let weights = Rc::new(belief.weights(&[]));
    let mind = Exact::of(belief, Rc::clone(&weights), evidence)
        .ok_or_else(|| impossible(network, evidence))?;
    Ok(Some((spot(mind, network, evidence, task), weights)))
}

/// The same by sampled cameras.
pub(super) fn sampled<'n>(
    network: &'n Network,
    evidence: &Evidence,
    task: &Task,
) -> Result<(Spot<Listed<'n>>, Sample), NoDiagnosis> {
    let sample = sample::sample(network, evidence).ok_or(NoDiagnosis::TooTangled)?;
    let cured = evidence
        .cured
        .iter()
        .fold(0, |bits, cause| bits | 1 << cause);
    let absent = (0..network.causes.len()).filter(|at| evidence.causes[*at] == Some(false));
    let settled = absent.fold(cured, |bits, cause| bits | 1 << cause);
    let even = vec![1.0; sample.states.len()];
    let mind = Listed::of(network, sample.states.clone(), even, settled, cured)
        .ok_or(NoDiagnosis::TooTangled)?;
    Ok((spot(mind, network, evidence, task), sample))
}

fn spot<M>(mind: M, network: &Network, evidence: &Evidence, task: &Task) -> Spot<M> {
    Spot {
        mind,
        open: task.closed(),
        looked: (0..network.signs.len())
            .filter(|at| evidence.signs[*at].is_some())
            .collect(),
    }
}

fn impossible(network: &Network, evidence: &Evidence) -> NoDiagnosis {
    let answer = |there: Option<bool>| if there == Some(true) { "yes" } else { "no" };
    let name = |item: Item| match item {
        Item::Sign(at) => format!("{}={}", network.sign_names[at], answer(evidence.signs[at])),
        Item::Cause(at) => format!("{}={}", network.names[at], answer(evidence.causes[at])),
    };
    match why::impossible(network, evidence) {
        Ok(items) => NoDiagnosis::Impossible(items.into_iter().map(name).collect()),
        Err(_) => NoDiagnosis::TooTangled,
    }
}

fn told<M: Mind + Clone>(
    question: &Question<'_>,
    task: &Task,
    spot: &Spot<M>,
    chances: &[f64],
    reach: Reach,
) -> Diagnosis {
    let network = question.network;
    let choices = spot.choices(task, reach);
    let now = standing(task, spot.mind.open(), &spot.open);
    let best = choices.first().copied().unwrap_or(Choice {
        act: Act::Stop,
        minutes: now.minutes,
        alone: now.minutes,
    });
    let look = |choice: &Choice| match choice.act {
        Act::Look(at) => Some(next_look(
            question,
            task,
            spot,
            at,
            now.minutes - choice.alone,
        )),
        Act::Work(_) | Act::Stop => None,
    };
    Diagnosis {
        faults: faults(network, chances),
        circumstances: (0..network.circumstances)
            .map(|at| suspect(network, chances, at))
            .collect(),
        looks: choices.iter().filter_map(look).collect(),
        works: now
            .works
            .iter()
            .map(|at| next_work(question, task, spot, *at))
            .collect(),
        next: match best.act {
            Act::Look(at) => Next::Look(network.sign_names[task.looks[at].sign].clone()),
            Act::Work(at) => Next::Work(task.cures[at].name.clone()),
            Act::Stop => Next::Stop,
        },
        expected_minutes: best.minutes.min(now.minutes),
        without_looking_minutes: now.minutes,
        evidence_probability: None,
        comes_back: comes_back(question, spot, chances),
        plan: (question.plan_depth > 0)
            .then(|| plan::plan(network, task, spot, question.plan_depth, 1.0)),
        findings: Vec::new(),
    }
}

/// Damage more likely than not, with each fault not yet settled that may have brought it on.
fn comes_back<M: Mind>(question: &Question<'_>, spot: &Spot<M>, chances: &[f64]) -> Vec<ComesBack> {
    let Question {
        notes,
        network,
        evidence,
        ..
    } = *question;
    let mut all = Vec::new();
    for (id, fault) in notes.faults.iter() {
        let Some(damage) = network
            .fault(id.as_str())
            .filter(|at| fault.is == FaultKind::Damage && chances[*at] > 0.5)
        else {
            continue;
        };
        let there = match evidence.causes[damage] {
            Some(_) => None,
            None => spot.mind.settle(damage).into_iter().nth(1).flatten(),
        };
        let open = there
            .as_ref()
            .map_or_else(|| spot.mind.open(), |(_, mind)| mind.open());
        for (cause, _) in &network.causes[damage].links {
            if *cause >= network.circumstances && open[*cause] >= WORTH_SAYING {
                all.push(ComesBack {
                    damage: id.to_string(),
                    cause: network.names[*cause].clone(),
                    probability: open[*cause],
                });
            }
        }
    }
    all.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    all
}

fn next_look<M: Mind + Clone>(
    question: &Question<'_>,
    task: &Task,
    spot: &Spot<M>,
    at: usize,
    value: f64,
) -> NextLook {
    let look = &task.looks[at];
    let network = question.network;
    let [no, yes] = spot.mind.look(look.sign);
    let known = &question.evidence.causes;
    let points_to = |mind: &M| {
        let after = mind.open().iter().zip(spot.mind.open()).enumerate();
        let rises = after.map(|(cause, (after, now))| (cause, after - now));
        let faults = rises.skip(network.circumstances);
        faults
            .filter(|(cause, rise)| known[*cause].is_none() && *rise >= POINTS)
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
            .map(|(cause, _)| network.names[cause].clone())
    };
    NextLook {
        id: network.sign_names[look.sign].clone(),
        value_minutes: value,
        cost_minutes: look.minutes + task.opening(&look.needs, &spot.open),
        opens: opens(question.notes, &look.needs),
        probability: yes.as_ref().map_or(0.0, |yes| yes.0),
        if_yes: yes.as_ref().and_then(|(_, mind)| points_to(mind)),
        if_no: no.as_ref().and_then(|(_, mind)| points_to(mind)),
    }
}

fn next_work<M: Mind + Clone>(
    question: &Question<'_>,
    task: &Task,
    spot: &Spot<M>,
    at: usize,
) -> NextWork {
    let cure = &task.cures[at];
    let open = spot.mind.open();
    let probability = cure
        .cures
        .iter()
        .map(|cause| open[*cause])
        .fold(0.0, f64::max);
    let unsettled = cure.cures.iter().filter(|cause| open[**cause] > 0.0);
    NextWork {
        id: cure.name.clone(),
        cures: unsettled
            .map(|cause| question.network.names[*cause].clone())
            .collect(),
        probability,
        cost_minutes: cure.costs(probability) + task.opening(&cure.needs, &spot.open),
        opens: opens(question.notes, &cure.needs),
    }
}

fn opens(notes: &ServiceNotes, needs: &crate::way::Set) -> Vec<PartId> {
    let ids: Vec<&PartId> = notes.removals.ids().collect();
    needs
        .iter()
        .filter_map(|at| ids.get(at).map(|id| (*id).clone()))
        .collect()
}

/// One piece of evidence and what it says about a fault.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Weighed {
    /// The sign, circumstance or other fault.
    pub id: String,
    /// Its answer.
    pub there: bool,
    /// log2 of the ratio by which it raises the odds of the fault when everything else is known; negative speaks against. Infinite where it
    /// alone decides, which JSON gives as `null`.
    pub weight: f64,
}

/// What speaks for a fault and against it, the strongest first.
///
/// # Errors
/// When the notes have no such fault, or the network is too tangled.
pub fn weigh(
    network: &Network,
    evidence: &Evidence,
    fault: &str,
) -> Result<Vec<Weighed>, NoDiagnosis> {
    let at = network.known_fault(fault)?;
    let weights = why::weights(network, evidence, at).map_err(|_| NoDiagnosis::TooTangled)?;
    let mut weighed: Vec<Weighed> = weights
        .into_iter()
        .map(|(item, weight)| {
            let (id, there) = match item {
                Item::Sign(at) => (&network.sign_names[at], evidence.signs[at]),
                Item::Cause(at) => (&network.names[at], evidence.causes[at]),
            };
            Weighed {
                id: id.clone(),
                there: there == Some(true),
                weight,
            }
        })
        .collect();
    weighed.sort_by(|a, b| b.weight.abs().total_cmp(&a.weight.abs()));
    Ok(weighed)
}

#[cfg(test)]
mod tests {
    use super::super::fixture::random;
    use super::*;
    use crate::lots::Lots;

    #[test]
    fn a_fault_that_the_notes_do_not_have_is_not_weighed() {
        let network = random(&mut Lots::of(1), 1, 3, 2);
        let error = weigh(&network, &Evidence::none(&network), "falt-1").unwrap_err();
        let want = "the service notes have no fault `falt-1`; did you mean `fault-1`?";
        assert_eq!(error.to_string(), want);
    }

    /// Of a closed camera, without a plan.
    fn asked(
        notes: &ServiceNotes,
        network: &Network,
        evidence: &Evidence,
        successes: &[(WorkId, LearnedSuccess)],
    ) -> Diagnosis {
        diagnose(Question {
            notes,
            network,
            evidence,
            off: &[],
            full_strip: false,
            plan_depth: 0,
            successes,
        })
        .unwrap()
    }

    /// Two works cure one fault: the quicker comes first until it is learned that it seldom holds.
    const TWO_WORKS: &str = r#"
[fault.worn]
name = "worn"
is = "cause"
leak = 0.6
cured_by = ["bend", "renew"]
[sign.slips]
question = "Does it slip?"
at = "outside"
minutes = 0.5
links = { worn = 0.9 }
leak = 0.05
[work.bend]
name = "bend"
minutes = 20
needs_apart = ["shutter"]
success = 0.9
[work.renew]
name = "renew"
minutes = 30
needs_apart = ["shutter"]
success = 0.9
"#;

    #[test]
    fn a_work_that_was_seen_to_hold_seldom_gives_way_to_another() {
        let text = format!("{}{TWO_WORKS}", crate::fixture::TOML);
        let notes = fettle_notes::parse(&text, None).unwrap().0;
        let network = Network::of(&notes);
        let seen = [("slips", true)];
        let evidence = seen
            .iter()
            .fold(Evidence::none(&network), |mut it, (sign, shown)| {
                it.signs[network.sign(sign).unwrap()] = Some(*shown);
                it
            });
        let ask = |successes: &[_]| asked(&notes, &network, &evidence, successes);
        let author = ask(&[]);
        assert_eq!(author.works[0].id, "bend");
        let (bend, _) = notes.works.entry("bend").unwrap();
        let seldom = [(bend.clone(), crate::learn_success(0.9, 2, 8))];
        let taught = ask(&seldom);
        assert_eq!(taught.works[0].id, "renew");
        assert!(taught.expected_minutes > author.expected_minutes + 1.0);
    }

    /// Two faults of which a slip tells, and a third that nothing tells of.
    const TWO_FAULTS: &str = r#"
[fault.worn]
name = "worn"
is = "cause"
leak = 0.6
cured_by = ["renew"]
[fault.oily]
name = "oily"
is = "cause"
leak = 0.2
cured_by = ["renew"]
[fault.silent]
name = "silent"
is = "cause"
leak = 0.9
cured_by = ["renew"]
[sign.slips]
question = "Does it slip?"
at = "outside"
minutes = 0.5
links = { worn = 0.7, oily = 0.9 }
leak = 0.05
[work.renew]
name = "renew"
minutes = 30
needs_apart = ["shutter"]
success = 0.9
"#;

    #[test]
    fn an_answer_points_to_what_it_makes_likelier_not_to_what_is_known_or_likely_anyway() {
        let text = format!("{}{TWO_FAULTS}", crate::fixture::TOML);
        let notes = fettle_notes::parse(&text, None).unwrap().0;
        let network = Network::of(&notes);
        let look = |found: Option<bool>| {
            let mut evidence = Evidence::none(&network);
            evidence.causes[network.fault("worn").unwrap()] = found;
            let mut looks = asked(&notes, &network, &evidence, &[]).looks.into_iter();
            looks.find(|look| look.id == "slips").unwrap()
        };
        // Before anything is known both rise; the likely one by more.
        assert_eq!(look(None).if_yes.as_deref(), Some("worn"));
        assert_eq!(look(Some(true)).if_yes.as_deref(), Some("oily"));
        assert_eq!(look(Some(false)).if_yes.as_deref(), Some("oily"));
        assert_eq!(look(None).if_no, None);
    }
}

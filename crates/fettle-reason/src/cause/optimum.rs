//! The best that can be done, by dynamic programming over everything that can be believed; for small networks in tests.

use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

use super::advise::{Act, Reach, Spot};
use super::mind::{Listed, Mind};
use super::network::{Chances, Network};
use super::task::{Cure, Look, Task};
use crate::lots::Lots;
use crate::way::Set;

type Known = HashMap<u64, f64>;
/// The least that an act can cost, what it costs at once, and what it comes to.
type Opened<'n> = (f64, f64, Vec<(f64, Spot<Listed<'n>>)>);

/// A small network with its looks, works and openings.
fn small(lots: &mut Lots, faults: usize, looks: usize) -> (Network, Task) {
    let network = super::fixture::random(lots, 1, faults, looks);
    let openings: Vec<f64> = (0..3).map(|_| lots.between(2.0, 30.0)).collect();
    let needs = |lots: &mut Lots, often: f64| {
        let mut needs = Set::below(3);
        for at in 0..3 {
            if lots.next() < often {
                needs.add(at);
            }
        }
        needs
    };
    let task = Task {
        looks: (0..looks)
            .map(|sign| Look {
                sign,
                minutes: lots.between(0.3, 12.0),
                needs: needs(lots, 0.25),
            })
            .collect(),
        cures: (0..faults)
            .map(|at| Cure {
                name: format!("work-{at}"),
                minutes: lots.between(5.0, 60.0),
                success: lots.between(0.7, 1.0),
                needs: needs(lots, 0.4),
                cures: vec![at + 1],
            })
            .collect(),
        comeback: std::iter::once(0.0)
            .chain((0..faults).map(|_| lots.between(90.0, 260.0)))
            .collect(),
        removals: openings,
        shown: network
            .signs
            .iter()
            .map(|sign| sign.links.iter().map(|(cause, _)| *cause).collect())
            .collect(),
    };
    (network, task)
}

/// The belief before anything is looked at, by going through every combination of causes.
fn prior(network: &Network) -> Listed<'_> {
    let states: Vec<u128> = (0..1_u128 << network.causes.len()).collect();
    let chance = |state: &u128| {
        let present = |cause: usize| state >> cause & 1 == 1;
        let of = |(at, cause): (usize, &Chances)| {
            let absent = cause.absent(present);
            if present(at) { 1.0 - absent } else { absent }
        };
        network.causes.iter().enumerate().map(of).product()
    };
    let weights = states.iter().map(chance).collect();
    let settled = (1 << network.circumstances) - 1;
    Listed::of(network, states, weights, settled, 0).expect("a prior has weight")
}

fn key(spot: &Spot<Listed<'_>>) -> u64 {
    let mut hasher = DefaultHasher::new();
    let mut looked = spot.looked.clone();
    looked.sort_unstable();
    looked.hash(&mut hasher);
    spot.open.hash(&mut hasher);
    for (chance, (state, weight)) in spot.mind.open().iter().zip(spot.mind.weighed()).take(1) {
        ((chance * 1e10) as i64, state, (weight * 1e10) as i64).hash(&mut hasher);
    }
    for (_, weight) in spot.mind.weighed() {
        ((weight * 1e10).round() as i64).hash(&mut hasher);
    }
    for chance in spot.mind.open() {
        ((chance * 1e10).round() as i64).hash(&mut hasher);
    }
    hasher.finish()
}

/// No policy costs less: every fault known for certain, every cover open.
fn bound(task: &Task, mind: &Listed<'_>) -> f64 {
    let cheapest = |cause: usize| {
        let works = task.cures.iter().filter(|cure| cure.cures.contains(&cause));
        works
            .map(|cure| cure.minutes / cure.success)
            .fold(task.comeback[cause], f64::min)
    };
    mind.open()
        .iter()
        .enumerate()
        .map(|(cause, chance)| chance * cheapest(cause))
        .sum()
}

fn optimum(spot: &Spot<Listed<'_>>, task: &Task, known: &mut Known) -> f64 {
    let key = key(spot);
    if let Some(minutes) = known.get(&key) {
        return *minutes;
    }
    let mut best = spot.minutes_of(task, Act::Stop, Reach { depth: 0, width: 0 });
    let mut acts: Vec<Opened<'_>> = Vec::new();
    for at in 0..task.looks.len() {
        let look = &task.looks[at];
        if !spot.looked.contains(&look.sign) {
            let cost = look.minutes + task.opening(&look.needs, &spot.open);
            let ends: Vec<_> = spot.after_look(task, at).into_iter().flatten().collect();
            acts.push((0.0, cost, ends));
        }
    }
    for at in 0..task.cures.len() {
        let cure = &task.cures[at];
        if cure
            .cures
            .iter()
            .any(|cause| spot.mind.open()[*cause] > 0.0)
        {
            let mut cost = task.opening(&cure.needs, &spot.open);
            let mut ends = Vec::new();
            for end in spot.after_work(task, at) {
                cost += end.chance * end.minutes;
                ends.push((end.chance, end.spot));
            }
            acts.push((0.0, cost, ends));
        }
    }
    for act in &mut acts {
        act.0 = act.1
            + act
                .2
                .iter()
                .map(|(chance, end)| chance * bound(task, &end.mind))
                .sum::<f64>();
    }
    acts.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (least, cost, ends) in acts {
        if least < best {
            best = best.min(
                cost + ends
                    .iter()
                    .map(|(chance, end)| chance * optimum(end, task, known))
                    .sum::<f64>(),
            );
        }
    }
    known.insert(key, best);
    best
}

/// Expected minutes of following the adviser to its end.
fn advised(spot: &Spot<Listed<'_>>, task: &Task, reach: Reach, known: &mut Known) -> f64 {
    let key = key(spot);
    if let Some(minutes) = known.get(&key) {
        return *minutes;
    }
    let choices = spot.choices(task, reach);
    let act = choices[0].act;
    let minutes = match act {
        Act::Stop => spot.minutes_of(task, Act::Stop, reach),
        Act::Look(at) => {
            let look = &task.looks[at];
            let cost = look.minutes + task.opening(&look.needs, &spot.open);
            let ends = spot.after_look(task, at);
            cost + ends
                .iter()
                .flatten()
                .map(|(chance, end)| chance * advised(end, task, reach, known))
                .sum::<f64>()
        }
        Act::Work(at) => {
            let opening = task.opening(&task.cures[at].needs, &spot.open);
            let ends = spot.after_work(task, at);
            opening
                + ends
                    .iter()
                    .map(|end| end.chance * (end.minutes + advised(&end.spot, task, reach, known)))
                    .sum::<f64>()
        }
    };
    known.insert(key, minutes);
    minutes
}

fn start<'n>(network: &'n Network, task: &Task, lots: &mut Lots) -> Spot<Listed<'n>> {
    // A camera is sent in because something shows.
    let mind = prior(network);
    let complaint = lots.below(network.signs.len());
    let [_, yes] = mind.look(complaint);
    let (_, mind) = yes.expect("every sign can show");
    Spot {
        mind,
        open: task.closed(),
        looked: vec![complaint],
    }
}

#[test]
fn the_adviser_comes_near_the_optimum() {
    let reach = Reach { depth: 2, width: 6 };
    let (mut sum, mut worst, mut count) = (0.0, 0.0_f64, 0.0);
    for seed in 0..200 {
        let mut lots = Lots::of(7000 + seed);
        let (faults, looks) = (2 + lots.below(3), 2 + lots.below(3));
        let (network, task) = small(&mut lots, faults, looks);
        let spot = start(&network, &task, &mut lots);
        let best = optimum(&spot, &task, &mut Known::new());
        let got = advised(&spot, &task, reach, &mut Known::new());
        assert!(
            got > best - 1e-6,
            "seed {seed}: {got} below the optimum {best}"
        );
        sum += got / best - 1.0;
        worst = worst.max(got / best - 1.0);
        count += 1.0;
    }
    assert!(
        sum / count <= 0.03,
        "on average {} above the optimum",
        sum / count
    );
    assert!(worst <= 0.15, "at worst {worst} above the optimum");
}

/// One fault, independent works, no openings: descending chance over minutes is best (Kadane & Simon, Annals of Statistics 5 (1977)
/// 237).
#[test]
fn one_fault_is_sought_by_chance_over_minutes() {
    for seed in 0..50 {
        let mut lots = Lots::of(seed);
        let count = 6;
        let mut chances: Vec<f64> = (0..count).map(|_| lots.between(0.05, 1.0)).collect();
        let total: f64 = chances.iter().sum();
        chances.iter_mut().for_each(|chance| *chance /= total);
        let minutes: Vec<f64> = (0..count).map(|_| lots.between(5.0, 60.0)).collect();
        let blank = Chances {
            leak: 0.1,
            links: Vec::new(),
        };
        let names = |count: usize| (0..count).map(|at| at.to_string()).collect();
        let network = Network::new(names(count), 0, vec![blank; count], Vec::new(), Vec::new());
        let task = Task {
            looks: Vec::new(),
            cures: minutes
                .iter()
                .enumerate()
                .map(|(at, minutes)| Cure {
                    name: at.to_string(),
                    minutes: *minutes,
                    success: 1.0,
                    needs: Set::below(0),
                    cures: vec![at],
                })
                .collect(),
            comeback: vec![1e6; count],
            removals: Vec::new(),
            shown: Vec::new(),
        };
        let states = (0..count).map(|at| 1 << at).collect();
        let mut mind = Listed::of(&network, states, chances.clone(), 0, 0).unwrap();
        let mut want: Vec<usize> = (0..count).collect();
        want.sort_by(|a, b| (chances[*b] / minutes[*b]).total_cmp(&(chances[*a] / minutes[*a])));
        for next in &want[..count - 1] {
            let spot = Spot {
                mind: mind.clone(),
                open: task.closed(),
                looked: Vec::new(),
            };
            assert_eq!(
                spot.choices(
                    &task,
                    Reach {
                        depth: count as u32,
                        width: count
                    }
                )[0]
                .act,
                Act::Work(*next),
                "seed {seed}"
            );
            let [absent, _] = mind.settle(*next);
            mind = absent.unwrap().1;
        }
    }
}

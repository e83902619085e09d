//! Whether an adjuster acts at all as the notes say.
//!
//! The belief by the notes is held against others in which one adjuster moves nothing, or moves the readings by no
//! more than chance would have it (a wrong screw, counted the other way). A fault is believed when it is more likely
//! than the notes after the odds against it.

use super::belief::Belief;
use super::task::{READINGS, Task};

/// Odds of one fault of one adjuster beforehand.
const FAULT_ODDS: f64 = 0.01;
/// What is left of the notes' effects when an adjuster slips.
const LEFT: f64 = 0.03;
/// Scatter of a wrong screw's effects, in the notes' effects.
const ASTRAY: f64 = 1.5;

/// What an adjuster may do other than by the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fault {
    Slips,
    Astray,
}

/// The belief, and the task as it must then be understood.
pub(super) fn believe(task: &Task) -> (Task, Belief) {
    let mut task = task.clone();
    let mut belief = Belief::new(&task);
    let mut suspects: Vec<usize> = (0..task.adjusters.len())
        .filter(|&j| task.was_turned(j))
        .collect();
    while !suspects.is_empty() && belief.is_doubtful(&task) {
        let mut likeliest: Option<(f64, usize, Task)> = None;
        for &j in &suspects {
            for fault in [Fault::Slips, Fault::Astray] {
                let other = with_fault(&task, j, fault);
                let evidence = Belief::rough_evidence(&other) + FAULT_ODDS.ln();
                if likeliest.as_ref().is_none_or(|(best, ..)| evidence > *best) {
                    likeliest = Some((evidence, j, other));
                }
            }
        }
        let Some((_, j, other)) = likeliest else {
            break;
        };
        let tried = Belief::new(&other);
        if tried.log_evidence + FAULT_ODDS.ln() <= belief.log_evidence {
            break;
        }
        suspects.retain(|&suspect| suspect != j);
        (task, belief) = (other, tried);
    }
    if let Some(ratio) = belief.excess(&task) {
        // What does not repeat as it should is less well known (Birge, Phys. Rev. 40, 1932).
        for noise in &mut task.noise {
            *noise *= ratio;
        }
        belief = Belief::new(&task);
        belief.misfit = Some(ratio);
    }
    (task, belief)
}

fn with_fault(task: &Task, j: usize, fault: Fault) -> Task {
    let mut other = task.clone();
    other.slips[j] = fault == Fault::Slips;
    for i in 0..READINGS {
        let noted = task.effect[i][j];
        other.effect[i][j] = 0.0;
        other.effect_sd[i][j] = match fault {
            Fault::Slips => LEFT * noted.abs(),
            Fault::Astray => {
                let usual = task.effect[i].iter().fold(0.0_f64, |a, b| a.max(b.abs()));
                ASTRAY * noted.abs().max(usual)
            }
        };
    }
    other
}

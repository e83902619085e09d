//! Takes in what a plan says: all of it or nothing.

use fettle_bench::{Bench, BenchError, Hand};
use jiff::Timestamp;

use crate::{plan::Plan, problem::Problem};

/// Why nothing was taken in.
#[derive(Debug, thiserror::Error)]
pub enum NotBrought {
    /// Rows that cannot be taken in.
    #[error("{}", told(.0))]
    Problems(Vec<Problem>),
    /// The record could not be written.
    #[error(transparent)]
    Bench(#[from] BenchError),
}

fn told(problems: &[Problem]) -> String {
    let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

/// Applies a plan in one transaction and gives the number of journal entries that it made. `progress` is told after each group how many
/// of the plan's changes stand.
///
/// # Errors
/// When the plan has problems, the record refuses a change, which is told with its row, or it cannot be written. Nothing is changed then.
pub fn bring(
    bench: &Bench,
    by: &Hand,
    at: Timestamp,
    plan: &Plan,
    progress: &mut dyn FnMut(usize),
) -> Result<usize, NotBrought> {
    tell(bench, by, at, plan, progress, false)
}

/// Does the same and takes it back, so that whatever the record would refuse is known before.
///
/// # Errors
/// As for [`bring`].
pub fn rehearse(
    bench: &Bench,
    by: &Hand,
    at: Timestamp,
    plan: &Plan,
    progress: &mut dyn FnMut(usize),
) -> Result<usize, NotBrought> {
    tell(bench, by, at, plan, progress, true)
}

/// How telling ended early.
enum Early {
    Not(NotBrought),
    Rehearsed(usize),
}

impl From<BenchError> for Early {
    fn from(error: BenchError) -> Self {
        Self::Not(error.into())
    }
}

fn tell(
    bench: &Bench,
    by: &Hand,
    at: Timestamp,
    plan: &Plan,
    progress: &mut dyn FnMut(usize),
    take_back: bool,
) -> Result<usize, NotBrought> {
    if !plan.problems.is_empty() {
        return Err(NotBrought::Problems(plan.problems.clone()));
    }
    let told = bench.apply_together(|apply| {
        let mut done = 0;
        for group in &plan.groups {
            if let Err(error) = apply(by, at, group.changes.clone()) {
                return Err(Early::Not(with_row(error, &group.rows)));
            }
            done += group.changes.len();
            progress(done);
        }
        if take_back {
            return Err(Early::Rehearsed(done));
        }
        Ok(done)
    });
    match told {
        Ok(done) | Err(Early::Rehearsed(done)) => Ok(done),
        Err(Early::Not(not)) => Err(not),
    }
}

/// A rule that the record holds against a change, told with the row that the change comes from.
fn with_row(error: BenchError, rows: &[(u32, u32)]) -> NotBrought {
    match error {
        BenchError::Rule {
            index, field, why, ..
        } => {
            let place = rows.get(index).copied().unwrap_or_default();
            let problem = Problem::at(place, why, "correct the row, or take it out");
            NotBrought::Problems(vec![problem.in_column(field, "")])
        }
        other => NotBrought::Bench(other),
    }
}

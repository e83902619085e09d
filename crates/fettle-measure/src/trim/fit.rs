//! The effects and the present setting, given what is supposed of the play.
//!
//! With the play supposed, the parts' positions `q` are known and each reading is linear in them:
//! `y = c + S·q + e`. `S` has the notes' effects as Gaussian prior, `c` is unknown (flat prior), `e` is Gaussian with
//! the reading's repeatability. Bayesian linear regression (Bishop, Pattern Recognition and Machine Learning, §3.3;
//! the flat `c` leaves by centring), with `S = S0 + D z`, `z` standard normal, so that effects that are known
//! exactly need no special case.

use super::play::{Play, Supposed};
use super::task::{ADJUSTERS, READINGS, Task, Turns};

type Matrix = [Turns; ADJUSTERS];

/// What is believed under one supposition.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    pub(super) play: Play,
    /// Where the parts stand now.
    at: Turns,
    /// One entry a reading that was ever taken.
    lines: [Option<Line>; READINGS],
    /// Log of the density of all readings, up to what is the same for every supposition.
    pub(super) log_evidence: f64,
    /// Weighted squares of the readings about the line, the notes' effects counted as readings.
    pub(super) squares: f64,
}

/// One reading's line.
#[derive(Clone, Copy, Debug)]
struct Line {
    /// Mean position and mean reading of the trials at which it was taken.
    centre: Turns,
    mean: f64,
    mean_variance: f64,
    noise_variance: f64,
    effect: Turns,
    /// Root `R` of the effects' covariance: `R Rᵀ`, upper triangular.
    root: Matrix,
}

/// A reading as it is foreseen: Gaussian, without the noise of reading it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Foreseen {
    pub(super) mean: f64,
    pub(super) variance: f64,
}

impl Fit {
    /// Fits all trials under `supposed`.
    pub(super) fn new(task: &Task, supposed: &Supposed) -> Self {
        let mut play = Play::new(task, supposed);
        let mut at = [0.0; ADJUSTERS];
        let mut positions = Vec::with_capacity(task.trials.len());
        for trial in &task.trials {
            let followed = play.turn(&trial.turns);
            for j in 0..ADJUSTERS {
                at[j] += followed[j];
            }
            positions.push(at);
        }
        let mut fit = Self {
            play,
            at,
            lines: [None; READINGS],
            log_evidence: 0.0,
            squares: 0.0,
        };
        for i in 0..task.readings.len() {
            fit.fit_line(task, &positions, i);
        }
        fit
    }

    fn fit_line(&mut self, task: &Task, positions: &[Turns], i: usize) {
        let taken = || {
            task.trials
                .iter()
                .zip(positions)
                .filter_map(|(trial, at)| Some((trial.readings[i]?, at)))
        };
        let count = taken().count() as f64;
        if count < 0.5 {
            return;
        }
        let mut centre = [0.0; ADJUSTERS];
        let mut mean = 0.0;
        for (reading, at) in taken() {
            mean += reading / count;
            for j in 0..ADJUSTERS {
                centre[j] += at[j] / count;
            }
        }
        let noise_variance = task.noise[i].powi(2);
        let (prior, sd) = (&task.effect[i], &task.effect_sd[i]);
        let size = task.adjusters.len();
        let mut normal = [[0.0; ADJUSTERS]; ADJUSTERS];
        let mut right = [0.0; ADJUSTERS];
        let mut squares = 0.0;
        for (reading, at) in taken() {
            let mut left = reading - mean;
            let mut x = [0.0; ADJUSTERS];
            for j in 0..size {
                let moved = at[j] - centre[j];
                left -= prior[j] * moved;
                x[j] = sd[j] * moved;
            }
            squares += left * left / noise_variance;
            for j in 0..size {
                right[j] += x[j] * left / noise_variance;
                for k in 0..=j {
                    normal[j][k] += x[j] * x[k] / noise_variance;
                }
            }
        }
        for (j, row) in normal.iter_mut().enumerate() {
            row[j] += 1.0;
        }
        let lower = cholesky(&normal, size);
        let inverse = inverse_of_lower(&lower, size);
        // half = L⁻¹ right, so that right·A⁻¹·right is its square.
        let mut half = [0.0; ADJUSTERS];
        let mut log_determinant = 0.0;
        for j in 0..size {
            half[j] = (0..=j).map(|k| inverse[j][k] * right[k]).sum();
            log_determinant += lower[j][j].ln();
        }
        squares -= half.iter().map(|h| h * h).sum::<f64>();
        let squares = squares.max(0.0);

        let mut effect = *prior;
        let mut root = [[0.0; ADJUSTERS]; ADJUSTERS];
        for j in 0..size {
            for k in j..size {
                root[j][k] = sd[j] * inverse[k][j];
                effect[j] += root[j][k] * half[k];
            }
        }
        self.squares += squares;
        self.log_evidence -= 0.5 * squares + log_determinant;
        self.lines[i] = Some(Line {
            centre,
            mean,
            mean_variance: noise_variance / count,
            noise_variance,
            effect,
            root,
        });
    }

    /// Where the parts stand after one more movement.
    pub(super) fn after(&self, turns: &Turns) -> Turns {
        let mut play = self.play;
        let followed = play.turn(turns);
        std::array::from_fn(|j| self.at[j] + followed[j])
    }

    /// The true reading `i` with the parts at `at`; `None` when it was never taken.
    pub(super) fn foresee(&self, i: usize, at: &Turns) -> Option<Foreseen> {
        let line = self.lines[i].as_ref()?;
        let x: Turns = std::array::from_fn(|j| at[j] - line.centre[j]);
        let mut mean = line.mean;
        let mut variance = line.mean_variance;
        for k in 0..ADJUSTERS {
            mean += line.effect[k] * x[k];
            let along: f64 = (0..=k).map(|j| line.root[j][k] * x[j]).sum();
            variance += along * along;
        }
        Some(Foreseen { mean, variance })
    }

    /// Variance of taking reading `i` once.
    pub(super) fn noise_variance(&self, i: usize) -> f64 {
        self.lines[i].map_or(0.0, |line| line.noise_variance)
    }

    /// Effect of adjuster `j` on reading `i`, in limits a turn, with its variance; `None` when the reading was never taken.
    pub(super) fn effect(&self, i: usize, j: usize) -> Option<(f64, f64)> {
        let line = self.lines[i].as_ref()?;
        let variance = line.root[j].iter().map(|r| r * r).sum();
        Some((line.effect[j], variance))
    }
}

/// Lower triangle of a matrix that is at least the unit matrix.
fn cholesky(a: &Matrix, size: usize) -> Matrix {
    let mut lower = [[0.0; ADJUSTERS]; ADJUSTERS];
    for j in 0..size {
        for k in 0..=j {
            let sum: f64 = a[j][k] - (0..k).map(|l| lower[j][l] * lower[k][l]).sum::<f64>();
            lower[j][k] = if j == k {
                // What is at least the unit matrix has no smaller pivot; rounding must not make one.
                sum.max(1.0).sqrt()
            } else {
                sum / lower[k][k]
            };
        }
    }
    lower
}

fn inverse_of_lower(lower: &Matrix, size: usize) -> Matrix {
    let mut inverse = [[0.0; ADJUSTERS]; ADJUSTERS];
    for j in 0..size {
        let mut row = [0.0; ADJUSTERS];
        row[j] = 1.0 / lower[j][j];
        for (k, value) in row.iter_mut().enumerate().take(j) {
            let sum: f64 = (k..j).map(|l| lower[j][l] * inverse[l][k]).sum();
            *value = -sum / lower[j][j];
        }
        inverse[j] = row;
    }
    inverse
}

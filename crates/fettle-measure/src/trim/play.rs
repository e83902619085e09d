//! Play between an adjuster and the part it moves.

use super::task::{ADJUSTERS, Task, Turns};

/// The notes' play is right to this part of it, rectangular.
const PLAY_TOLERANCE: f64 = 0.3;

/// One supposition on the play of all adjusters: for each, its size and where in it the screw stood at first, both as
/// parts of what is possible, 0 to 1.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Supposed {
    pub(super) size: Turns,
    pub(super) start: Turns,
}

/// How the parts stand after the turns, under one supposition.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Play {
    gap: Turns,
    /// Where in its gap each screw stands: 0 when it last pushed backward, the gap when it last pushed on.
    within: Turns,
}

impl Play {
    /// Before the first turn.
    pub(super) fn new(task: &Task, supposed: &Supposed) -> Self {
        let mut play = Self::default();
        for j in 0..ADJUSTERS {
            let share = 1.0 + PLAY_TOLERANCE * (2.0 * supposed.size[j] - 1.0);
            play.gap[j] = task.backlash[j] * share;
            play.within[j] = play.gap[j] * supposed.start[j];
        }
        play
    }

    /// Turns the screws; how far the parts followed.
    pub(super) fn turn(&mut self, turns: &Turns) -> Turns {
        let mut followed = [0.0; ADJUSTERS];
        for (j, followed) in followed.iter_mut().enumerate() {
            let free = self.within[j] + turns[j];
            self.within[j] = free.clamp(0.0, self.gap[j]);
            *followed = free - self.within[j];
        }
        followed
    }

    /// Turns that are lost before the part of adjuster `j` follows on (`true`) or back.
    pub(super) fn lost(&self, j: usize, on: bool) -> f64 {
        if on {
            self.gap[j] - self.within[j]
        } else {
            self.within[j]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn play() -> Play {
        Play {
            gap: [0.5, 0.0, 0.0, 0.0],
            within: [0.2, 0.0, 0.0, 0.0],
        }
    }

    #[test]
    fn the_part_follows_once_the_play_is_taken_up() {
        let mut play = play();
        let mut turn = |turns| play.turn(&[turns, 0.0, 0.0, 0.0])[0];
        let followed = [turn(0.2), turn(0.3), turn(1.0), turn(-0.4), turn(-0.3)];
        for (got, want) in followed.iter().zip([0.0, 0.2, 1.0, 0.0, -0.2]) {
            assert!((got - want).abs() < 1e-12, "{followed:?}");
        }
    }

    #[test]
    fn without_play_the_part_follows_at_once() {
        let followed = play().turn(&[0.0, -0.7, 0.4, 0.0]);
        assert!((followed[1] + 0.7).abs() < 1e-12 && (followed[2] - 0.4).abs() < 1e-12);
    }
}

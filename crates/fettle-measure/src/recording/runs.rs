//! Runs of samples, in bounded memory.

/// Runs kept apart; beyond this many, near ones are taken together.
const MOST_RUNS: usize = 1 << 14;

/// Runs of samples in the order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Runs {
    list: Vec<Run>,
    /// Runs this near to each other are one.
    gap: usize,
}

/// A run, or several near to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Run {
    pub(crate) start: usize,
    /// Past the last sample.
    pub(crate) end: usize,
    /// Samples counted between the two.
    pub(crate) count: usize,
}

impl Runs {
    /// Adds a run that begins after all others.
    pub(super) fn push(&mut self, start: usize, count: usize) {
        let end = start + count;
        match self.list.last_mut() {
            Some(last) if start <= last.end + self.gap => {
                last.end = end;
                last.count += count;
            }
            _ => self.list.push(Run { start, end, count }),
        }
        while self.list.len() > MOST_RUNS {
            self.gap = 2 * self.gap + 1;
            let runs = std::mem::take(&mut self.list);
            for run in runs {
                match self.list.last_mut() {
                    Some(last) if run.start <= last.end + self.gap => {
                        last.end = run.end;
                        last.count += run.count;
                    }
                    _ => self.list.push(run),
                }
            }
        }
    }

    /// These and others that lie between them.
    pub(super) fn and(self, other: Self) -> Self {
        let mut runs = [self.list, other.list].concat();
        runs.sort_by_key(|run| run.start);
        Self {
            list: runs,
            gap: self.gap.max(other.gap),
        }
    }

    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }

    /// Those of more than so many samples.
    pub(super) fn longer_than(mut self, count: usize) -> Self {
        self.list.retain(|run| run.count > count);
        self
    }

    /// Samples in all runs.
    pub(crate) fn count(&self) -> usize {
        self.list.iter().map(|run| run.count).sum()
    }

    /// The runs that reach into a range.
    pub(crate) fn within(&self, range: &std::ops::Range<usize>) -> &[Run] {
        let from = self.list.partition_point(|run| run.end <= range.start);
        let to = self.list.partition_point(|run| run.start < range.end);
        self.list.get(from..to).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_runs_are_left_out() {
        let mut runs = Runs::default();
        runs.push(5, 3);
        runs.push(20, 9);
        assert_eq!(runs.longer_than(3).count(), 9);
    }

    #[test]
    fn however_many_runs_come_few_are_held_and_all_are_counted() {
        let mut runs = Runs::default();
        for n in 0..200_000 {
            runs.push(10 * n, 3);
        }
        assert!(runs.list.len() <= MOST_RUNS);
        assert_eq!(runs.count(), 600_000);
        assert!(runs.list.windows(2).all(|pair| pair[0].end < pair[1].start));
    }

    #[test]
    fn runs_are_found_by_what_they_reach_into() {
        let mut runs = Runs::default();
        runs.push(10, 3);
        runs.push(20, 5);
        assert_eq!(runs.within(&(0..10)), []);
        assert_eq!(runs.within(&(12..20)).len(), 1);
        assert_eq!(runs.within(&(12..21)).len(), 2);
        assert_eq!(runs.within(&(25..30)), []);
    }
}

//! A recording to be looked at: least and greatest values of short stretches, at any zoom.

use std::ops::Range;

use super::Recording;

/// Samples of the shortest stretches whose least and greatest values are held, and how many of these
/// make one of the next level.
const SHORTEST: usize = 64;
const STEP: usize = 16;
/// Most columns of one view.
const MOST_COLUMNS: usize = 4096;

/// A recording with the least and greatest values of its stretches, level over level, so that a view of
/// any part costs about as much as it has columns.
#[derive(Clone, Debug)]
pub struct Waveform {
    recording: Recording,
    /// For each channel, from the finest level on, the least and greatest value of each stretch.
    levels: Vec<Vec<Vec<(f32, f32)>>>,
}

/// A part of a recording in columns of equally many samples.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// First sample of the first column.
    pub from: usize,
    /// Samples a column; 1 when single samples are seen.
    pub per_column: usize,
    /// For each channel the least and greatest value of each column; both `None` where no sample is a
    /// number.
    pub columns: Vec<Vec<Option<(f32, f32)>>>,
    /// Whether every sample is held: of the dark stretches of a long recording only short means are.
    pub is_whole: bool,
}

impl Waveform {
    /// Looks over a recording once.
    #[must_use]
    pub fn of(recording: Recording) -> Self {
        let channels = 0..recording.channel_count();
        let levels = channels
            .map(|channel| levels(&recording, channel))
            .collect();
        Self { recording, levels }
    }

    /// The recording.
    #[must_use]
    pub const fn recording(&self) -> &Recording {
        &self.recording
    }

    /// A range of samples in at most so many columns, up to 4096; beyond the end there is nothing.
    #[must_use]
    pub fn view(&self, range: Range<usize>, columns: usize) -> View {
        let columns = columns.clamp(1, MOST_COLUMNS);
        let to = range.end.min(self.recording.length());
        let from = range.start.min(to);
        let per_column = (to - from).div_ceil(columns).max(1);
        // Columns begin at whole multiples, so that they stand still while the view is moved.
        let from = from / per_column * per_column;
        let count = (to - from).div_ceil(per_column).min(MOST_COLUMNS);
        let column = |channel: usize, n: usize| {
            let start = from + n * per_column;
            self.extremes(channel, start..(start + per_column).min(to))
        };
        View {
            from,
            per_column,
            columns: (0..self.levels.len())
                .map(|channel| (0..count).map(|n| column(channel, n)).collect())
                .collect(),
            is_whole: self.recording.is_whole(from..to),
        }
    }

    /// The least and greatest value of a range, from levels as coarse as fit into it.
    fn extremes(&self, channel: usize, range: Range<usize>) -> Option<(f32, f32)> {
        let mut both: Option<(f32, f32)> = None;
        let mut add = |low: f32, high: f32| {
            if low <= high {
                let (least, most) = both.unwrap_or((low, high));
                both = Some((least.min(low), most.max(high)));
            }
        };
        let mut at = range.start;
        while at < range.end {
            let levels = self.levels.get(channel).into_iter().flatten();
            let found = levels.enumerate().filter_map(|(level, extremes)| {
                let size = SHORTEST * STEP.pow(u32::try_from(level).ok()?);
                let fits = at.is_multiple_of(size) && at + size <= range.end;
                extremes
                    .get(at / size)
                    .filter(|_| fits)
                    .map(|it| (size, *it))
            });
            if let Some((size, (low, high))) = found.last() {
                add(low, high);
                at += size;
                continue;
            }
            let next = (at + SHORTEST - at % SHORTEST).min(range.end);
            for value in self.recording.values(channel, at..next) {
                add(value, value);
            }
            at = next;
        }
        both
    }
}

/// Every level of one channel; a stretch without any number is the wrong way round.
fn levels(recording: &Recording, channel: usize) -> Vec<Vec<(f32, f32)>> {
    let none = (f32::INFINITY, f32::NEG_INFINITY);
    let wider =
        |(low, high): (f32, f32), (least, most): (f32, f32)| (low.min(least), high.max(most));
    let mut finest = Vec::with_capacity(recording.length() / SHORTEST + 1);
    let mut stretch = none;
    for (n, value) in (1..).zip(recording.values(channel, 0..recording.length())) {
        if value.is_finite() {
            stretch = wider(stretch, (value, value));
        }
        if usize::is_multiple_of(n, SHORTEST) {
            finest.push(stretch);
            stretch = none;
        }
    }
    let mut levels = vec![finest];
    while let Some(last) = levels.last().filter(|last| last.len() >= STEP) {
        let next = last.chunks_exact(STEP);
        let next = next
            .map(|some| some.iter().copied().fold(none, wider))
            .collect();
        levels.push(next);
    }
    levels
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::Hertz;

    fn waveform(samples: Vec<f32>) -> Waveform {
        let recording = Recording::from_channels("a", Hertz::hz(48_000.0), vec![samples]);
        Waveform::of(recording.unwrap())
    }

    #[test]
    fn single_samples_are_seen_as_they_are() {
        let view = waveform((0..5000).map(|n| n as f32).collect()).view(3000..3010, 100);
        assert_eq!(
            (view.from, view.per_column, view.columns[0].len()),
            (3000, 1, 10)
        );
        assert_eq!(view.columns[0][4], Some((3004.0, 3004.0)));
        assert!(view.is_whole);
    }

    #[test]
    fn lost_samples_leave_a_gap_and_a_view_ends_with_the_recording() {
        let mut samples = vec![0.5; 1000];
        samples[128..256].fill(f32::NAN);
        let view = waveform(samples).view(0..9000, 16);
        assert_eq!(view.per_column, 63);
        assert_eq!(view.columns[0].len(), 16);
        assert!(waveform(vec![0.0; 10]).view(50..90, 8).columns[0].is_empty());
        assert!(waveform(vec![f32::NAN; 300]).view(0..300, 1).columns[0][0].is_none());
    }

    proptest! {
        #[test]
        fn every_column_holds_the_least_and_greatest_of_its_samples(
            samples in prop::collection::vec(-1.0_f32..1.0, 1..40_000),
            from in 0_usize..40_000,
            length in 1_usize..40_000,
            columns in 1_usize..200,
        ) {
            let view = waveform(samples.clone()).view(from..from.saturating_add(length), columns);
            let to = (from + length).min(samples.len());
            for (n, column) in view.columns[0].iter().enumerate() {
                let start = view.from + n * view.per_column;
                let part = &samples[start..(start + view.per_column).min(to)];
                let low = part.iter().copied().fold(f32::INFINITY, f32::min);
                let high = part.iter().copied().fold(f32::NEG_INFINITY, f32::max);
                prop_assert_eq!(*column, Some((low, high)));
            }
        }
    }
}

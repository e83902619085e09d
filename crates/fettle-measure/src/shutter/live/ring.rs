//! The last stretch of what came in, by sample number.

/// Samples held of all channels together: 64 MB.
const MOST_SAMPLES: usize = 16_000_000;

/// The latest samples of each channel, numbered from the beginning of the session.
#[derive(Debug)]
pub(super) struct Ring {
    channels: Vec<Vec<f32>>,
    /// Number of the first sample held.
    first: usize,
    /// How many samples of each channel are held at least.
    holds: usize,
}

impl Ring {
    /// Room for so many samples of each channel, or as many as are allowed.
    pub(super) fn new(channels: usize, holds: usize) -> Self {
        Self {
            channels: vec![Vec::new(); channels],
            first: 0,
            holds: holds.min(MOST_SAMPLES / 2 / channels.max(1)),
        }
    }

    /// Adds frames: one sample of each channel after the other.
    pub(super) fn push(&mut self, frames: &[f32]) {
        let width = self.channels.len().max(1);
        for (index, channel) in self.channels.iter_mut().enumerate() {
            channel.extend(frames.iter().skip(index).step_by(width));
        }
        // Cut off only now and then, so that each sample is moved about once.
        if self.end() - self.first > 2 * self.holds {
            let surplus = self.end() - self.first - self.holds;
            for channel in &mut self.channels {
                channel.drain(..surplus);
            }
            self.first += surplus;
        }
    }

    /// Number of the first sample held.
    pub(super) fn first(&self) -> usize {
        self.first
    }

    /// Past the last sample.
    pub(super) fn end(&self) -> usize {
        self.first + self.channels.first().map_or(0, Vec::len)
    }

    /// A copy of what is held between two sample numbers.
    pub(super) fn copy(&self, from: usize, to: usize) -> Vec<Vec<f32>> {
        let from = from.max(self.first) - self.first;
        let to = to.saturating_sub(self.first).max(from);
        let part = |channel: &Vec<f32>| {
            channel
                .get(from..to.min(channel.len()))
                .map(<[f32]>::to_vec)
        };
        self.channels
            .iter()
            .map(|channel| part(channel).unwrap_or_default())
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_keep_their_numbers_while_old_ones_go() {
        let mut ring = Ring::new(2, 10);
        for n in 0..100_u8 {
            ring.push(&[f32::from(n), -f32::from(n)]);
        }
        assert_eq!(ring.end(), 100);
        assert!(ring.first() >= 70 && ring.first() <= 90, "{}", ring.first());
        assert_eq!(
            ring.copy(95, 98),
            [[95.0, 96.0, 97.0], [-95.0, -96.0, -97.0]]
        );
        assert_eq!(ring.copy(99, 200), [[99.0], [-99.0]]);
        assert!(ring.copy(0, 5)[0].is_empty());
    }
}

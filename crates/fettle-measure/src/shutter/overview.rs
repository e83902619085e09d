//! One channel at a glance: block means at some 8 kHz, noise, what is damaged.

/// Blocks a second aimed at; fine enough to see flanks of a millisecond.
const BLOCK_RATE_HZ: f64 = 8000.0;
/// So many equal samples in a row at the greatest value are taken for clipping.
const CLIP_RUN: usize = 3;
/// Share of full scale from which equal extremes count as clipped.
const CLIP_FROM: f32 = 0.98;

/// Block means of one channel and what was noticed while taking them.
#[derive(Clone, Debug)]
pub(crate) struct Overview {
    /// Seconds between samples.
    pub(crate) dt: f64,
    /// Samples a block.
    pub(crate) block: usize,
    /// Means of the blocks.
    pub(crate) means: Vec<f64>,
    /// Standard deviation of the samples' white noise.
    pub(crate) noise: f64,
    /// Samples that are no numbers.
    pub(crate) not_finite: Vec<usize>,
    /// First samples of runs at the end of the range, with their length.
    pub(crate) clipped: Vec<(usize, usize)>,
    /// Median of the blocks: the dark level, as the shutter is mostly closed.
    pub(crate) dark: f64,
}

impl Overview {
    /// Looks over the samples of one channel at `rate` a second. `full_scale` is the end of the
    /// range where it is known.
    pub(crate) fn of(samples: &[f32], rate: f64, full_scale: Option<f32>) -> Self {
        let block = ((rate / BLOCK_RATE_HZ).round() as usize).max(1);
        let mut not_finite = Vec::new();
        let mut means = Vec::with_capacity(samples.len() / block + 1);
        let mut reach = 0.0_f32;
        for (index, chunk) in samples.chunks_exact(block).enumerate() {
            let sum: f32 = chunk.iter().sum();
            reach = chunk
                .iter()
                .fold(reach, |reach, sample| reach.max(sample.abs()));
            if sum.is_finite() {
                means.push(f64::from(sum) / block as f64);
            } else {
                let start = index * block;
                not_finite.extend((start..start + block).filter(|n| !samples[*n].is_finite()));
                means.push(means.last().copied().unwrap_or(0.0));
            }
        }
        Self {
            dt: 1.0 / rate,
            block,
            noise: white_noise(samples),
            dark: median(&thinned(&means)),
            clipped: clipped_runs(samples, full_scale, reach),
            means,
            not_finite,
        }
    }

    /// Seconds between blocks.
    pub(crate) fn block_dt(&self) -> f64 {
        self.dt * self.block as f64
    }

    /// Whether the channel carries nothing: all samples alike.
    pub(crate) fn is_dead(&self) -> bool {
        let (low, high) = self
            .means
            .iter()
            .fold((f64::MAX, f64::MIN), |(low, high), mean| {
                (low.min(*mean), high.max(*mean))
            });
        self.means.len() < 16 || high - low <= f64::from(f32::EPSILON) * high.abs().max(1e-6)
    }
}

/// Median of a list, 0 for none.
pub(crate) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    let middle = sorted.len() / 2;
    if sorted.is_empty() {
        return 0.0;
    }
    let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
    *median
}

/// At most some 20 000 of the values, evenly spread.
pub(crate) fn thinned(values: &[f64]) -> Vec<f64> {
    values
        .iter()
        .step_by(values.len() / 20_000 + 1)
        .copied()
        .collect()
}

/// White noise from second differences, by their median magnitude so that flanks do not count.
fn white_noise(samples: &[f32]) -> f64 {
    let stride = samples.len() / 30_000 + 3;
    let second: Vec<f64> = samples
        .windows(3)
        .step_by(stride)
        .map(|three| (f64::from(three[0]) - 2.0 * f64::from(three[1]) + f64::from(three[2])).abs())
        .filter(|difference| difference.is_finite())
        .collect();
    // Median of |N(0,1)| is 0.6745; a second difference has 6 times the variance.
    median(&second) / 0.6745 / 6.0_f64.sqrt()
}

fn clipped_runs(samples: &[f32], full_scale: Option<f32>, reach: f32) -> Vec<(usize, usize)> {
    let limit = full_scale.map_or(reach, |full| full * CLIP_FROM);
    if !(limit > 0.0 && reach >= limit) {
        return Vec::new();
    }
    let mut runs = Vec::new();
    let mut start = 0;
    for n in 0..samples.len() {
        let continues = n > start
            && samples[n].abs() >= limit
            && samples[n].to_bits() == samples[start].to_bits();
        if !continues {
            if n - start >= CLIP_RUN && samples[start].abs() >= limit {
                runs.push((start, n - start));
            }
            start = n;
        }
    }
    runs
}

//! A repeatable stream of numbers, by a counter and a mixer.

pub(crate) struct Draw(u64);

impl Draw {
    /// A stream fixed by the group's name and the seed, so that a group's cases do not depend on the
    /// other groups.
    pub(crate) fn new(group: &str, seed: u64) -> Self {
        let name = group.bytes().fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3)
        });
        Self(name ^ seed.wrapping_mul(0xD6E8_FEB8_6659_FD93))
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Even on 0 to 1.
    pub(crate) fn next(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// Even on the logarithm.
    pub(crate) fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    pub(crate) fn chance(&mut self, part: f64) -> bool {
        self.next() < part
    }

    pub(crate) fn whole(&mut self, below: usize) -> usize {
        ((self.next() * below as f64) as usize).min(below.saturating_sub(1))
    }

    pub(crate) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.whole(from.len())]
    }

    pub(crate) fn shuffle<T>(&mut self, values: &mut [T]) {
        for i in (1..values.len()).rev() {
            values.swap(i, self.whole(i + 1));
        }
    }

    /// Marks of a dial, each fired up to three times, some passed over; now and then fastest first.
    pub(crate) fn marks(&mut self, dial: &[u32]) -> Vec<u32> {
        let mut marks = Vec::new();
        for mark in dial {
            let repeats = if self.chance(0.12) {
                0
            } else {
                1 + self.whole(3)
            };
            marks.extend(std::iter::repeat_n(*mark, repeats));
        }
        if marks.is_empty() {
            marks.push(60);
        }
        if self.chance(0.3) {
            marks.reverse();
        }
        marks
    }

    /// Mean 0, standard deviation 1, by Box and Muller.
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.next()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.next()).cos()
    }

    /// A seed for what is drawn elsewhere.
    pub(crate) fn seed(&mut self) -> u64 {
        self.bits()
    }
}

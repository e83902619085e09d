//! How many pieces are needed in a time, exactly.

use super::rates::Rates;

/// More pieces than this are not counted.
pub(super) const MOST_COUNTED: u32 = 20_000;
/// What is left when the count ends early.
const NEGLIGIBLE: f64 = 1e-10;
/// Terms are scaled down when they pass this.
const LARGE: f64 = 1e250;
/// Below this logarithm a factor is no longer a number of full precision.
const LEAST_LOG: f64 = -600.0;

/// The chances that none, one, two ... pieces are needed in a time to come.
#[derive(Clone, Debug, PartialEq)]
pub struct Pieces {
    pmf: Vec<f64>,
    mean: f64,
}

impl Pieces {
    /// The pieces needed in so many years, counted until what is left is below 1e-10 (or 20,000 pieces).
    pub(super) fn of(rates: &Rates, years: f64) -> Self {
        let mut walk = Walk::new(rates, years, MOST_COUNTED);
        let mut pmf = Vec::new();
        let mut sum = 0.0;
        while sum < 1.0 - NEGLIGIBLE && pmf.len() <= MOST_COUNTED as usize {
            let chance = walk.step();
            sum += chance;
            pmf.push(chance);
        }
        Self {
            pmf,
            mean: rates.per_year() * rates.pieces_per_need() * years,
        }
    }

    /// The chance of exactly so many, from none on; beyond its end the chances are negligible.
    #[must_use]
    pub fn chances(&self) -> &[f64] {
        &self.pmf
    }

    /// The chance of at most so many.
    #[must_use]
    pub fn at_most(&self, pieces: u32) -> f64 {
        let count = (pieces as usize).saturating_add(1);
        self.pmf.iter().take(count).sum::<f64>().min(1.0)
    }

    /// The fewest that do with the chance `p`; `None` when that is more than is counted.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<u32> {
        let mut sum = 0.0;
        let reached = self.pmf.iter().position(|chance| {
            sum += chance;
            sum >= p
        });
        reached.and_then(|count| u32::try_from(count).ok())
    }

    /// How many are expected.
    #[must_use]
    pub const fn mean(&self) -> f64 {
        self.mean
    }
}

/// The chance that at most so many pieces are needed in so many years.
pub(super) fn at_most(rates: &Rates, years: f64, pieces: u32) -> f64 {
    let mut walk = Walk::new(rates, years, pieces);
    (0..=pieces).map(|_| walk.step()).sum::<f64>().min(1.0)
}

/// Goes through the numbers of pieces from none on.
///
/// In a time `t` with exposure `b` the needs of size `k` and shape `α_k` are negative binomial with `q = t / (b + t)`, independent of
/// other sizes. The generating function of all pieces is `Π ((1-q) / (1 - q y^k))^α_k`; its logarithmic derivative gives Panjer's
/// recursion (Panjer 1981; for a product of negative binomials Sundt & Vernic, *Recursions for Convolutions and Compound Distributions
/// with Insurance Applications*, 2009, ch. 5):
///
/// `s P[s] = Σ_k α_k k G_k[s]`, `G_k[s] = Σ_{j≥1} q^j P[s - jk] = q (P[s-k] + G_k[s-k])`, `P[0] = (1-q)^Σα`.
///
/// All terms are positive, so nothing cancels. An exposure that is itself uncertain is a mixture.
#[derive(Debug)]
pub(super) struct Walk {
    mixed: Vec<(f64, One)>,
}

impl Walk {
    /// `up_to`: no further than so many pieces.
    pub(super) fn new(rates: &Rates, years: f64, up_to: u32) -> Self {
        let each = rates.exposure.iter();
        let one = |(weight, exposure): &(f64, f64)| {
            (*weight, One::new(&rates.by_size, *exposure, years, up_to))
        };
        Self {
            mixed: each.map(one).collect(),
        }
    }

    /// The chance of the next number of pieces.
    pub(super) fn step(&mut self) -> f64 {
        let each = self.mixed.iter_mut();
        each.map(|(weight, one)| *weight * one.step()).sum()
    }
}

#[derive(Debug)]
struct One {
    q: f64,
    /// `P` so far, divided by e to `log`.
    past: Vec<f64>,
    log: f64,
    /// e to `log`, where that is a number of full precision.
    factor: Option<f64>,
    sizes: Vec<Size>,
}

#[derive(Debug)]
struct Size {
    pieces: usize,
    /// Shape times pieces.
    weight: f64,
    /// The last `pieces` terms of `G`, in a ring, and where its oldest lies.
    ring: Vec<f64>,
    oldest: usize,
}

impl One {
    fn new(by_size: &[(u32, f64)], exposure: f64, years: f64, up_to: u32) -> Self {
        let shape: f64 = by_size.iter().map(|(_, shape)| shape).sum();
        let within = by_size.iter().filter(|(pieces, _)| *pieces <= up_to);
        let size = |(pieces, shape): &(u32, f64)| Size {
            pieces: *pieces as usize,
            weight: shape * f64::from(*pieces),
            ring: vec![0.0; *pieces as usize],
            oldest: 0,
        };
        let log = -shape * (years / exposure).ln_1p();
        Self {
            q: years / (exposure + years),
            past: Vec::new(),
            log,
            factor: factor(log),
            sizes: within.map(size).collect(),
        }
    }

    fn step(&mut self) -> f64 {
        let here = self.past.len();
        let mut term = if here == 0 {
            1.0
        } else {
            self.next_term(here) / here as f64
        };
        if term > LARGE {
            self.scale_down();
            term /= LARGE;
        }
        self.past.push(term);
        match self.factor {
            Some(factor) => term * factor,
            None => (term.ln() + self.log).exp(),
        }
    }

    fn next_term(&mut self, here: usize) -> f64 {
        let mut term = 0.0;
        for size in &mut self.sizes {
            let Some(before) = here.checked_sub(size.pieces) else {
                continue;
            };
            if let (Some(g), Some(p)) = (size.ring.get_mut(size.oldest), self.past.get(before)) {
                *g = self.q * (p + *g);
                term += size.weight * *g;
            }
            size.oldest += 1;
            if size.oldest == size.pieces {
                size.oldest = 0;
            }
        }
        term
    }

    fn scale_down(&mut self) {
        let rings = self.sizes.iter_mut().flat_map(|size| &mut size.ring);
        for it in self.past.iter_mut().chain(rings) {
            *it /= LARGE;
        }
        self.log += LARGE.ln();
        self.factor = factor(self.log);
    }
}

fn factor(log: f64) -> Option<f64> {
    (log > LEAST_LOG).then(|| log.exp())
}

//! What a channel's flanks tell of its sensor.
//!
//! Blades alone leave a foot that rises as the square of the time and a top that fills as its power
//! 1.5 (see `blades`). Their mean flanks are fitted by blades before a straight sensor with a lag and,
//! where that does not explain them, before one whose output bends, ends at a rail or falls late. What
//! blades before some sensor explain to a part in a thousand is taken to be made by that sensor.
//! Flanks that none of them explain are left as they are.

use super::blades::{Blades, Motion, Release, Response, Sensor};
use super::flanks::{Fitted, Flanks, Params, fit, of_rise};

/// How many blades are tried.
const COUNTS: [u32; 6] = [3, 4, 5, 6, 8, 10];
/// Misfit by degree of freedom up to which blades explain the flanks.
const EXPLAINED: f64 = 2.5;
/// Below this a straight sensor leaves nothing to explain.
const WELL: f64 = 0.8;
/// What another sensor must explain better by, in variances.
const DECISIVE: f64 = 30.0;
/// A round opening, which blades do not leave but a rail's corner looks like, that explains the
/// flanks better than blades by this is a rail; worse by the other, none. Ten blades are nearly round:
/// less than the first comes about by chance, and between the two nothing is taken off.
const RAIL: f64 = 12.0;
const NO_RAIL: f64 = 6.0;
/// Light against a rail's that is tried, the most first.
const DRIVES: [f64; 6] = [4.0, 3.0, 2.2, 1.7, 1.35, 1.08];
/// Standard uncertainty of what is even between two bounds, so that k = 2 covers 95 % of it.
const EVEN: f64 = 0.475;
/// The same of what may as well be at either bound, so that k = 2 reaches both.
const EITHER: f64 = 0.52;
/// How much of what a bent or late sensor adds may be in error, as the model of it is only near.
const MODEL: f64 = 0.03;
/// Less likely fits by so many variances do not count.
const UNLIKELY: f64 = 18.0;
/// Blades differ from firing to firing by this part of a flank's time.
const ALIKE: f64 = 0.01;
/// Blades close in this part of the time in which they open, behind a tail.
const CLOSING: std::ops::RangeInclusive<f64> = 0.42..=2.8;
/// How much of what speaks for one form of tail against another is believed: no sensor has just one.
const UNSURE: f64 = 0.25;
/// Releases from which the search for a tail begins: time and delay.
const TAILS: [[f64; 2]; 3] = [[0.15e-3, 0.02e-3], [0.5e-3, 0.15e-3], [1.2e-3, 0.02e-3]];

/// What the sensor does to the light besides a lag.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Straight,
    /// Whether blades or a rail make the top's corner cannot be told.
    Open,
    Bent,
    Railed,
    Tailed,
}

/// A fit that counts.
struct Likely {
    blades: Blades,
    fitted: Fitted,
    weight: f64,
    /// Step, then light and output, of the rise and the fall.
    over: [(f64, Vec<[f64; 2]>); 2],
}

/// The sensor as the flanks show it.
pub(crate) struct Form {
    pub(crate) kind: Kind,
    likely: Vec<Likely>,
    /// What the output adds to the time of a shot that opens fully, and its standard uncertainty.
    pub(crate) late: (f64, f64),
    /// From half the light to 1 % of it, with its standard uncertainty, of rise and fall.
    to_dark: [(f64, f64); 2],
}

impl Form {
    /// Of flanks in which a tail of time `tail` was seen, or none.
    pub(crate) fn of(flanks: &Flanks, tail: Option<f64>) -> Option<Self> {
        let straight = fits(flanks, &COUNTS.map(Some), &[Sensor::STRAIGHT]);
        let best = straight.first()?;
        let (least, freedom) = (best.fitted.misfit, best.fitted.freedom);
        let better = |other: &[Likely]| {
            other.first().is_some_and(|it| {
                let excess = (it.fitted.misfit / it.fitted.freedom).max(1.0);
                it.fitted.misfit < EXPLAINED * it.fitted.freedom
                    && least - it.fitted.misfit > DECISIVE * excess
            })
        };
        let round = fits(flanks, &[None], &[Sensor::STRAIGHT]);
        if let Some(round) = round.first() {
            let excess = (least / freedom).clamp(1.0, EXPLAINED);
            let behind = (round.fitted.misfit - least) / excess;
            if round.fitted.misfit < EXPLAINED * freedom && behind < NO_RAIL {
                let kind = if behind < -RAIL {
                    Kind::Railed
                } else {
                    Kind::Open
                };
                return Self::railed(flanks, kind);
            }
        }
        if tail.is_none() && least < WELL * freedom {
            return Some(Self::new(Kind::Straight, straight));
        }
        let bends = [Response::Compressed(1.0), Response::Rounded(1.5)];
        let bent = bends.map(|response| Sensor {
            response,
            ..Sensor::STRAIGHT
        });
        let bent = fits(flanks, &COUNTS.map(Some), &bent);
        let late = if tail.is_some() || least > EXPLAINED * freedom && !better(&bent) {
            tailed(flanks, tail)
        } else {
            Vec::new()
        };
        let misfit = |likely: &[Likely]| likely.first().map_or(f64::MAX, |it| it.fitted.misfit);
        if better(&late) && misfit(&late) < misfit(&bent) {
            Some(Self::new(Kind::Tailed, late))
        } else if better(&bent) {
            Some(Self::new(Kind::Bent, bent))
        } else if least < EXPLAINED * freedom {
            Some(Self::new(Kind::Straight, straight))
        } else {
            None
        }
    }

    /// Blades before a rail: how far beyond it the light goes cannot be told from the flanks.
    fn railed(flanks: &Flanks, kind: Kind) -> Option<Self> {
        let rails = DRIVES.map(|drive| Sensor {
            response: Response::Saturated(1.0 / drive),
            ..Sensor::STRAIGHT
        });
        let likely: Vec<Likely> = rails
            .iter()
            .filter_map(|rail| Likely::of(flanks, None, *rail))
            .map(|it| Likely { weight: 1.0, ..it })
            .collect();
        let most = likely.first()?.late();
        let least = likely.last()?.late();
        let mut form = Self::new(kind, likely);
        form.late = (0.5 * (least + most), 0.5 * (most - least) * EVEN);
        if kind == Kind::Open {
            form.late = (0.0, most * EITHER);
            form.likely = fits(flanks, &[Some(10)], &[Sensor::STRAIGHT]);
            form.to_dark = form.ways();
        }
        Some(form)
    }

    fn new(kind: Kind, mut likely: Vec<Likely>) -> Self {
        let whole: f64 = likely.iter().map(|it| it.weight).sum();
        for it in &mut likely {
            it.weight /= whole.max(f64::MIN_POSITIVE);
        }
        let mut form = Self {
            kind,
            likely,
            late: (0.0, 0.0),
            to_dark: [(0.0, 0.0); 2],
        };
        if kind != Kind::Straight {
            form.late = form.mean(|it| {
                it.fitted
                    .figure(|params| late(&it.blades, params, it.fitted.sensor_of(params)))
            });
            form.late.1 = form.late.1.hypot(MODEL * form.late.0);
        }
        form.to_dark = form.ways();
        form
    }

    fn ways(&self) -> [(f64, f64); 2] {
        [false, true].map(|falls| {
            let (way, deviation) = self.mean(|it| {
                it.fitted.figure(|params| {
                    let motion = params.motion(falls);
                    let over = it.blades.over(&motion, it.fitted.sensor_of(params));
                    it.blades.passes(&motion, TOTAL_AT) - passes(&motion, &over, HALF)
                })
            });
            let lasting = self.mean(|it| (it.fitted.motion(falls).lasting, 0.0)).0;
            (way, deviation.hypot(ALIKE * lasting))
        })
    }

    /// Mean over the likely fits, and its standard uncertainty.
    fn mean(&self, of: impl Fn(&Likely) -> (f64, f64)) -> (f64, f64) {
        let all: Vec<(f64, (f64, f64))> =
            self.likely.iter().map(|it| (it.weight, of(it))).collect();
        let mean: f64 = all.iter().map(|(weight, it)| weight * it.0).sum();
        let variance: f64 = all
            .iter()
            .map(|(weight, it)| weight * (it.1.powi(2) + (it.0 - mean).powi(2)))
            .sum();
        (mean, variance.sqrt())
    }

    /// The time of the tail, where there is one.
    pub(crate) fn tail(&self) -> Option<f64> {
        (self.kind == Kind::Tailed)
            .then(|| self.mean(|it| (it.fitted.sensor().release.time(), 0.0)).0)
    }

    /// What a bent or railed output adds to a shot that reaches the part `peak` of the fully open
    /// level, and its standard uncertainty.
    pub(crate) fn overdrive(&self, peak: f64) -> (f64, f64) {
        match self.kind {
            Kind::Straight | Kind::Tailed => return (0.0, 0.0),
            Kind::Railed | Kind::Open => {
                return (peak * self.late.0, peak * self.late.1);
            }
            Kind::Bent => {}
        }
        if peak > 0.99 {
            return self.late;
        }
        let below = |(step, both): &(f64, Vec<[f64; 2]>)| {
            let below = both.iter().take_while(|[_, out]| *out < peak);
            step * below.map(|[light, out]| out - light).sum::<f64>()
        };
        let above = |(step, both): &(f64, Vec<[f64; 2]>)| {
            let below = both.iter().skip_while(|[_, out]| *out >= peak);
            step * below.map(|[light, out]| out - light).sum::<f64>()
        };
        let (late, spread) = self.mean(|it| (below(&it.over[0]) + above(&it.over[1]), 0.0));
        let share = (late / self.late.0).clamp(0.0, 1.0);
        (late, spread.max(share * self.late.1))
    }

    /// Whether the 1 % crossings as seen are not those of the light.
    pub(crate) fn moves_crossings(&self) -> bool {
        let lag = self.mean(|it| {
            let motion = it.fitted.motion(false);
            (motion.lag / motion.lasting, 0.0)
        });
        !matches!(self.kind, Kind::Straight | Kind::Open) || lag.0 > LAGS
    }

    /// Seconds from where the output passes half the fully open level to where the light passes 1 %,
    /// and their standard uncertainty.
    pub(crate) const fn to_dark(&self, falls: bool) -> (f64, f64) {
        self.to_dark[falls as usize]
    }

    /// What the output adds to the time at a stop that uses the part `a` of the full area.
    pub(crate) fn late_at(&self, a: f64) -> f64 {
        let of = |(step, both): &(f64, Vec<[f64; 2]>)| {
            let more = both.iter().map(|[light, out]| out.min(a) - light.min(a));
            step * more.sum::<f64>() / a
        };
        self.mean(|it| (of(&it.over[0]) + of(&it.over[1]), 0.0)).0
    }
}

/// Total time is counted between these crossings, and half is where flanks are placed.
const TOTAL_AT: f64 = 0.01;
const HALF: f64 = 0.5;
/// A lag of this part of a flank moves the crossings.
const LAGS: f64 = 0.03;

impl Likely {
    fn of(flanks: &Flanks, count: Option<u32>, sensor: Sensor) -> Option<Self> {
        let blades = Blades::of(count);
        let fitted = fit(flanks, &blades, sensor)?;
        let over = [false, true].map(|falls| blades.over(&fitted.motion(falls), fitted.sensor()));
        Some(Self {
            blades,
            fitted,
            weight: 0.0,
            over,
        })
    }

    fn late(&self) -> f64 {
        late(&self.blades, &self.fitted.params, self.fitted.sensor())
    }
}

/// `∫(output - light)` over both flanks; a lag alone adds nothing.
fn late(blades: &Blades, params: &Params, sensor: Sensor) -> f64 {
    let over = [false, true].map(|falls| {
        let motion = Motion {
            lag: 0.0,
            ..params.motion(falls)
        };
        let (step, both) = blades.over(&motion, sensor);
        step * both.iter().map(|[light, out]| out - light).sum::<f64>()
    });
    over[0] + over[1]
}

/// When the output passes the part `level`.
fn passes(motion: &Motion, (step, both): &(f64, Vec<[f64; 2]>), level: f64) -> f64 {
    let from = if motion.falls {
        motion.dark - motion.lasting
    } else {
        motion.dark
    };
    let crosses = |pair: &[[f64; 2]]| (pair[0][1] < level) != (pair[1][1] < level);
    let place = both.windows(2).position(crosses).map_or(0.0, |i| {
        let (a, b) = (both[i][1], both[i + 1][1]);
        i as f64 + ((level - a) / (b - a)).clamp(0.0, 1.0)
    });
    from + (place + 0.5) * step
}

/// Fits by misfit, those too unlikely left out, with their weights.
fn fits(flanks: &Flanks, counts: &[Option<u32>], sensors: &[Sensor]) -> Vec<Likely> {
    let every = counts
        .iter()
        .flat_map(|count| sensors.iter().map(move |sensor| (*count, *sensor)));
    let found = every
        .filter_map(|(count, sensor)| Likely::of(flanks, count, sensor))
        .collect();
    weighted(found)
}

fn weighted(mut found: Vec<Likely>) -> Vec<Likely> {
    found.sort_by(|a, b| a.fitted.misfit.total_cmp(&b.fitted.misfit));
    let Some(best) = found.first() else {
        return found;
    };
    let (least, excess) = (
        best.fitted.misfit,
        (best.fitted.misfit / best.fitted.freedom).max(1.0),
    );
    found.retain(|it| it.fitted.misfit - least < UNLIKELY * excess);
    for it in &mut found {
        it.weight = (-0.5 * (it.fitted.misfit - least) / excess).exp();
    }
    found
}

/// Sensors that fall late. How many blades there are is told by the opening, which no tail touches.
fn tailed(flanks: &Flanks, tail: Option<f64>) -> Vec<Likely> {
    let mut counts: Vec<(f64, u32)> = COUNTS
        .iter()
        .filter_map(|count| {
            let fitted = of_rise(flanks, &Blades::of(Some(*count)))?;
            Some((fitted.misfit, *count))
        })
        .collect();
    counts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let counts: Vec<Option<u32>> = counts.iter().take(2).map(|it| Some(it.1)).collect();
    let starts = tail.map_or(TAILS.to_vec(), |tail| {
        vec![[tail, 0.02e-3], [0.8 * tail, 0.15e-3]]
    });
    let sensors: Vec<Sensor> = starts
        .iter()
        .flat_map(|[time, delay]| {
            [Release::Slow(*time), Release::Held(*time)].map(|release| Sensor {
                release,
                delay: *delay,
                ..Sensor::STRAIGHT
            })
        })
        .collect();
    let mut found: Vec<Likely> = counts
        .iter()
        .flat_map(|count| sensors.iter().map(move |sensor| (*count, *sensor)))
        .filter_map(|(count, sensor)| Likely::of(flanks, count, sensor))
        .collect();
    // Short blades behind a slow pole look like longer ones behind a held output.
    found.retain(|it| {
        let [opening, closing] = [false, true].map(|falls| it.fitted.motion(falls).lasting);
        CLOSING.contains(&(closing / opening))
    });
    // Searches that began apart and ended alike count once.
    found.sort_by(|a, b| a.fitted.misfit.total_cmp(&b.fitted.misfit));
    found.dedup_by(|a, b| (a.fitted.misfit - b.fitted.misfit).abs() < 0.1);
    let mut found = weighted(found);
    for it in &mut found {
        it.weight = it.weight.powf(UNSURE);
    }
    found
}

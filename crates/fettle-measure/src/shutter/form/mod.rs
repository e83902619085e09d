//! What a channel's flanks tell of its sensor.
//!
//! Blades alone leave a foot that rises as the square of the time and a top that fills as its power
//! 1.5 (see `blades`). Their mean flanks are fitted by blades before a straight sensor with a lag and,
//! where that does not explain them, before one whose output bends, ends at a rail or falls late. What
//! blades before some sensor explain to a part in a thousand, or nearly all that is left before a straight
//! one, is taken to be made by that sensor.
//! But no camera's blades are quite regular: irregular ones before a straight sensor are tried as well (see
//! `likely`), and where they explain the flanks nearly as well, nothing is said of the sensor and what it
//! would add is stated. Flanks that none of them explain are left as they are, and what a straight sensor
//! leaves of them is stated.

mod late;
mod likely;
mod rail;

use std::cell::OnceCell;

use likely::{Irregular, Likely, Maker, fits, weighted};

use super::blades::{Motion, Response, Sensor};
use super::flanks::{Fitted, Flanks, fit_from};
use super::tail::Tail;

/// How many blades are tried.
const COUNTS: [u32; 6] = [3, 4, 5, 6, 8, 10];
/// Misfit by degree of freedom up to which blades explain the flanks.
const EXPLAINED: f64 = 2.5;
/// So do blades before a sensor that leaves no more than this part of what they leave before a straight one.
const LEFT: f64 = 0.02;
/// Below this a straight sensor leaves nothing to explain.
const WELL: f64 = 0.8;
/// What another sensor must explain better by, in variances.
const DECISIVE: f64 = 30.0;
/// A round opening, which blades do not leave but a rail's corner looks like, that explains the
/// flanks better than blades by this is a rail; worse by the other, none. Ten blades are nearly round:
/// less than the first comes about by chance, and between the two nothing is taken off.
const RAIL: f64 = 12.0;
const NO_RAIL: f64 = 6.0;
/// Few blades before a rail above the corner in their flank, too, where they explain the flanks better by this, and
/// better by the other than irregular blades.
const FEW: f64 = 6.0;
const FEW_OR_IRREGULAR: f64 = 3.0;
/// Where a round opening explains the flanks worse by this, no blades before a rail are looked at.
const NEARLY_ROUND: f64 = 40.0;
/// It may be behind by so much of what the best leaves beyond noise, too.
const UNEXPLAINED: f64 = 2.0;
/// Standard uncertainty of what is even between two bounds, so that k = 2 covers 95 % of it.
const EVEN: f64 = 0.475;
/// The same of what may as well be at either bound, so that k = 2 reaches both.
const EITHER: f64 = 0.52;
/// Beyond a rail the blades' movement is carried on from below it: so much of what that adds may be in error.
const BEYOND: f64 = 0.1;
/// How much of what a bent or late sensor adds may be in error, as the model of it is only near.
const MODEL: f64 = 0.03;
/// Blades differ from firing to firing by this part of a flank's time.
const ALIKE: f64 = 0.01;
/// What the sensor does to the light besides a lag.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Straight,
    /// Whether blades or the sensor made the flanks cannot be told.
    Open,
    Bent,
    Railed,
    Tailed,
    /// None that is known.
    Unexplained,
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
        let Fitted {
            misfit: least,
            freedom,
            ..
        } = straight.first()?.fitted;
        let rails = rails(flanks, (least, freedom));
        let late = OnceCell::new();
        let railed = rails.first().and_then(|best| {
            let kind = rail_or_blades(&best.fitted, (least, freedom))?;
            let misfit = best.fitted.misfit;
            let is_late = misfit > WELL * freedom
                && is_better(late.get_or_init(|| late::fits(flanks, tail)), misfit);
            (!is_late).then_some(kind)
        });
        let irregular = Irregular::new(flanks, straight.first()?.fitted.clone());
        if let Some(kind) = railed {
            // Irregular blades may end in a corner as well as a rail does.
            return if kind == Kind::Railed && irregular.maker(&rails) == Maker::Sensor {
                Self::railed(rails)
            } else {
                Self::railed_or_blades(rails, straight, irregular)
            };
        }
        // Nearly round is also what shows of few blades below a rail above their corner.
        let nearly_round = rails.first().filter(|_| tail.is_none());
        let few = nearly_round.map(|_| rail::clipped(flanks));
        let few = few.filter(|few| {
            let explains = |it: &Fitted| gained(it, least) > FEW;
            let leads = |it: &Fitted| irregular.lead(it).is_none_or(|it| it < -FEW_OR_IRREGULAR);
            few.first()
                .is_some_and(|it| explains(&it.fitted) && leads(&it.fitted))
        });
        let is_promising = tail.is_none() && late::is_promising(flanks, straight.first()?);
        if tail.is_none() && few.is_none() && least < WELL * freedom && !is_promising {
            return Some(Self::new(Kind::Straight, straight));
        }
        let late = |is_little: bool| match (is_little, is_promising) {
            (true, true) => late::surely(flanks),
            (true, false) => Vec::new(),
            (false, _) => {
                let found = late.into_inner();
                found.unwrap_or_else(|| late::fits(flanks, tail))
            }
        };
        Some(Self::of_sensor(
            flanks,
            straight,
            irregular,
            few,
            tail.is_some(),
            late,
        ))
    }

    /// Where blades before a straight sensor may not be all. `few` blades before a rail may have made the flanks;
    /// `late` gives sensors that fall late, whether all of them or those that surely add a little.
    fn of_sensor(
        flanks: &Flanks,
        straight: Vec<Likely>,
        irregular: Irregular<'_>,
        few: Option<Vec<Likely>>,
        is_tailed: bool,
        late: impl FnOnce(bool) -> Vec<Likely>,
    ) -> Self {
        let bends = [Response::Compressed(1.0), Response::Rounded(1.5)];
        let bent = bends.map(|response| Sensor {
            response,
            ..Sensor::STRAIGHT
        });
        let bent = fits(flanks, &COUNTS.map(Some), &bent);
        let straight = begun_again(flanks, straight, &bent);
        let best = straight
            .first()
            .map(|it| (it.fitted.misfit, it.fitted.freedom));
        let (least, freedom) = best.unwrap_or((f64::MAX, 1.0));
        let better = |other: &[Likely]| is_better(other, least);
        let unexplained = least > EXPLAINED * freedom;
        let is_little = !is_tailed && !unexplained;
        let mut late = late(is_little);
        // What a rail leaves of a flank may also look like a bend or a little tail.
        let (few, clipped) = match few {
            Some(few) if better(&few) => (None, few),
            None if unexplained || better(&bent) || better(&late) => (None, rail::clipped(flanks)),
            few => (few, Vec::new()),
        };
        if is_little && better(&clipped) {
            late.clear();
        }
        let sensors = [
            (Kind::Bent, bent),
            (Kind::Tailed, late),
            (Kind::Bent, clipped),
        ];
        let (explaining, other): (Vec<_>, Vec<_>) =
            sensors.into_iter().partition(|(_, likely)| better(likely));
        if let Some((kind, likely)) = likeliest(&explaining) {
            let end = explaining.iter().any(|(_, likely)| ends_at_rail(likely));
            return match irregular.maker(likely) {
                Maker::Sensor => Self::new(*kind, likely.clone()),
                // Irregular blades may end in a corner as well as a rail does.
                Maker::Blades if !end => Self::new(Kind::Straight, irregular.into_fits()),
                Maker::Blades | Maker::Either => {
                    Self::sensors_or_blades(explaining, straight, irregular)
                }
            };
        }
        if !unexplained {
            return match few {
                Some(few) => Self::sensors_or_blades(vec![(Kind::Bent, few)], straight, irregular),
                None => Self::new(Kind::Straight, straight),
            };
        }
        match likeliest(&other) {
            Some((kind, likely)) if irregular.are_rivalled(likely) => {
                Self::new(*kind, likely.clone()).or_blades(straight, irregular)
            }
            _ => Self::unexplained(flanks, either(straight, irregular)),
        }
    }

    /// The same where blades before a straight sensor may have made it all: a time is too long by nothing, or by what
    /// the sensor adds with its own uncertainty.
    fn or_blades(self, straight: Vec<Likely>, irregular: Irregular<'_>) -> Self {
        let mut form = Self::new(Kind::Straight, either(straight, irregular));
        let (late, deviation) = self.late;
        form.kind = Kind::Open;
        form.late = (0.0, late * EITHER + deviation);
        for ((way, deviation), falls) in form.to_dark.iter_mut().zip([false, true]) {
            let off = self.likely.iter().map(|it| (it.way(falls).0 - *way).abs());
            // A sensor moves both crossings or none.
            let farthest = off.fold(0.0, f64::max) * 2.0_f64.sqrt();
            *deviation = deviation.hypot(farthest * EITHER);
        }
        form
    }

    /// Flanks of another form than any that is known: what a straight sensor leaves of them may all be the sensor's.
    fn unexplained(flanks: &Flanks, straight: Vec<Likely>) -> Self {
        let mut form = Self::new(Kind::Straight, straight);
        form.kind = Kind::Unexplained;
        let lasting = |it: &Likely| {
            let moves = [false, true].map(|falls| it.fitted.motion(falls).lasting);
            (moves[0] + moves[1], it.fitted.misfit / it.fitted.freedom)
        };
        let (lasting, excess) = form.likely.first().map_or((0.0, 0.0), lasting);
        form.late = (0.0, excess.sqrt() * flanks.deviation() * lasting);
        form
    }

    /// Blades before a rail: how far beyond it the light goes cannot be told from the flanks.
    fn railed(likely: Vec<Likely>) -> Option<Self> {
        let lates = || likely.iter().map(Likely::late);
        let most = lates().max_by(f64::total_cmp)?;
        let least = lates().min_by(f64::total_cmp)?;
        let mut form = Self::new(Kind::Railed, likely);
        let beyond = BEYOND * most;
        form.late = (
            0.5 * (least + most),
            (0.5 * (most - least) * EVEN).hypot(beyond),
        );
        Some(form)
    }

    /// Blades before a rail, or blades alone.
    fn railed_or_blades(
        rails: Vec<Likely>,
        straight: Vec<Likely>,
        irregular: Irregular<'_>,
    ) -> Option<Self> {
        let most = rails.iter().map(Likely::late).max_by(f64::total_cmp)?;
        let mut form = Self::new(Kind::Railed, rails);
        form.late = (most, BEYOND * most);
        Some(form.or_blades(straight, irregular))
    }

    /// Any of these sensors, or blades alone: the interval reaches to the one that adds most.
    fn sensors_or_blades(
        sensors: Vec<(Kind, Vec<Likely>)>,
        straight: Vec<Likely>,
        irregular: Irregular<'_>,
    ) -> Self {
        let forms = sensors.into_iter().map(|(kind, likely)| {
            let beyond = if ends_at_rail(&likely) { BEYOND } else { 0.0 };
            let mut form = Self::new(kind, likely);
            let (late, deviation) = form.late;
            form.late.1 = deviation.hypot(beyond * late);
            form
        });
        let most = forms.max_by(|a, b| a.late.0.total_cmp(&b.late.0));
        match most {
            Some(form) => form.or_blades(straight, irregular),
            None => Self::new(Kind::Straight, either(straight, irregular)),
        }
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
            form.late = form.mean(Likely::late_figure);
            form.late.1 = form.late.1.hypot(MODEL * form.late.0);
        }
        form.to_dark = form.ways();
        form
    }

    fn ways(&self) -> [(f64, f64); 2] {
        [false, true].map(|falls| {
            let (way, deviation) = self.mean(|it| it.way(falls));
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

    /// The tail, where there is one.
    pub(crate) fn tail(&self) -> Option<Tail> {
        (self.kind == Kind::Tailed).then(|| {
            let time = self.mean(|it| (it.fitted.sensor().release.time(), 0.0)).0;
            Tail::adding(time, self.late)
        })
    }

    /// What a bent or railed output adds to a shot that reaches the part `peak` of the fully open
    /// level, and its standard uncertainty.
    pub(crate) fn overdrive(&self, peak: f64) -> (f64, f64) {
        match self.kind {
            Kind::Straight | Kind::Tailed => return (0.0, 0.0),
            Kind::Railed | Kind::Open | Kind::Unexplained => {
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

    /// The sensor's lag and its standard uncertainty, in seconds.
    pub(crate) fn lag(&self) -> (f64, f64) {
        self.mean(|it| it.fitted.figure(|params| params.motion(false).lag))
    }

    /// Whether the 1 % crossings as seen are not those of the light, or may not be.
    pub(crate) fn moves_crossings(&self) -> bool {
        let lag = self.mean(|it| {
            let motion = it.fitted.motion(false);
            (motion.lag / motion.lasting, 0.0)
        });
        let moved = matches!(
            self.kind,
            Kind::Open | Kind::Bent | Kind::Railed | Kind::Tailed
        );
        moved || self.kind != Kind::Unexplained && lag.0 > LAGS
    }

    /// Seconds from where the output passes half the fully open level to where the light passes 1 %,
    /// and their standard uncertainty.
    pub(crate) const fn to_dark(&self, falls: bool) -> (f64, f64) {
        self.to_dark[falls as usize]
    }

    /// What the output adds to the time at a stop that uses the part `a` of the full area.
    pub(crate) fn late_at(&self, a: f64) -> f64 {
        if self.kind == Kind::Unexplained {
            return 0.0;
        }
        let of = |(step, both): &(f64, Vec<[f64; 2]>)| {
            let more = both.iter().map(|[light, out]| out.min(a) - light.min(a));
            step * more.sum::<f64>() / a
        };
        self.mean(|it| (of(&it.over[0]) + of(&it.over[1]), 0.0)).0
    }
}

/// Blades before rails, the likeliest first, where a round opening is not much less likely than blades
/// that leave so much at so many degrees of freedom.
fn rails(flanks: &Flanks, (least, freedom): (f64, f64)) -> Vec<Likely> {
    let round = fits(flanks, &[None], &[Sensor::STRAIGHT]);
    let is_near = |round: &&Likely| {
        let most = least + NEARLY_ROUND * (least / freedom).clamp(1.0, EXPLAINED);
        round.fitted.misfit < most.max(EXPLAINED * freedom)
    };
    let near = round.first().filter(is_near);
    near.map_or_else(Vec::new, |round| rail::fits(flanks, &round.fitted))
}

/// Whether a rail makes the corner at the top, or whether that cannot be told; `None` where
/// blades do that leave so much at so many degrees of freedom.
fn rail_or_blades(rail: &Fitted, (least, freedom): (f64, f64)) -> Option<Kind> {
    let excess = (least / freedom).clamp(1.0, EXPLAINED);
    let behind = rail.misfit - least;
    // What the best leaves unexplained may be the corner's too.
    let unexplained = UNEXPLAINED * (least - freedom).max(0.0);
    if rail.misfit >= EXPLAINED * freedom || behind - unexplained >= NO_RAIL * excess {
        return None;
    }
    Some(if behind < -RAIL * excess {
        Kind::Railed
    } else {
        Kind::Open
    })
}

/// By how many variances a fit explains the flanks better than one of misfit `least`.
fn gained(fitted: &Fitted, least: f64) -> f64 {
    (least - fitted.misfit) / (fitted.misfit / fitted.freedom).max(1.0)
}

/// Whether the best of `other` explains the flanks, and decisively better than what leaves so much.
fn is_better(other: &[Likely], misfit: f64) -> bool {
    other.first().is_some_and(|it| {
        it.fitted.misfit < (EXPLAINED * it.fitted.freedom).max(LEFT * misfit)
            && gained(&it.fitted, misfit) > DECISIVE
    })
}

/// Regular and irregular blades before a straight sensor.
fn either(straight: Vec<Likely>, irregular: Irregular<'_>) -> Vec<Likely> {
    weighted(straight.into_iter().chain(irregular.into_fits()).collect())
}

/// Whether the best of these sensors ends at a rail that was fitted.
fn ends_at_rail(likely: &[Likely]) -> bool {
    let response = likely.first().map(|it| it.fitted.sensor().response);
    matches!(response, Some(Response::Clipped(_)))
}

/// The sensors whose best fit leaves least.
fn likeliest(sensors: &[(Kind, Vec<Likely>)]) -> Option<&(Kind, Vec<Likely>)> {
    let misfit = |likely: &[Likely]| likely.first().map_or(f64::MAX, |it| it.fitted.misfit);
    sensors
        .iter()
        .min_by(|(_, a), (_, b)| misfit(a).total_cmp(&misfit(b)))
}

/// The straight fits, with one begun where the best bent one ended: a bend to nothing may have gone on where
/// they had stuck.
fn begun_again(flanks: &Flanks, mut straight: Vec<Likely>, bent: &[Likely]) -> Vec<Likely> {
    let least = straight.first().map_or(f64::MAX, |it| it.fitted.misfit);
    let again = bent.first().and_then(|it| {
        let fitted = fit_from(flanks, &it.blades, Sensor::STRAIGHT, it.fitted.params)?;
        Some(Likely::from(it.blades.clone(), fitted))
    });
    straight.extend(again.filter(|it| it.fitted.misfit < least - 1.0));
    weighted(straight)
}

/// Total time is counted between these crossings, and half is where flanks are placed.
const TOTAL_AT: f64 = 0.01;
const HALF: f64 = 0.5;
/// A lag of this part of a flank moves the crossings.
const LAGS: f64 = 0.03;

impl Likely {
    /// From where the output passes half the fully open level to where the light passes 1 %, with its standard
    /// uncertainty from the fit.
    fn way(&self, falls: bool) -> (f64, f64) {
        self.fitted.figure(|params| {
            let motion = params.motion(falls);
            let over = self.blades.over(&motion, self.fitted.sensor_of(params));
            self.blades.passes(&motion, TOTAL_AT) - passes(&motion, &over, HALF)
        })
    }
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

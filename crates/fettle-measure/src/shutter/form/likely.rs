//! Blades before a sensor that may have made the flanks, and how likely they are.

use std::cell::OnceCell;

use super::{COUNTS, DECISIVE, EXPLAINED, gained};
use crate::shutter::blades::{Blades, Release, Sensor};
use crate::shutter::flanks::{Fitted, Flanks, Params, fit, fit_any, fit_curved};

/// Less likely fits by so many variances do not count.
const UNLIKELY: f64 = 18.0;

/// What irregular blades before a straight sensor leave so many times as much of, another sensor made; and the other
/// way round.
const SURELY: f64 = 2.0;

/// A fit that counts.
#[derive(Clone)]
pub(super) struct Likely {
    pub(super) blades: Blades,
    pub(super) fitted: Fitted,
    pub(super) weight: f64,
    /// Step, then light and output, of the rise and the fall.
    pub(super) over: [(f64, Vec<[f64; 2]>); 2],
}

impl Likely {
    pub(super) fn of(flanks: &Flanks, count: Option<u32>, sensor: Sensor) -> Option<Self> {
        let blades = Blades::of(count);
        let fitted = fit(flanks, &blades, sensor)?;
        Some(Self::from(blades, fitted))
    }

    pub(super) fn from(blades: Blades, fitted: Fitted) -> Self {
        let over = [false, true].map(|falls| blades.over(&fitted.motion(falls), fitted.sensor()));
        Self {
            blades,
            fitted,
            weight: 0.0,
            over,
        }
    }

    /// What the output adds to a time, and its standard uncertainty from the fit.
    pub(super) fn late_figure(&self) -> (f64, f64) {
        let of = |params: &Params| late(&self.blades, params, self.fitted.sensor_of(params));
        let (late, deviation) = self.fitted.figure(of);
        (late, deviation.min(self.fitted.sensor().most_late()))
    }

    pub(super) fn late(&self) -> f64 {
        late(&self.blades, &self.fitted.params, self.fitted.sensor())
    }
}

/// `∫(output - light)` over both flanks; a lag alone adds nothing, but moves when an output is let go.
fn late(blades: &Blades, params: &Params, sensor: Sensor) -> f64 {
    let over = [false, true].map(|falls| {
        let mut motion = params.motion(falls);
        if sensor.release == Release::Prompt {
            motion.lag = 0.0;
        }
        let (step, both) = blades.over(&motion, sensor);
        step * both.iter().map(|[light, out]| out - light).sum::<f64>()
    });
    over[0] + over[1]
}

/// Fits by misfit, those too unlikely left out, with their weights.
pub(super) fn fits(flanks: &Flanks, counts: &[Option<u32>], sensors: &[Sensor]) -> Vec<Likely> {
    let every = counts
        .iter()
        .flat_map(|count| sensors.iter().map(move |sensor| (*count, *sensor)));
    let found = every
        .filter_map(|(count, sensor)| Likely::of(flanks, count, sensor))
        .collect();
    weighted(found)
}

/// The same of blades that gather speed unevenly or are of any form, before a straight sensor, where regular ones
/// were fitted so.
fn irregular(flanks: &Flanks, counts: &[u32], regular: &Fitted) -> Vec<Likely> {
    let uneven = counts.iter().filter_map(|count| {
        let blades = Blades::of(Some(*count));
        let even = fit(flanks, &blades, Sensor::STRAIGHT)?;
        let fitted = fit_curved(flanks, &blades, &even)?;
        Some(Likely::from(blades, fitted))
    });
    let any = fit_any(flanks, regular).map(|fitted| Likely::from(Blades::Any, fitted));
    weighted(uneven.chain(any).collect())
}

/// Irregular blades, fitted once they are asked for: they may look like all that a sensor does.
pub(super) struct Irregular<'a> {
    flanks: &'a Flanks,
    regular: Fitted,
    fits: OnceCell<Vec<Likely>>,
}

/// Whether a sensor made the flanks or irregular blades did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Maker {
    Sensor,
    Either,
    Blades,
}

impl<'a> Irregular<'a> {
    pub(super) fn new(flanks: &'a Flanks, regular: Fitted) -> Self {
        Self {
            flanks,
            regular,
            fits: OnceCell::new(),
        }
    }

    fn fits(&self) -> &[Likely] {
        let fit = || irregular(self.flanks, &COUNTS, &self.regular);
        self.fits.get_or_init(fit)
    }

    pub(super) fn into_fits(self) -> Vec<Likely> {
        self.fits();
        self.fits.into_inner().unwrap_or_default()
    }

    fn misfit(&self) -> f64 {
        self.fits().first().map_or(f64::MAX, |it| it.fitted.misfit)
    }

    /// By how many variances they explain the flanks better than `sensor`, if they do explain them.
    pub(super) fn lead(&self, sensor: &Fitted) -> Option<f64> {
        let best = &self.fits().first()?.fitted;
        let explains = best.misfit < EXPLAINED * best.freedom;
        explains.then(|| gained(best, sensor.misfit))
    }

    /// What made flanks that sensors explain, the likeliest of them first.
    pub(super) fn maker(&self, sensors: &[Likely]) -> Maker {
        let Some(Likely { fitted, .. }) = sensors.first() else {
            return Maker::Blades;
        };
        let lead = self.lead(fitted).unwrap_or(f64::MIN);
        if lead > DECISIVE {
            Maker::Blades
        } else if lead > -DECISIVE || self.misfit() < SURELY * fitted.misfit {
            // No model of blades is exact.
            Maker::Either
        } else {
            Maker::Sensor
        }
    }

    /// Whether sensors leave not much more of flanks that neither explains.
    pub(super) fn are_rivalled(&self, sensors: &[Likely]) -> bool {
        let sensor = sensors.first();
        sensor.is_some_and(|it| it.fitted.misfit < SURELY * self.misfit())
    }
}

/// The same with fits of any beginning.
pub(super) fn weighted(mut found: Vec<Likely>) -> Vec<Likely> {
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

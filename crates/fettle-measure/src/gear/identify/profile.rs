//! Module and profile shift for a given pressure angle, and how the readings bear each angle.

use std::f64::consts::PI;

use super::Options;
use crate::gear::involute;

/// Pressure angles that are looked through.
const ANGLES_DEG: (f64, f64) = (10.0, 30.0);
/// Rise of χ² at the ends of a 95 % interval of one figure.
const RISE: f64 = 3.841_458_820_694_124;
/// Gears are not cut with more profile shift than this, in modules; as for [`crate::gear::Wheel`].
const MOST_SHIFT: f64 = 1.0;
/// Rows this near to one another tell one figure, not two.
const DEPENDENT: f64 = 1e-9;

/// The fit at one pressure angle.
#[derive(Clone, Copy, Debug)]
pub(super) struct At {
    pub(super) angle_deg: f64,
    pub(super) module: f64,
    pub(super) module_sd: f64,
    pub(super) shift: f64,
    pub(super) shift_sd: f64,
    pub(super) chi_squared: f64,
}

impl At {
    /// `None` when the readings do not determine module and shift, or these are no gear's.
    pub(super) fn fit(options: &Options, angle_deg: f64) -> Option<Self> {
        let angle = angle_deg.to_radians();
        let teeth = f64::from(options.teeth?);
        let mut rows = Vec::new();
        let mut values = Vec::new();
        if let Some(mm) = options.tip_mm {
            rows.push([teeth + 2.0, 2.0]);
            values.push(mm);
        }
        for span in &options.spans {
            let pitches = PI * (f64::from(span.teeth) - 0.5) + teeth * involute(angle);
            rows.push([angle.cos() * pitches, 2.0 * angle.sin()]);
            values.push(span.mm);
        }
        if let Some(rack) = options.rack {
            rows.push([PI * f64::from(rack.teeth), 0.0]);
            values.push(rack.mm);
        }
        let sums = |of: &dyn Fn(&[f64; 2], f64) -> f64| -> f64 {
            rows.iter()
                .zip(&values)
                .map(|(row, value)| of(row, *value))
                .sum()
        };
        let (aa, ab, bb) = (
            sums(&|r, _| r[0] * r[0]),
            sums(&|r, _| r[0] * r[1]),
            sums(&|r, _| r[1] * r[1]),
        );
        let (ay, by) = (sums(&|r, y| r[0] * y), sums(&|r, y| r[1] * y));
        let across = aa * bb - ab * ab;
        if across.is_nan() || across <= DEPENDENT * aa * bb {
            return None;
        }
        let module = (bb * ay - ab * by) / across;
        let shifted = (aa * by - ab * ay) / across;
        let shift = shifted / module;
        let variance = (options.caliper_mm / 2.0).powi(2);
        let left = sums(&|r, y| (y - r[0] * module - r[1] * shifted).powi(2));
        // Variance of `x = (x m)/m` to first order.
        let shift_sd = ((aa + 2.0 * shift * ab + shift.powi(2) * bb) * variance / across)
            .max(0.0)
            .sqrt()
            / module;
        (module > 0.0 && shift.abs() <= MOST_SHIFT + 2.0 * shift_sd).then_some(Self {
            angle_deg,
            module,
            module_sd: (bb * variance / across).sqrt(),
            shift,
            shift_sd,
            chi_squared: left / variance,
        })
    }
}

/// The fits over all pressure angles, or at the one that is known.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    pub(super) best: At,
    all: Vec<At>,
}

impl Profile {
    pub(super) fn new(options: &Options, step_deg: f64) -> Option<Self> {
        if let Some(angle_deg) = options.angle_deg {
            let best = At::fit(options, angle_deg)?;
            return Some(Self {
                best,
                all: vec![best],
            });
        }
        let steps = ((ANGLES_DEG.1 - ANGLES_DEG.0) / step_deg).round() as u32;
        let all: Vec<At> = (0..=steps)
            .filter_map(|i| At::fit(options, ANGLES_DEG.0 + step_deg * f64::from(i)))
            .collect();
        let best = all
            .iter()
            .copied()
            .min_by(|a, b| a.chi_squared.total_cmp(&b.chi_squared))?;
        Some(Self { best, all })
    }

    /// Half-width of the 95 % interval of a figure with its standard uncertainty at each angle: how far from the best any angle's may lie while
    /// χ², risen by the angle and by the figure together, stays in reach.
    pub(super) fn half_width(&self, figure: impl Fn(&At) -> (f64, f64)) -> f64 {
        let (best, _) = figure(&self.best);
        self.all
            .iter()
            .filter_map(|at| {
                let left = self.best.chi_squared + RISE - at.chi_squared;
                let (value, sd) = figure(at);
                (left >= 0.0).then(|| (value - best).abs() + sd * left.sqrt())
            })
            .fold(0.0, f64::max)
    }

    /// Whether an angle's fit lies in the 95 % interval.
    pub(super) fn bears(&self, at: &At) -> bool {
        at.chi_squared <= self.best.chi_squared + RISE
    }

    /// Whether the interval of the angle ends at an end of what was looked through.
    pub(super) fn is_open(&self) -> bool {
        let ends = [self.all.first(), self.all.last()];
        self.all.len() > 1 && ends.into_iter().flatten().any(|at| self.bears(at))
    }
}

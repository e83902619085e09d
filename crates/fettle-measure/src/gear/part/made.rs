//! The part with all that is drawn or said of it.

use serde::{Deserialize, Serialize};

use super::dimensions::span;
use super::options::{gear_wall, rack_wall};
use super::{Dimensions, Finding, GearDimensions, Opening, Options, RackDimensions, Shape, Span};
use crate::gear::mesh::{self, Mate};
use crate::gear::{ADDENDUM, DEDENDUM, Outline, Rack, Wheel};

/// What a wire of a quarter millimetre leaves in an inside corner, its spark gap included.
const WIRE_RADIUS_MM: f64 = 0.15;
/// Tips thinner than this part of the module are called pointed.
const THIN_TIP: f64 = 0.2;
/// Less than this below the gaps gives way, in modules.
const LEAST_RIM: f64 = 1.0;
/// Less than this between openings bends or burns through.
const LEAST_WALL_MM: f64 = 0.3;
/// Openings are sampled this finely for the volume.
const VOLUME_CHORD_MM: f64 = 1e-5;

/// A part to have made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// What was asked.
    pub options: Options,
    /// Its outline with the teeth, counter-clockwise.
    pub outer: Outline,
    /// Its openings, the bore first.
    pub inner: Vec<Opening>,
    /// How thick it is.
    pub thickness_mm: f64,
    /// What it is measured by.
    pub dimensions: Dimensions,
    /// What is noticed.
    pub findings: Vec<Finding>,
}

impl Part {
    pub(super) fn of_gear(options: &Options, wheel: &Wheel, outer: Outline) -> Self {
        let dimensions = GearDimensions::new(options, wheel);
        let mut findings = Vec::new();
        let least_teeth = wheel.least_teeth();
        if wheel.is_undercut() {
            findings.push(Finding::Undercut {
                teeth: wheel.teeth(),
                least_teeth,
                flank_from_mm: wheel.form_radius_mm(),
            });
        }
        findings.extend(pointed(options, dimensions.tip_thickness_mm));
        let root = wheel.root_mm();
        findings.extend(thin(options, Some(root), |shape| gear_wall(root, shape)));
        findings.extend(sharp(options, root_radius(wheel)));
        if dimensions.span.is_none() {
            findings.push(Finding::NoSpan);
        }
        if wheel.teeth() < least_teeth {
            findings.push(Finding::NotAlwaysInvolute);
        }
        Self::new(options, outer, Dimensions::Gear(dimensions), findings)
    }

    pub(super) fn of_rack(options: &Options, rack: &Rack) -> Self {
        let dimensions = RackDimensions::new(options, rack);
        let mut findings: Vec<Finding> = pointed(options, dimensions.tip_thickness_mm)
            .into_iter()
            .collect();
        findings.extend(thin(options, None, |shape| rack_wall(rack, shape)));
        findings.extend(sharp(options, rack.fillet_mm()));
        Self::new(
            options,
            rack.outline(),
            Dimensions::Rack(dimensions),
            findings,
        )
    }

    fn new(
        options: &Options,
        outer: Outline,
        dimensions: Dimensions,
        findings: Vec<Finding>,
    ) -> Self {
        let inner = options.shapes().into_iter().map(|shape| Opening {
            shape,
            outline: shape.outline(),
        });
        Self {
            options: options.clone(),
            outer,
            inner: inner.collect(),
            thickness_mm: options.thickness_mm,
            dimensions,
            findings,
        }
    }

    /// Its volume.
    #[must_use]
    pub fn volume_mm3(&self) -> f64 {
        let openings: f64 = self
            .inner
            .iter()
            .map(|opening| opening.outline.area_mm2(VOLUME_CHORD_MM))
            .sum();
        (self.outer.area_mm2(VOLUME_CHORD_MM) + openings) * self.thickness_mm
    }

    /// A gear's span with the limits that a pair leaves it: half of the backlash at the pair's withdrawal, and of its own, either way. `None` for a rack, or
    /// when the gear is not of that pair.
    #[must_use]
    pub fn span_in(&self, pair: &mesh::Report) -> Option<Span> {
        let wheel = self.options.wheel().ok()?;
        matches!(self.dimensions, Dimensions::Gear(_)).then_some(())?;
        let of_pair = &pair.options;
        let is =
            |teeth: u32, shift: f64| teeth == wheel.teeth() && (shift - wheel.shift()).abs() < 1e-6;
        let is_mate = matches!(of_pair.mate, Mate::Gear { teeth } if is(teeth, of_pair.mate_shift));
        let is_like = (of_pair.module_mm - wheel.module_mm()).abs() < 1e-6
            && (of_pair.angle_deg - wheel.angle_rad().to_degrees()).abs() < 1e-6;
        (is_like && (is(of_pair.teeth, of_pair.shift) || is_mate)).then_some(())?;
        let backlash_mm = pair.backlash_mm + self.options.backlash_mm;
        span(&self.options, &wheel, backlash_mm)
    }
}

fn pointed(options: &Options, tip_mm: f64) -> Option<Finding> {
    (tip_mm < THIN_TIP * options.module_mm).then_some(Finding::PointedTeeth { tip_mm })
}

/// Thin places beside openings; `wall` is what is left to the teeth or the edge, which is all rim on a gear.
fn thin(options: &Options, gear: Option<f64>, wall: impl Fn(&Shape) -> f64) -> Vec<Finding> {
    let shapes = options.shapes();
    let mut findings = Vec::new();
    for (n, shape) in shapes.iter().enumerate() {
        let left = wall(shape);
        let least_rim = LEAST_RIM * options.module_mm;
        if gear.is_some() && left < least_rim {
            findings.push(Finding::ThinRim {
                beside: shape.describe(),
                mm: left,
                least_mm: least_rim,
            });
        } else if gear.is_none() && left < LEAST_WALL_MM {
            findings.push(Finding::ThinWall {
                beside: shape.describe(),
                mm: left,
                least_mm: LEAST_WALL_MM,
            });
        }
        let between = shapes
            .iter()
            .take(n)
            .map(|before| before.wall_to(shape))
            .fold(f64::INFINITY, f64::min);
        if between < LEAST_WALL_MM {
            findings.push(Finding::ThinWall {
                beside: shape.describe(),
                mm: between,
                least_mm: LEAST_WALL_MM,
            });
        }
    }
    findings
}

/// The mate's tips come within 0.25 modules of the bottom, and what a corner of radius `ρ` fills up to the flank is `ρ (1 - sin α)` high.
fn sharp(options: &Options, radius_mm: f64) -> Option<Finding> {
    let most = (DEDENDUM - ADDENDUM) * options.module_mm / (1.0 - options.angle_rad.sin());
    (radius_mm < WIRE_RADIUS_MM).then_some(Finding::SharpInside {
        radius_mm,
        most_mm: most.max(radius_mm),
    })
}

/// The trochoid's smallest radius, at the bottom of the gap: `r_f/((r/h)² - 1)` with the cutter's depth `h` below the pitch circle.
fn root_radius(wheel: &Wheel) -> f64 {
    let (pitch, root) = (wheel.pitch_radius_mm(), wheel.root_mm());
    let ratio = pitch / (pitch - root);
    root / (ratio.powi(2) - 1.0)
}

//! What a part is measured by.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

use super::Options;
use crate::gear::{ADDENDUM, DEDENDUM, Rack, Wheel, involute};

/// Backlash that small gears are usually given, in modules: what a tooth may be thinner by where none is asked for.
pub const USUAL_BACKLASH: f64 = 0.04;
/// Spans over more teeth than this are not looked for: no gear has room for them.
const MOST_SPANNED: u32 = 500;

/// A measure as drawn, and between what it may lie.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// As drawn.
    pub mm: f64,
    /// No more than this, or the pair binds.
    pub most_mm: f64,
    /// No less than this, or the pair is looser than it should be.
    pub least_mm: f64,
}

impl Limits {
    /// Half the pair's backlash either way; where there is none, no thicker, and thinner by `usual_mm`.
    fn new(mm: f64, backlash_mm: f64, usual_mm: f64) -> Self {
        let (more, less) = if backlash_mm > 0.0 {
            (backlash_mm / 2.0, backlash_mm / 2.0)
        } else {
            (0.0, usual_mm)
        };
        Self {
            mm,
            most_mm: mm + more,
            least_mm: mm - less,
        }
    }
}

/// The length between a caliper's jaws over several teeth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// Over how many.
    pub teeth: u32,
    /// The length.
    #[serde(flatten)]
    pub limits: Limits,
}

/// A gear's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GearDimensions {
    /// Over the tips.
    pub tip_diameter_mm: f64,
    /// Of the pitch circle.
    pub pitch_diameter_mm: f64,
    /// At the bottom of the gaps.
    pub root_diameter_mm: f64,
    /// Of the base circle.
    pub base_diameter_mm: f64,
    /// Where the involute begins.
    pub form_diameter_mm: f64,
    /// Thickness of a tooth along the pitch circle.
    pub tooth_thickness_mm: f64,
    /// Thickness of a tooth at its tip.
    pub tip_thickness_mm: f64,
    /// The span that stands best on the flanks; `None` where none does.
    pub span: Option<Span>,
}

/// A rack's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RackDimensions {
    /// From one tooth to the next.
    pub pitch_mm: f64,
    /// From end to end.
    pub length_mm: f64,
    /// From back to tips.
    pub over_all_mm: f64,
    /// From back to the bottoms of the gaps.
    pub body_mm: f64,
    /// Tips above the pitch line.
    pub addendum_mm: f64,
    /// From the bottoms of the gaps to the tips.
    pub tooth_height_mm: f64,
    /// Radius of the rounded roots.
    pub fillet_mm: f64,
    /// Thickness of a tooth on the pitch line.
    pub tooth_thickness: Limits,
    /// Thickness of a tooth at its tip.
    pub tip_thickness_mm: f64,
    /// From a flank to the like flank over `over_pitches` of them: what tells the pitch best.
    pub over_mm: f64,
    /// Over how many pitches: all that the rack has between its first tooth and its last.
    pub over_pitches: u32,
}

/// The part's, by its form.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "form", rename_all = "kebab-case")]
pub enum Dimensions {
    /// A rack's.
    Rack(RackDimensions),
    /// A gear's.
    Gear(GearDimensions),
}

impl GearDimensions {
    pub(super) fn new(options: &Options, wheel: &Wheel) -> Self {
        let (module, angle) = (wheel.module_mm(), wheel.angle_rad());
        let tip = wheel.tip_radius_mm();
        Self {
            tip_diameter_mm: 2.0 * tip,
            pitch_diameter_mm: 2.0 * wheel.pitch_radius_mm(),
            root_diameter_mm: 2.0 * wheel.root_mm(),
            base_diameter_mm: 2.0 * wheel.base_radius_mm(),
            form_diameter_mm: 2.0 * wheel.form_radius_mm(),
            tooth_thickness_mm: module * (PI / 2.0 + 2.0 * wheel.shift() * angle.tan())
                - options.backlash_mm,
            tip_thickness_mm: (2.0 * tip * wheel.half_relieved_tip(options.tip_relief_mm)).max(0.0),
            span: span(options, wheel, options.backlash_mm),
        }
    }
}

impl RackDimensions {
    pub(super) fn new(options: &Options, rack: &Rack) -> Self {
        let module = options.module_mm;
        let over_pitches = options.teeth.saturating_sub(1).max(1);
        Self {
            pitch_mm: rack.pitch_mm(),
            length_mm: rack.length_mm(),
            over_all_mm: rack.top_mm() - rack.back_mm(),
            body_mm: rack.bottom_mm() - rack.back_mm(),
            addendum_mm: rack.top_mm(),
            tooth_height_mm: (ADDENDUM + DEDENDUM) * module,
            fillet_mm: rack.fillet_mm(),
            tooth_thickness: Limits::new(
                rack.tooth_thickness_mm(),
                options.backlash_mm,
                USUAL_BACKLASH * module,
            ),
            tip_thickness_mm: rack.tip_thickness_mm(),
            over_mm: rack.pitch_mm() * f64::from(over_pitches),
            over_pitches,
        }
    }
}

/// The span whose jaws touch nearest to the middle of the flanks: `W = m cos α (π (k - 0.5) + z inv α) + 2 x m sin α`, less what the teeth are thinner.
/// They touch at radius `hypot(r_b, W/2)`. `backlash_mm` is the pair's, along the pitch circle.
pub(super) fn span(options: &Options, wheel: &Wheel, backlash_mm: f64) -> Option<Span> {
    let (module, angle) = (wheel.module_mm(), wheel.angle_rad());
    let (sin, cos) = angle.sin_cos();
    let over = |teeth: u32| {
        let pitches = PI * (f64::from(teeth) - 0.5) + f64::from(wheel.teeth()) * involute(angle);
        module * (cos * pitches + 2.0 * wheel.shift() * sin) - options.backlash_mm * cos
    };
    let whole_to = if options.tip_relief_mm > 0.0 {
        wheel.tip_radius_mm() - crate::gear::RELIEVED_FROM * module
    } else {
        wheel.tip_radius_mm()
    };
    let touches = |teeth: u32| wheel.base_radius_mm().hypot(over(teeth) / 2.0);
    let middle = wheel.pitch_radius_mm() + wheel.shift() * module;
    let off = |teeth: u32| (touches(teeth) - middle).abs();
    let teeth = (2..=MOST_SPANNED.min(wheel.teeth() / 2 + 1))
        .filter(|teeth| (wheel.form_radius_mm()..whole_to).contains(&touches(*teeth)))
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
    let limits = Limits::new(
        over(teeth),
        backlash_mm * cos,
        USUAL_BACKLASH * module * cos,
    );
    Some(Span { teeth, limits })
}

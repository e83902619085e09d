//! A pair as it stands: both outlines in one plane, touching on one flank, and where they touch as they turn.

use std::f64::consts::{FRAC_PI_2, PI};

use serde::{Deserialize, Serialize};

use super::Options;
use super::pair::Pair;
use crate::OptionError;
use crate::gear::{Cutter, Outline, Point, Rack, Wheel};

/// Height of the rack's body in modules, as far as it is shown.
const RACK_BODY: f64 = 1.5;

/// One of the two, in the pair's plane.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Placed {
    /// Its outline in its own axes.
    pub outline: Outline,
    /// Where its own origin stands: a gear's centre, or the middle of the rack's gap on its pitch line.
    pub origin: Point,
    /// By how much its own axes are turned against the clock.
    pub turned_rad: f64,
    /// Turn against the clock from one tooth to the next; 0 for a rack.
    pub tooth_rad: f64,
    /// Travel to the right from one tooth to the next; 0 for a gear.
    pub tooth_mm: f64,
    /// Radii of tip, pitch, base and root circle, largest first; `None` for a rack.
    pub circles_mm: Option<[f64; 4]>,
}

/// A pair in the plane: the mate's centre or the rack's pitch line at the origin, the pinion above.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlacedPair {
    /// The pinion, turning with the clock as it drives.
    pub pinion: Placed,
    /// Its mate, gear or rack.
    pub mate: Placed,
    /// The pitch point.
    pub pitch_point: Point,
    /// Where the line of action leaves the pinion's base circle, and where it comes to the mate's; for a rack to where the pinion's tips leave it.
    pub line_of_action: [Point; 2],
    /// The stretch on it in which flanks touch, in the pinion's direction of turning; `None` where there is none.
    pub contact: Option<[Point; 2]>,
}

/// The pair of a report's options at its withdrawal of `apart_mm`, the bearing's play included (see [`super::Report::apart_mm`]). `rack_teeth` of a rack
/// are given; an odd number is raised by one.
///
/// # Errors
/// [`OptionError`] for options without meaning.
pub fn placed(
    options: &Options,
    apart_mm: f64,
    rack_teeth: u32,
) -> Result<PlacedPair, OptionError> {
    options.check()?;
    OptionError::check("--apart-mm", apart_mm, 0.0..=1000.0, " mm")?;
    let pair = Pair::new(options.pinion()?, options.mate_wheel()?)?;
    let distance = pair.free_mm + apart_mm;
    let angle = pair.working_angle(apart_mm);
    let backlash = pair.backlash(apart_mm);
    let pinion = pair.pinion;
    let teeth = f64::from(pinion.teeth());
    let (mate, mate_pitch, pitch_radius) = match pair.mate {
        None => {
            let rack_teeth = rack_teeth.clamp(2, 998).next_multiple_of(2);
            let rack = Rack::new(
                pinion.module_mm(),
                rack_teeth,
                pinion.angle_rad().to_degrees(),
                RACK_BODY * pinion.module_mm(),
                0.0,
            )?
            .filleted();
            let pitch = PI * pinion.module_mm();
            let mate = Placed {
                outline: rack.outline(),
                // It lags to the right until its flank touches: the pinion drives it to the left.
                origin: [backlash / 2.0 - rack.length_mm() / 2.0, 0.0],
                turned_rad: 0.0,
                tooth_rad: 0.0,
                tooth_mm: -pitch,
                circles_mm: None,
            };
            (mate, None, pinion.pitch_radius_mm())
        }
        Some(wheel) => {
            let mate_teeth = f64::from(wheel.teeth());
            let pitch_radius = distance * teeth / (teeth + mate_teeth);
            let mate_pitch = distance - pitch_radius;
            let mate = Placed {
                turned_rad: FRAC_PI_2 + PI / mate_teeth - backlash / 2.0 / mate_pitch,
                tooth_rad: 2.0 * PI / mate_teeth,
                ..whole(&wheel, [0.0; 2], mate_pitch)
            };
            (mate, Some(mate_pitch), pitch_radius)
        }
    };
    let turned = Placed {
        turned_rad: -FRAC_PI_2,
        tooth_rad: -2.0 * PI / teeth,
        ..whole(&pinion, [0.0, distance], pitch_radius)
    };
    let pitch_point = [0.0, distance - pitch_radius];
    let (sin, cos) = angle.sin_cos();
    // From the pinion's base tangent point, to the left and down.
    let base = pinion.base_radius_mm();
    let tangent = [base * sin, distance - base * cos];
    let on_action = |way: f64| [tangent[0] - way * cos, tangent[1] - way * sin];
    let to_pitch_point = pitch_radius * sin;
    // A rack has no base circle: to where the pinion's tip leaves it.
    let length = mate_pitch.map_or(pinion.action_to(), |mate| to_pitch_point + mate * sin);
    let action = pair.action(apart_mm, options.cutter == Cutter::None);
    Ok(PlacedPair {
        pinion: turned,
        mate,
        pitch_point,
        line_of_action: [on_action(0.0), on_action(length)],
        contact: (action.to > action.from).then(|| [on_action(action.from), on_action(action.to)]),
    })
}

fn whole(wheel: &Wheel, origin: Point, pitch_radius: f64) -> Placed {
    Placed {
        outline: wheel.outline(),
        origin,
        turned_rad: 0.0,
        tooth_rad: 0.0,
        tooth_mm: 0.0,
        circles_mm: Some([
            wheel.tip_radius_mm(),
            pitch_radius,
            wheel.base_radius_mm(),
            wheel.root_mm(),
        ]),
    }
}

//! What a pair does.

use serde::{Deserialize, Serialize};

use super::{Finding, Options};

/// The pair at its withdrawal, and how much more it bears.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// What was asked.
    pub options: Options,
    /// Withdrawal from the distance without backlash, the bearing's play included.
    pub apart_mm: f64,
    /// What of it the bearing's play makes; `None` without lever arms.
    pub apart_from_play_mm: Option<f64>,
    /// Distance of the centres, or of a rack's pitch line from the pinion's centre, without backlash.
    pub free_distance_mm: f64,
    /// The same at this withdrawal.
    pub distance_mm: f64,
    /// The pressure angle at which the pair works.
    pub working_angle_deg: f64,
    /// Backlash on the operating pitch circle.
    pub backlash_mm: f64,
    /// Pairs of teeth in contact, on average, with what the cutter took off the flanks.
    pub contact_ratio: f64,
    /// The same with flanks that reach down to the base circles.
    pub contact_ratio_no_undercut: f64,
    /// How deep the teeth stand in one another; below 0 the tips clear.
    pub working_depth_mm: f64,
    /// The greatest withdrawal at which the drive is continuous; `None` when it is at none.
    pub apart_limit_mm: Option<f64>,
    /// The withdrawal at which the tips pass one another.
    pub ride_over_mm: f64,
    /// The play of the bearing at which the drive ceases to be continuous; `None` without lever arms or when it never is.
    pub play_limit_mm: Option<f64>,
    /// The play at which teeth ride over; `None` without lever arms.
    pub play_ride_over_mm: Option<f64>,
    /// What is noticed.
    pub findings: Vec<Finding>,
}

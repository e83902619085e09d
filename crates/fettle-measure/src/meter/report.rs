//! What is told of a meter.

use serde::{Deserialize, Serialize};

use crate::Verdict;

/// A meter's errors, what can be set, and what is left. All intervals hold in 95 % of runs; they are `None` when too few readings
/// are left to tell.
///
/// The figures come from the fullest curve that so many readings bear, not from the smallest that they support: intervals of a model
/// that was chosen by the same readings miss the truth far more often than they say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// The smallest model that the readings support.
    pub model: Model,
    /// Each model weighed.
    pub models: Vec<Weighed>,
    /// The true EV at which the offset is told: the mean of the readings kept.
    pub centre_ev: f64,
    /// The curve's error at the centre, in stops; positive reads high, the film is under-exposed.
    pub offset_stops: f64,
    /// Half-width of its interval.
    pub offset_stops_u: Option<f64>,
    /// The error's rise for one EV, at the centre; with a knee, of the piece below it. `None` with fewer than four readings.
    pub slope_stops_per_ev: Option<f64>,
    /// Half-width of its interval.
    pub slope_stops_per_ev_u: Option<f64>,
    /// What multiplies the square of the EV from the centre, in stops/EV². `None` with a knee, or with fewer than six readings.
    pub curvature: Option<f64>,
    /// Half-width of its interval.
    pub curvature_u: Option<f64>,
    /// True EV of the knee, `None` without one.
    pub knee_ev: Option<f64>,
    /// Half-width of its interval.
    pub knee_ev_u: Option<f64>,
    /// The error's rise for one EV beyond the knee, `None` without one.
    pub slope_beyond_stops_per_ev: Option<f64>,
    /// Half-width of its interval.
    pub slope_beyond_stops_per_ev_u: Option<f64>,
    /// To be added to every indicated EV by setting the scale.
    pub shift_stops: f64,
    /// Greatest error of the readings kept, without sign, as found.
    pub worst_before_stops: f64,
    /// The same after the shift.
    pub worst_after_stops: f64,
    /// Least true EV of the longest stretch within the readings where the shifted curve is inside the limit; `None` when there is none.
    pub usable_from_ev: Option<f64>,
    /// Its greatest true EV.
    pub usable_to_ev: Option<f64>,
    /// The limit either way.
    pub limit_stops: f64,
    /// The step in which the scale can be set, `None` for no step.
    pub click_stops: Option<f64>,
    /// The step in which the meter was read.
    pub resolution_stops: f64,
    /// Whether that was told; else it was seen from the readings.
    pub resolution_given: bool,
    /// The curve over the whole range as found, with its interval, against the limit.
    pub verdict_before: Verdict,
    /// The same after the shift.
    pub verdict: Verdict,
    /// Whether the card follows two straight pieces with a knee between them.
    pub card_piecewise: bool,
    /// The correction card, rising.
    pub card: Vec<CardRow>,
    /// All readings in the order given.
    pub readings: Vec<ReadingRow>,
    /// The curve as found, rising, over the range of the readings kept.
    pub curve: Vec<CurvePoint>,
    /// What is to be known beside.
    pub findings: Vec<Finding>,
}

/// The models of a meter's error.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Model {
    /// All readings are off alike.
    Offset,
    /// The error grows evenly with the light.
    Slope,
    /// The error over the light is a parabola.
    Curvature,
    /// Two straight pieces that meet at a knee.
    Knee,
}

/// A model with its evidence.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weighed {
    /// Which.
    pub model: Model,
    /// `AICc` above the best's; `None` when there are too few readings to weigh it.
    pub behind: Option<f64>,
    /// Its own value at the centre, in stops.
    pub offset_stops: f64,
}

/// A row of the correction card.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CardRow {
    /// What the meter shows after the shift.
    pub indicated_ev: f64,
    /// Exposure to add, in stops; positive where the meter reads high.
    pub add_stops: f64,
    /// Half-width of its interval.
    pub add_stops_u: Option<f64>,
}

/// A reading as it counted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReadingRow {
    /// Line of the file it was read from.
    pub line: usize,
    /// The light as it is.
    pub true_ev: f64,
    /// What the meter said.
    pub indicated_ev: f64,
    /// Indicated less true.
    pub error_stops: f64,
    /// The error less the curve.
    pub residual_stops: f64,
    /// How finely it was read.
    pub resolution_stops: f64,
    /// False for an outlier.
    pub kept: bool,
}

/// A point of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CurvePoint {
    /// The light.
    pub true_ev: f64,
    /// The error as found.
    pub error_stops: f64,
    /// Half-width of its interval.
    pub error_stops_u: Option<f64>,
}

/// What is to be known of a run beside its figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// A reading that no curve explains and that was left out.
    Outlier {
        /// Where it stands in the file.
        line: usize,
        /// Its light.
        true_ev: f64,
        /// What the meter said.
        indicated_ev: f64,
        /// How far off the curve through the others.
        residual_stops: f64,
    },
    /// The error bends at one light, as of an aged cell; the card follows both pieces.
    Knee {
        /// Where.
        ev: f64,
        /// Half-width of its interval.
        ev_u: Option<f64>,
        /// The error's rise for one EV below.
        slope_below_stops_per_ev: f64,
        /// The error's rise for one EV beyond.
        slope_beyond_stops_per_ev: f64,
    },
    /// Over a part of the range the answer hardly rises with the light: no card helps there.
    Blind {
        /// Least true EV of the part where it does rise.
        from_ev: f64,
        /// Greatest.
        to_ev: f64,
    },
    /// The meter is read too coarsely for its scatter: rounding makes most of the uncertainty.
    Coarse {
        /// The step.
        resolution_stops: f64,
    },
    /// Too few readings, or too few lights, to tell slope or curvature.
    Few {
        /// Readings kept.
        readings: usize,
        /// What could not be told.
        untold: Vec<Model>,
    },
    /// The shift makes the worst error least, but without it the meter is inside its limit over a longer stretch.
    ShiftNarrows {
        /// Least true EV of that stretch.
        from_ev: f64,
        /// Its greatest.
        to_ev: f64,
    },
    /// Nowhere inside the limit, even after the shift.
    Unusable,
}

impl Finding {
    /// In plain words, a sentence without its stop.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Outlier {
                line,
                true_ev,
                indicated_ev,
                residual_stops,
            } => format!(
                "the reading {indicated_ev:.2} at {true_ev:.2} EV (line {line}) lies {residual_stops:+.2} stops off the curve through the \
                 others and was left out: read it again"
            ),
            Self::Knee {
                ev,
                ev_u,
                slope_below_stops_per_ev,
                slope_beyond_stops_per_ev,
            } => {
                let within = ev_u.map(|u| format!(" ± {u:.1}")).unwrap_or_default();
                format!(
                    "the error bends at {ev:.1}{within} EV, from {slope_below_stops_per_ev:+.2} to {slope_beyond_stops_per_ev:+.2} stops per EV, \
                     as an aged light cell's does; the card follows both pieces"
                )
            }
            Self::Blind { from_ev, to_ev } => format!(
                "only from {from_ev:.1} to {to_ev:.1} EV does the meter's answer rise with the light; beyond, no card helps"
            ),
            Self::Coarse { resolution_stops } => format!(
                "read in steps of {resolution_stops:.2} stops, the readings scatter less than a step: estimate between the marks, or take \
                 readings at uneven lights"
            ),
            Self::Few { readings, untold } => {
                let names: Vec<&str> = untold.iter().map(|m| m.word()).collect();
                format!(
                    "{readings} readings do not tell {}: take more, over the whole range of light",
                    names.join(" and ")
                )
            }
            Self::ShiftNarrows { from_ev, to_ev } => format!(
                "left as it is the meter is inside its limit from {from_ev:.1} to {to_ev:.1} EV, a longer stretch than after the shift: a few \
                 readings far off pull it; consider leaving the scale, or setting it for the lights that are used"
            ),
            Self::Unusable => "even after the shift the meter is nowhere inside its limit: use the card, or put the cell right".to_owned(),
        }
    }
}

impl Model {
    /// Its name in words.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Offset => "offset",
            Self::Slope => "slope",
            Self::Curvature => "curvature",
            Self::Knee => "knee",
        }
    }
}

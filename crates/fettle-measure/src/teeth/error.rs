//! Why a photograph is refused.

use super::options::LEAST_TEETH;
use crate::OptionError;

/// Why nothing is said about the teeth.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TeethError {
    /// An option is refused.
    #[error(transparent)]
    Option(#[from] OptionError),
    /// Bright and dark do not differ.
    #[error("the photograph has hardly any contrast (dark is {:.0} % of bright): {BACKLIGHT}", ratio * 100.0)]
    LowContrast {
        /// Dark over bright.
        ratio: f64,
    },
    /// There are neither dark nor bright areas of any size.
    #[error("no dark part before a bright ground is in the photograph: {BACKLIGHT}")]
    NoSilhouette,
    /// The part is lit from the front.
    #[error("the part is not black all over, its light varies by {:.0} % of the ground's, as when light falls on it from the front: {BACKLIGHT}", texture * 100.0)]
    FrontLit {
        /// Mean deviation of the part's light, over the ground's.
        texture: f64,
    },
    /// The part is bright and the ground dark.
    #[error("the part is bright before a dark ground: {BACKLIGHT}")]
    Reversed,
    /// The edges are too soft.
    #[error("the photograph is blurred, an edge spreads over {blur_px:.1} px{}: focus on the rim of the part, put the camera on a stand, use a small stop and the self-timer", apart(*pitch_px))]
    Blurred {
        /// Standard deviation of the edge's spread.
        blur_px: f64,
        /// Pixels from tooth to tooth, where teeth can be told.
        pitch_px: Option<f64>,
    },
    /// The part runs out of the photograph.
    #[error(
        "the part runs out of the photograph: step back or turn it, so that bright ground is all round {what}"
    )]
    OutOfFrame {
        /// What must be in sight.
        what: &'static str,
    },
    /// Teeth are too small in the photograph.
    #[error(
        "teeth are only {pitch_px:.0} px apart, too few to measure: come nearer, use a lens for close distances, or take a part of the row"
    )]
    FewPixels {
        /// Pixels from tooth to tooth.
        pitch_px: f64,
    },
    /// No teeth were found.
    #[error(
        "{what}: check that rack or gear is chosen rightly and that the part lies flat, teeth free, before a bright ground from edge to edge"
    )]
    NoTeeth {
        /// What is seen instead.
        what: String,
    },
    /// Too few teeth.
    #[error(
        "only {found} whole teeth are in the photograph, fewer than the {LEAST_TEETH} that tell each other's form: take more of the part"
    )]
    TooFew {
        /// How many there are.
        found: u32,
    },
    /// The count given is another than the one in the photograph.
    #[error("the photograph shows {counted} teeth, not {said}: count again")]
    WrongTeeth {
        /// As given.
        said: u32,
        /// As counted.
        counted: u32,
    },
    /// The scale cannot be.
    #[error("the scale cannot be right: {reason}")]
    WrongScale {
        /// Why.
        reason: String,
    },
    /// No bar is beside the part.
    #[error(
        "no straight bar is seen beside the part: lay one of known length next to it, clear of it and of the photograph's edges, or give the pitch, or the pixels for a millimetre"
    )]
    NoBar,
}

/// How to take the photograph.
const BACKLIGHT: &str = "light the part from behind: lay it on an evenly bright ground such as a light table or white paper on a window, with the room dark, so that it is black all over";

fn apart(pitch_px: Option<f64>) -> String {
    pitch_px.map_or_else(String::new, |px| {
        format!(" where teeth are {px:.0} px apart")
    })
}

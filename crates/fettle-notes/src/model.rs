//! What service notes say, as types.

mod catalog;
mod cause;
mod date;
mod dial;
mod id;
mod limit;
mod part;
mod pattern;
mod quantity;
mod removal;
mod setting;
mod words;

pub use catalog::Catalog;
pub use cause::{Circumstance, Fault, FaultKind, Instrument, Link, Origin, PartUse, Sign, Work};
pub use date::Date;
pub use dial::{DialMark, DialSeries, DialTolerance};
pub use id::{
    CircumstanceId, FaultId, LimitId, ModelId, PartId, SettingId, SignId, TextError, WorkId,
};
pub(crate) use id::{ID_RULE, Id, is_id};
pub use limit::{
    CheckLimit, Limit, LimitKind, MeterLimit, RangefinderLimit, ReadingLimit, RegisterLimit,
    ShutterLimit, TeethLimit, Toothed,
};
pub use part::{Grade, GradeNote, Part};
pub use pattern::{Pattern, SuggestedBy};
pub use quantity::{Chance, Minutes, OutOfRange};
pub use removal::{Fastener, FastenerKind, Hand, Head, Removal, WayBack};
pub use setting::{Adjuster, Effect, Setting};
pub(crate) use words::{Word, words};

use serde::Serialize;

/// Everything that is known of one camera model.
///
/// Made only by reading a file, so every reference in it resolves, no order of removal, dependence of settings or
/// chain of faults runs in a circle, and every figure lies in its range.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ServiceNotes {
    /// The model itself.
    pub model: Model,
    /// Its parts, in the file's order.
    pub parts: Catalog<PartId, Part>,
    /// How a part comes off; the key is the part.
    pub removals: Catalog<PartId, Removal>,
    /// What makes faults likely.
    pub circumstances: Catalog<CircumstanceId, Circumstance>,
    /// What can be wrong.
    pub faults: Catalog<FaultId, Fault>,
    /// What can be observed.
    pub signs: Catalog<SignId, Sign>,
    /// What cures a fault.
    pub works: Catalog<WorkId, Work>,
    /// What can be adjusted.
    pub settings: Catalog<SettingId, Setting>,
    /// What is proved by measurement or by looking.
    pub limits: Catalog<LimitId, Limit>,
}

/// The camera model that the notes describe.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Model {
    /// Name of the notes' file without `.toml`.
    pub id: ModelId,
    /// Who made it.
    pub maker: String,
    /// What it is called.
    pub name: String,
    /// What sort of camera it is, in free words.
    pub kind: String,
    /// When it was made, in free words.
    pub years: String,
    /// Width and height of the picture in millimetres.
    pub frame_mm: [f64; 2],
    /// What sort of shutter it has.
    pub shutter: ShutterKind,
    /// Focal length and aperture in free words; `None` for a body without a lens of its own.
    pub lens: Option<String>,
    /// Weight in grams; `None` when not known.
    pub weight_g: Option<f64>,
    /// Where the serial numbers are found.
    pub serial_at: String,
    /// What one should know before starting.
    pub summary: String,
    /// Cautions shown at the head of every visit.
    pub cautions: Vec<String>,
    /// Cautions for whoever uses the camera, printed on its proof sheet.
    pub owner_cautions: Vec<String>,
    /// Who wrote the notes.
    pub author: String,
    /// When they were last revised.
    pub revised: Date,
}

words! {
    /// What sort of shutter a camera has.
    ShutterKind {
        /// Blades that open from the centre, in or near the lens.
        Leaf = "leaf",
        /// Curtains or blades that run past the picture.
        FocalPlane = "focal-plane",
    }
}

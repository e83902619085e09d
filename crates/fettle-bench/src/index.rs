//! All that stands in the record, in short: enough to know again a row of a table that comes from elsewhere.

use jiff::civil::Date;

use crate::{
    change::PartOf,
    ids::{CameraId, DrawerId, LotId, OwnerId, VisitId},
    money::Money,
    view::{Camera, Owner},
    words::Grade,
};

/// All owners, cameras, visits, drawers and lots, each in the order in which they came.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Index {
    /// Every owner.
    pub owners: Vec<Owner>,
    /// Every camera.
    pub cameras: Vec<Camera>,
    /// Every visit.
    pub visits: Vec<KnownVisit>,
    /// Every drawer with its name.
    pub drawers: Vec<(DrawerId, String)>,
    /// Every lot that was put into a drawer.
    pub lots: Vec<KnownLot>,
}

/// A visit, in short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KnownVisit {
    /// Names it.
    pub visit: VisitId,
    /// Which camera.
    pub camera: CameraId,
    /// Whose.
    pub owner: OwnerId,
    /// The day it came.
    pub arrived: Date,
    /// Whether it is still here.
    pub here: bool,
}

/// A lot, in short.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownLot {
    /// Names it.
    pub lot: LotId,
    /// Which part.
    pub of: PartOf,
    /// Its grade.
    pub grade: Grade,
    /// What one piece cost.
    pub price: Option<Money>,
    /// Where it came from; may be empty.
    pub source: String,
    /// A note; may be empty.
    pub note: String,
    /// In which drawer it lies now.
    pub drawer: Option<DrawerId>,
    /// How many pieces were stored, whatever became of them.
    pub stored: u32,
}

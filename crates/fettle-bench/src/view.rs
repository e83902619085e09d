//! What pages and papers read: plain values, each filled by a fixed number of queries.

mod find;
mod learned;
mod lists;
mod stock;
mod today;
mod visit;

use serde::Serialize;

pub use self::{
    find::{Hit, HitIn},
    learned::{
        BackPoint, CameBack, DaysHome, FaultShare, Income, Learned, LearnedFilter, PartUsed,
        QuotePoint, QuotesHeld, Returned,
    },
    lists::{CameraLine, CameraView, OwnerLine, OwnerView, Page, Paged, VisitFilter},
    stock::{
        DonorLine, DonorPart, DonorView, DrawerLine, DrawerView, LastCount, Lot, Moved, PartFilter,
        PartLine, PartList, PartOrder, PartView, Taken, Use,
    },
    today::{BenchToday, DayAhead, GoingHome, Hold, NextStep, Possible, VisitLine, Wait},
    visit::{
        Bill, Credit, Fault, Kept, Paper, Payment, Photo, Piece, Quote, Reading, Recording,
        VisitView,
    },
};
pub(crate) use self::{learned::same_cause, stock::LikePart, visit::settle};
use crate::{
    change::{CameraDetails, OwnerDetails},
    ids::{CameraId, OwnerId},
};

/// An owner.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Owner {
    /// Names the owner.
    pub id: OwnerId,
    /// What is known.
    pub details: OwnerDetails,
}

/// A camera.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Camera {
    /// Names the camera.
    pub id: CameraId,
    /// What is known.
    pub details: CameraDetails,
}

impl Camera {
    /// Maker and model, as one says it.
    #[must_use]
    pub fn name(&self) -> String {
        self.details.name()
    }
}

impl CameraDetails {
    /// Maker and model, as one says it.
    #[must_use]
    pub fn name(&self) -> String {
        [self.maker.trim(), self.model.trim()]
            .join(" ")
            .trim()
            .to_owned()
    }

    /// The first serial number, by which one knows it; empty when it has none.
    #[must_use]
    pub fn serial(&self) -> &str {
        self.serials
            .first()
            .map_or("", |serial| serial.number.as_str())
    }
}

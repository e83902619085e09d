//! Lists by the page, and the view of one camera and of one owner.

use jiff::civil::Date;
use serde::Serialize;

use crate::{
    ids::{CameraId, OwnerId, VisitId},
    journal::Entry,
    view::{Camera, Owner, VisitLine},
    words::Stage,
};

/// Which part of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Page {
    /// How many lines to pass over.
    pub skip: u32,
    /// How many lines to give, at most 500.
    pub take: u32,
}

impl Page {
    /// The first `take` lines.
    #[must_use]
    pub const fn first(take: u32) -> Self {
        Self { skip: 0, take }
    }

    /// The same, within what one page may hold.
    pub(crate) fn bounded(self) -> Self {
        Self {
            take: self.take.min(500),
            ..self
        }
    }
}

/// A part of a list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Paged<T> {
    /// The lines.
    pub lines: Vec<T>,
    /// The part asked for.
    pub page: Page,
    /// How many lines the whole list has.
    pub total: u32,
}

/// Which visits to list; every condition given must hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct VisitFilter {
    /// Only this camera's.
    pub camera: Option<CameraId>,
    /// Only this owner's.
    pub owner: Option<OwnerId>,
    /// Only those at this stage.
    pub stage: Option<Stage>,
    /// Only cameras with these service notes.
    pub notes_id: Option<String>,
    /// Only those still here.
    pub here: bool,
}

/// One camera in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CameraLine {
    /// The camera.
    pub camera: Camera,
    /// How many visits it made.
    pub visits: u32,
    /// The last of them.
    pub last_visit: Option<VisitId>,
    /// Where that one stands.
    pub stage: Option<Stage>,
    /// The day it came.
    pub arrived: Option<Date>,
    /// Whose it was then.
    pub owner_name: Option<String>,
}

/// One owner in a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OwnerLine {
    /// The owner.
    pub owner: Owner,
    /// How many visits their cameras made.
    pub visits: u32,
    /// How many of them are still here.
    pub here: u32,
    /// The day of the last arrival.
    pub last_arrived: Option<Date>,
}

/// A camera over time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CameraView {
    /// The camera.
    pub camera: Camera,
    /// Its visits, newest first.
    pub visits: Vec<VisitLine>,
    /// What concerns it, newest first: at most 500 entries.
    pub journal: Vec<Entry>,
}

/// An owner: what cameras, what passed between us.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnerView {
    /// The owner.
    pub owner: Owner,
    /// The visits of their cameras, newest first.
    pub visits: Vec<VisitLine>,
    /// What concerns them, newest first: at most 500 entries.
    pub journal: Vec<Entry>,
}

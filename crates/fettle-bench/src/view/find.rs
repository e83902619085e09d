//! Finding anything by its words.

use serde::Serialize;

use crate::ids::{CameraId, DonorId, DrawerId, OwnerId, PartId, VisitId};

/// Where something was found.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HitIn {
    /// In a visit.
    Visit(VisitId),
    /// In a camera's details.
    Camera(CameraId),
    /// In an owner's details.
    Owner(OwnerId),
    /// In what is written of a part.
    Part(PartId),
    /// In a drawer's name.
    Drawer(DrawerId),
    /// In what is written of a donor.
    Donor(DonorId),
    /// In the service notes with this model id.
    Notes(String),
}

/// Something found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Hit {
    /// Where.
    pub place: HitIn,
    /// What it is: camera and serial number, owner's name, model.
    pub title: String,
    /// What kind of thing matched: `serial`, `note`, `part fitted`, `journal`.
    pub matched: String,
    /// The words around the match, with the match between U+2068 and U+2069 (isolates, invisible where they are not marked up).
    pub excerpt: String,
}

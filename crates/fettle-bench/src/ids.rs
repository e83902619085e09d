//! Numbers that name things in the record.

use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(i64);

        impl $name {
            /// Stands for the row of this kind that the same [`apply`](crate::Bench::apply) made last, so that one form can
            /// record an owner, the camera and the visit at once. The journal holds the number that it came to mean.
            pub const LATEST: Self = Self(0);

            /// The id with this number; numbers count from 1 and are never given twice.
            #[must_use]
            pub const fn new(number: i64) -> Self {
                Self(number)
            }

            /// The number itself.
            #[must_use]
            pub const fn get(self) -> i64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl From<i64> for $name {
            fn from(number: i64) -> Self {
                Self(number)
            }
        }
    )*};
}

ids! {
    /// Names an owner.
    OwnerId;
    /// Names a camera.
    CameraId;
    /// Names a visit; this is the visit number on the tag.
    VisitId;
    /// Names an entry of the journal.
    EntryId;
    /// Names a time of waiting.
    WaitId;
    /// Names a fault recorded at a visit.
    FaultId;
    /// Names a quote.
    QuoteId;
    /// Names a piece taken off.
    PieceId;
    /// Names a reading.
    ReadingId;
    /// Names a photograph.
    PhotoId;
    /// Names a recording.
    RecordingId;
    /// Names a paper.
    PaperId;
}

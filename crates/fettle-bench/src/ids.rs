//! Numbers that name things in the record.

use std::fmt;

use serde::{Deserialize, Serialize};

/// An id of a row in one of the record's tables.
pub(crate) trait RowId: Copy {
    /// The table.
    const TABLE: &'static str;
    /// What one calls it.
    const WHAT: &'static str;
    /// The id with this number.
    fn from_number(number: i64) -> Self;
    /// The number itself.
    fn number(self) -> i64;
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident($table:literal, $what:literal);)*) => {$(
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

        impl RowId for $name {
            const TABLE: &'static str = $table;
            const WHAT: &'static str = $what;

            fn from_number(number: i64) -> Self {
                Self(number)
            }

            fn number(self) -> i64 {
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
    OwnerId("owner", "owner");
    /// Names a camera.
    CameraId("camera", "camera");
    /// Names a visit; this is the visit number on the tag.
    VisitId("visit", "visit");
    /// Names an entry of the journal.
    EntryId("journal", "journal entry");
    /// Names a time of waiting.
    WaitId("wait", "wait");
    /// Names a fault recorded at a visit.
    FaultId("fault", "fault");
    /// Names a quote.
    QuoteId("quote", "quote");
    /// Names a bill or credit note; it is the number printed on it.
    BillId("bill", "bill");
    /// Names a payment.
    PaymentId("payment", "payment");
    /// Names a time during which a camera is held.
    HoldId("hold", "hold");
    /// Names a piece taken off.
    PieceId("piece", "piece");
    /// Names a reading.
    ReadingId("reading", "reading");
    /// Names a photograph.
    PhotoId("photo", "photograph");
    /// Names a recording.
    RecordingId("recording", "recording");
    /// Names a paper.
    PaperId("paper", "paper");
    /// Names a drawer.
    DrawerId("drawer", "drawer");
    /// Names a kind of part that is kept.
    PartId("part", "part");
    /// Names a lot: pieces of one part that came together.
    LotId("lot", "lot");
    /// Names a movement of pieces.
    MovementId("movement", "movement of parts");
    /// Names a donor.
    DonorId("donor", "donor");
    /// Names a part as it was found on a donor.
    DonorPartId("donor_part", "part of a donor");
}

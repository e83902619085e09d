//! Keeping the record: looking whether it is whole, backing it up, and bringing it back.

mod finding;
mod journal;
mod shelves;
mod source;
mod step;
mod tables;
mod verify;

pub use self::{
    finding::{Finding, FindingKind, Verified},
    step::Step,
    verify::{verify, verify_with},
};

//! The commands as processes: what is typed, what comes out, and the exit status.

#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a helper that fails ends its test"
)]

mod bench;
mod hands;
mod instruments;
mod keeping;
mod moving;
mod notes;
mod reason;
mod run;
mod setup;
mod shutter;
mod teeth_and_parts;

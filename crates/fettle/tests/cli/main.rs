//! The commands as processes: what is typed, what comes out, and the exit status.

mod bench;
mod notes;
mod run;
mod shutter;

//! Physics of the instruments: quantities with units, shutter recordings, signal generator.
//!
//! Pure functions from data to results: nothing here opens a file, asks the time or draws lots; a
//! reader or a seed is passed in.
//!
//! - [`meter::analyse`]: a meter's errors, the shift of its scale, and its correction card.
//! - [`run::Table`]: readings from a table that somebody typed; [`spread`]: how far what is fitted to them may be off.
//! - [`register::analyse`] and [`rangefinder::analyse`]: where the film lies and where the finder's images meet, over [`focus`], what a lens does.
//! - [`gear`]: teeth as exact curves, what a pair bears when it is pulled apart, and what gear a worn one was.
//! - [`Recording`] and [`recording::read`]: samples from bytes.
//! - [`shutter::analyse`]: exposure times with their uncertainty from a session of recordings.
//! - [`trim::advise`]: the next turn of an adjustment from the trials so far.
//! - [`teeth::analyse`]: how worn each tooth is, from a [`photograph`] against the light.
//! - [`synth`]: recordings of shutters that never were, with the truth beside them.

pub mod focus;
pub mod gear;
mod mark;
pub mod meter;
pub mod photograph;
mod quantity;
pub mod rangefinder;
pub mod recording;
mod refused;
pub mod register;
pub mod run;
pub mod shutter;
pub mod spread;
pub mod synth;
pub mod teeth;
pub mod trim;
mod verdict;

pub use mark::{MarkError, Marked, Series};
pub use quantity::{Decibels, Hertz, Millimetres, Seconds, Stops};
pub use recording::{Recording, RecordingError};
pub use refused::{OptionError, Refused};
pub use verdict::Verdict;

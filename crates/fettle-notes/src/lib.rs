//! The service-notes format: parse, check, error with the source line.
//!
//! Service notes are what is known of one camera model, in one TOML file written by a mechanic. [`parse`] turns
//! the file's text into [`ServiceNotes`], or into every [`Problem`] found in it with its place and the way out; [`rewrite`] puts
//! new figures into such a text. The format
//! itself is described in `docs/service-notes.md`.
//!
//! Everything here is a pure function of its arguments: no file is opened and no clock is asked.

mod addition;
mod check;
mod circle;
mod decode;
mod desk;
mod fields;
mod model;
mod network;
mod parse;
mod problem;
mod queries;
mod range;
mod rewrite;
mod source;
mod syntax;
mod template;
mod values;

pub use addition::{Addition, new_fault, new_sign};
pub use model::{
    Adjuster, Catalog, Chance, CheckLimit, Circumstance, CircumstanceId, Date, DialMark,
    DialSeries, DialTolerance, Effect, Fastener, FastenerKind, Fault, FaultId, FaultKind, Grade,
    GradeNote, Hand, Head, Instrument, Limit, LimitId, LimitKind, Link, MeterLimit, Minutes, Model,
    ModelId, Origin, OutOfRange, Part, PartId, PartUse, Pattern, RangefinderLimit, ReadingLimit,
    RegisterLimit, Removal, ServiceNotes, Setting, SettingId, ShutterKind, ShutterLimit, Sign,
    SignId, SuggestedBy, TeethLimit, TextError, Toothed, WayBack, Work, WorkId,
};
pub use network::{Node, NodeKind, Parent};
pub use parse::{FILE_MAX_BYTES, parse, parse_bytes};
pub use problem::{OtherPlace, Problem, ProblemKind, Problems, Severity};
pub use queries::{Counts, SignGroup};
pub use rewrite::{NewFigure, NotRewritten, rewrite};
pub use template::template;

//! The service-notes format: parse, check, error with the source line.
//!
//! Service notes are what is known of one camera model, in one TOML file written by a mechanic. `parse` turns
//! the file's text into [`ServiceNotes`], or into every problem found in it with its place and the way out. The format
//! itself is described in `docs/service-notes.md`.
//!
//! Everything here is a pure function of its arguments: no file is opened and no clock is asked.

mod model;

pub use model::{
    Adjuster, Catalog, Chance, CheckLimit, Circumstance, CircumstanceId, Date, DialMark,
    DialSeries, DialTolerance, Effect, Fastener, FastenerKind, Fault, FaultId, FaultKind, Grade,
    GradeNote, Hand, Head, Instrument, Limit, LimitId, LimitKind, Link, MeterLimit, Minutes, Model,
    ModelId, Origin, OutOfRange, Part, PartId, PartUse, RangefinderLimit, ReadingLimit,
    RegisterLimit, Removal, ServiceNotes, Setting, SettingId, ShutterKind, ShutterLimit, Sign,
    SignId, TextError, WayBack, Work, WorkId,
};

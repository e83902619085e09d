//! Pages and forms over the bench.
//!
//! [`router`] turns an [`AppState`] into the whole site; [`serve`] runs it on a listener. Handlers
//! parse, call one function and render: nothing here computes, and nothing here knows the tables.
//!
//! - `urls`: every address of the site;
//! - `server`: running it on a listener within limits, plain or over TLS;
//! - `door`: who may ask, who is in, coming in;
//! - `guards`: how much may be sent, what a browser may run, what is said of errors;
//! - `layout`, `form`, `number`, `words`: the sheet all pages are drawn on;
//! - one file a page, and the folder `visit` for the stages of a visit.

mod arrive;
mod assets;
mod backup;
mod bench;
mod cameras;
mod code;
mod door;
mod drawers;
mod drawings;
mod error;
mod files;
mod find;
mod form;
mod frame;
mod given;
mod going_home;
mod graphs;
mod guards;
mod handbook;
mod import;
mod instrument;
mod instruments;
mod journal;
mod kept;
mod layout;
mod learned;
mod lines;
mod live;
mod log;
mod models;
mod named;
mod number;
mod once;
mod owners;
mod papers;
mod patterns;
mod recorded;
mod refused;
mod relearn;
mod routes;
mod said;
mod server;
mod settings;
mod shutter;
mod shutter_check;
mod state;
mod taught;
mod thing;
mod trace;
mod upload;
mod urls;
mod visit;
mod words;

pub use backup::keep_backups;
pub use door::Network;
pub use relearn::read_ahead;
pub use routes::router;
pub use server::{Ends, Limits, serve, serve_network_until, serve_until};
pub use state::{AppState, Clock};

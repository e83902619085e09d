//! Moving in and out: a bench written out whole and read back, and foreign tables and contacts taken in.
//!
//! [`export`] writes a bench out and [`read_back`] makes one from what was written.
//!
//! A foreign table goes four steps, each a plain function, so that a page can show what stands between them: its bytes become a
//! [`Table`]; [`offer`] says which column holds what, and the [`Map`] can be changed; [`plan`] says what that would bring to a bench,
//! with every row that is wrong or known already; [`bring`] applies the plan, all of it or nothing.
//!
//! ```
//! use fettle_bench::{Bench, BenchSettings, Currency, Hand, Page};
//! use fettle_moving::{Kind, Known, Reading, Table, Terms, bring, offer, plan};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let dir = tempfile::tempdir()?;
//! # let settings = BenchSettings::new("The bench at Saltmere", Currency::new("EUR")?);
//! let (ines, now) = (Hand::new("Ines"), "2026-09-21T09:00:00Z".parse()?);
//! let bench = Bench::create(&dir.path().join("bench"), settings, &ines, now)?;
//!
//! let bytes = "Vorname;Nachname;E-Mail\nMarit;Halvarsen;marit@example.org\n".as_bytes();
//! let table = Table::any(bytes, &Reading::default()).map_err(|problems| problems[0].to_string())?;
//! let map = offer(Kind::Owners, &table.headings);
//! let plan = plan(&table, &map, &Known::read(&bench)?, &Terms::strict("2026-09-21".parse()?));
//! assert!(plan.problems.is_empty());
//! bring(&bench, &ines, now, &plan, &mut |_| ())?;
//! assert_eq!(bench.owners(Page::first(10))?.lines[0].owner.details.name, "Marit Halvarsen");
//! # Ok(())
//! # }
//! ```

mod bring;
mod contacts;
mod encoding;
mod error;
mod export;
mod kind;
mod known;
mod map;
mod plan;
mod problem;
mod read_back;
mod table;
mod value;

pub use bring::{NotBrought, bring, rehearse};
pub use encoding::{KnownBy, Written};
pub use error::{Damage, MovingError};
pub use export::{
    export,
    manifest::{FileNote, Manifest, TableNote},
};
pub use fettle_bench::Step;
pub use kind::{Field, Kind};
pub use known::Known;
pub use map::{From, How, Map, Source, offer};
pub use plan::{Group, Plan, Same, Terms, plan};
pub use problem::Problem;
pub use read_back::read_back;
pub use table::{Reading, Row, TABLE_MAX_BYTES, Table};
pub use value::{DateOrder, DecimalSign, Habits};

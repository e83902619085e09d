//! The record's tables as CSV (RFC 4180, UTF-8, commas): one file each, the first row names the columns.

use std::path::Path;

use fettle_bench::Cell;

use super::{
    manifest::{FileNote, TableNote},
    part::Part,
};
use crate::error::MovingError;

/// What each table's file is called and what it holds. A table that does not stand here is written all the same, under its own name;
/// a test asks for the words.
pub(crate) const TABLES: &[(&str, &str, &str)] = &[
    ("bench", "bench", "the bench's name, place and terms"),
    (
        "bill",
        "bills",
        "bills and credit notes by their number; a credit note names its bill",
    ),
    (
        "bill_line",
        "bill-lines",
        "the lines of bills and credit notes, each with its tax",
    ),
    (
        "hold",
        "holds",
        "times during which a camera that could go home was held",
    ),
    (
        "packing_declared",
        "packings-declared",
        "what was declared of a parcel, with value and origin",
    ),
    (
        "payment",
        "payments",
        "what was paid, and paid back, for a visit",
    ),
    ("camera", "cameras", "cameras: maker, model, service notes"),
    (
        "came_with",
        "came-with",
        "what came with a camera at a visit",
    ),
    (
        "circumstance",
        "circumstances",
        "circumstances known at a visit",
    ),
    ("donor", "donors", "bodies kept for their parts"),
    (
        "donor_part",
        "donor-parts",
        "what is on a donor, and in which state",
    ),
    ("drawer", "drawers", "drawers and where they are"),
    (
        "earlier_hands",
        "earlier-hands",
        "traces of previous repair",
    ),
    (
        "fault",
        "faults",
        "faults found, suspected or ruled out at a visit",
    ),
    (
        "journal",
        "journal",
        "every entry of the journal in a sentence",
    ),
    (
        "lot",
        "lots",
        "pieces of one part that came together: grade, source, price, drawer",
    ),
    (
        "movement",
        "movements",
        "pieces that came into a lot, went or were counted",
    ),
    ("note", "notes", "notes about visits, cameras and owners"),
    ("owner", "owners", "owners: name, mail, telephone, address"),
    ("packing", "packings", "parcels packed"),
    (
        "packing_tick",
        "packing-ticks",
        "what came with a camera, ticked when it was packed",
    ),
    (
        "paper",
        "papers",
        "papers of a visit; the file is papers/HASH.EXTENSION",
    ),
    (
        "part",
        "parts",
        "kinds of part that are kept, and how many should be there",
    ),
    (
        "part_fitted",
        "parts-fitted",
        "parts fitted at a visit that came from no drawer",
    ),
    (
        "photo",
        "photographs",
        "photographs of a visit; the file is photos/HASH.EXTENSION",
    ),
    (
        "piece",
        "pieces",
        "pieces taken off at a visit, their cell in the tray, and when they went back",
    ),
    (
        "quote",
        "quotes",
        "quotes of a visit and the owner's answers",
    ),
    ("quote_line", "quote-lines", "the lines of the quotes"),
    (
        "reading",
        "readings",
        "readings of instruments at a visit, with their full report as JSON",
    ),
    ("reading_row", "reading-rows", "the figures of the readings"),
    (
        "recording",
        "recordings",
        "recordings of a visit; the file is recordings/HASH.EXTENSION",
    ),
    (
        "sending",
        "sendings",
        "parcels sent: day, carrier, tracking number",
    ),
    (
        "serial",
        "serials",
        "serial numbers of cameras and where they stand",
    ),
    ("setting", "settings", "settings proved at a visit"),
    (
        "shortfall",
        "shortfalls",
        "what could not be brought back at a visit",
    ),
    ("sign", "signs", "signs looked for at a visit"),
    (
        "stock",
        "stock",
        "how many pieces lie in each lot, and how many were used",
    ),
    (
        "struck",
        "struck",
        "entries of the journal that were undone, and by which entry",
    ),
    (
        "trial",
        "trials",
        "trials of settings: what was turned and what was read",
    ),
    ("visit", "visits", "visits: arrival, owner's words, stage"),
    ("wait", "waits", "what visits waited for"),
    ("work", "works", "works done at a visit, with minutes"),
];

/// The file of a table and what it holds.
fn called(table: &str) -> (String, &'static str) {
    let known = TABLES.iter().find(|(name, ..)| *name == table);
    let (file, about) = known.map_or_else(
        || (table.replace('_', "-"), ""),
        |(_, file, about)| ((*file).to_owned(), *about),
    );
    (format!("tables/{file}.csv"), about)
}

/// A table while it is written.
pub(crate) struct TableFile {
    note: TableNote,
    writer: csv::Writer<Part>,
}

impl TableFile {
    pub(crate) fn begin(
        folder: &Path,
        table: &str,
        columns: &[String],
    ) -> Result<Self, MovingError> {
        let (file, about) = called(table);
        let part = Part::create(folder, &file)?;
        let mut it = Self {
            note: TableNote {
                file,
                table: table.to_owned(),
                about: about.to_owned(),
                rows: 0,
            },
            writer: csv::Writer::from_writer(part),
        };
        it.record(columns)?;
        Ok(it)
    }

    pub(crate) fn row(&mut self, cells: &[Cell]) -> Result<(), MovingError> {
        self.note.rows += 1;
        let cells: Vec<String> = cells.iter().map(text).collect();
        self.record(&cells)
    }

    fn record(&mut self, cells: &[String]) -> Result<(), MovingError> {
        self.writer
            .write_record(cells)
            .map_err(|error| self.told(&error.to_string()))
    }

    fn told(&self, why: &str) -> MovingError {
        MovingError::File {
            path: self.note.file.clone().into(),
            why: why.to_owned(),
        }
    }

    pub(crate) fn end(self) -> Result<(TableNote, FileNote), MovingError> {
        let Self { note, writer } = self;
        let part = writer.into_inner().map_err(|error| MovingError::File {
            path: note.file.clone().into(),
            why: error.to_string(),
        })?;
        Ok((note, part.end()?))
    }
}

/// A cell as it stands in a table: nothing is an empty cell, numbers read back to the last bit.
pub(crate) fn text(cell: &Cell) -> String {
    match cell {
        Cell::Nothing => String::new(),
        Cell::Whole(whole) => whole.to_string(),
        Cell::Number(number) => format!("{number:?}"),
        Cell::Text(text) => text.clone(),
    }
}

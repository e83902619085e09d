//! From text to cells.
//!
//! RFC 4180, with what spreadsheets do besides: other separators, line ends of any kind, white space around cells. The csv library
//! reads any quoting somehow; a table that is taken into a record must rather say where its quoting is malformed.

use crate::problem::Problem;

/// The most problems of quoting that are told.
const TOLD_MAX: usize = 100;

/// The cells of one row, without white space around them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Record {
    /// The row from 1, and the line on which it begins.
    pub(crate) place: (u32, u32),
    pub(crate) cells: Vec<String>,
}

impl Record {
    pub(crate) fn is_blank(&self) -> bool {
        self.cells.iter().all(String::is_empty)
    }
}

/// Every row of the text; `skipped` lines stood before it.
pub(crate) fn records(
    text: &str,
    separator: char,
    skipped: u32,
) -> Result<Vec<Record>, Vec<Problem>> {
    let mut reader = Reader::new(text, separator, skipped);
    let mut records: Vec<Record> = Vec::new();
    while let Some(record) = reader.record() {
        records.push(record);
    }
    if reader.wrong.is_empty() {
        return Ok(records);
    }
    let names: &[String] = records.first().map_or(&[], |head| &head.cells);
    let named = |wrong: Wrong| {
        let number = || (wrong.column + 1).to_string();
        let heading = names.get(wrong.column).filter(|name| !name.is_empty());
        let column = heading.cloned().unwrap_or_else(number);
        Problem::at(wrong.place, wrong.why, wrong.remedy).in_column(&column, &wrong.value)
    };
    Err(reader.wrong.into_iter().map(named).collect())
}

/// The first rows, however they are quoted.
pub(crate) fn sample(text: &str, separator: char, most: usize) -> Vec<Record> {
    let mut reader = Reader::new(text, separator, 0);
    let records = std::iter::from_fn(|| reader.record());
    records
        .filter(|record| !record.is_blank())
        .take(most)
        .collect()
}

struct Wrong {
    place: (u32, u32),
    column: usize,
    value: String,
    why: &'static str,
    remedy: &'static str,
}

struct Reader<'t> {
    rest: std::iter::Peekable<std::str::Chars<'t>>,
    separator: char,
    row: u32,
    line: u32,
    wrong: Vec<Wrong>,
}

/// What ended a cell.
#[derive(PartialEq, Eq)]
enum End {
    Cell,
    Row,
    Text,
}

impl<'t> Reader<'t> {
    fn new(text: &'t str, separator: char, skipped: u32) -> Self {
        Self {
            rest: text.chars().peekable(),
            separator,
            row: skipped,
            line: skipped + 1,
            wrong: Vec::new(),
        }
    }

    fn record(&mut self) -> Option<Record> {
        self.rest.peek()?;
        self.row = self.row.saturating_add(1);
        let place = (self.row, self.line);
        let mut cells = Vec::new();
        loop {
            let (cell, end) = self.cell(place, cells.len());
            cells.push(cell);
            if end != End::Cell {
                return Some(Record { place, cells });
            }
        }
    }

    fn cell(&mut self, place: (u32, u32), column: usize) -> (String, End) {
        let mut cell = String::new();
        loop {
            match self.rest.next() {
                Some('"') if cell.trim().is_empty() => return self.quoted(place, column),
                Some(c) => match self.end_at(c) {
                    Some(end) => return (trimmed(cell), end),
                    None => cell.push(c),
                },
                None => return (trimmed(cell), End::Text),
            }
        }
    }

    /// The rest of a cell whose quote was opened.
    fn quoted(&mut self, place: (u32, u32), column: usize) -> (String, End) {
        let mut cell = String::new();
        loop {
            match self.rest.next() {
                Some('"') if self.rest.peek() == Some(&'"') => {
                    self.rest.next();
                    cell.push('"');
                }
                Some('"') => break,
                Some(c) => {
                    if c == '\n' || (c == '\r' && self.rest.peek() != Some(&'\n')) {
                        self.line = self.line.saturating_add(1);
                    }
                    cell.push(c);
                }
                None => {
                    let remedy = "close it, or write a quote that is meant twice within quotes";
                    let why = "begins with a quote that is never closed";
                    self.note(place, column, &cell, why, remedy);
                    return (trimmed(cell), End::Text);
                }
            }
        }
        let mut told = false;
        loop {
            let Some(c) = self.rest.next() else {
                return (trimmed(cell), End::Text);
            };
            if let Some(end) = self.end_at(c) {
                return (trimmed(cell), end);
            }
            if !c.is_whitespace() && !told {
                told = true;
                let why = "is followed by text after its closing quote";
                self.note(
                    place,
                    column,
                    &cell,
                    why,
                    "write a quote within a quoted cell twice",
                );
            }
        }
    }

    /// What a letter ends, outside quotes.
    fn end_at(&mut self, c: char) -> Option<End> {
        if c == self.separator {
            return Some(End::Cell);
        }
        if c == '\r' && self.rest.peek() == Some(&'\n') {
            self.rest.next();
        } else if c != '\r' && c != '\n' {
            return None;
        }
        self.line = self.line.saturating_add(1);
        Some(End::Row)
    }

    fn note(
        &mut self,
        place: (u32, u32),
        column: usize,
        cell: &str,
        why: &'static str,
        remedy: &'static str,
    ) {
        if self.wrong.len() < TOLD_MAX {
            let value = cell.trim().chars().take(100).collect();
            self.wrong.push(Wrong {
                place,
                column,
                value,
                why,
                remedy,
            });
        }
    }
}

fn trimmed(mut cell: String) -> String {
    let end = cell.trim_end().len();
    cell.truncate(end);
    let start = cell.len() - cell.trim_start().len();
    cell.drain(..start);
    cell
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn what_the_csv_library_writes_is_read_back(
            rows in prop::collection::vec(prop::collection::vec("[ -~äß\"\n;,\t]{0,12}", 3), 1..8),
            separator in prop::sample::select(vec![',', ';', '\t']),
        ) {
            let mut writer = csv::WriterBuilder::new()
                .delimiter(u8::try_from(separator).unwrap())
                .from_writer(Vec::new());
            for row in &rows {
                writer.write_record(row).unwrap();
            }
            let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
            let read: Vec<Vec<String>> =
                records(&text, separator, 0).unwrap().into_iter().map(|it| it.cells).collect();
            let want: Vec<Vec<String>> = rows
                .iter()
                .map(|row| row.iter().map(|cell| cell.trim().to_owned()).collect())
                .collect();
            prop_assert_eq!(read, want);
        }

        #[test]
        fn no_text_makes_it_stumble(text in any::<String>(), separator in any::<char>()) {
            let _ = records(&text, separator, 0);
        }
    }
}

//! Tables of plain text (RFC 4180 and its kin): headings, then rows of cells, each with its place in the file.

mod cells;

use serde::Serialize;

use crate::{
    contacts,
    encoding::{Written, decode},
    problem::Problem,
};
use cells::Record;

/// The largest file that is read, in bytes.
pub const TABLE_MAX_BYTES: usize = 64 << 20;
/// The most columns of a table.
const COLUMNS_MAX: usize = 500;
/// Rows looked at to find the separator.
const SAMPLE: usize = 50;

/// A table as it was read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Table {
    /// The headings, one a column; a column without one has its number: `column 3`.
    pub headings: Vec<String>,
    /// The rows below them; blank ones are left out.
    pub rows: Vec<Row>,
    /// What separates cells: a comma, a semicolon or a tab. `None` for contacts.
    pub separator: Option<char>,
    /// How the file's letters are written.
    pub written: Written,
}

/// A row and where it stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Row {
    /// The row as a spreadsheet counts, the headings being row 1. Of contacts, which card.
    pub row: u32,
    /// The line of the file on which it begins.
    pub line: u32,
    /// Its cells without white space around them, one a heading.
    pub cells: Vec<String>,
}

/// How to read a file where it does not tell by itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reading {
    /// The encoding by its name; `None` to recognise it.
    pub encoding: Option<String>,
    /// What separates cells; `None` to recognise it.
    pub separator: Option<char>,
}

impl Table {
    /// Reads a table: its encoding and separator are recognised unless they are told.
    ///
    /// # Errors
    /// Everything that keeps it from being read as a table: malformed quoting by row and column, cells beyond the last heading, an
    /// encoding that the bytes do not fit, nothing below the headings.
    ///
    /// # Example
    /// ```
    /// use fettle_moving::{Reading, Table};
    ///
    /// let table = Table::read(b"Name;Ort\nMarit;\"Saltmere; am Hafen\"\n", &Reading::default()).unwrap();
    /// assert_eq!(table.headings, ["Name", "Ort"]);
    /// assert_eq!(table.rows[0].cells, ["Marit", "Saltmere; am Hafen"]);
    /// ```
    pub fn read(bytes: &[u8], reading: &Reading) -> Result<Self, Vec<Problem>> {
        let (text, written) = text_of(bytes, reading)?;
        let (told, text, skipped) = separator_line(&text);
        let separator = reading
            .separator
            .or(told)
            .unwrap_or_else(|| find_separator(text));
        let records = cells::records(text, separator, skipped)?;
        from_records(records, separator, written)
    }

    /// Reads contacts (vCard 3 of RFC 2426, vCard 4 of RFC 6350) as a table of owners, one row a card.
    ///
    /// # Errors
    /// When the file holds no card, or one that cannot be read.
    pub fn contacts(bytes: &[u8], reading: &Reading) -> Result<Self, Vec<Problem>> {
        let (text, written) = text_of(bytes, reading)?;
        contacts::read(&text, written)
    }

    /// Whether a file holds contacts, by how it begins.
    #[must_use]
    pub fn is_contacts(bytes: &[u8]) -> bool {
        let head = bytes.get(..bytes.len().min(256)).unwrap_or_default();
        decode(head, None).is_ok_and(|(text, _)| {
            let first = text.trim_start_matches('\u{FEFF}').trim_start();
            first
                .get(..11)
                .is_some_and(|begin| begin.eq_ignore_ascii_case("BEGIN:VCARD"))
        })
    }

    /// Reads what the file holds: contacts or a table.
    ///
    /// # Errors
    /// As for [`read`](Self::read) and [`contacts`](Self::contacts).
    pub fn any(bytes: &[u8], reading: &Reading) -> Result<Self, Vec<Problem>> {
        if Self::is_contacts(bytes) {
            Self::contacts(bytes, reading)
        } else {
            Self::read(bytes, reading)
        }
    }
}

fn text_of(bytes: &[u8], reading: &Reading) -> Result<(String, Written), Vec<Problem>> {
    if bytes.len() > TABLE_MAX_BYTES {
        return Err(vec![Problem::whole(
            format!("the file is larger than {} MB", TABLE_MAX_BYTES >> 20),
            "divide it into several files with the same headings",
        )]);
    }
    decode(bytes, reading.encoding.as_deref()).map_err(|problem| vec![problem])
}

/// Some spreadsheets tell the separator in a line of its own before the headings: `sep=;`.
fn separator_line(text: &str) -> (Option<char>, &str, u32) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let told = first.trim().strip_prefix("sep=").map(str::chars);
    match told.map(|mut letters| (letters.next(), letters.next())) {
        Some((Some(separator), None)) if matches!(separator, ',' | ';') => {
            (Some(separator), rest, 1)
        }
        _ if first.trim_end_matches('\r') == "sep=\t" => (Some('\t'), rest, 1),
        _ => (None, text, 0),
    }
}

/// The separator that gives the headings the most cells; among equals the one by which most rows have as many.
fn find_separator(text: &str) -> char {
    let score = |separator: char| {
        let sample = cells::sample(text, separator, SAMPLE);
        let wide = sample.first().map_or(0, |first| first.cells.len());
        let alike = sample.iter().filter(|row| row.cells.len() == wide).count();
        (wide, alike)
    };
    // The last of equals wins, so the comma of a table of one column stands last.
    [';', '\t', ',']
        .into_iter()
        .max_by_key(|separator| score(*separator))
        .unwrap_or(',')
}

fn from_records(
    records: Vec<Record>,
    separator: char,
    written: Written,
) -> Result<Table, Vec<Problem>> {
    let mut records = records.into_iter().filter(|record| !record.is_blank());
    let Some(head) = records.next() else {
        return Err(vec![Problem::whole(
            "the file holds no table",
            "choose a file whose first row names the columns",
        )]);
    };
    if head.cells.len() > COLUMNS_MAX {
        return Err(vec![Problem::at(
            head.place,
            format!(
                "has {} columns, the most is {COLUMNS_MAX}",
                head.cells.len()
            ),
            "leave out what need not be taken in",
        )]);
    }
    let headings = headings(&head.cells);
    let mut problems = Vec::new();
    let mut rows = Vec::new();
    for Record { place, mut cells } in records {
        let beyond = cells
            .iter()
            .skip(headings.len())
            .position(|cell| !cell.is_empty());
        if let Some(at) = beyond {
            let column = headings.len() + at;
            let cell = cells.get(column).map_or("", String::as_str);
            problems.push(
                Problem::at(
                    place,
                    format!("stands beyond the last of {} headings", headings.len()),
                    "put text that holds the separator into quotes, or give the column a heading",
                )
                .in_column(&format!("{}", column + 1), cell),
            );
            continue;
        }
        cells.resize(headings.len(), String::new());
        rows.push(Row {
            row: place.0,
            line: place.1,
            cells,
        });
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    if rows.is_empty() {
        return Err(vec![Problem::whole(
            "there is nothing below the headings",
            "choose a file with at least one row",
        )]);
    }
    Ok(Table {
        headings,
        rows,
        separator: Some(separator),
        written,
    })
}

/// Headings told apart: an empty one by its number, a second of the same name by its number behind it.
fn headings(cells: &[String]) -> Vec<String> {
    let mut headings: Vec<String> = Vec::new();
    for (n, cell) in cells.iter().enumerate() {
        let plain: String = cell.split_whitespace().collect::<Vec<_>>().join(" ");
        let heading = match plain.as_str() {
            "" => format!("column {}", n + 1),
            name if headings.iter().any(|other| other == name) => {
                format!("{name} (column {})", n + 1)
            }
            name => name.to_owned(),
        };
        headings.push(heading);
    }
    headings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Table, Vec<Problem>> {
        Table::read(text.as_bytes(), &Reading::default())
    }

    fn told(text: &str) -> String {
        let problems: Vec<String> = read(text)
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect();
        problems.join("\n")
    }

    #[test]
    fn the_same_table_is_read_whatever_separates_it() {
        for (separator, text) in [
            (',', "Name,Price,Note\nMarit,\"12,50\",\"a \"\"b\"\"\"\n"),
            (';', "Name;Price;Note\r\nMarit;12,50;\"a \"\"b\"\"\"\r\n"),
            ('\t', "Name\tPrice\tNote\rMarit\t12,50\t\"a \"\"b\"\"\"\r"),
            (';', "sep=;\nName;Price;Note\nMarit;12,50;\"a \"\"b\"\"\""),
        ] {
            let table = read(text).unwrap();
            assert_eq!(table.separator, Some(separator));
            assert_eq!(table.headings, ["Name", "Price", "Note"]);
            assert_eq!(table.rows.len(), 1);
            assert_eq!(table.rows[0].cells, ["Marit", "12,50", "a \"b\""], "{text}");
        }
    }

    #[test]
    fn a_semicolon_table_is_not_taken_for_one_of_its_decimal_commas() {
        let table = read("a;b\n1,5;2,5\n3,5;4,5\n").unwrap();
        assert_eq!(table.rows[1].cells, ["3,5", "4,5"]);
    }

    #[test]
    fn rows_are_counted_as_a_spreadsheet_does_and_lines_as_an_editor_does() {
        let table = read("name,note\nA,\"two\nlines\"\n\nB,\n").unwrap();
        let places: Vec<_> = table.rows.iter().map(|row| (row.row, row.line)).collect();
        assert_eq!(places, [(2, 2), (4, 5)]);
        assert_eq!(table.rows[1].cells, ["B", ""]);
    }

    #[test]
    fn malformed_quoting_is_told_by_row_and_column() {
        assert_eq!(
            told("name,note\nA,\"fine\"\nB,\"not\" fine\n"),
            "row 3, column note: “not” is followed by text after its closing quote; write a quote within a quoted cell twice"
        );
        let open = told("name,note\nA,\"fine\nB,x\n");
        assert!(
            open.starts_with("row 2, column note: “fine B,x” "),
            "{open}"
        );
        assert!(open.contains("is never closed"), "{open}");
    }

    #[test]
    fn a_cell_beyond_the_headings_is_told() {
        let told = told("name,town\nA,Saltmere, by the harbour\nB,x,,\n");
        assert_eq!(
            told,
            "row 2, column 3: “by the harbour” stands beyond the last of 2 headings; \
             put text that holds the separator into quotes, or give the column a heading"
        );
    }

    #[test]
    fn what_holds_no_table_is_refused() {
        for text in ["", "\n\n", "name,town\n", "\u{FEFF}"] {
            assert_eq!(read(text).unwrap_err().len(), 1, "{text:?}");
        }
    }

    #[test]
    fn headings_without_a_name_or_with_the_same_one_are_told_apart() {
        let table = read("name,,name\na,b,c\n").unwrap();
        assert_eq!(table.headings, ["name", "column 2", "name (column 3)"]);
    }
}

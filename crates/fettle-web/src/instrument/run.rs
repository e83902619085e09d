//! A run of readings, typed into a table or sent as one.

use fettle_measure::run::{Problem, RunError};
use maud::{Markup, html};

use crate::form::{Fields, Form, Wrong};
use crate::upload::Upload;

/// Rows offered at least, and rows left free below what stands there.
const LEAST_ROWS: usize = 6;
const FREE_ROWS: usize = 2;
/// No form offers more rows than this; longer runs come as a file.
const MOST_ROWS: usize = 60;

/// A column of the table.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Column {
    /// Its heading in a file.
    pub(crate) name: &'static str,
    /// Its heading on the page.
    pub(crate) heading: &'static str,
    pub(crate) unit: &'static str,
}

/// The table with what it holds before anything is typed, and the field for a file instead.
pub(crate) fn draw(form: &Form, columns: &[Column], holding: &[Vec<String>]) -> Markup {
    let filled = if form.is_returned() {
        (0..MOST_ROWS)
            .rev()
            .find(|&row| {
                columns
                    .iter()
                    .any(|column| !form.value(&cell(row, column), "").trim().is_empty())
            })
            .map_or(0, |last| last + 1)
    } else {
        holding.len()
    };
    let rows = (filled + FREE_ROWS).clamp(LEAST_ROWS, MOST_ROWS);
    let held = |row: usize, place: usize| {
        holding
            .get(row)
            .and_then(|cells| cells.get(place))
            .map_or("", String::as_str)
    };
    let file = form.field_id("table");
    html! {
        div.table-wrap { table.run {
            thead { tr {
                th.num { "Line" }
                @for column in columns { th { (column.heading) @if !column.unit.is_empty() { div.aside { (column.unit) } } } }
            } }
            tbody {
                @for row in 0..rows {
                    tr {
                        th.num scope="row" { (row + 1) }
                        @for (place, column) in columns.iter().enumerate() {
                            td { (form.cell(&cell(row, column), &format!("line {}: {}", row + 1, column.heading), held(row, place), None)) }
                        }
                    }
                }
            }
        } }
        details.more {
            summary { "From a table instead" }
            div.fields { div.field {
                label for=(file) { "Table" }
                p.hint { "A CSV file with the headings " span.mono { (names(columns)) } "; other columns are passed over. It stands in for the cells above." }
                input type="file" id=(file) name="table" accept=".csv,.txt,text/csv";
                (form.error("table"))
            } }
        }
    }
}

fn names(columns: &[Column]) -> String {
    let names: Vec<&str> = columns.iter().map(|column| column.name).collect();
    names.join(",")
}

fn cell(row: usize, column: &Column) -> String {
    format!("run.{row}.{}", column.name)
}

/// The readings that a form brought, as the text of a table.
#[derive(Clone, Debug)]
pub(crate) struct Sent {
    /// The table as CSV.
    pub(crate) bytes: Vec<u8>,
    /// The form's row of each line below the heading; `None` when a file came.
    rows: Option<Vec<usize>>,
}

impl Sent {
    /// The file if there is one, else the cells that say anything; `None` when there are neither, noted as wrong.
    pub(crate) fn of(sent: &Upload, columns: &[Column], wrong: &mut Wrong) -> Option<Self> {
        if let Some(file) = sent.files.iter().find(|file| file.field == "table") {
            return Some(Self {
                bytes: file.bytes.clone(),
                rows: None,
            });
        }
        let typed = Self::typed(&sent.fields, columns);
        if let (None, Some(first)) = (&typed, columns.first()) {
            wrong.note(cell(0, first), "type in the readings, a line each");
        }
        typed
    }

    fn typed(fields: &Fields, columns: &[Column]) -> Option<Self> {
        let mut text = names(columns);
        let mut rows = Vec::new();
        for row in 0..MOST_ROWS {
            let cells: Vec<String> = columns
                .iter()
                .map(|column| plain(fields.text(&cell(row, column))))
                .collect();
            if cells.iter().all(String::is_empty) {
                continue;
            }
            rows.push(row);
            text.push('\n');
            text.push_str(&cells.join(","));
        }
        text.push('\n');
        (!rows.is_empty()).then(|| Self {
            bytes: text.into_bytes(),
            rows: Some(rows),
        })
    }

    /// Where a line of the table stands on the page: typed lines are counted from 1 without the heading, those of a file as they are.
    pub(crate) fn on_page(&self, line: usize) -> usize {
        let row = self
            .rows
            .as_ref()
            .and_then(|rows| rows.get(line.checked_sub(2)?));
        row.map_or(line, |row| row + 1)
    }

    /// The same problems with their lines as they stand on the page.
    pub(crate) fn told_on_page(&self, error: &RunError) -> RunError {
        let problems = error.problems().iter().cloned().map(|problem| Problem {
            line: problem.line.map(|line| self.on_page(line)),
            ..problem
        });
        RunError::none_of(problems.collect())
            .err()
            .unwrap_or_else(|| error.clone())
    }

    /// Notes what is wrong with the readings, lines as they stand on the page, at the cells or at the file.
    pub(crate) fn tell(&self, error: &RunError, columns: &[Column], wrong: &mut Wrong) {
        for problem in error.problems() {
            if self.rows.is_none() {
                wrong.note("table", problem.to_string());
                continue;
            }
            let column = problem
                .column
                .as_deref()
                .and_then(|name| columns.iter().find(|column| column.name == name))
                .or(columns.first());
            match (problem.line, column) {
                (Some(line @ 1..), Some(column)) => wrong.note(
                    cell(line - 1, column),
                    format!("line {line}: {}", problem.message),
                ),
                _ => wrong.note("", problem.message.clone()),
            }
        }
    }
}

/// A typed figure as a table has it: one way of writing decimals, nothing that ends a cell.
fn plain(text: &str) -> String {
    text.replace(',', ".")
        .replace('\u{2212}', "-")
        .replace(['"', '\n', '\r', ';', '\t'], " ")
        .trim()
        .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: &[Column] = &[
        Column {
            name: "true_ev",
            heading: "True",
            unit: "EV",
        },
        Column {
            name: "indicated_ev",
            heading: "Indicated",
            unit: "EV",
        },
    ];

    fn sent(pairs: &[(&str, &str)]) -> Upload {
        let pairs = pairs
            .iter()
            .map(|&(name, value)| (name.to_owned(), value.to_owned()));
        let mut sent = Upload::default();
        sent.fields = Fields::new(pairs.collect());
        sent
    }

    #[test]
    fn cells_become_a_table_and_empty_rows_are_passed_over() {
        let mut wrong = Wrong::default();
        let upload = sent(&[
            ("run.0.true_ev", "8"),
            ("run.0.indicated_ev", "8,5"),
            ("run.2.true_ev", "\u{2212}1"),
            ("run.2.indicated_ev", "a;b\"c"),
        ]);
        let run = Sent::of(&upload, COLUMNS, &mut wrong);
        let text = run.as_ref().map(|it| String::from_utf8_lossy(&it.bytes));
        assert_eq!(
            text.as_deref(),
            Some("true_ev,indicated_ev\n8,8.5\n-1,a b c\n")
        );
        assert_eq!(run.and_then(|it| it.rows), Some(vec![0, 2]));
        assert!(wrong.is_empty());
    }

    #[test]
    fn a_form_without_readings_says_so() {
        let mut wrong = Wrong::default();
        assert!(Sent::of(&sent(&[]), COLUMNS, &mut wrong).is_none());
        assert!(wrong.in_words().contains("type in the readings"));
    }
}

//! Runs of readings: tables that a mechanic typed or exported, read by heading.
//!
//! Cells are separated by comma, semicolon or tab, whichever the headings have. Numbers may have a decimal
//! comma where that is not the separator, or within quotes. Columns stand in any order; those that nobody asked for are
//! passed over, and so are blank lines and lines that begin with `#`.

mod column;
mod problem;
mod text;

pub use column::{Column, date_of};
pub use problem::{Problem, RunError};

use column::Presence;
use problem::MOST_PROBLEMS;

/// More rows than this were not read by hand, and no instrument here needs them.
const MOST_ROWS: usize = 10_000;
/// More bytes than this are no run of readings.
const MOST_BYTES: usize = 4 << 20;
/// A heading that shares fewer letters with the one wanted is not offered as meant.
const LEAST_LIKENESS: f64 = 0.7;

/// The rows of a run, with the columns asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    columns: usize,
    has: Vec<bool>,
    rows: Vec<Row>,
}

/// One row of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    line: usize,
    values: Vec<Option<f64>>,
}

impl Row {
    /// Where it stands in the file, from 1.
    #[must_use]
    pub const fn line(&self) -> usize {
        self.line
    }

    /// The value of a column by its place among the columns asked for; `None` where it is empty or was left out.
    #[must_use]
    pub fn get(&self, column: usize) -> Option<f64> {
        self.values.get(column).copied().flatten()
    }
}

impl Table {
    /// Reads a run.
    ///
    /// # Errors
    /// Every problem found, up to 20, with line and column: a heading missing (with the nearest there is) or standing twice,
    /// a cell empty, no number, not finite or out of its column's limits, cells beyond the headings, no rows, too many.
    pub fn read(bytes: &[u8], columns: &[Column]) -> Result<Self, RunError> {
        if bytes.len() > MOST_BYTES {
            return Err(RunError::whole(format!(
                "{} MB is too large for a run of readings: give the readings alone",
                bytes.len() >> 20
            )));
        }
        let text = text::decoded(bytes);
        let mut lines = lines_of(&text);
        let Some((heading_line, headings)) = lines.next() else {
            return Err(RunError::whole(format!(
                "there is nothing in it: write the headings {} and a row for each reading",
                named(columns)
            )));
        };
        let separator = text::separator(headings);
        let headings: Vec<String> = text::cells(headings, separator)
            .iter()
            .map(|cell| text::heading(cell))
            .collect();
        let places = places(heading_line, &headings, columns)?;

        let mut rows = Vec::new();
        let mut problems = Vec::new();
        for (line, cells) in lines {
            let cells = text::cells(cells, separator);
            if cells.iter().all(String::is_empty) {
                continue;
            }
            if rows.len() == MOST_ROWS {
                problems.push(Problem {
                    line: Some(line),
                    column: None,
                    message: format!("more than {MOST_ROWS} rows: give the readings alone"),
                });
                break;
            }
            rows.push(row(
                line,
                &cells,
                headings.len(),
                columns,
                &places,
                &mut problems,
            ));
            if problems.len() >= MOST_PROBLEMS {
                break;
            }
        }
        RunError::none_of(problems)?;
        if rows.is_empty() {
            return Err(RunError::at(
                heading_line,
                None,
                "no reading follows the headings: write a row for each",
            ));
        }
        Ok(Self {
            columns: columns.len(),
            has: places.iter().map(Option::is_some).collect(),
            rows,
        })
    }

    /// The rows in the order of the file, at least one.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Whether a column, by its place among those asked for, stands in the file.
    #[must_use]
    pub fn has(&self, column: usize) -> bool {
        column < self.columns && self.has.get(column).copied().unwrap_or(false)
    }
}

/// The lines that say something, with their numbers from 1.
fn lines_of(text: &str) -> impl Iterator<Item = (usize, &str)> {
    // Old tables end lines with a carriage return alone.
    let ends: fn(char) -> bool = if text.contains('\n') {
        |c| c == '\n'
    } else {
        |c| c == '\r'
    };
    text.split(ends)
        .enumerate()
        .map(|(i, line)| (i + 1, line.trim_end_matches('\r')))
        .filter(|(_, line)| !line.trim().is_empty() && !line.trim_start().starts_with('#'))
}

/// Where each column stands among the headings.
fn places(
    line: usize,
    headings: &[String],
    columns: &[Column],
) -> Result<Vec<Option<usize>>, RunError> {
    let mut problems = Vec::new();
    let mut places = Vec::with_capacity(columns.len());
    let numbers = headings
        .iter()
        .all(|h| h.is_empty() || text::number(h).is_ok());
    if numbers {
        return Err(RunError::at(
            line,
            None,
            format!(
                "the headings are missing: write {} above the numbers",
                named(columns)
            ),
        ));
    }
    for column in columns {
        let mut found = headings
            .iter()
            .enumerate()
            .filter(|(_, h)| *h == column.name);
        let place = found.next().map(|(i, _)| i);
        let problem = if found.next().is_some() {
            Some("stands twice: leave one of them out".to_owned())
        } else if place.is_none() && column.presence == Presence::Needed {
            let nearest = headings
                .iter()
                .filter(|h| !columns.iter().any(|c| c.name == h.as_str()))
                .map(|h| (strsim::normalized_damerau_levenshtein(h, column.name), h))
                .max_by(|(a, _), (b, _)| a.total_cmp(b))
                .filter(|(likeness, _)| *likeness >= LEAST_LIKENESS);
            Some(match nearest {
                Some((_, nearest)) => {
                    format!("is missing: `{nearest}` stands there, if that is meant rename it")
                }
                None => "is missing: add it with a value in every row".to_owned(),
            })
        } else {
            None
        };
        problems.extend(problem.map(|message| Problem {
            line: Some(line),
            column: Some(column.name.to_owned()),
            message,
        }));
        places.push(place);
    }
    RunError::none_of(problems)?;
    Ok(places)
}

fn row(
    line: usize,
    cells: &[String],
    headings: usize,
    columns: &[Column],
    places: &[Option<usize>],
    problems: &mut Vec<Problem>,
) -> Row {
    let mut values = vec![None; columns.len()];
    if cells.iter().skip(headings).any(|cell| !cell.is_empty()) {
        problems.push(Problem {
            line: Some(line),
            column: None,
            message: format!(
                "{} cells under {headings} headings: with decimal commas, separate cells by semicolons",
                cells.len()
            ),
        });
        return Row { line, values };
    }
    for ((value, column), place) in values.iter_mut().zip(columns).zip(places) {
        let Some(place) = *place else {
            continue;
        };
        let cell = cells.get(place).map_or("", String::as_str);
        let read = if !cell.is_empty() {
            column.value(cell)
        } else if column.presence == Presence::Optional {
            continue;
        } else {
            Err("no value: write one, or take the row out".to_owned())
        };
        match read {
            Ok(number) => *value = Some(number),
            Err(message) => problems.push(Problem {
                line: Some(line),
                column: Some(column.name.to_owned()),
                message,
            }),
        }
    }
    Row { line, values }
}

/// The headings that must be there, for a message.
fn named(columns: &[Column]) -> String {
    let needed: Vec<_> = columns
        .iter()
        .filter(|c| c.presence == Presence::Needed)
        .map(|c| c.name)
        .collect();
    format!("`{}`", needed.join(","))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const COLUMNS: [Column; 3] = [
        Column::new("distance_m", "m", 0.0, 1e4).or_word("inf", f64::INFINITY),
        Column::new("extension_mm", "mm", -50.0, 500.0),
        Column::new("u_mm", "mm", 0.0, 10.0).or_empty(),
    ];

    fn read(text: &str) -> Result<Vec<Vec<Option<f64>>>, RunError> {
        Table::read(text.as_bytes(), &COLUMNS)
            .map(|table| table.rows.into_iter().map(|row| row.values).collect())
    }

    fn said(text: &str) -> String {
        read(text).unwrap_err().to_string()
    }

    #[test]
    fn the_same_run_is_read_however_it_was_written() {
        let want = vec![
            vec![Some(1.5), Some(-0.25), None],
            vec![Some(f64::INFINITY), Some(2.0), Some(0.01)],
        ];
        for text in [
            "distance_m,extension_mm,u_mm\n1.5,-0.25,\ninf,2,0.01\n",
            "\u{feff}u_mm;Extension mm; DISTANCE-M\r\n\r\n;-0,25;1,5\r\n0,01;2;Inf\r\n;;\r\n",
            "# typed at the bench\ndistance_m\tnote\textension_mm\tu_mm\n1,5\tdull, grey\t\u{2212}0,25\t\n\n#\ninf\t\t2\t0,01",
            "distance_m,extension_mm,u_mm\r\"1,5\",\"-0,25\"\rINF,2.0,\"0,01\"\r",
        ] {
            assert_eq!(read(text).unwrap(), want, "{text}");
        }
        let wide: Vec<u8> = "\u{feff}distance_m,extension_mm,u_mm\n1.5,-0.25\ninf,2,0.01"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let table = Table::read(&wide, &COLUMNS).unwrap();
        assert_eq!(
            (table.rows.len(), table.has(2), table.has(3)),
            (2, true, false)
        );
    }

    #[test]
    fn rows_keep_the_line_they_stand_on() {
        let text = "\n# x\ndistance_m,extension_mm\n\n1,2\n#\n3,4\n";
        let table = Table::read(text.as_bytes(), &COLUMNS).unwrap();
        let lines: Vec<usize> = table.rows().iter().map(Row::line).collect();
        assert_eq!(lines, [5, 7]);
    }

    #[test]
    fn every_problem_is_told_with_its_line_and_column() {
        let said = said("distance_m,extension_mm\n-1,2\n3,x\nnan,\n1,2,3\n5e9,1e999\n");
        let lines: Vec<&str> = said.lines().collect();
        assert_eq!(lines.len(), 7, "{said}");
        assert!(lines[0].starts_with("line 2, column `distance_m`: -1 m cannot be right"));
        assert!(lines[1].starts_with("line 3, column `extension_mm`: `x` is no number"));
        assert!(lines[2].starts_with("line 4, column `distance_m`: `nan` is no number or `inf`"));
        assert!(lines[3].starts_with("line 4, column `extension_mm`: no value"));
        assert!(lines[4].starts_with("line 5: 3 cells under 2 headings"));
        assert!(lines[5].starts_with("line 6, column `distance_m`: 5e9 m cannot be right"));
        assert!(lines[6].starts_with("line 6, column `extension_mm`: `1e999` is no number"));
    }

    #[test]
    fn a_missing_heading_is_named_with_the_nearest_there_is() {
        let said_near = said("distance,extension_mm\n1,2\n");
        assert!(
            said_near.contains("column `distance_m`: is missing: `distance` stands there"),
            "{said_near}"
        );
        let said_far = said("a,b\n1,2\n");
        assert_eq!(said_far.lines().count(), 2, "{said_far}");
        assert!(said("1,2\n3,4\n").contains("write `distance_m,extension_mm` above the numbers"));
        assert!(said("distance_m,distance_m,extension_mm\n1,2,3\n").contains("stands twice"));
    }

    #[test]
    fn what_holds_no_readings_is_refused() {
        assert!(said("").contains("there is nothing in it"));
        assert!(said(" \n\r\n# only words\n").contains("there is nothing in it"));
        assert!(said("distance_m,extension_mm\n\n,\n").contains("line 1: no reading follows"));
        let long = format!("distance_m,extension_mm\n{}", "1,2\n".repeat(MOST_ROWS + 1));
        assert!(said(&long).starts_with(&format!("line {}: more than", MOST_ROWS + 2)));
        let wrong = format!("distance_m,extension_mm\n{}", "x,y\n".repeat(50));
        assert_eq!(read(&wrong).unwrap_err().problems().len(), MOST_PROBLEMS);
        assert!(Table::read(&vec![b'1'; MOST_BYTES + 1], &COLUMNS).is_err());
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_stumble(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = Table::read(&bytes, &COLUMNS);
            let mut headed = b"distance_m;extension_mm\n".to_vec();
            headed.extend(&bytes);
            if let Ok(table) = Table::read(&headed, &COLUMNS) {
                prop_assert!(table.rows().iter().all(|r| r.get(0).is_some() && r.get(1).is_some_and(f64::is_finite)));
            }
        }

        #[test]
        fn what_is_written_is_read_back(
            rows in prop::collection::vec((0.0..1e4_f64, -50.0..500.0_f64), 1..30),
            comma in any::<bool>(),
        ) {
            let mut text = "extension_mm;distance_m\n".to_owned();
            for (distance, extension) in &rows {
                text += &format!("{extension};{distance}\n");
            }
            if comma {
                text = text.replace('.', ",");
            }
            let back = read(&text).unwrap();
            for (row, (distance, extension)) in back.iter().zip(&rows) {
                prop_assert_eq!((row[0], row[1]), (Some(*distance), Some(*extension)));
            }
            prop_assert_eq!(back.len(), rows.len());
        }
    }
}

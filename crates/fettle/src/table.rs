//! Tables of plain text: columns aligned, figures on their decimal point.

use std::io::{self, Write};

/// How the cells of a column stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Align {
    /// Words.
    Left,
    /// Counts.
    Right,
    /// Figures: decimal points under each other.
    Decimal,
}

/// A table to be printed: a heading for each column, then rows.
#[derive(Debug)]
pub(crate) struct Table {
    columns: Vec<(String, Align)>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with these columns.
    pub(crate) fn new<'a>(columns: impl IntoIterator<Item = (&'a str, Align)>) -> Self {
        let columns = columns
            .into_iter()
            .map(|(heading, align)| (heading.to_owned(), align))
            .collect();
        Self {
            columns,
            rows: Vec::new(),
        }
    }

    /// Adds a row; missing cells are empty, cells beyond the last column are not printed.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Whether it has no rows.
    pub(crate) fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Prints the table, each line indented by two spaces; nothing when it has no rows.
    pub(crate) fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        if self.is_empty() {
            return Ok(());
        }
        let printed: Vec<Vec<String>> = (0..self.columns.len()).map(|n| self.column(n)).collect();
        for line in 0..=self.rows.len() {
            let cells: Vec<&str> = printed.iter().map(|column| column[line].as_str()).collect();
            writeln!(out, "  {}", cells.join("  ").trim_end())?;
        }
        Ok(())
    }

    /// One column's heading and cells, all padded to one width.
    fn column(&self, n: usize) -> Vec<String> {
        let (heading, align) = &self.columns[n];
        let cell = |row: &Vec<String>| row.get(n).cloned().unwrap_or_default();
        let cells: Vec<String> = self.rows.iter().map(cell).collect();
        let cells = match align {
            Align::Decimal => on_the_point(&cells),
            Align::Left | Align::Right => cells,
        };
        let width = cells.iter().chain([heading]).map(|text| width(text)).max();
        let width = width.unwrap_or(0);
        std::iter::once(heading)
            .chain(&cells)
            .map(|text| pad(text, width, *align))
            .collect()
    }
}

/// Pads figures so that their decimal points stand under each other.
fn on_the_point(cells: &[String]) -> Vec<String> {
    // The figure ends at the first space: a unit or an uncertainty may follow.
    let whole = |cell: &str| {
        let figure = cell.split(' ').next().unwrap_or(cell);
        width(figure.split('.').next().unwrap_or(figure))
    };
    let widest = cells.iter().map(|cell| whole(cell)).max().unwrap_or(0);
    let shifted: Vec<String> = cells
        .iter()
        .map(|cell| format!("{}{cell}", " ".repeat(widest - whole(cell))))
        .collect();
    let full = shifted.iter().map(|cell| width(cell)).max().unwrap_or(0);
    shifted
        .iter()
        .map(|cell| format!("{cell}{}", " ".repeat(full - width(cell))))
        .collect()
}

fn pad(text: &str, to: usize, align: Align) -> String {
    let fill = " ".repeat(to.saturating_sub(width(text)));
    match align {
        Align::Left => format!("{text}{fill}"),
        Align::Right | Align::Decimal => format!("{fill}{text}"),
    }
}

/// Width on the terminal, counted in letters.
fn width(text: &str) -> usize {
    text.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printed(table: &Table) -> String {
        let mut out = Vec::new();
        table.print(&mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn figures_stand_on_their_decimal_point() {
        let mut table = Table::new([("mark", Align::Left), ("time", Align::Decimal)]);
        for (mark, time) in [
            ("1", "1.0036 ± 0.0041 s"),
            ("1/125", "8.2 ms"),
            ("1/2", "512 ms"),
        ] {
            table.row([mark.to_owned(), time.to_owned()]);
        }
        let want = [
            "  mark                  time",
            "  1        1.0036 ± 0.0041 s",
            "  1/125    8.2 ms",
            "  1/2    512 ms",
        ];
        let printed = printed(&table);
        assert_eq!(printed.lines().collect::<Vec<_>>(), want);
    }

    #[test]
    fn counts_stand_right_and_a_missing_cell_is_empty() {
        let mut table = Table::new([("n", Align::Right), ("flags", Align::Left)]);
        table.row(["9".to_owned()]);
        table.row(["10".to_owned(), "clipped".to_owned()]);
        assert_eq!(printed(&table), "   n  flags\n   9\n  10  clipped\n");
    }

    #[test]
    fn a_table_without_rows_prints_nothing() {
        assert_eq!(printed(&Table::new([("n", Align::Right)])), "");
    }
}

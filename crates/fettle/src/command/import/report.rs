//! What an import says: how the table was read, what is new, known or wrong.

use std::io::{self, Write};
use std::path::Path;

use fettle_moving::{How, Kind, Map, Plan, Problem, Same, Source, Table, Written};
use serde::Serialize;

/// Rows that are known already and told one by one.
const SAME_TOLD: usize = 20;

/// The JSON of an import of a table.
#[derive(Debug, Serialize)]
pub(super) struct Report {
    kind: Kind,
    file: String,
    /// Whether it was only checked.
    check: bool,
    /// Whether the rows stand in the record now.
    done: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    written: Option<Written>,
    separator: Option<char>,
    rows: usize,
    columns: Vec<Source>,
    unused: Vec<String>,
    new: usize,
    same: Vec<Same>,
    remarks: Vec<String>,
    pub(super) problems: Vec<Problem>,
}

/// The JSON of a bench made from an export.
#[derive(Debug, Serialize)]
pub(super) struct Made {
    pub(super) bench: String,
    pub(super) name: String,
    pub(super) entries: u32,
}

impl Report {
    pub(super) fn new(kind: Kind, file: &Path, check: bool) -> Self {
        Self {
            kind,
            file: file.display().to_string(),
            check,
            done: false,
            written: None,
            separator: None,
            rows: 0,
            columns: Vec::new(),
            unused: Vec::new(),
            new: 0,
            same: Vec::new(),
            remarks: Vec::new(),
            problems: Vec::new(),
        }
    }

    pub(super) fn planned(&mut self, table: &Table, map: &Map, plan: &Plan) {
        self.written = Some(table.written.clone());
        self.separator = table.separator;
        self.rows = plan.rows;
        self.columns.clone_from(&map.sources);
        self.unused.clone_from(&map.unused);
        self.new = plan.new_rows();
        self.same.clone_from(&plan.same);
        self.remarks.clone_from(&plan.remarks);
    }

    pub(super) fn finish(&mut self, problems: Vec<Problem>) {
        self.done = problems.is_empty() && !self.check;
        self.problems = problems;
    }

    pub(super) fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        if let Some(written) = &self.written {
            let separated = match self.separator {
                Some(',') => "separated by commas, ",
                Some(';') => "separated by semicolons, ",
                Some('\t') => "separated by tabs, ",
                _ => "",
            };
            writeln!(
                out,
                "{}: {} rows, {separated}{written}",
                self.file, self.rows
            )?;
            self.print_columns(out)?;
        }
        for same in self.same.iter().take(SAME_TOLD) {
            write!(out, "row {}: known already as {}", same.row, same.known_as)?;
            match same.differs.as_slice() {
                [] => writeln!(out)?,
                fields => writeln!(
                    out,
                    "; its {} differs and is not taken in",
                    fields.join(", ")
                )?,
            }
        }
        if let Some(more) = self
            .same
            .len()
            .checked_sub(SAME_TOLD)
            .filter(|more| *more > 0)
        {
            writeln!(out, "and {more} rows more that are known already")?;
        }
        for problem in &self.problems {
            writeln!(out, "{}: {problem}", self.file)?;
        }
        if !self.problems.is_empty() {
            return Ok(());
        }
        for remark in &self.remarks {
            writeln!(out, "{remark}")?;
        }
        let doing = if self.check {
            "would be taken in"
        } else {
            "taken in"
        };
        writeln!(
            out,
            "{doing}: {}; known already: {}",
            self.kind.counted(self.new),
            self.same.len()
        )
    }

    fn print_columns(&self, out: &mut dyn Write) -> io::Result<()> {
        let width = self
            .columns
            .iter()
            .map(|source| source.field.len())
            .max()
            .unwrap_or(0);
        for Source {
            field,
            from,
            known_by,
        } in &self.columns
        {
            let from = match from {
                fettle_moving::From::Heading(heading) => format!("from “{heading}”"),
                fettle_moving::From::Value(value) => format!("is “{value}” in every row"),
            };
            let how = match known_by {
                How::Name => "",
                How::Near => ", which is nearly one of its names",
                How::Told => ", as told",
            };
            writeln!(out, "  {field:width$}  {from}{how}")?;
        }
        if !self.unused.is_empty() {
            writeln!(out, "  not used: {}", self.unused.join(", "))?;
        }
        Ok(())
    }
}

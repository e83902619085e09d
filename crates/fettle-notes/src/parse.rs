//! From a file's text to service notes, or to everything that is wrong with it.

use toml::Spanned;
use toml::de::DeTable;

use crate::check;
use crate::decode;
use crate::desk::{Desk, Draft};
use crate::model::ServiceNotes;
use crate::problem::{Problem, ProblemKind, Problems};
use crate::source::Source;
use crate::syntax;

/// Largest file that is read as service notes, in bytes: 4 MB.
pub const FILE_MAX_BYTES: usize = 4_000_000;

/// Largest broken file in which every slip is sought, in bytes. The TOML reader keeps some hundred bytes for each, and could find
/// one in every second byte; beyond this size only the first is told.
const EVERY_SLIP_MAX_BYTES: usize = 500_000;

/// Reads service notes and checks them.
///
/// `file_name` is shown in problems, and its stem must be the model's id; give `None` for a text that is in no file.
/// The second value returned holds warnings, in the file's order.
///
/// A file that is broken TOML is reported as such; its meaning is only looked at once it can be read as a whole. In every other
/// case all problems are found in one go, of which at most 200 are told. Of a broken file of more than 500 kB only the
/// first slip is told.
///
/// # Errors
/// When anything in the file is wrong: every problem, warnings among them, in the file's order.
///
/// # Example
/// ```
/// use fettle_notes::{Date, ModelId, template};
///
/// let revised = Date::new(2026, 3, 14).ok_or("no such day")?;
/// let text = template(&ModelId::new("corran-66")?, "Aldous", "Corran 66", revised);
/// let (notes, warnings) = fettle_notes::parse(&text, Some("corran-66.toml"))?;
/// assert_eq!(notes.model.name, "Corran 66");
/// assert!(warnings.is_empty());
///
/// let problems = fettle_notes::parse("format = \"fettle-notes-1\"\nmodle = 3", None).unwrap_err();
/// assert!(problems.to_string().contains("did you mean `model`?"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn parse(
    source: &str,
    file_name: Option<&str>,
) -> Result<(ServiceNotes, Vec<Problem>), Problems> {
    let source = source.strip_prefix('\u{feff}').unwrap_or(source);
    if source.len() > FILE_MAX_BYTES {
        return Err(too_large(source.len(), file_name));
    }
    let source = Source::new(source);
    let mut desk = Desk::new(&source);
    let (document, errors) = document(source.text());
    let readable = syntax::report(&mut desk, &errors);
    let notes = if readable {
        notes(&mut desk, document.get_ref(), file_name)
    } else {
        None
    };
    let failed = desk.failed();
    let problems = desk.into_problems(file_name);
    match notes {
        Some(notes) if !failed => Ok((notes, problems)),
        _ => Err(Problems(problems)),
    }
}

/// The file as TOML, with what of it is not.
fn document(text: &str) -> (Spanned<DeTable<'_>>, Vec<toml::de::Error>) {
    if text.len() <= EVERY_SLIP_MAX_BYTES {
        return DeTable::parse_recoverable(text);
    }
    match DeTable::parse(text) {
        Ok(document) => (document, Vec::new()),
        Err(error) => (Spanned::new(0..0, DeTable::new()), vec![error]),
    }
}

/// The notes, as far as they can be read, with all checks made.
fn notes<'t>(
    desk: &mut Desk<'_>,
    document: &'t DeTable<'t>,
    file_name: Option<&str>,
) -> Option<ServiceNotes> {
    let notes = decode::notes(desk, document, file_name);
    check::references(desk);
    if let Some(notes) = &notes {
        check::meaning(desk, notes);
    }
    notes
}

/// Reads service notes from a file's bytes, as [`parse`] does.
///
/// # Errors
/// As [`parse`], and when the bytes are not UTF-8 text.
pub fn parse_bytes(
    bytes: &[u8],
    file_name: Option<&str>,
) -> Result<(ServiceNotes, Vec<Problem>), Problems> {
    if bytes.len() > FILE_MAX_BYTES {
        return Err(too_large(bytes.len(), file_name));
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => parse(text, file_name),
        Err(error) => Err(not_text(bytes, error.valid_up_to(), file_name)),
    }
}

fn too_large(bytes: usize, file_name: Option<&str>) -> Problems {
    let empty = Source::new("");
    let mut desk = Desk::new(&empty);
    let message =
        format!("the file has {bytes} bytes; service notes have at most {FILE_MAX_BYTES}");
    desk.report(
        Draft::error(ProblemKind::TooLarge, &(0..0), message)
            .help("check that this is the right file"),
    );
    Problems(desk.into_problems(file_name))
}

fn not_text(bytes: &[u8], valid_up_to: usize, file_name: Option<&str>) -> Problems {
    let readable = String::from_utf8_lossy(bytes);
    let source = Source::new(&readable);
    let mut desk = Desk::new(&source);
    // The text before the first wrong byte is kept as it is, so the place holds in both.
    desk.report(
        Draft::error(
            ProblemKind::NotText,
            &(valid_up_to..valid_up_to + 1),
            "the file is not UTF-8 text from here",
        )
        .help("save it again as UTF-8"),
    );
    Problems(desk.into_problems(file_name))
}

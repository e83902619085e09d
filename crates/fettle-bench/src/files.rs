//! The files of a bench: where they lie, what they are called, and how they are kept.

mod draft;
mod folder;
mod gate;
mod photo;
mod system;

use std::path::{Path, PathBuf};

pub use self::{draft::RecordingDraft, system::sync_folder};

use serde::{Deserialize, Serialize};

pub(crate) use self::{
    folder::{Files, Folder, Shelf, media_type},
    gate::Gate,
    system::allow_reading,
};

/// The longest recording that is taken, in bytes: 300 MB.
pub const RECORDING_MAX_BYTES: usize = 300_000_000;

/// A length in megabytes of a million bytes, rounded up so that what is over a limit reads as over it.
pub(crate) fn in_megabytes(bytes: usize) -> String {
    format!("{} MB", bytes.div_ceil(1_000_000))
}

/// A kept file: named by its content, written once, never changed.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileRef {
    /// BLAKE3 of its bytes, 64 hexadecimal digits.
    pub hash: String,
    /// The ending of its name, without the dot.
    pub extension: String,
    /// How long it is.
    pub bytes: u64,
}

impl FileRef {
    /// The name of bytes with this ending.
    pub(crate) fn of(bytes: &[u8], extension: &str) -> Self {
        Self {
            hash: blake3::hash(bytes).to_hex().to_string(),
            extension: extension.to_owned(),
            bytes: bytes.len() as u64,
        }
    }

    /// A name that could lead out of its folder is refused, whoever wrote it.
    pub(crate) fn check(&self) -> Result<(), String> {
        let hex = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        if self.hash.len() != 64 || !self.hash.bytes().all(hex) {
            return Err(format!(
                "`{}` is not a BLAKE3 hash of 64 hexadecimal digits",
                self.hash
            ));
        }
        check_extension(&self.extension)
    }
}

/// An ending is short, small letters and digits.
pub(crate) fn check_extension(extension: &str) -> Result<(), String> {
    let fits = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit();
    if (1..=8).contains(&extension.len()) && extension.bytes().all(fits) {
        Ok(())
    } else {
        Err(format!(
            "`{extension}` is not the ending of a file name: use a-z and 0-9, at most 8"
        ))
    }
}

/// A file of service notes, or one beside them, has a name of one part that is not hidden and leads nowhere.
pub(crate) fn check_note_name(name: &str) -> Result<(), &'static str> {
    let leads = |c: char| c.is_control() || matches!(c, '/' | '\\');
    if name.is_empty() || name.starts_with('.') || name.chars().any(leads) {
        Err("is not a name that a file of service notes can have")
    } else {
        Ok(())
    }
}

/// Endings that a recording's name may give where its content tells none: tables, and what is read by more than its first bytes.
const RECORDING_ENDINGS: [&str; 9] = [
    "wav", "flac", "ogg", "oga", "mp3", "aif", "aiff", "csv", "txt",
];

/// The ending under which a recording is kept: what its first bytes call for, else that of its name if a recording can have it, else
/// `bin`. A name alone never makes a page or a drawing of it.
pub(crate) fn recording_extension(name: &str, bytes: &[u8]) -> String {
    let by_content = ending_of_content(bytes);
    let given = Path::new(name)
        .extension()
        .map(|extension| extension.to_string_lossy().to_ascii_lowercase())
        .filter(|given| RECORDING_ENDINGS.contains(&given.as_str()));
    given
        .filter(|given| by_content == "bin" || media_type(given) == media_type(by_content))
        .unwrap_or_else(|| by_content.to_owned())
}

fn ending_of_content(bytes: &[u8]) -> &'static str {
    match bytes {
        [
            b'R',
            b'I',
            b'F',
            b'F' | b'X',
            _,
            _,
            _,
            _,
            b'W',
            b'A',
            b'V',
            b'E',
            ..,
        ] => "wav",
        [
            b'F',
            b'O',
            b'R',
            b'M',
            _,
            _,
            _,
            _,
            b'A',
            b'I',
            b'F',
            b'F' | b'C',
            ..,
        ] => "aiff",
        [b'f', b'L', b'a', b'C', ..] => "flac",
        [b'O', b'g', b'g', b'S', ..] => "ogg",
        [b'I', b'D', b'3', ..] | [0xFF, 0xE0..=0xFF, ..] => "mp3",
        _ => "bin",
    }
}

/// The longest file name given out, before its ending, in characters.
const NAME_MAX: usize = 80;

/// A file name that any system takes: these words without what means something in a path, and the ending.
pub(crate) fn friendly_name(words: &str, otherwise: &str, extension: &str) -> String {
    let fits = |c: char| !c.is_control() && !r#"/\:*?"<>|"#.contains(c);
    let tidy: String = words
        .chars()
        .map(|c| if fits(c) { c } else { ' ' })
        .take(NAME_MAX)
        .collect();
    let words: Vec<&str> = tidy.split_whitespace().collect();
    let name = words.join(" ");
    match name.trim_matches(['.', ' ']) {
        "" => format!("{otherwise}.{extension}"),
        name => format!("{name}.{extension}"),
    }
}

/// How large a photograph is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PhotoSize {
    /// As it was given.
    Original,
    /// For a page: the longer side at most 1600 pixels, upright.
    Display,
    /// For a list: the longer side at most 320 pixels, upright.
    Thumb,
}

/// A file to hand out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredFile {
    /// Where it lies.
    pub path: PathBuf,
    /// Its media type, such as `image/jpeg`.
    pub media_type: &'static str,
    /// What to call it where it is stored: a file name that says what it is, such as `proof sheet.pdf`.
    pub name: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_friendly_name_is_one_that_any_system_takes() {
        for (words, name) in [
            ("Proof sheet, visit 12", "Proof sheet, visit 12.pdf"),
            ("Prüfblatt", "Prüfblatt.pdf"),
            ("../../a\\b:c\n\"d\"", "a b c d.pdf"),
            ("", "paper 3.pdf"),
            (" .. ", "paper 3.pdf"),
        ] {
            assert_eq!(friendly_name(words, "paper 3", "pdf"), name);
        }
        let long = friendly_name(&"é".repeat(500), "paper 3", "pdf");
        assert_eq!(long.chars().count(), NAME_MAX + 4);
    }
}

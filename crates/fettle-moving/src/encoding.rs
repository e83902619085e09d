//! From bytes to text: which encoding a file is in.

use std::fmt;

use chardetng::{EncodingDetector, Iso2022JpDetection, Utf8Detection};
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE};
use serde::Serialize;

use crate::problem::Problem;

/// How a file's letters are written, and how that is known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Written {
    /// The encoding by its name in the Encoding Standard, such as `UTF-8` or `windows-1252`.
    pub encoding: &'static str,
    /// How it was recognised.
    pub known_by: KnownBy,
}

/// How an encoding was recognised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum KnownBy {
    /// It was named.
    Told,
    /// A byte order mark begins the file.
    Mark,
    /// Every byte fits it.
    Bytes,
    /// It is the likeliest by the letters that it gives.
    Guess,
}

/// Tells it as one says it: `Windows-1252, which holds Latin-1 (guessed)`.
impl fmt::Display for Written {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.encoding {
            "windows-1252" => f.write_str("Windows-1252, which holds Latin-1")?,
            name => f.write_str(name)?,
        }
        f.write_str(match self.known_by {
            KnownBy::Told => "",
            KnownBy::Mark => " with byte order mark",
            KnownBy::Bytes => "",
            KnownBy::Guess => " (guessed)",
        })
    }
}

/// The text of a file. Without a name for its encoding a byte order mark tells it, else bytes that are UTF-8, else zeros in every
/// other byte for UTF-16, else the likeliest older encoding by its letters.
pub(crate) fn decode(bytes: &[u8], told: Option<&str>) -> Result<(String, Written), Problem> {
    let (encoding, known_by) = match told {
        Some(name) => (named(name)?, KnownBy::Told),
        None => recognised(bytes),
    };
    let (text, encoding, spoiled) = encoding.decode(bytes);
    let written = Written {
        encoding: encoding.name(),
        known_by,
    };
    if let Some(at) = spoiled.then(|| text.find('\u{FFFD}')).flatten() {
        let line = text.get(..at).map_or(1, line_of);
        return Err(Problem {
            line: Some(line),
            ..Problem::whole(
                format!("holds bytes that are not {}", encoding.name()),
                "save the table as UTF-8, or name its encoding",
            )
        });
    }
    if let Some(at) = text.find('\0') {
        return Err(Problem {
            line: Some(text.get(..at).map_or(1, line_of)),
            ..Problem::whole(
                "holds zero bytes, which no text has",
                "save the table as text (CSV) in UTF-8, or name its encoding",
            )
        });
    }
    Ok((text.into_owned(), written))
}

fn line_of(before: &str) -> u32 {
    let breaks = before.bytes().filter(|byte| *byte == b'\n').count();
    u32::try_from(breaks).unwrap_or(u32::MAX).saturating_add(1)
}

fn named(name: &str) -> Result<&'static Encoding, Problem> {
    Encoding::for_label(name.trim().as_bytes()).ok_or_else(|| {
        Problem::whole(
            format!("`{name}` is not the name of an encoding"),
            "name one such as utf-8, utf-16le, latin1 or windows-1252",
        )
    })
}

fn recognised(bytes: &[u8]) -> (&'static Encoding, KnownBy) {
    if let Some((encoding, _)) = Encoding::for_bom(bytes) {
        return (encoding, KnownBy::Mark);
    }
    if let Some(wide) = wide(bytes) {
        return (wide, KnownBy::Bytes);
    }
    if std::str::from_utf8(bytes).is_ok() {
        return (UTF_8, KnownBy::Bytes);
    }
    let mut detector = EncodingDetector::new(Iso2022JpDetection::Deny);
    detector.feed(bytes, true);
    (detector.guess(None, Utf8Detection::Deny), KnownBy::Guess)
}

/// UTF-16 without a mark: in a table most letters and all separators have a zero for their upper byte.
fn wide(bytes: &[u8]) -> Option<&'static Encoding> {
    let head = bytes.get(..bytes.len().min(4096)).unwrap_or_default();
    let zeros = |from: usize| {
        head.iter()
            .skip(from)
            .step_by(2)
            .filter(|b| **b == 0)
            .count()
    };
    let (even, odd, pairs) = (zeros(0), zeros(1), head.len() / 2);
    match pairs {
        // Too short to tell from chance.
        0..8 => None,
        _ if odd * 3 > pairs && even * 8 < odd => Some(UTF_16LE),
        _ if even * 3 > pairs && odd * 8 < even => Some(UTF_16BE),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str =
        "Name;Ort;Preis\r\nJörg Weißmüller;Über den Höfen 3;12,50\r\nRenée;Châtel;3,00\r\n";

    fn wide_bytes(text: &str, big: bool, mark: bool) -> Vec<u8> {
        let mark = mark.then_some(0xFEFF_u16);
        let units = mark.into_iter().chain(text.encode_utf16());
        units
            .flat_map(|unit| {
                if big {
                    unit.to_be_bytes()
                } else {
                    unit.to_le_bytes()
                }
            })
            .collect()
    }

    #[test]
    fn every_encoding_gives_the_same_text_and_is_told() {
        let latin: Vec<u8> = TABLE
            .chars()
            .map(|c| u8::try_from(u32::from(c)).unwrap())
            .collect();
        let marked = format!("\u{FEFF}{TABLE}").into_bytes();
        for (bytes, encoding, known_by) in [
            (TABLE.as_bytes().to_vec(), "UTF-8", KnownBy::Bytes),
            (marked, "UTF-8", KnownBy::Mark),
            (latin, "windows-1252", KnownBy::Guess),
            (wide_bytes(TABLE, false, true), "UTF-16LE", KnownBy::Mark),
            (wide_bytes(TABLE, true, true), "UTF-16BE", KnownBy::Mark),
            (wide_bytes(TABLE, false, false), "UTF-16LE", KnownBy::Bytes),
            (wide_bytes(TABLE, true, false), "UTF-16BE", KnownBy::Bytes),
        ] {
            let (text, written) = decode(&bytes, None).unwrap();
            assert_eq!(text, TABLE, "{encoding}");
            assert_eq!((written.encoding, written.known_by), (encoding, known_by));
        }
    }

    #[test]
    fn the_signs_of_windows_1252_that_latin_1_lacks_are_read() {
        let (text, written) = decode(b"Preis\n12 \x80\n\x84gut\x93\n", None).unwrap();
        assert_eq!(text, "Preis\n12 €\n„gut“\n");
        assert_eq!(
            written.to_string(),
            "Windows-1252, which holds Latin-1 (guessed)"
        );
    }

    #[test]
    fn an_encoding_can_be_named_and_what_is_not_in_it_is_refused_with_its_line() {
        let (text, written) = decode(b"\xcc\xe8\xf0", Some("windows-1251")).unwrap();
        assert_eq!((text.as_str(), written.known_by), ("Мир", KnownBy::Told));
        let wrong = decode(b"a\nb\xff\n", Some("utf-8")).unwrap_err();
        assert_eq!(wrong.line, Some(2));
        assert!(
            decode(b"a", Some("morse"))
                .unwrap_err()
                .why
                .contains("morse")
        );
        let zeros = decode(b"a\nb\0c", None).unwrap_err();
        assert!(zeros.why.contains("zero bytes"), "{zeros}");
    }
}

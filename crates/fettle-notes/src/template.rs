//! The file that new service notes begin with.

use crate::decode::FORMAT;
use crate::model::{Date, ModelId};

/// Replaced in [`BODY`] by what the caller gives.
const FORMAT_SLOT: &str = "%FORMAT%";
const ID_SLOT: &str = "%ID%";
const MAKER_SLOT: &str = "%MAKER%";
const NAME_SLOT: &str = "%NAME%";
const REVISED_SLOT: &str = "%REVISED%";

/// One entry of every kind, joined to one another, so that the file checks clean as it stands.
const BODY: &str = include_str!("template.toml");

/// The file that new service notes begin with: commented, one entry of every kind, and clean when checked.
///
/// An empty maker or name is written as `unknown`; `revised` is today, which only the caller knows.
#[must_use]
pub fn template(model: &ModelId, maker: &str, name: &str, revised: Date) -> String {
    BODY.replace(FORMAT_SLOT, FORMAT)
        .replace(ID_SLOT, model.as_str())
        .replace(REVISED_SLOT, &revised.to_string())
        .replace(NAME_SLOT, &quoted(name))
        .replace(MAKER_SLOT, &quoted(maker))
}

/// A text as a TOML string on one line.
pub(crate) fn quoted(text: &str) -> String {
    let text = text.trim();
    let text = if text.is_empty() { "unknown" } else { text };
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            c if c.is_control() => quoted.push(' '),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_quoted_so_that_toml_reads_them_back() {
        assert_eq!(quoted(r#"a "b" \c"#), r#""a \"b\" \\c""#);
        assert_eq!(quoted("  "), "\"unknown\"");
        assert_eq!(quoted("a\nb"), "\"a b\"");
    }
}

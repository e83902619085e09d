//! From bytes to cells and from cells to numbers.

/// The text of a file: UTF-8, or UTF-16 where it begins with that mark, without the mark of byte order.
///
/// Bytes that are neither are replaced: they can stand in columns that nobody asked for.
pub(super) fn decoded(bytes: &[u8]) -> String {
    let wide = |of: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes
            .chunks_exact(2)
            .skip(1)
            .map(|pair| of([pair[0], pair[1]]))
            .collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        _ => String::from_utf8_lossy(bytes)
            .trim_start_matches('\u{feff}')
            .to_owned(),
    }
}

/// What separates the cells: the tab, else the semicolon, else the comma, whichever the headings have outside quotes.
pub(super) fn separator(headings: &str) -> char {
    ['\t', ';']
        .into_iter()
        .find(|c| cells(headings, *c).len() > 1)
        .unwrap_or(',')
}

/// The cells of a line without their quotes and outer spaces (RFC 4180, but no cell goes over several lines).
pub(super) fn cells(line: &str, separator: char) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    let mut chars = line.chars().peekable();
    while let Some(c) = chars.next() {
        let Some(cell) = cells.last_mut() else {
            break;
        };
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                cell.push('"');
            }
            '"' => quoted = !quoted,
            c if c == separator && !quoted => cells.push(String::new()),
            c => cell.push(c),
        }
    }
    for cell in &mut cells {
        *cell = cell.trim().to_owned();
    }
    cells
}

/// A heading as headings are compared: small letters, spaces and hyphens as underlines.
pub(super) fn heading(cell: &str) -> String {
    cell.trim()
        .chars()
        .map(|c| {
            if c.is_whitespace() || c == '-' {
                '_'
            } else {
                c.to_ascii_lowercase()
            }
        })
        .collect()
}

/// A finite number with a decimal point or a decimal comma, or why it is none.
pub(super) fn number(cell: &str) -> Result<f64, &'static str> {
    let text = cell.replace('\u{2212}', "-");
    if text.contains(',') {
        if text.contains('.') || text.matches(',').count() > 1 {
            return Err("leave out what separates thousands");
        }
    } else if !text.contains(|c: char| c.is_ascii_digit()) {
        return Err("write a figure");
    }
    if text.contains(|c: char| !matches!(c, '0'..='9' | '+' | '-' | '.' | ',' | 'e' | 'E')) {
        return Err("write the figure alone, without a unit");
    }
    let value: f64 = text
        .replace(',', ".")
        .parse()
        .map_err(|_| "write a plain figure")?;
    if value.is_finite() {
        Ok(value)
    } else {
        Err("it is too large")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quotes_hold_separators_and_doubled_quotes() {
        assert_eq!(
            cells(r#" a ,"1,5","x ""y""" "#, ','),
            ["a", "1,5", "x \"y\""]
        );
        assert_eq!(cells("", ';'), [""]);
        assert_eq!(
            cells("\"open, and never shut", ','),
            ["open, and never shut"]
        );
    }

    #[test]
    fn the_tab_goes_before_the_semicolon_and_that_before_the_comma() {
        assert_eq!(separator("a\tb;c"), '\t');
        assert_eq!(separator("a;b,c"), ';');
        assert_eq!(separator("a,b"), ',');
        assert_eq!(separator("\"a;b\",c"), ',');
    }

    #[test]
    fn numbers_are_read_with_point_or_comma_and_nothing_else_is() {
        for (cell, want) in [
            ("1.5", 1.5),
            ("-0,25", -0.25),
            ("\u{2212}3", -3.0),
            ("+2", 2.0),
            ("1e-3", 1e-3),
            (".5", 0.5),
        ] {
            assert_eq!(number(cell), Ok(want), "{cell}");
        }
        for cell in [
            "",
            "nan",
            "NaN",
            "inf",
            "-Infinity",
            "1 000",
            "1.000,5",
            "1,000,000",
            "5 EV",
            "1e999",
            "--1",
            "e",
            "0x10",
            "1_0",
            ",",
            ".",
            "½",
        ] {
            assert!(number(cell).is_err(), "{cell}");
        }
    }
}

//! The file's text, and where in it a byte stands.

use std::ops::Range;

/// Most characters of a source line that a problem shows.
const LINE_SHOWN: usize = 160;
/// Characters shown before the place when the line is shortened.
const LINE_BEFORE: usize = 60;
/// Stands for what was left out of a long line.
const LEFT_OUT: &str = "...";

/// The file's text with the beginnings of its lines.
pub(crate) struct Source<'s> {
    text: &'s str,
    starts: Vec<usize>,
}

/// A line and column, both from 1; the column in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    pub(crate) line: u32,
    pub(crate) column: u32,
}

/// A source line as shown under a problem, with the caret's place in it.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Excerpt {
    pub(crate) line: String,
    pub(crate) indent: usize,
    pub(crate) width: usize,
}

impl<'s> Source<'s> {
    pub(crate) fn new(text: &'s str) -> Self {
        let after_breaks = text
            .bytes()
            .enumerate()
            .filter(|(_, b)| *b == b'\n')
            .map(|(at, _)| at + 1);
        Self {
            text,
            starts: std::iter::once(0).chain(after_breaks).collect(),
        }
    }

    pub(crate) fn text(&self) -> &'s str {
        self.text
    }

    /// The text of a span; empty when the span is not one of this text.
    pub(crate) fn slice(&self, span: &Range<usize>) -> &'s str {
        self.text.get(span.clone()).unwrap_or("")
    }

    /// How many lines there are; the last may be empty.
    pub(crate) fn lines(&self) -> usize {
        self.starts.len()
    }

    /// Which line, from 0, holds the byte.
    pub(crate) fn line_of(&self, offset: usize) -> usize {
        self.starts
            .partition_point(|&start| start <= offset)
            .saturating_sub(1)
    }

    /// The line, from 0, without its line break.
    pub(crate) fn line(&self, line: usize) -> &'s str {
        let start = self.starts.get(line).copied().unwrap_or(self.text.len());
        let end = self
            .starts
            .get(line + 1)
            .copied()
            .unwrap_or(self.text.len());
        let whole = &self.text[start..end];
        let unbroken = whole.strip_suffix('\n').unwrap_or(whole);
        unbroken.strip_suffix('\r').unwrap_or(unbroken)
    }

    /// The byte at which the line, from 0, begins.
    pub(crate) fn start_of(&self, line: usize) -> usize {
        self.starts.get(line).copied().unwrap_or(self.text.len())
    }

    /// Line and column of the byte; a byte beyond a line's end counts as the line's end.
    pub(crate) fn place(&self, offset: usize) -> Place {
        let (line, before) = self.split(offset);
        Place {
            line: to_u32(line + 1),
            column: to_u32(before.chars().count() + 1),
        }
    }

    /// The line that a span begins in, and the caret for what of the span lies in it.
    pub(crate) fn excerpt(&self, span: &Range<usize>) -> Excerpt {
        let (line, before) = self.split(span.start);
        let text = self.line(line);
        let start = self.start_of(line) + before.len();
        let marked = self.start_of(line) + text.len();
        let marked = self
            .text
            .get(start..span.end.clamp(start, marked))
            .unwrap_or("");
        let width = marked.trim_end().chars().count().max(1);
        let indent = before.chars().count();
        if text.chars().count() <= LINE_SHOWN {
            return Excerpt {
                line: clean(text),
                indent,
                width,
            };
        }
        let skipped = indent.saturating_sub(LINE_BEFORE);
        let shown: String = text.chars().skip(skipped).take(LINE_SHOWN).collect();
        let (lead, indent) = if skipped > 0 {
            (LEFT_OUT, indent - skipped + LEFT_OUT.len())
        } else {
            ("", indent)
        };
        let trail = if text.chars().count() > skipped + LINE_SHOWN {
            LEFT_OUT
        } else {
            ""
        };
        let width = width.min(LINE_SHOWN.saturating_sub(LINE_BEFORE)).max(1);
        Excerpt {
            line: format!("{lead}{}{trail}", clean(&shown)),
            indent,
            width,
        }
    }

    /// The line of the byte, from 0, and what of it stands before the byte.
    fn split(&self, offset: usize) -> (usize, &'s str) {
        let line = self.line_of(offset.min(self.text.len()));
        let text = self.line(line);
        let mut within = offset.saturating_sub(self.start_of(line)).min(text.len());
        while !text.is_char_boundary(within) {
            within -= 1;
        }
        (line, &text[..within])
    }
}

/// Replaces control characters, so that a hostile file cannot steer a terminal.
fn clean(line: &str) -> String {
    line.chars()
        .map(|c| {
            if c.is_control() && c != '\t' {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect()
}

fn to_u32(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_count_lines_and_characters_from_one() {
        let source = Source::new("ab\nçé = 1\r\n");
        assert_eq!(source.place(0), Place { line: 1, column: 1 });
        assert_eq!(source.place(3), Place { line: 2, column: 1 });
        assert_eq!(source.place(5), Place { line: 2, column: 2 });
        assert_eq!(
            source.place(4),
            Place { line: 2, column: 1 },
            "inside a character"
        );
        assert_eq!(source.place(99), Place { line: 3, column: 1 });
    }

    #[test]
    fn a_carriage_return_is_no_part_of_the_line() {
        let source = Source::new("a\r\nb");
        assert_eq!(source.line(0), "a");
        assert_eq!(source.line(1), "b");
        assert_eq!(source.line(2), "");
    }

    #[test]
    fn a_span_over_several_lines_is_marked_in_its_first() {
        let source = Source::new("x = [\n1,\n]");
        assert_eq!(
            source.excerpt(&(4..10)),
            Excerpt {
                line: "x = [".into(),
                indent: 4,
                width: 1
            }
        );
    }

    #[test]
    fn a_very_long_line_is_shortened_round_the_place() {
        let text = format!("{}!{}", "a".repeat(1000), "b".repeat(1000));
        let shown = Source::new(&text).excerpt(&(1000..1001));
        assert_eq!(shown.line.chars().nth(shown.indent), Some('!'));
        assert_eq!(shown.line.chars().count(), LINE_SHOWN + 2 * LEFT_OUT.len());
    }
}

//! What to say of a file that is not TOML.

mod opening;

use crate::desk::{Desk, Draft, PROBLEMS_SHOWN, Span, shorten};
use crate::problem::ProblemKind;
use crate::source::Source;
use opening::left_open;

/// What a TOML reader says, what it means, and what to do: the first that begins alike holds.
const PLAIN: &[(&str, &str, &str)] = &[
    (
        "string values must be quoted",
        "a text stands here without quotes",
        "put it between quotes: `\"...\"`",
    ),
    (
        "missing opening quote",
        "a text ends with a quote but does not begin with one",
        "put a quote before it, or take the other away",
    ),
    (
        "invalid basic string",
        "a text is not closed, or holds a backslash that means nothing",
        "close it with `\"` on the same line; write `\\\\` for a backslash, and `\"\"\"` round a text of several lines",
    ),
    (
        "invalid multi-line basic string",
        "a text of several lines is not closed",
        "close it with `\"\"\"`",
    ),
    (
        "invalid literal string",
        "a text is not closed",
        "close it with `'` on the same line",
    ),
    (
        "invalid multi-line literal string",
        "a text of several lines is not closed",
        "close it with `'''`",
    ),
    (
        "missing escaped value",
        "a backslash in a text means nothing here",
        "write `\\\\` for a backslash",
    ),
    (
        "unclosed table",
        "the name of a table is not closed",
        "close it with `]`",
    ),
    (
        "unclosed array table",
        "the name of a table is not closed",
        "close it with as many `]` as it has `[`",
    ),
    (
        "unclosed inline table",
        "a brace is open",
        "close it with `}`",
    ),
    (
        "unclosed array",
        "a list is not closed",
        "close it with `]`",
    ),
    (
        "missing comma",
        "two values stand side by side",
        "put a comma between them",
    ),
    ("extra comma", "there is a comma too many", "take it away"),
    (
        "missing value",
        "the key has no value",
        "write a value after `=`, or take the line out",
    ),
    (
        "key with no value",
        "the key has no value",
        "write `key = value`; a text stands between quotes",
    ),
    (
        "missing assignment",
        "a key has no value",
        "write `key = value`",
    ),
    (
        "extra `=`",
        "there is an `=` too many",
        "write `key = value`",
    ),
    (
        "extra assignment",
        "there is an `=` too many",
        "write `key = value`",
    ),
    (
        "unexpected `=` in array",
        "a list holds a key",
        "put keys between braces: `[{ key = value }]`",
    ),
    ("missing key", "a value has no key", "write `key = value`"),
    (
        "unquoted keys cannot be empty",
        "a key is empty",
        "write a name before `=`",
    ),
    (
        "invalid unquoted key",
        "a key holds a character that it cannot",
        "keys are of a-z, 0-9, `-` and `_`",
    ),
    (
        "unexpected leading zero",
        "a figure begins with a nought",
        "take the nought away",
    ),
    (
        "unexpected key or value",
        "something follows the value on its line",
        "begin a new line, or join the value with quotes",
    ),
    (
        "unexpected content",
        "something stands here that does not belong",
        "begin a new line, or put `#` before a remark",
    ),
    (
        "carriage return",
        "a line ends in a lone carriage return",
        "save the file with ordinary line ends",
    ),
    (
        "invalid comment character",
        "a remark holds a control character",
        "take it out",
    ),
    (
        "cannot recurse",
        "brackets are nested too deep",
        "no table of the format is nested so deep",
    ),
    (
        "recursion limit",
        "a key has too many dots",
        "no key of the format has so many",
    ),
];

/// Reports what the TOML reader found; true when the rest of the file can still be trusted.
pub(crate) fn report(desk: &mut Desk<'_>, errors: &[toml::de::Error]) -> bool {
    let place = |e: &toml::de::Error| e.span().unwrap_or(0..0);
    let (twice, broken): (Vec<_>, Vec<_>) = errors.iter().partition(|e| is_duplicate(e.message()));
    let mut twice: Vec<Span> = twice.into_iter().map(place).collect();
    twice.sort_by_key(|span| span.start);
    let mut broken: Vec<(Span, &str)> = broken
        .into_iter()
        .map(|e| (place(e), e.message()))
        .collect();
    broken.sort_by_key(|(span, _)| span.start);

    let open = if broken.is_empty() {
        None
    } else {
        left_open(desk.source.text())
    };
    // Behind an open bracket or text the reader takes everything for its contents.
    let trusted = open.as_ref().map_or(usize::MAX, |open| open.span.start);
    slips(desk, broken.iter().filter(|(span, _)| span.start < trusted));
    if let Some(open) = &open {
        desk.report(open.draft());
    }
    duplicates(desk, twice.iter().filter(|span| span.start < trusted));
    broken.is_empty()
}

fn is_duplicate(message: &str) -> bool {
    message.starts_with("duplicate key") || message.starts_with("cannot extend")
}

/// Reports one slip a line: the reader stumbles over the same one several times.
fn slips<'e>(desk: &mut Desk<'_>, broken: impl Iterator<Item = &'e (Span, &'e str)>) {
    let mut last_line = None;
    for (span, message) in broken {
        let line = desk.source.line_of(span.start);
        if last_line != Some(line) {
            desk.report(slip(desk.source, message, span));
        }
        last_line = Some(line);
    }
}

/// What to say of one slip.
fn slip(source: &Source<'_>, message: &str, span: &Span) -> Draft {
    let given = shorten(source.slice(span).lines().next().unwrap_or(""));
    let rest = source
        .text()
        .get(span.start..)
        .unwrap_or("")
        .lines()
        .next()
        .unwrap_or("")
        .trim_start();
    let error = |what: &str, help: &str| Draft::error(ProblemKind::Syntax, span, what).help(help);
    let unquoted = message.starts_with("string values must be quoted");
    if unquoted && given.is_empty() {
        return error(
            "the key has no value",
            "write a value after `=`, or take the line out",
        );
    }
    if unquoted && given.starts_with(|c: char| c.is_ascii_digit()) {
        let help = "write a figure alone, without unit or percent sign (50 % is 0.5), and a text between quotes";
        return error(&format!("`{given}` is neither a figure nor a text"), help);
    }
    if rest.starts_with(':') {
        return error("a colon stands where `=` should", "write `key = value`");
    }
    if rest.starts_with(',') && message.starts_with("unexpected key or value") {
        let help = "write a decimal point in figures, and a list between `[` and `]`";
        return error("a comma follows the value", help);
    }
    match PLAIN
        .iter()
        .find(|(begins, ..)| message.starts_with(begins))
    {
        Some((_, what, help)) => error(what, help),
        None if given.is_empty() => {
            let help = "write `key = value`, texts between quotes, lists between `[` and `]`";
            error(&format!("this is not TOML: {message}"), help)
        }
        None => {
            let help =
                "write texts between quotes, figures and dates without, lists between `[` and `]`";
            error(&format!("`{given}` is not TOML: {message}"), help)
        }
    }
}

/// Reports keys and tables that stand twice, but not again every key of a table that does.
fn duplicates<'e>(desk: &mut Desk<'_>, twice: impl Iterator<Item = &'e Span>) {
    let mut within_table_to = 0;
    for (told, span) in twice.enumerate() {
        if span.start < within_table_to {
            continue;
        }
        let source = desk.source;
        let line = source.line_of(span.start);
        let is_table = source.line(line).trim_start().starts_with('[');
        if is_table {
            let next =
                (line + 1..source.lines()).find(|&n| source.line(n).trim_start().starts_with('['));
            within_table_to = next.map_or(usize::MAX, |n| source.start_of(n));
        }
        let mut draft = duplicate(source, span, line, is_table);
        // The first one is sought from the beginning, so only for what is shown.
        if told < PROBLEMS_SHOWN {
            let first = if is_table {
                earlier_header(source, line)
            } else {
                earlier_key(source, line, source.slice(span))
            };
            if let Some(first) = first {
                draft = draft.also(&first, "it stands here already");
            }
        }
        desk.report(draft);
    }
}

/// What to say of a key or table that stands twice.
fn duplicate(source: &Source<'_>, span: &Span, line: usize, is_table: bool) -> Draft {
    let what = if is_table {
        format!("the table `{}`", shorten(header(source, line)))
    } else {
        format!("the key `{}`", shorten(source.slice(span)))
    };
    Draft::error(ProblemKind::Duplicate, span, format!("{what} stands twice"))
        .help("keep one of them, or give this one another name")
}

/// The head of a table without the remark behind it.
fn header<'s>(source: &Source<'s>, line: usize) -> &'s str {
    source.line(line).split('#').next().unwrap_or("").trim()
}

/// The first table of the same name.
fn earlier_header(source: &Source<'_>, line: usize) -> Option<Span> {
    let name = header(source, line);
    let start = (0..line)
        .find(|&n| header(source, n) == name)
        .map(|n| source.start_of(n))?;
    Some(start..start + name.len())
}

/// The same key at the beginning of a line, no further back than the table's header.
fn earlier_key(source: &Source<'_>, line: usize, name: &str) -> Option<Span> {
    for n in (0..line).rev() {
        let text = source.line(n);
        let trimmed = text.trim_start();
        if trimmed
            .strip_prefix(name)
            .is_some_and(|rest| rest.trim_start().starts_with('='))
        {
            let start = source.start_of(n) + text.len() - trimmed.len();
            return Some(start..start + name.len());
        }
        if trimmed.starts_with('[') {
            return None;
        }
    }
    None
}

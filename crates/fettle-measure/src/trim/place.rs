//! Where in a JSON text a value stands: from path to line and from offset to path.

use std::fmt::Write as _;

/// Deeper values are not followed; the reader refuses them anyway.
const DEEPEST: usize = 100;

/// The places of a JSON text in their order.
#[derive(Debug, Default)]
pub(super) struct Places {
    places: Vec<Place>,
}

#[derive(Debug)]
struct Place {
    at: usize,
    path: String,
    kind: Kind,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Key,
    Value,
    /// The closing bracket of an object or array.
    End,
}

enum Inside {
    Object { base: usize, keyed: bool },
    Array { base: usize, index: usize },
}

impl Places {
    /// Goes through `text` as far as it looks like JSON.
    pub(super) fn of(text: &str) -> Self {
        let bytes = text.as_bytes();
        let mut found = Self::default();
        let mut path = String::new();
        let mut stack: Vec<Inside> = Vec::new();
        let mut at = 0;
        while let Some(&byte) = bytes.get(at) {
            let start = at;
            at += 1;
            match byte {
                b'{' | b'[' => {
                    found.add(start, &path, Kind::Value);
                    if stack.len() >= DEEPEST {
                        break;
                    }
                    let base = path.len();
                    stack.push(if byte == b'{' {
                        Inside::Object { base, keyed: false }
                    } else {
                        path.push_str("[0]");
                        Inside::Array { base, index: 0 }
                    });
                }
                b'}' | b']' => {
                    let Some(Inside::Object { base, .. } | Inside::Array { base, .. }) =
                        stack.pop()
                    else {
                        break;
                    };
                    path.truncate(base);
                    found.add(start, &path, Kind::End);
                }
                b',' => match stack.last_mut() {
                    Some(Inside::Object { base, keyed }) => {
                        path.truncate(*base);
                        *keyed = false;
                    }
                    Some(Inside::Array { base, index }) => {
                        path.truncate(*base);
                        *index += 1;
                        let _ = write!(path, "[{index}]");
                    }
                    None => break,
                },
                b'"' => {
                    at = end_of_string(bytes, at);
                    let kind = match stack.last_mut() {
                        Some(Inside::Object { keyed, .. }) if !*keyed => {
                            *keyed = true;
                            push_key(&mut path, text.get(start..at).unwrap_or_default());
                            Kind::Key
                        }
                        _ => Kind::Value,
                    };
                    found.add(start, &path, kind);
                }
                b':' | b' ' | b'\t' | b'\r' | b'\n' => {}
                _ => {
                    while bytes.get(at).is_some_and(|byte| {
                        !matches!(byte, b',' | b'}' | b']' | b' ' | b'\t' | b'\r' | b'\n')
                    }) {
                        at += 1;
                    }
                    found.add(start, &path, Kind::Value);
                }
            }
        }
        found
    }

    fn add(&mut self, at: usize, path: &str, kind: Kind) {
        self.places.push(Place {
            at,
            path: path.to_owned(),
            kind,
        });
    }

    /// The byte at which the value at `path` begins.
    pub(super) fn offset_of(&self, path: &str) -> Option<usize> {
        let place = self.places.iter().find(|place| place.path == path)?;
        Some(place.at)
    }

    /// The path of what stands last before byte `offset`.
    pub(super) fn path_before(&self, offset: usize) -> &str {
        let count = self.places.partition_point(|place| place.at < offset);
        self.places[..count]
            .last()
            .map_or("", |place| place.path.as_str())
    }

    /// Keys that stand twice in their object.
    pub(super) fn repeated(&self) -> Vec<String> {
        let mut keys: Vec<&str> = self
            .places
            .iter()
            .filter(|place| place.kind == Kind::Key)
            .map(|place| place.path.as_str())
            .collect();
        keys.sort_unstable();
        let mut repeated: Vec<String> = keys
            .windows(2)
            .filter(|pair| pair[0] == pair[1])
            .map(|pair| pair[0].to_owned())
            .collect();
        repeated.dedup();
        repeated
    }
}

/// The path of the value `key` in the object at `path`.
pub(super) fn push_key(path: &mut String, quoted: &str) {
    let inner = quoted
        .strip_prefix('"')
        .and_then(|rest| rest.strip_suffix('"'))
        .unwrap_or(quoted);
    let plain = !inner.is_empty()
        && inner
            .chars()
            .all(|c| c.is_alphanumeric() || c == '_' || c == '-');
    if !plain {
        let _ = write!(path, "[\"{inner}\"]");
    } else if path.is_empty() {
        path.push_str(inner);
    } else {
        let _ = write!(path, ".{inner}");
    }
}

/// The line of byte `offset`, counted from 1.
pub(super) fn line_at(text: &str, offset: usize) -> usize {
    let before = text.as_bytes().get(..offset).unwrap_or(text.as_bytes());
    before.iter().filter(|byte| **byte == b'\n').count() + 1
}

/// The byte at `column` of `line`, both counted from 1.
pub(super) fn offset_at(text: &str, line: usize, column: usize) -> usize {
    let start: usize = text
        .split_inclusive('\n')
        .take(line.saturating_sub(1))
        .map(str::len)
        .sum();
    (start + column).min(text.len())
}

fn end_of_string(bytes: &[u8], mut at: usize) -> usize {
    while let Some(&byte) = bytes.get(at) {
        at += 1;
        match byte {
            b'\\' => at += 1,
            b'"' => break,
            _ => {}
        }
    }
    at.min(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "{\n \"a\": [1, {\"b c\": 2,\n \"d\": \"x\\\"y\"}],\n \"a\": 3\n}";

    #[test]
    fn a_path_leads_to_its_line() {
        let places = Places::of(TEXT);
        let line = |path| places.offset_of(path).map(|at| line_at(TEXT, at));
        assert_eq!(line("a[0]"), Some(2));
        assert_eq!(line("a[1][\"b c\"]"), Some(2));
        assert_eq!(line("a[1].d"), Some(3));
        assert_eq!(line("a[2]"), None);
    }

    #[test]
    fn an_offset_leads_to_its_path() {
        let places = Places::of(TEXT);
        let path = |part: &str| places.path_before(TEXT.find(part).unwrap() + part.len());
        assert_eq!(path("\"d\""), "a[1].d");
        assert_eq!(path("y\"}"), "a[1]");
        assert_eq!(path("3\n}"), "");
    }

    #[test]
    fn a_key_that_stands_twice_is_found() {
        assert_eq!(Places::of(TEXT).repeated(), ["a"]);
    }
}

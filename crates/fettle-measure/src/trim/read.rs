//! Reading a state from JSON.

use super::check::check;
use super::error::{Problem, StateError};
use super::place::{Places, line_at, offset_at};
use super::state::State;

/// Larger files are no states.
const MOST_BYTES: usize = 1 << 20;

/// Reads a state in the format `fettle-trim-1` from JSON and checks every meaning in it.
///
/// # Errors
///
/// Where the text is no JSON, a key is unknown, missing or stands twice, or a value has no meaning: each problem
/// with its line, its place and the remedy.
pub fn read(bytes: &[u8]) -> Result<State, StateError> {
    if bytes.len() > MOST_BYTES {
        return Err(whole(format!(
            "a state has at most {MOST_BYTES} bytes, this has {}; is it the right file?",
            bytes.len()
        )));
    }
    let text = match str::from_utf8(bytes) {
        Ok(text) => text.strip_prefix('\u{feff}').unwrap_or(text),
        Err(error) => {
            let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let mut wrong = whole("not UTF-8 text; save it as UTF-8");
            let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
            for problem in &mut wrong.problems {
                problem.line = Some(line);
            }
            return Err(wrong);
        }
    };
    let state: State = serde_json::from_str(text).map_err(|error| from_json(text, &error))?;
    let places = Places::of(text);
    let mut wrong = StateError::default();
    for path in places.repeated() {
        wrong.add(path, "this key stands twice; keep one of them");
    }
    check(&state, &mut wrong);
    for problem in &mut wrong.problems {
        problem.line = line_of(text, &places, &problem.path);
    }
    wrong.into_result()?;
    Ok(state)
}

/// The line of the value at `path`, or of the nearest that encloses it.
fn line_of(text: &str, places: &Places, path: &str) -> Option<usize> {
    let mut path = path;
    loop {
        if let Some(at) = places.offset_of(path) {
            return Some(line_at(text, at));
        }
        path = &path[..path.rfind(['.', '['])?];
    }
}

fn whole(message: impl Into<String>) -> StateError {
    let mut error = StateError::default();
    error.add("", message);
    error
}

/// What the JSON reader says, with the path it was at.
fn from_json(text: &str, error: &serde_json::Error) -> StateError {
    let said = error.to_string();
    let said = said
        .rfind(" at line ")
        .map_or(said.as_str(), |end| &said[..end]);
    let said = said
        .replace("expected f64", "expected a number")
        .replace("expected a sequence", "expected a list [...]")
        .replace("expected a map", "expected an object {...}");
    let offset = offset_at(text, error.line(), error.column());
    let message = if error.is_data() {
        format!("{said}; see the format fettle-trim-1")
    } else {
        format!("not JSON here: {said}; mend the text")
    };
    StateError {
        problems: vec![Problem {
            line: Some(error.line()),
            path: if error.is_data() {
                Places::of(text).path_before(offset).to_owned()
            } else {
                String::new()
            },
            message,
        }],
    }
}

//! The line that says what was just recorded, and taking it back.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::{BenchError, Change, EntryId, Undo};

use crate::error::PageError;
use crate::layout::Recorded;
use crate::state::{AppState, Desk};
use crate::upload::{Takes, Upload};
use crate::urls;

/// Most entries that one form writes; an address that asks for more is not believed.
const MOST_ENTRIES: i64 = 500;

/// Entries that were written together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Range {
    first: i64,
    last: i64,
}

impl Range {
    /// The entries of one apply; `None` when it wrote none.
    pub(crate) fn of(entries: &[EntryId]) -> Option<Self> {
        Some(Self {
            first: entries.first()?.get(),
            last: entries.last()?.get(),
        })
    }

    /// As [`Range::to_text`] writes it.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let (first, last) = text.split_once('-').unwrap_or((text, text));
        let (first, last) = (first.parse().ok()?, last.parse().ok()?);
        (first > 0 && first <= last && last - first < MOST_ENTRIES).then_some(Self { first, last })
    }

    /// `7` or `7-9`.
    pub(crate) fn to_text(self) -> String {
        if self.first == self.last {
            self.first.to_string()
        } else {
            format!("{}-{}", self.first, self.last)
        }
    }

    fn entries(self) -> impl DoubleEndedIterator<Item = EntryId> {
        (self.first..=self.last).map(EntryId::new)
    }
}

/// What the page says about entries just written; nothing when there are none such.
pub(crate) fn line(
    desk: &Desk,
    range: Option<Range>,
    back_to: &str,
) -> Result<Option<Recorded>, PageError> {
    let Some(range) = range else { return Ok(None) };
    let mut sentences = Vec::new();
    let mut stands = true;
    for id in range.entries() {
        match desk.bench.entry(id) {
            Ok((entry, _)) => {
                stands &= entry.struck_by.is_none();
                sentences.push(entry.sentence);
            }
            Err(BenchError::Unknown { .. }) => return Ok(None),
            Err(error) => return Err(error.into()),
        }
    }
    let sentence = match sentences.as_slice() {
        [] => return Ok(None),
        [one] => one.clone(),
        [one, two] => format!("{one}; {two}"),
        [one, .., last] => format!("{one}; …; {last} ({} entries)", sentences.len()),
    };
    let undo = stands.then(|| range.to_text());
    Ok(Some(Recorded {
        sentence,
        undo,
        back_to: back_to.to_owned(),
    }))
}

/// Takes entries back and returns to the page they were made on.
pub(crate) async fn undo(
    State(state): State<AppState>,
    request: axum::extract::Request,
) -> Result<Response, PageError> {
    let sent = Upload::of_request(request, Takes::Photographs).await?;
    let back_to = Some(sent.fields.text("back_to"))
        .filter(|path| is_own_path(path))
        .unwrap_or(urls::BENCH)
        .to_owned();
    let range = Range::parse(sent.fields.text("entry"))
        .ok_or_else(|| PageError::not_understood("This undo names no entry of the journal."))?;
    let outcome = state
        .at_bench(move |desk| {
            // The last first: later entries build on earlier ones.
            let undos: Vec<Change> = range
                .entries()
                .rev()
                .map(|entry| Change::from(Undo { entry }))
                .collect();
            Ok(desk.apply(undos))
        })
        .await?;
    match outcome {
        Ok(applied) => {
            let url = urls::with_recorded(&back_to, Range::of(&applied.entries));
            Ok(Redirect::to(&url).into_response())
        }
        Err(error @ (BenchError::InTheWay { .. } | BenchError::Rule { .. })) => {
            let mut page = PageError::from(error).or(back_to, "Back to the page");
            page.status = StatusCode::CONFLICT;
            Err(page)
        }
        Err(error) => Err(error.into()),
    }
}

/// Whether it leads to a page of this site and can stand in a header.
fn is_own_path(path: &str) -> bool {
    path.starts_with('/')
        && !path.starts_with("//")
        && !path.chars().any(|c| c == '\\' || c.is_control())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_read_as_they_are_written() {
        for text in ["7", "7-9"] {
            assert_eq!(Range::parse(text).unwrap().to_text(), text);
        }
        for bad in ["", "0", "-1", "9-7", "x", "1-100000", "1-2-3"] {
            assert_eq!(Range::parse(bad), None, "{bad}");
        }
    }
}

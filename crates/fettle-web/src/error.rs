//! What a visitor is told when a page cannot be given.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use fettle_bench::BenchError;
use fettle_door::DoorError;

use crate::{log, refused, urls};

/// Why there is no page, in words for the person at the bench.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct PageError {
    pub(crate) status: StatusCode,
    pub(crate) title: &'static str,
    pub(crate) text: String,
    /// Where to go from here: an address and what it is called.
    pub(crate) ways_out: Vec<(String, String)>,
    /// Seconds after which it may be tried again, when that is known.
    pub(crate) wait_seconds: Option<u32>,
}

impl PageError {
    fn new(status: StatusCode, title: &'static str, text: impl Into<String>) -> Self {
        Self {
            status,
            title,
            text: text.into(),
            ways_out: Vec::new(),
            wait_seconds: None,
        }
    }

    /// Nothing stands at this address; `text` says what was looked for.
    pub(crate) fn missing(text: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, "Not found", text)
    }

    /// The request may not be answered.
    pub(crate) fn refused(text: impl Into<String>) -> Self {
        Self::new(StatusCode::FORBIDDEN, "Refused", text)
    }

    /// Somebody sent something who is not in, or is no longer.
    pub(crate) fn not_in() -> Self {
        Self::new(
            StatusCode::UNAUTHORIZED,
            "Not in",
            "Nothing was recorded: this device has not come in, or its session has ended. What you wrote still stands on the \
             page before this one. Come in on another tab, then go back and send it again.",
        )
        .or(urls::ENTER, "Come in")
    }

    /// The door's files cannot be used; the reason, which names places on this computer, goes to the log, since whoever asks is
    /// not in yet.
    pub(crate) fn door_shut(error: &DoorError) -> Self {
        let reference = log::fault(&error.to_string());
        Self::unavailable(format!(
            "Nobody can come in just now. The bench’s own computer tells why, under the reference {reference}."
        ))
    }

    /// No page has so long an address.
    pub(crate) fn too_long_an_address() -> Self {
        Self::new(
            StatusCode::URI_TOO_LONG,
            "Not understood",
            "The address is longer than any of a page here. Go to the page and use its form.",
        )
    }

    /// The request makes no sense here.
    pub(crate) fn not_understood(text: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, "Not understood", text)
    }

    /// What was sent is larger than the page takes.
    pub(crate) fn too_large(text: impl Into<String>) -> Self {
        Self::new(StatusCode::PAYLOAD_TOO_LARGE, "Too large", text)
    }

    /// The record cannot be read or written just now; `text` says why and what to do.
    pub(crate) fn unavailable(text: impl Into<String>) -> Self {
        Self::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "The record cannot be used",
            text,
        )
    }

    /// The program is at fault; `detail` goes to the log and its reference number to the page.
    pub(crate) fn fault(detail: &str) -> Self {
        let reference = log::fault(detail);
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "The program is at fault",
            format!(
                "This page could not be made. Nothing was lost that had been recorded before. \
                 The log has the details under the reference {reference}."
            ),
        )
    }

    /// Adds a way out.
    pub(crate) fn or(mut self, url: impl Into<String>, label: impl Into<String>) -> Self {
        self.ways_out.push((url.into(), label.into()));
        self
    }

    /// What to say of an answer that carries a status and nothing else.
    pub(crate) fn of_status(status: StatusCode) -> Self {
        match status {
            StatusCode::NOT_FOUND => Self::missing("There is no page at this address."),
            StatusCode::METHOD_NOT_ALLOWED => Self::new(
                status,
                "Not possible here",
                "This address takes no such request. Go to the page and use its form.",
            ),
            StatusCode::REQUEST_TIMEOUT => Self::new(
                status,
                "It took too long",
                "The request was given up after two minutes. It may have been recorded all the same: \
                 look at the page before sending it again.",
            ),
            StatusCode::PAYLOAD_TOO_LARGE => Self::too_large(
                "A form may hold 1 MB, a photograph 40 MB and a recording 300 MB. Send less at once.",
            ),
            _ => Self::new(
                status,
                "Not understood",
                "The request could not be read. Go to the page and use its form.",
            ),
        }
    }
}

/// What the record says goes to the page; what only a programmer can use goes to the log.
impl From<BenchError> for PageError {
    fn from(error: BenchError) -> Self {
        match &error {
            BenchError::Unknown { .. } => Self::missing(sentence(&error.to_string())),
            BenchError::Rule {
                kind, field, why, ..
            } => Self::new(
                StatusCode::CONFLICT,
                "Not recorded",
                refused::spoken(kind, field, why),
            ),
            BenchError::InTheWay { .. } | BenchError::NotAPhoto(_) => Self::new(
                StatusCode::CONFLICT,
                "Not recorded",
                sentence(&error.to_string()),
            ),
            BenchError::TooLarge { .. } => Self::too_large(sentence(&error.to_string())),
            BenchError::Database { .. } => Self::fault(&error.to_string()),
            _ => Self::unavailable(sentence(&error.to_string())),
        }
    }
}

/// The door's files cannot be used: nobody comes in until they can.
impl From<DoorError> for PageError {
    fn from(error: DoorError) -> Self {
        let text = sentence(&error.to_string());
        match error {
            DoorError::Unknown(_) => Self::missing(text),
            _ => Self::unavailable(text),
        }
    }
}

/// A message, which begins small and has no full stop, as a sentence; the name of a file stays as it is.
pub(crate) fn sentence(message: &str) -> String {
    let first_word = message.split([',', ':', ' ']).next().unwrap_or_default();
    let is_file = first_word.trim_end_matches('.').contains('.');
    let mut letters = message.chars();
    let first = letters.next().map(|first| {
        if is_file {
            first.to_string()
        } else {
            first.to_uppercase().to_string()
        }
    });
    let stop = if message.ends_with(['.', '?', '!']) {
        ""
    } else {
        "."
    };
    format!("{}{}{stop}", first.unwrap_or_default(), letters.as_str())
}

/// Carries the error up to where the sheet is drawn around it.
impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        let mut response = self.status.into_response();
        response.extensions_mut().insert(self);
        response
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_begins_large_unless_it_begins_with_a_file() {
        for (message, want) in [
            ("choose a recording", "Choose a recording."),
            (
                "dial.wav, channel 1: hum at 50 Hz",
                "dial.wav, channel 1: hum at 50 Hz.",
            ),
            ("why?", "Why?"),
            ("gone.", "Gone."),
            ("", "."),
        ] {
            assert_eq!(sentence(message), want);
        }
    }

    #[test]
    fn a_request_given_up_is_not_said_to_be_unrecorded() {
        let error = PageError::of_status(StatusCode::REQUEST_TIMEOUT);
        assert!(error.text.contains("may have been recorded"), "{error:?}");
        assert!(!error.text.contains("not recorded"), "{error:?}");
    }
}

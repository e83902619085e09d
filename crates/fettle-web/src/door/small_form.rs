//! The forms of the door: small, without files, and with passphrases that are never shown again.

use axum::extract::{DefaultBodyLimit, Form, FromRequest, Request};

use crate::error::PageError;
use crate::form::Fields;

/// Most bytes of a form of the door: outsiders send it too.
const MOST_BYTES: usize = 8 * 1024;

/// Reads the form of a request.
///
/// # Errors
/// When the body is no form or is too large.
pub(super) async fn read(request: Request) -> Result<Fields, PageError> {
    let mut request = request;
    DefaultBodyLimit::max(MOST_BYTES).apply(&mut request);
    match Form::<Vec<(String, String)>>::from_request(request, &()).await {
        Ok(Form(pairs)) => Ok(Fields::new(pairs)),
        Err(rejection) => Err(PageError::of_status(rejection.status())),
    }
}

/// What may come back of a form: these fields alone, so that no passphrase and no code does.
pub(super) fn only(fields: &Fields, names: &[&str]) -> Fields {
    let kept = names
        .iter()
        .map(|name| ((*name).to_owned(), fields.text(name).to_owned()))
        .collect();
    Fields::new(kept)
}

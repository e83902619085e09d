//! Forms with files: photographs and recordings.

use std::sync::Arc;

use axum::extract::multipart::{Field, MultipartError};
use axum::extract::{DefaultBodyLimit, Form, FromRequest, Multipart, Request};
use axum::http::header::{CONTENT_LENGTH, CONTENT_TYPE};
use axum::http::{HeaderMap, StatusCode};
use fettle_bench::RECORDING_MAX_BYTES;
use fettle_measure::photograph::PHOTOGRAPH_MAX_BYTES;
use tokio::sync::{Semaphore, SemaphorePermit};

use crate::error::PageError;
use crate::form::{Fields, Wrong};
use crate::guards::{FORM_BYTES, PHOTOS_AT_ONCE};
use crate::number;

/// A file that came with a form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Sent {
    /// The form's field.
    pub(crate) field: String,
    /// What it was called on the sender's computer.
    pub(crate) name: String,
    pub(crate) bytes: Vec<u8>,
}

/// What files a form takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Takes {
    Photographs,
    /// A photograph, and another to compare it with.
    Pair,
    Recordings,
    /// One table of readings.
    Tables,
    /// One table or file of contacts that was kept elsewhere.
    Contacts,
}

/// Most fields of a form: more than any page has.
const FIELDS: usize = 10_000;
/// Room in memory for the files of all forms that are under way, in megabytes; others wait for it.
const ROOM_MB: u32 = 900;
static ROOM: Semaphore = Semaphore::const_new(ROOM_MB as usize);

/// Most bytes of a table of readings.
const TABLE_MAX_BYTES: usize = 1_000_000;
/// Most bytes of a table that is taken in; the command line takes larger ones.
const CONTACTS_MAX_BYTES: usize = 8_000_000;

impl Takes {
    /// Most bytes of one file.
    fn file_bytes(self) -> usize {
        match self {
            Self::Photographs | Self::Pair => PHOTOGRAPH_MAX_BYTES,
            Self::Recordings => RECORDING_MAX_BYTES,
            Self::Tables => TABLE_MAX_BYTES,
            Self::Contacts => CONTACTS_MAX_BYTES,
        }
    }

    /// Most files at once.
    fn files(self) -> usize {
        match self {
            Self::Photographs => PHOTOS_AT_ONCE,
            Self::Pair => 2,
            Self::Recordings | Self::Tables | Self::Contacts => 1,
        }
    }

    /// Most bytes of the whole form: what the router lets through.
    pub(crate) const fn form_bytes(self) -> usize {
        match self {
            Self::Photographs => 10 * PHOTOGRAPH_MAX_BYTES + FORM_BYTES,
            Self::Pair => 2 * PHOTOGRAPH_MAX_BYTES + FORM_BYTES,
            Self::Recordings => RECORDING_MAX_BYTES + FORM_BYTES,
            Self::Tables => TABLE_MAX_BYTES + FORM_BYTES,
            Self::Contacts => CONTACTS_MAX_BYTES + FORM_BYTES,
        }
    }

    fn one(self) -> &'static str {
        match self {
            Self::Photographs | Self::Pair => "a photograph",
            Self::Recordings => "a recording",
            Self::Tables => "a table of readings",
            Self::Contacts => "a table",
        }
    }
}

/// A form with its files, and what is wrong with them: too many, too large.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Upload {
    pub(crate) fields: Fields,
    pub(crate) files: Vec<Sent>,
    pub(crate) wrong: Wrong,
    room: Room,
}

/// The room that the files of a form take; free again when the form is done with.
#[derive(Clone, Debug, Default)]
struct Room {
    _held: Option<Arc<SemaphorePermit<'static>>>,
}

/// Forms are told apart by what they hold.
impl PartialEq for Room {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Eq for Room {}

impl Room {
    /// Waits for room for a body: what it says it holds, else the most that it may.
    async fn of(headers: &HeaderMap, most: usize) -> Result<Self, PageError> {
        let said = headers
            .get(CONTENT_LENGTH)
            .and_then(|length| length.to_str().ok()?.parse::<usize>().ok());
        let bytes = said.unwrap_or(most).min(most);
        let megabytes = u32::try_from(bytes / 1_000_000 + 1).unwrap_or(ROOM_MB);
        let permit = ROOM.acquire_many(megabytes.min(ROOM_MB)).await;
        let permit = permit.map_err(|closed| PageError::fault(&closed.to_string()))?;
        Ok(Self {
            _held: Some(Arc::new(permit)),
        })
    }
}

impl Upload {
    /// Reads the form of a request, with or without files.
    ///
    /// # Errors
    ///
    /// When the body is no form, cannot be read or is too large as a whole.
    pub(crate) async fn of_request(request: Request, takes: Takes) -> Result<Self, PageError> {
        let is_multipart = request
            .headers()
            .get(CONTENT_TYPE)
            .and_then(|value| value.to_str().ok())
            .is_some_and(|kind| kind.starts_with("multipart/form-data"));
        let mut request = request;
        if is_multipart {
            let room = Room::of(request.headers(), takes.form_bytes()).await?;
            DefaultBodyLimit::max(takes.form_bytes()).apply(&mut request);
            let multipart = Multipart::from_request(request, &()).await.map_err(|_| {
                PageError::not_understood("The form's parts cannot be told apart. Send it again.")
            })?;
            let upload = Self::read(multipart, takes).await?;
            return Ok(Self { room, ..upload });
        }
        DefaultBodyLimit::max(FORM_BYTES).apply(&mut request);
        match Form::<Vec<(String, String)>>::from_request(request, &()).await {
            Ok(Form(pairs)) if pairs.len() > FIELDS => Err(too_many_fields()),
            Ok(Form(pairs)) => Ok(Self {
                fields: Fields::new(pairs),
                ..Self::default()
            }),
            Err(rejection) => Err(PageError::of_status(rejection.status())),
        }
    }

    /// Reads the form. A file that is too large is left out and noted as wrong, so that what was
    /// typed beside it is kept.
    ///
    /// # Errors
    ///
    /// When the body cannot be read or the form as a whole is too large.
    async fn read(mut multipart: Multipart, takes: Takes) -> Result<Self, PageError> {
        let mut upload = Self::default();
        let (mut typed_bytes, mut fields) = (0, 0);
        while let Some(mut field) = multipart.next_field().await.map_err(unreadable)? {
            let name = field.name().unwrap_or_default().to_owned();
            let Some(file_name) = field.file_name().map(str::to_owned) else {
                let left = FORM_BYTES.saturating_sub(typed_bytes);
                let bytes = bytes_of(&mut field, left).await?.ok_or_else(|| {
                    PageError::too_large("The words of a form may take 1 MB; shorten them.")
                })?;
                typed_bytes += bytes.len() + name.len();
                fields += 1;
                if fields > FIELDS || typed_bytes > FORM_BYTES {
                    return Err(too_many_fields());
                }
                upload
                    .fields
                    .push(name, String::from_utf8_lossy(&bytes).into_owned());
                continue;
            };
            fields += 1;
            if fields > FIELDS {
                return Err(too_many_fields());
            }
            let bytes = bytes_of(&mut field, takes.file_bytes()).await?;
            // A file field left empty is sent with no name and no bytes.
            if file_name.is_empty() && bytes.as_ref().is_some_and(Vec::is_empty) {
                continue;
            }
            match bytes {
                None => upload.wrong.note(
                    &name,
                    format!(
                        "{file_name} is larger than {}, the most that {} may have",
                        number::bytes(takes.file_bytes()),
                        takes.one(),
                    ),
                ),
                Some(_) if upload.files.len() == takes.files() => upload.wrong.note(
                    &name,
                    format!(
                        "{file_name} is one too many; send {} at most at once",
                        takes.files()
                    ),
                ),
                Some(bytes) => upload.files.push(Sent {
                    field: name,
                    name: file_name,
                    bytes,
                }),
            }
        }
        Ok(upload)
    }
}

fn too_many_fields() -> PageError {
    PageError::too_large("A form has 10 000 fields at most, and 1 MB of words. Send less at once.")
}

/// The bytes of a field; `None` when there are more than `most`, with the rest read and dropped.
async fn bytes_of(field: &mut Field<'_>, most: usize) -> Result<Option<Vec<u8>>, PageError> {
    let mut bytes = Some(Vec::new());
    while let Some(chunk) = field.chunk().await.map_err(unreadable)? {
        match bytes.as_mut() {
            Some(held) if held.len() + chunk.len() <= most => held.extend_from_slice(&chunk),
            _ => bytes = None,
        }
    }
    Ok(bytes)
}

#[expect(
    clippy::needless_pass_by_value,
    reason = "used as a function in `map_err`"
)]
fn unreadable(error: MultipartError) -> PageError {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
        PageError::of_status(StatusCode::PAYLOAD_TOO_LARGE)
    } else {
        PageError::not_understood(
            "The form with its files did not arrive whole, so nothing was recorded. Send it again.",
        )
    }
}

//! Photographs, recordings and papers out of the bench's folder.

use std::fs::File;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};

use axum::body::{Body, Bytes};
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_LENGTH, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use fettle_bench::{PaperId, PhotoId, PhotoSize, RecordingId, StoredFile};
use http_body::Frame;
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use tokio::io::{AsyncRead, ReadBuf};

use crate::error::PageError;
use crate::state::AppState;

/// A kept file never changes, and its number is never given to another.
const KEPT: &str = "private, max-age=31536000, immutable";

/// How much of a file lies in memory while it goes out.
const PIECE_BYTES: usize = 64 * 1024;

/// A photograph in one of three sizes.
pub(crate) async fn photo(
    State(state): State<AppState>,
    Path((id, size)): Path<(i64, String)>,
) -> Result<Response, PageError> {
    let size = match size.as_str() {
        "original" => PhotoSize::Original,
        "display" => PhotoSize::Display,
        "thumb" => PhotoSize::Thumb,
        _ => {
            return Err(PageError::missing(
                "A photograph comes as original, display or thumb.",
            ));
        }
    };
    send(
        &state,
        move |bench| bench.photo_file(PhotoId::new(id), size),
        "inline",
    )
    .await
}

/// A recording, to be stored.
pub(crate) async fn recording(
    State(state): State<AppState>,
    Path(id): Path<i64>,
) -> Result<Response, PageError> {
    send(
        &state,
        move |bench| bench.recording_file(RecordingId::new(id)),
        "attachment",
    )
    .await
}

/// A paper, to be looked at or printed.
pub(crate) async fn paper(
    State(state): State<AppState>,
    Path(id): Path<i64>,
) -> Result<Response, PageError> {
    send(
        &state,
        move |bench| bench.paper_file(PaperId::new(id)),
        "inline",
    )
    .await
}

async fn send<F>(state: &AppState, find: F, how: &str) -> Result<Response, PageError>
where
    F: FnOnce(&fettle_bench::Bench) -> Result<StoredFile, fettle_bench::BenchError>
        + Send
        + 'static,
{
    let (file, open, bytes) = state
        .at_bench(move |desk| {
            let file = find(&desk.bench)?;
            let opened = File::open(&file.path)
                .and_then(|open| open.metadata().map(|found| (open, found.len())));
            let (open, bytes) = opened.map_err(|error| {
                PageError::missing(format!(
                    "The record knows the file {}, but it cannot be read: {error}.",
                    file.path.display()
                ))
            })?;
            Ok((file, open, bytes))
        })
        .await?;
    let disposition = format!(
        "{how}; filename*=UTF-8''{}",
        utf8_percent_encode(&file.name, NON_ALPHANUMERIC)
    );
    let headers = [
        (CONTENT_TYPE, file.media_type.to_owned()),
        (CONTENT_DISPOSITION, disposition),
        (CACHE_CONTROL, KEPT.to_owned()),
        (CONTENT_LENGTH, bytes.to_string()),
    ];
    let body = Body::new(OnDisk {
        file: open.into(),
        piece: vec![0; PIECE_BYTES],
    });
    Ok((headers, body).into_response())
}

/// A file that goes out piece by piece: a long recording must not lie in memory for as long as somebody takes to fetch it.
struct OnDisk {
    file: tokio::fs::File,
    piece: Vec<u8>,
}

impl http_body::Body for OnDisk {
    type Data = Bytes;
    type Error = io::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<io::Result<Frame<Bytes>>>> {
        let Self { file, piece } = &mut *self;
        let mut read = ReadBuf::new(piece);
        ready!(Pin::new(file).poll_read(context, &mut read))?;
        let filled = read.filled();
        Poll::Ready((!filled.is_empty()).then(|| Ok(Frame::data(Bytes::copy_from_slice(filled)))))
    }
}

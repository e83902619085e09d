//! A request's body that must come at a walking pace.

use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use axum::body::Bytes;
use http_body::{Body, Frame, SizeHint};
use hyper::body::Incoming;
use tokio::time::{Instant, Sleep, sleep_until};

use super::limits::Limits;

/// A body that ends in an error when less of it has come than should have by then.
pub(super) struct Patience {
    body: Incoming,
    begun: Instant,
    grace: Duration,
    bytes_per_second: u32,
    came: u64,
    until: Pin<Box<Sleep>>,
}

/// The body came too slowly.
#[derive(Debug, thiserror::Error)]
#[error("the body of the request came too slowly")]
struct TooSlow;

type BoxError = Box<dyn std::error::Error + Send + Sync>;

impl Patience {
    pub(super) fn with(body: Incoming, limits: &Limits) -> Self {
        let begun = Instant::now();
        Self {
            body,
            begun,
            grace: limits.body_grace,
            bytes_per_second: limits.body_bytes_per_second.max(1),
            came: 0,
            until: Box::pin(sleep_until(begun + limits.body_grace)),
        }
    }
}

/// How long the next piece may take, reckoned from the beginning, when so much has come.
fn patience(grace: Duration, bytes_per_second: u32, came: u64) -> Duration {
    let rate = u64::from(bytes_per_second.max(1));
    let seconds = Duration::from_secs(came / rate);
    let rest = Duration::from_millis(came % rate * 1000 / rate);
    grace.saturating_add(seconds).saturating_add(rest)
}

impl Body for Patience {
    type Data = Bytes;
    type Error = BoxError;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, BoxError>>> {
        if let Poll::Ready(frame) = Pin::new(&mut self.body).poll_frame(context) {
            let frame = frame.map(|frame| frame.map_err(BoxError::from));
            if let Some(Ok(frame)) = &frame {
                let bytes = frame.data_ref().map_or(0, Bytes::len);
                self.came = self.came.saturating_add(bytes as u64);
                let until = self.begun + patience(self.grace, self.bytes_per_second, self.came);
                self.until.as_mut().reset(until);
            }
            return Poll::Ready(frame);
        }
        ready!(self.until.as_mut().poll(context));
        Poll::Ready(Some(Err(TooSlow.into())))
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patience_grows_with_what_has_come() {
        let grace = Duration::from_secs(10);
        assert_eq!(patience(grace, 1000, 0), grace);
        assert_eq!(patience(grace, 1000, 2500), Duration::from_millis(12_500));
        assert_eq!(patience(grace, 0, 7), Duration::from_secs(17));
        assert!(patience(Duration::MAX, 1, u64::MAX) == Duration::MAX);
    }
}

//! How much may be sent, what a browser may run, and what is said when something fails.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_TYPE, HOST, RETRY_AFTER};
use axum::http::{HeaderValue, Method};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::door::Inside;
use crate::error::PageError;
use crate::layout;
use crate::state::AppState;

/// Largest form without files, in bytes.
pub(crate) const FORM_BYTES: usize = 1 << 20;
/// Most photographs in one form.
pub(crate) const PHOTOS_AT_ONCE: usize = 40;
/// Seconds until a request is given up.
pub(crate) const TIMEOUT_SECONDS: u64 = 120;

/// Longest path and query of an address.
const ADDRESS_BYTES: usize = 4096;

/// No script or style but the site's own files; previews of chosen photographs are `blob:`, pictures that are not kept `data:`.
/// The live page's socket is named as well: older browsers do not count it as `'self'`.
fn content_policy(host: Option<&str>) -> String {
    let socket = host.map_or_else(String::new, |host| format!(" ws://{host} wss://{host}"));
    format!(
        "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'{socket}; \
         object-src 'none'; frame-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    )
}

/// Refuses an address that no page has.
pub(crate) async fn short_addresses(request: Request, next: Next) -> Result<Response, PageError> {
    let length = request
        .uri()
        .path_and_query()
        .map_or(0, |it| it.as_str().len());
    if length > ADDRESS_BYTES {
        return Err(PageError::too_long_an_address());
    }
    Ok(next.run(request).await)
}

/// Draws the sheet around errors, wherever below they arose.
pub(crate) async fn error_pages(
    State(state): State<AppState>,
    request: Request,
    next: Next,
) -> Response {
    let head = request.method() == Method::HEAD;
    let mut response = next.run(request).await;
    let status = response.status();
    if !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    // What a bench is called and what rooms it has is told to those who are in.
    let bare = state.gate().is_network() && response.extensions().get::<Inside>().is_none();
    let is_page = response
        .headers()
        .get(CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .is_some_and(|kind| kind.starts_with("text/html"));
    if is_page {
        return response;
    }
    let error = response
        .extensions_mut()
        .remove::<PageError>()
        .unwrap_or_else(|| PageError::of_status(status));
    let mut page = (status, state.draw(&layout::error_page(&error, bare))).into_response();
    if let Some(wait) = error.wait_seconds {
        page.headers_mut().insert(RETRY_AFTER, wait.into());
    }
    if head {
        *page.body_mut() = Body::empty();
    }
    page
}

/// Headers that every answer carries. `Strict-Transport-Security` is not among them: with it a browser would no longer
/// let anybody accept the bench's own certificate.
pub(crate) async fn headers(request: Request, next: Next) -> Response {
    let host = request
        .headers()
        .get(HOST)
        .and_then(|host| host.to_str().ok());
    let is_host = |host: &&str| {
        host.bytes()
            .all(|b| b.is_ascii_alphanumeric() || b".-:[]".contains(&b))
    };
    let policy = content_policy(host.filter(is_host));
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    if let Ok(policy) = HeaderValue::from_str(&policy) {
        headers.insert("content-security-policy", policy);
    }
    for (name, value) in [
        (
            "permissions-policy",
            "camera=(self), microphone=(self), geolocation=(), payment=(), usb=()",
        ),
        ("x-content-type-options", "nosniff"),
        // Not `no-referrer`: with that, browsers send `Origin: null` with the bench's own forms.
        ("referrer-policy", "same-origin"),
        ("x-frame-options", "DENY"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry("cache-control")
        .or_insert(HeaderValue::from_static("no-cache"));
    response
}

/// Turns a panic into an error page with a reference number.
#[expect(
    clippy::needless_pass_by_value,
    reason = "the layer hands the payload over by value"
)]
pub(crate) fn panicked(payload: Box<dyn std::any::Any + Send + 'static>) -> Response {
    let text = payload
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| payload.downcast_ref::<&str>().copied())
        .unwrap_or("panic without a message");
    PageError::fault(text).into_response()
}

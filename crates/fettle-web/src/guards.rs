//! Who may ask, how much may be sent, and what a browser may run.
//!
//! The record is for this computer alone. A page of some other site open in the same browser can
//! still send requests here, or reach the listener under a foreign name that it has pointed at
//! 127.0.0.1; the names in `Host` and `Origin` give both away.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{CONTENT_TYPE, HOST, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::error::PageError;
use crate::layout;
use crate::state::AppState;

/// Largest form without files, in bytes.
pub(crate) const FORM_BYTES: usize = 1 << 20;
/// Most photographs in one form.
pub(crate) const PHOTOS_AT_ONCE: usize = 40;
/// Seconds until a request is given up.
pub(crate) const TIMEOUT_SECONDS: u64 = 120;

const LOOPBACK_NAMES: [&str; 3] = ["localhost", "127.0.0.1", "[::1]"];

/// No script or style but the site's own files; previews of chosen photographs are `blob:`, pictures that are not kept `data:`.
const CONTENT_POLICY: &str = "default-src 'self'; img-src 'self' blob: data:; object-src 'none'; \
     base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

/// Refuses what does not come from this computer's own pages.
pub(crate) async fn own_pages_only(
    State(state): State<AppState>,
    request: Request,
    next: Next,
) -> Result<Response, PageError> {
    check(request.method(), request.headers(), state.port())?;
    Ok(next.run(request).await)
}

fn check(method: &Method, headers: &HeaderMap, port: Option<u16>) -> Result<(), PageError> {
    let host = headers
        .get(HOST)
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    if !is_own_host(host, port) {
        return Err(PageError::refused(format!(
            "This bench answers only to its own computer, under the names localhost, 127.0.0.1 \
             and [::1]. The request came for {}.",
            if host.is_empty() {
                "no name at all"
            } else {
                host
            }
        )));
    }
    let foreign_origin = headers
        .get(ORIGIN)
        .is_some_and(|origin| origin != format!("http://{host}").as_str());
    let only_reads = method == Method::GET || method == Method::HEAD;
    // A link from elsewhere may lead here, so reading is judged by its origin alone.
    let foreign_site = !only_reads
        && headers
            .get("sec-fetch-site")
            .is_some_and(|site| site != "same-origin" && site != "none");
    if foreign_origin || foreign_site {
        return Err(PageError::refused(
            "The request was sent by a page of another site, so nothing was recorded. Open this \
             bench itself.",
        ));
    }
    Ok(())
}

fn is_own_host(host: &str, port: Option<u16>) -> bool {
    let (name, given) = match host.rsplit_once(':') {
        Some((name, digits)) if !digits.ends_with(']') => match digits.parse::<u16>() {
            Ok(given) => (name, given),
            Err(_) => return false,
        },
        _ => (host, 80),
    };
    LOOPBACK_NAMES
        .iter()
        .any(|own| own.eq_ignore_ascii_case(name))
        && port.is_none_or(|port| port == given)
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
    let mut page = (status, layout::error_page(&state.bench_name(), &error)).into_response();
    if head {
        *page.body_mut() = Body::empty();
    }
    page
}

/// Headers that every answer carries.
pub(crate) async fn headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    for (name, value) in [
        ("content-security-policy", CONTENT_POLICY),
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

#[cfg(test)]
mod tests {
    use super::*;

    fn headers_with(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|&(name, value)| (name.parse().unwrap(), value.parse().unwrap()))
            .collect()
    }

    #[test]
    fn loopback_names_with_the_listener_port_are_own() {
        for host in [
            "localhost:7700",
            "127.0.0.1:7700",
            "[::1]:7700",
            "LOCALHOST:7700",
        ] {
            assert!(is_own_host(host, Some(7700)), "{host}");
        }
    }

    #[test]
    fn foreign_names_and_ports_are_not_own() {
        for host in [
            "",
            "localhost",
            "localhost:7701",
            "localhost:",
            "localhost:x",
            "saltmere.example:7700",
            "127.0.0.1.saltmere.example:7700",
            "127.0.0.2:7700",
            "[::2]:7700",
            "::1:7700",
            "user@localhost:7700",
        ] {
            assert!(!is_own_host(host, Some(7700)), "{host}");
        }
    }

    #[test]
    fn the_default_port_may_be_left_out() {
        assert!(is_own_host("localhost", Some(80)));
        assert!(is_own_host("[::1]", Some(80)));
    }

    #[test]
    fn a_form_of_another_site_is_refused() {
        let own = headers_with(&[("host", "localhost:7"), ("origin", "http://localhost:7")]);
        assert!(check(&Method::POST, &own, Some(7)).is_ok());
        for origin in [
            "http://saltmere.example",
            "http://localhost:8",
            "https://localhost:7",
            "null",
        ] {
            let foreign = headers_with(&[("host", "localhost:7"), ("origin", origin)]);
            assert!(check(&Method::POST, &foreign, Some(7)).is_err(), "{origin}");
            assert!(check(&Method::GET, &foreign, Some(7)).is_err(), "{origin}");
        }
        let cross = headers_with(&[("host", "localhost:7"), ("sec-fetch-site", "cross-site")]);
        assert!(check(&Method::POST, &cross, Some(7)).is_err());
        assert!(check(&Method::GET, &cross, Some(7)).is_ok());
    }

    #[test]
    fn a_form_without_an_origin_is_taken() {
        assert!(
            check(
                &Method::POST,
                &headers_with(&[("host", "localhost:7")]),
                Some(7)
            )
            .is_ok()
        );
    }
}

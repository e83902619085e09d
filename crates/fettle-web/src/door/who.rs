//! Who sent a request, and what those may see who are not in.

use std::net::{IpAddr, Ipv4Addr};

use axum::extract::{Request, State};
use axum::http::header::{COOKIE, LOCATION, SET_COOKIE};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use fettle_door::{Insider, SESSION_LONGEST};

use super::gate::asked_rightly;
use crate::error::PageError;
use crate::server::{Ends, neighbourhood};
use crate::state::AppState;
use crate::urls;

/// The cookie of a session. `__Host-` binds it to this host, this path and TLS; a browser takes no other of that name.
const COOKIE_NAME: &str = "__Host-fettle";

tokio::task_local! {
    /// It belongs to the task that answers a request, as the request does: so no handler can forget to pass it on.
    static WHO: Who;
}

/// Who sent a request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Who {
    /// Somebody at the bench's own computer.
    Here,
    /// A bench-hand with a session.
    In(Insider),
    /// Somebody who has not come in.
    Outside,
}

/// Marks an answer for somebody who is in: only they see the head of the sheet around errors.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Inside;

impl Who {
    /// Who sent the request that this task answers; without one, nobody who is in.
    pub(crate) fn now() -> Self {
        WHO.try_with(Clone::clone).unwrap_or(Self::Outside)
    }

    /// Lets a task that outlives its request go on in the same name.
    pub(crate) async fn go_on<F: Future>(self, work: F) -> F::Output {
        WHO.scope(self, work).await
    }
}

/// Refuses what does not come from this bench's own pages, and sends those to the door who are not in.
pub(crate) async fn let_in(
    State(state): State<AppState>,
    request: Request,
    next: Next,
) -> Result<Response, PageError> {
    let here = request.extensions().get::<Ends>().map(|ends| ends.here);
    asked_rightly(state.gate(), request.method(), request.headers(), here)?;
    let who = who(&state, request.headers()).await?;
    if who == Who::Outside && !is_open(request.uri().path()) {
        return sent_to_the_door(&request);
    }
    let is_in = who != Who::Outside;
    let mut response = who.go_on(next.run(request)).await;
    if is_in {
        response.extensions_mut().insert(Inside);
    }
    Ok(response)
}

async fn who(state: &AppState, headers: &HeaderMap) -> Result<Who, PageError> {
    if !state.gate().is_network() {
        return Ok(Who::Here);
    }
    let Some(token) = token(headers) else {
        return Ok(Who::Outside);
    };
    let now = state.now().timestamp();
    let insider = state
        .at_door(move |door| {
            door.insider(&token, now)
                .map_err(|error| PageError::door_shut(&error))
        })
        .await?;
    Ok(insider.map_or(Who::Outside, Who::In))
}

/// What is to be had without being in: the door itself, and what its page is drawn with.
fn is_open(path: &str) -> bool {
    path == urls::ENTER || path.starts_with("/assets/")
}

fn sent_to_the_door(request: &Request) -> Result<Response, PageError> {
    if request.method() != Method::GET || request.headers().contains_key("upgrade") {
        return Err(PageError::not_in());
    }
    let to = request.uri().path_and_query().map_or("/", |to| to.as_str());
    let url = urls::enter(Some(to).filter(|to| *to != urls::BENCH));
    let location = HeaderValue::from_str(&url).map_err(|_| PageError::not_in())?;
    let mut response = (StatusCode::SEE_OTHER, [(LOCATION, location)]).into_response();
    // A session that it shows has ended.
    if token(request.headers()).is_some() {
        forget_session(&mut response);
    }
    Ok(response)
}

/// The token that a request shows.
fn token(headers: &HeaderMap) -> Option<String> {
    let lines = headers
        .get_all(COOKIE)
        .iter()
        .filter_map(|line| line.to_str().ok());
    let mut tokens = lines
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .filter(|(name, _)| *name == COOKIE_NAME)
        .map(|(_, token)| token.trim().to_owned());
    let token = tokens.next()?;
    // Two of them: somebody else set one.
    tokens.next().is_none().then_some(token)
}

/// Makes the browser keep a session. `Lax`, not `Strict`: the code on a camera's tag, scanned with the tablet, opens the
/// visit through a link from outside, and with `Strict` the tablet would be asked to come in anew each time. A form
/// of another site is sent without the cookie either way, and by `GET` nothing is changed.
pub(crate) fn keep_session(response: &mut Response, token: &str) {
    let seconds = SESSION_LONGEST.as_secs();
    set(
        response,
        &format!(
            "{COOKIE_NAME}={token}; Path=/; Max-Age={seconds}; Secure; HttpOnly; SameSite=Lax"
        ),
    );
}

/// Makes the browser forget it, and the photographs and pages that it kept for speed.
pub(crate) fn forget_session(response: &mut Response) {
    let cache = HeaderValue::from_static("\"cache\"");
    response.headers_mut().insert("clear-site-data", cache);
    set(
        response,
        &format!("{COOKIE_NAME}=; Path=/; Max-Age=0; Secure; HttpOnly; SameSite=Lax"),
    );
}

fn set(response: &mut Response, cookie: &str) {
    if let Ok(cookie) = HeaderValue::from_str(cookie) {
        response.headers_mut().append(SET_COOKIE, cookie);
    }
}

/// The address that tries to come in are counted for.
pub(crate) fn sender(request: &Request) -> IpAddr {
    let there = request
        .extensions()
        .get::<Ends>()
        .map(|ends| ends.there.ip());
    // Without an address all count as one.
    neighbourhood(there.unwrap_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn token_of(lines: &[&str]) -> Option<String> {
        let mut headers = HeaderMap::new();
        for line in lines {
            headers.append(COOKIE, line.parse().unwrap());
        }
        token(&headers)
    }

    #[test]
    fn the_token_is_found_among_other_cookies_and_two_are_none() {
        assert_eq!(
            token_of(&["a=b; __Host-fettle=xyz; c=d"]).as_deref(),
            Some("xyz")
        );
        assert_eq!(
            token_of(&["a=b", "__Host-fettle=xyz"]).as_deref(),
            Some("xyz")
        );
        for lines in [
            &["fettle=xyz"][..],
            &["__host-fettle=xyz"],
            &["__Host-fettle"],
            &["__Host-fettle=a; __Host-fettle=b"],
            &["__Host-fettle=a", "__Host-fettle=b"],
            &[],
        ] {
            assert_eq!(token_of(lines), None, "{lines:?}");
        }
    }

    #[test]
    fn who_has_no_request_is_outside() {
        assert_eq!(Who::now(), Who::Outside);
    }
}

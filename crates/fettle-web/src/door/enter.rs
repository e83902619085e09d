//! Coming in: with a pairing code, or with name and passphrase.

use axum::extract::{Query, Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_door::{Entered, Passphrase, Refusal};
use maud::{Markup, html};
use serde::Deserialize;

use super::small_form;
use super::who::{self, Who};
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::number;
use crate::state::AppState;
use crate::urls;

const BY_CODE: &str = "code-in";
const BY_PASSPHRASE: &str = "passphrase-in";

/// What the address asks.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    to: String,
    #[serde(default)]
    code: String,
}

pub(crate) async fn show(State(state): State<AppState>, Query(asked): Query<Asked>) -> Response {
    if Who::now() != Who::Outside {
        let to = urls::own_place(&asked.to).unwrap_or(urls::BENCH);
        return Redirect::to(to).into_response();
    }
    state.draw(&page(&asked, &Form::default())).into_response()
}

/// Lets in, or says why not.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    if !state.gate().is_network() {
        return Ok(Redirect::to(urls::BENCH).into_response());
    }
    let from = who::sender(&request);
    let fields = small_form::read(request).await?;
    let now = state.now().timestamp();
    let by_code = fields.ticked("code");
    let sent = fields.clone();
    let tried = state
        .at_door(move |door| {
            let device = sent.text("device");
            Ok(if by_code {
                door.enter_by_code(sent.text("code"), from, device, now)
            } else {
                let passphrase = Passphrase::typed(sent.text("passphrase"));
                door.enter(sent.text("hand"), &passphrase, from, device, now)
            })
        })
        .await?;
    match tried {
        Ok(entered) => came_in(&state, &fields, &entered).await,
        Err(refusal) => refused(&state, &fields, by_code, refusal),
    }
}

async fn came_in(
    state: &AppState,
    fields: &Fields,
    entered: &Entered,
) -> Result<Response, PageError> {
    // Whoever was in on this device before is in no more.
    if let Who::In(before) = Who::now() {
        state
            .at_door(move |door| Ok(door.end(&before.session)?))
            .await?;
    }
    let to = urls::own_place(fields.text("to")).unwrap_or(urls::BENCH);
    let mut response = Redirect::to(to).into_response();
    who::keep_session(&mut response, &entered.token);
    Ok(response)
}

fn refused(
    state: &AppState,
    fields: &Fields,
    by_code: bool,
    refusal: Refusal,
) -> Result<Response, PageError> {
    let mut wrong = Wrong::default();
    let mut status = StatusCode::UNPROCESSABLE_ENTITY;
    let mut wait_seconds = None;
    match refusal {
        Refusal::Wait(wait) => {
            let seconds = u32::try_from(wait.as_secs())
                .unwrap_or(u32::MAX)
                .saturating_add(1);
            status = StatusCode::TOO_MANY_REQUESTS;
            wait_seconds = Some(seconds);
            wrong.note(
                "",
                format!("There were too many wrong tries. Wait {}, then try again; trying sooner does not count.", waiting(seconds)),
            );
        }
        Refusal::WrongPassphrase => {
            wrong.note("passphrase", "The name and the passphrase do not belong together. Capitals and spaces within the passphrase count.");
        }
        Refusal::WrongCode => {
            wrong.note("code", "This code is wrong, was used already or is older than five minutes. Have another made on the page “Pair a tablet”.");
        }
        Refusal::Crowded => {
            status = StatusCode::SERVICE_UNAVAILABLE;
            wait_seconds = Some(5);
            wrong.note(
                "",
                "Many are trying to come in just now. Try again in a few seconds.",
            );
        }
        Refusal::Fault(error) => return Err(PageError::door_shut(&error)),
    }
    let asked = Asked {
        to: fields.text("to").to_owned(),
        code: if by_code {
            fields.text("code").to_owned()
        } else {
            String::new()
        },
    };
    let kept = small_form::only(fields, &["hand", "device"]);
    let form = Form::returned(if by_code { BY_CODE } else { BY_PASSPHRASE }, kept, wrong);
    let mut response = (status, state.draw(&page(&asked, &form))).into_response();
    if let Some(seconds) = wait_seconds {
        response.headers_mut().insert("retry-after", seconds.into());
    }
    Ok(response)
}

fn waiting(seconds: u32) -> String {
    if seconds < 120 {
        number::count(seconds as usize, "second", "seconds")
    } else {
        number::count(seconds.div_ceil(60) as usize, "minute", "minutes")
    }
}

fn page(asked: &Asked, returned: &Form) -> Page {
    let named = |id: &str| {
        if returned.id() == id {
            returned.clone()
        } else {
            Form::fresh(id)
        }
    };
    let (code, passphrase) = (named(BY_CODE), named(BY_PASSPHRASE));
    let scanned = !asked.code.is_empty() && !returned.is_returned();
    let body = html! {
        h1 { "Come in" }
        p.lead { "This bench asks everybody on the network who they are." }
        section {
            h2 { "With a pairing code" }
            @if scanned { p { "The code was read. Say what this device is called, and come in." } }
            @else { p.quiet-text { "Who is in already has one made on the page “Pair a tablet” (" (urls::PAIR) "). It is good for five minutes, once." } }
            (code.problems())
            form method="post" action=(urls::ENTER) novalidate {
                (hidden(asked))
                div.fields {
                    (code.line("code", "Code").hint("as the bench shows it").holding(&asked.code).class("third").letters().draw())
                    (device(&code))
                }
                div.acts { button.first { "Come in with the code" } }
            }
        }
        section {
            h2 { "With your passphrase" }
            (passphrase.problems())
            form method="post" action=(urls::ENTER) novalidate {
                (hidden(asked))
                div.fields {
                    (passphrase.line("hand", "Your name").hint("as it stands in the journal").completing("username").class("third").draw())
                    (passphrase.typed("passphrase", "Passphrase", "password").hint("capitals and spaces count").completing("current-password").class("third").draw())
                    (device(&passphrase))
                }
                div.acts { button { "Come in with the passphrase" } }
            }
        }
        section {
            h2 { "Is this the right bench?" }
            p { "The first time, the browser warned that it does not know this bench’s certificate. Before you give a passphrase, let the browser show the certificate (at the lock or the warning beside the address) and compare its SHA-256 fingerprint, at least the first and the last four pairs, with the one that the bench’s own computer shows in its terminal and on its page “Pair a tablet”." }
            p { "This page cannot vouch for itself: only what stands on the bench’s own computer can. If they differ, close this page." }
        }
    };
    Page::new("Come in", body).bare()
}

fn hidden(asked: &Asked) -> Markup {
    html! { @if !asked.to.is_empty() { input type="hidden" name="to" value=(asked.to); } }
}

fn device(form: &Form) -> Markup {
    form.line("device", "This device is called")
        .hint("to know it by in the list")
        .holding("tablet at the bench")
        .class("third")
        .draw()
}

//! Pairing a tablet: a code to scan or to type, shown to somebody who is in.

use axum::extract::{Query, Request, State};
use axum::response::{IntoResponse, Redirect, Response};
use fettle_door::{BenchHand, Maker, PairingCode};
use jiff::ZonedDateTime;
use maud::{Markup, html};
use serde::Deserialize;

use super::network::Network;
use super::who::{self, Who};
use super::{hands, small_form};
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::state::AppState;
use crate::{code, urls};

const ID: &str = "pair";

/// Which of several addresses the code to scan holds.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    at: Option<usize>,
}

pub(crate) async fn show(
    State(state): State<AppState>,
    Query(asked): Query<Asked>,
) -> Result<Markup, PageError> {
    let page = page(&state, &asked, &Form::fresh(ID)).await?;
    Ok(state.draw(&page))
}

/// Has a code made. Over the network one pairs for oneself alone, and who found a tablet that is in must not pair their own
/// with it: the passphrase is asked for.
pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let from = who::sender(&request);
    let fields = small_form::read(request).await?;
    let now = state.now().timestamp();
    let who = Who::now();
    if state.network().is_none() {
        return Ok(Redirect::to(urls::PAIR).into_response());
    }
    let wrong = state
        .at_door(move |door| {
            let mut wrong = Wrong::default();
            let hand = match &who {
                Who::In(insider) => insider.hand.clone(),
                Who::Here | Who::Outside => fields.text("hand").to_owned(),
            };
            if who != Who::Here
                && let Some(why) = hands::not_by(door, &hand, &fields, from, now)?
            {
                wrong.note("present", why);
                return Ok(wrong);
            }
            door.open_code(&hand, maker(&who), now)?;
            Ok(wrong)
        })
        .await?;
    if wrong.is_empty() {
        return Ok(Redirect::to(urls::PAIR).into_response());
    }
    let form = Form::returned(ID, Fields::default(), wrong);
    let page = page(&state, &Asked::default(), &form).await?;
    Ok(state.answer(&page, true))
}

async fn page(state: &AppState, asked: &Asked, form: &Form) -> Result<Page, PageError> {
    let now = state.now();
    let who = Who::now();
    let (hands, open) = state
        .at_door({
            let (now, who) = (now.timestamp(), who.clone());
            move |door| Ok((door.hands()?, door.code_of(&maker(&who), now)))
        })
        .await?;
    let body = match state.network() {
        None => closed(),
        Some(_) if hands.is_empty() => nobody(),
        Some(network) => {
            let shown = Shown {
                network,
                hands: &hands,
                open: open.as_ref(),
                who: &who,
                now: &now,
                at: asked.at.unwrap_or(0),
                form,
            };
            shown.draw()?
        }
    };
    Ok(Page::new("Pair a tablet", body).about("lan"))
}

fn maker(who: &Who) -> Maker {
    match who {
        Who::In(insider) => Maker::Session(insider.session.clone()),
        Who::Here | Who::Outside => Maker::Here,
    }
}

fn closed() -> Markup {
    html! {
        h1 { "Pair a tablet" }
        p.lead { "This bench is open to its own computer alone. To use it from a tablet, end the program (Ctrl-C in its terminal) and start it with" }
        pre { "fettle serve --lan" }
        p { "Then this page shows a code for the tablet to scan." }
    }
}

fn nobody() -> Markup {
    html! {
        h1 { "Pair a tablet" }
        p.lead { "Nobody may come in yet: a tablet works in somebody’s name, which then stands in the journal." }
        div.acts { a.button.first href=(urls::HANDS) { "Add a bench-hand" } }
    }
}

struct Shown<'a> {
    network: &'a Network,
    hands: &'a [BenchHand],
    open: Option<&'a PairingCode>,
    who: &'a Who,
    now: &'a ZonedDateTime,
    at: usize,
    form: &'a Form,
}

impl Shown<'_> {
    fn draw(&self) -> Result<Markup, PageError> {
        let sites = self.network.sites();
        let Some(site) = sites.get(self.at).or_else(|| sites.first()) else {
            return Ok(html! {
                h1 { "Pair a tablet" }
                p.lead { "This computer has no address in a network just now. Join it to the network that the tablet is in, then load this page again." }
            });
        };
        Ok(html! {
            h1 { "Pair a tablet" }
            @match self.open {
                Some(open) => (self.code(open, site)?),
                None => p.lead { "A code lets one device in, once, within five minutes. The tablet must be in the same network as this computer." },
            }
            (self.form())
            @if sites.len() > 1 {
                section {
                    h2 { "This computer has several addresses" }
                    p { "If the tablet finds nothing at " (site) ", it is in another network: choose another address." }
                    ul.lines {
                        @for (n, other) in sites.iter().enumerate() {
                            li { a href={ (urls::PAIR) "?at=" (n) } aria-current=[(other == site).then_some("true")] { (other) } @if other == site { " – the one shown" } }
                        }
                    }
                }
            }
            (self.fingerprint())
        })
    }

    fn code(&self, open: &PairingCode, site: &str) -> Result<Markup, PageError> {
        let address = format!("{site}{}", urls::enter_with(&open.code));
        let until = open.until.to_zoned_datetime(self.now.time_zone().clone());
        Ok(html! {
            div.pairing {
                (code::draw(&address)?)
                div {
                    ol.numbered {
                        li { "Scan the code with the tablet’s camera, or open " strong.typed { (site) } " in its browser." }
                        li { "The browser warns once that it does not know the certificate. Compare the fingerprint below, then go on." }
                        li { "Type the code where it is asked for, unless it stands there already:" p.pairing-code { (open.code) } }
                    }
                    p { "The tablet comes in as " strong { bdi { (open.hand) } } ". The code is good once, until " strong { (until.strftime("%H:%M:%S")) } "." }
                    p.quiet-text { "Whoever sees this code can come in with it: show it to nobody else. When the tablet is in, it stands under " a href=(urls::HANDS) { "who is in" } "." }
                }
            }
        })
    }

    fn form(&self) -> Markup {
        let label = if self.open.is_some() {
            "Make another code"
        } else {
            "Make a code"
        };
        let class = if self.open.is_some() { "" } else { "first" };
        html! {
            (self.form.problems())
            form method="post" action=(urls::PAIR) novalidate {
                @if *self.who != Who::Here {
                    div.fields { (self.form.typed("present", "Your passphrase", "password").hint("so that a tablet that was left lying lets nobody else in").completing("current-password").class("third").draw()) }
                } @else {
                    div.fields {
                        div.field.third {
                            label for="hand" { "The tablet is used by" }
                            select id="hand" name="hand" {
                                @for hand in self.hands {
                                    option value=(hand.name) selected[self.open.is_some_and(|open| open.hand == hand.name)] { (hand.name) }
                                }
                            }
                        }
                    }
                }
                div.acts { button class=(class) { (label) } }
            }
        }
    }

    fn fingerprint(&self) -> Markup {
        html! {
            section {
                h2 { "The certificate’s fingerprint" }
                p { "The tablet’s browser shows it as SHA-256 when it is asked for the certificate. If it is another, something stands between the tablet and this bench: do not go on." }
                (fingerprint(self.network))
                p.quiet-text { "Good until " (crate::number::date(self.network.certificate().until().to_zoned_datetime(self.now.time_zone().clone()).date())) "; then another is made, with another fingerprint, and each tablet asks once more." }
                @if *self.who != Who::Here { p { strong { "You see this over the network. " } "What counts is what the bench’s own computer shows." } }
            }
        }
    }
}

/// The fingerprint in lines that can be compared by eye.
pub(super) fn fingerprint(network: &Network) -> Markup {
    let pairs: Vec<&str> = network.fingerprint().split(':').collect();
    html! {
        p.fingerprint translate="no" {
            @for line in pairs.chunks(8) { span { (line.join(":")) } " " }
        }
    }
}

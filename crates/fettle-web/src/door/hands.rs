//! Bench-hands who may come in over the network, and the sessions that stand.

use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use fettle_bench::Hand;
use fettle_door::{BenchHand, Door, DoorError, Passphrase, Refusal, SessionLine};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use maud::{Markup, html};

use super::small_form;
use super::who::{self, Who};
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::layout::Page;
use crate::state::AppState;
use crate::{number, urls};

pub(crate) async fn show(State(state): State<AppState>) -> Result<Markup, PageError> {
    let page = page(&state, Form::default()).await?;
    Ok(state.draw(&page))
}

/// What a form asks for.
enum Deed {
    Add,
    Passphrase,
    Remove,
    End,
}

impl Deed {
    fn of(fields: &Fields) -> Option<Self> {
        match fields.text("do") {
            "add" => Some(Self::Add),
            "passphrase" => Some(Self::Passphrase),
            "remove" => Some(Self::Remove),
            "end" => Some(Self::End),
            _ => None,
        }
    }
}

pub(crate) async fn act(
    State(state): State<AppState>,
    request: Request,
) -> Result<Response, PageError> {
    let from = who::sender(&request);
    let fields = small_form::read(request).await?;
    let who = Who::now();
    let Some(deed) = Deed::of(&fields) else {
        return Err(PageError::not_understood("This form is not known here.")
            .or(urls::HANDS, "Go to the bench-hands"));
    };
    // A tablet that was lost must not let others in: that is done at the bench's own computer.
    if matches!(deed, Deed::Add | Deed::Remove) && who != Who::Here {
        return Err(PageError::refused(
            "Bench-hands are added and removed at the bench’s own computer, on this same page there or with `fettle hands`.",
        )
        .or(urls::HANDS, "Go to the bench-hands"));
    }
    let now = state.now().timestamp();
    let sent = fields.clone();
    let by = who.clone();
    let wrong = state
        .at_door(move |door| {
            let mut wrong = Wrong::default();
            match deed {
                Deed::Add => add(door, &sent, now, &mut wrong)?,
                Deed::Passphrase => {
                    // At the bench's own computer the present one is not asked for.
                    let knows = match &by {
                        Who::In(insider) => Some(&insider.hand),
                        Who::Here | Who::Outside => None,
                    };
                    let named = knows
                        .cloned()
                        .unwrap_or_else(|| sent.text("hand").to_owned());
                    if let Some(hand) = knows
                        && let Some(why) = not_by(door, hand, &sent, from, now)?
                    {
                        wrong.note("present", why);
                    } else if let Some(passphrase) = new_passphrase(&sent, &mut wrong) {
                        door.change_passphrase(&named, &passphrase)?;
                    }
                }
                Deed::Remove => door.remove(sent.text("hand"))?,
                Deed::End => {
                    door.end(sent.text("session"))?;
                }
            }
            Ok(wrong)
        })
        .await?;
    if wrong.is_empty() {
        return leave_or_stay(&state, &who).await;
    }
    let id = fields.text("do").to_owned();
    let form = Form::returned(id, small_form::only(&fields, &["hand"]), wrong);
    let page = page(&state, form).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, state.draw(&page)).into_response())
}

/// Who ended the session of this device, or the passphrase that it began with, is outside now.
async fn leave_or_stay(state: &AppState, who: &Who) -> Result<Response, PageError> {
    if *who == Who::Here || state.is_still_in().await {
        return Ok(Redirect::to(urls::HANDS).into_response());
    }
    let mut response = Redirect::to(urls::ENTER).into_response();
    who::forget_session(&mut response);
    Ok(response)
}

fn add(door: &Door, sent: &Fields, now: Timestamp, wrong: &mut Wrong) -> Result<(), PageError> {
    let hand = Hand::checked(sent.text("hand"));
    if let Err(why) = &hand {
        wrong.note("hand", format!("the name {why}"));
    }
    let passphrase = new_passphrase(sent, wrong);
    let (Ok(hand), Some(passphrase)) = (hand, passphrase) else {
        return Ok(());
    };
    match door.add(hand.as_str(), &passphrase, now) {
        Err(error @ (DoorError::Taken(_) | DoorError::TooMany(_))) => {
            wrong.note("hand", error.to_string());
        }
        done => done?,
    }
    Ok(())
}

fn new_passphrase(sent: &Fields, wrong: &mut Wrong) -> Option<Passphrase> {
    if sent.text("passphrase") != sent.text("again") {
        wrong.note(
            "again",
            "the passphrase and its repetition differ: type both anew",
        );
        return None;
    }
    Passphrase::new(sent.text("passphrase"))
        .map_err(|error| wrong.note("passphrase", error.to_string()))
        .ok()
}

/// Why this is not the bench-hand's present passphrase; guessing is slowed as at the door.
pub(super) fn not_by(
    door: &Door,
    hand: &str,
    sent: &Fields,
    from: std::net::IpAddr,
    now: Timestamp,
) -> Result<Option<String>, PageError> {
    let present = Passphrase::typed(sent.text("present"));
    match door.knows(hand, &present, from, now) {
        Ok(()) => Ok(None),
        Err(Refusal::Wait(wait)) => Ok(Some(format!(
            "there were too many wrong tries: wait {}",
            number::count(
                usize::try_from(wait.as_secs() + 1).unwrap_or(1),
                "second",
                "seconds"
            )
        ))),
        Err(Refusal::Crowded) => Ok(Some(
            "many are trying just now: try again in a few seconds".to_owned(),
        )),
        Err(Refusal::Fault(error)) => Err(error.into()),
        Err(Refusal::WrongPassphrase | Refusal::WrongCode) => {
            Ok(Some("this is not your present passphrase".to_owned()))
        }
    }
}

async fn page(state: &AppState, returned: Form) -> Result<Page, PageError> {
    let now = state.now();
    let who = Who::now();
    let at = now.timestamp();
    let (hands, sessions) = state
        .at_door(move |door| Ok((door.hands()?, door.sessions(at)?)))
        .await?;
    let sheet = Sheet {
        hands: &hands,
        sessions: &sessions,
        who: &who,
        zone: now.time_zone(),
        returned: &returned,
        is_open: state.network().is_some(),
    };
    Ok(Page::new("Bench-hands", sheet.draw()).about("lan"))
}

struct Sheet<'a> {
    hands: &'a [BenchHand],
    sessions: &'a [SessionLine],
    who: &'a Who,
    zone: &'a TimeZone,
    returned: &'a Form,
    is_open: bool,
}

impl Sheet<'_> {
    fn draw(&self) -> Markup {
        html! {
            div.title-row {
                div {
                    h1 { "Bench-hands" }
                    p.sub { "Who may come in from the network, and who is in." }
                }
                div.acts { a.button href=(urls::PAIR) { "Pair a tablet" } }
            }
            @if !self.is_open { p { "This bench is open to its own computer alone just now; " code { "fettle serve --lan" } " opens it to its network." } }
            (self.in_now())
            @if *self.who == Who::Here { (self.may_come_in()) (self.new_hand()) } @else { (self.own_passphrase()) }
        }
    }

    fn moment(&self, at: Timestamp) -> String {
        number::moment(&at.to_zoned_datetime(self.zone.clone()))
    }

    fn in_now(&self) -> Markup {
        let own = match self.who {
            Who::In(insider) => Some(insider.session.as_str()),
            Who::Here | Who::Outside => None,
        };
        html! {
            section {
                h2 { "Who is in" }
                @if self.sessions.is_empty() { p.empty { "Nobody has come in from the network." } }
                @else {
                    div.table-wrap { table {
                        thead { tr { th { "Device" } th { "Bench-hand" } th { "In since" } th { "Last seen" } th { span.unseen { "End it" } } } }
                        tbody { @for line in self.sessions { tr {
                            th scope="row" { (line.device) @if own == Some(line.name.as_str()) { " " span.aside { "– this one" } } }
                            td { bdi { (line.hand) } }
                            td { (self.moment(line.since)) }
                            td { (self.moment(line.seen)) }
                            td.row-acts {
                                form method="post" action=(urls::HANDS) {
                                    input type="hidden" name="do" value="end";
                                    input type="hidden" name="session" value=(line.name);
                                    button aria-label={ "End the session of " (line.device) ", " (line.hand) } { @if own == Some(line.name.as_str()) { "Leave" } @else { "End" } }
                                }
                            }
                        } } }
                    } }
                    p.quiet-text { "A session ends by itself when it is not used for 30 days, and after a year. End it when a tablet is lost or given away: what it was doing stops within seconds." }
                }
            }
        }
    }

    fn may_come_in(&self) -> Markup {
        html! {
            section {
                h2 { "Who may come in" }
                @if self.hands.is_empty() { p.empty { "Nobody yet. Add yourself below, then pair a tablet." } }
                ul.lines { @for (n, hand) in self.hands.iter().enumerate() { li {
                    div.row {
                        div { span.what { bdi { (hand.name) } } div.aside { "since " (self.moment(hand.since)) } }
                        div.act {
                            details.more { summary { "Change or remove" }
                                (self.change(n, hand))
                                form method="post" action=(urls::HANDS) {
                                    input type="hidden" name="do" value="remove";
                                    input type="hidden" name="hand" value=(hand.name);
                                    p.quiet-text { "Removed, " (hand.name) " comes in no more and every session ends. What was written in the journal stays." }
                                    button { "Remove " (hand.name) }
                                }
                            }
                        }
                    }
                } } }
            }
        }
    }

    fn change(&self, n: usize, hand: &BenchHand) -> Markup {
        let is_this =
            self.returned.id() == "passphrase" && self.returned.value("hand", "") == hand.name;
        let form = if is_this {
            self.returned.clone()
        } else {
            Form::fresh(format!("passphrase-{n}"))
        };
        html! {
            (form.problems())
            form method="post" action=(urls::HANDS) novalidate {
                input type="hidden" name="do" value="passphrase";
                input type="hidden" name="hand" value=(hand.name);
                (twice(&form, &format!("New passphrase of {}", hand.name)))
                div.acts { button { "Change the passphrase" } span.quiet-text { "ends every session of " (hand.name) } }
            }
        }
    }

    fn named(&self, id: &str) -> Form {
        if self.returned.id() == id {
            self.returned.clone()
        } else {
            Form::fresh(id)
        }
    }

    fn new_hand(&self) -> Markup {
        let form = self.named("add");
        html! {
            section {
                h2 { "Add a bench-hand" }
                (form.problems())
                form method="post" action=(urls::HANDS) novalidate {
                    input type="hidden" name="do" value="add";
                    div.fields { (form.line("hand", "Name").hint("as it is to stand in the journal").needed().completing("username").class("third").draw()) }
                    (twice(&form, "Passphrase"))
                    div.acts { button.first { "Add" } }
                }
            }
        }
    }

    fn own_passphrase(&self) -> Markup {
        let form = self.named("passphrase");
        html! {
            section {
                h2 { "Your passphrase" }
                (form.problems())
                form method="post" action=(urls::HANDS) novalidate {
                    input type="hidden" name="do" value="passphrase";
                    div.fields { (form.typed("present", "Present passphrase", "password").completing("current-password").class("third").draw()) }
                    (twice(&form, "New passphrase"))
                    div.acts { button { "Change the passphrase" } span.quiet-text { "ends every session of yours, this one too" } }
                }
                p.quiet-text { "Bench-hands are added and removed at the bench’s own computer." }
            }
        }
    }
}

/// A passphrase and its repetition.
fn twice(form: &Form, label: &str) -> Markup {
    html! {
        div.fields {
            (form.typed("passphrase", label, "password").hint("at least 15 letters: four or five words that do not belong together").completing("new-password").needed().draw())
            (form.typed("again", "The same again", "password").hint("so that a slip of a finger shuts nobody out").completing("new-password").needed().draw())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_known_deeds_are_done() {
        let of = |word: &str| Deed::of(&Fields::new(vec![("do".to_owned(), word.to_owned())]));
        assert!(matches!(of("end"), Some(Deed::End)));
        assert!(of("").is_none());
        assert!(of("drop").is_none());
    }
}

//! Looked over: the signs of the service notes, own observations, earlier hands, circumstances.

use fettle_bench::{
    Change, CircumstanceKnown, EarlierHandsNoted, Instrument, Seen, SignObserved, Stage,
    StageMoved, Term,
};
use fettle_notes::{ServiceNotes, Sign, SignId};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::readings;
use super::section::Section;
use super::suggested;
use super::to_notes;
use crate::form::{Altered, Form, Wrong};
use crate::upload::Upload;
use crate::{named, number, urls};

pub(crate) fn result(context: &Context<'_>) -> String {
    let seen = |want: Seen| {
        context
            .view
            .signs
            .iter()
            .filter(|kept| kept.what.seen == want)
            .count()
    };
    let (there, not_there) = (seen(Seen::Yes), seen(Seen::No));
    if there + not_there == 0 {
        return if context.view.line.stage == Stage::Arrived {
            "try every function before a screw is turned".to_owned()
        } else {
            "nothing noted".to_owned()
        };
    }
    format!(
        "{} seen, {not_there} looked for and not there",
        number::count(there, "sign", "signs")
    )
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    html! {
        (suggested::draw(context))
        (as_it_came(context))
        @if let Some(notes) = context.notes() {
            (signs_form(context, notes))
            (circumstances_form(context, notes))
        } @else {
            p.quiet-text { "There are no service notes for this model, so there is no list of questions. Note what you observe in your own words." }
        }
        (own(context))
        (earlier(context))
        @if context.view.line.stage == Stage::Arrived {
            (go_on(context, Stage::LookedOver, "Looked over: go on to the cause"))
        }
    }
}

/// The way to the shutter instrument, until its exposure times were read: what they show are signs too.
fn as_it_came(context: &Context<'_>) -> Markup {
    let is_read = context
        .view
        .readings
        .iter()
        .any(|reading| reading.what.instrument == Instrument::Shutter);
    let limit = context.notes().and_then(ServiceNotes::shutter_limit);
    let proof = urls::visit_at(context.visit(), Some(Section::Proof.id()), None);
    let at = match limit {
        Some((id, _)) => urls::at_place(&proof, &readings::place(Some(id.as_str()))),
        None => proof,
    };
    html! {
        @if !is_read && context.is_open(Section::LookedOver) {
            p { a.button href=(at) { "Measure its exposure times as it came" } }
        }
    }
}

/// A button that moves the visit on: the next thing to do.
pub(crate) fn go_on(context: &Context<'_>, to: Stage, label: &str) -> Markup {
    go(context, to, label, "next")
}

/// A button that moves the visit another way than the usual.
pub(crate) fn go_aside(context: &Context<'_>, to: Stage, label: &str) -> Markup {
    go(context, to, label, "")
}

fn go(context: &Context<'_>, to: Stage, label: &str, class: &str) -> Markup {
    let form = context.form_named(&format!("go-to-{}", to.as_str()));
    context.around(
        Deed::Stage,
        &form,
        &html! {
            input type="hidden" name="to" value=(to.as_str());
            div.acts { button class=(class) { (label) } }
        },
    )
}

/// Groups of signs by where they are seen, in the order of the notes.
fn groups(notes: &ServiceNotes) -> Vec<(&str, Vec<(&SignId, &Sign)>)> {
    let mut groups: Vec<(&str, Vec<(&SignId, &Sign)>)> = Vec::new();
    for (id, sign) in notes.signs.iter() {
        match groups.iter_mut().find(|(at, _)| *at == sign.at) {
            Some((_, signs)) => signs.push((id, sign)),
            None => groups.push((&sign.at, vec![(id, sign)])),
        }
    }
    groups
}

fn answer_of(context: &Context<'_>, id: &str) -> Option<Seen> {
    let kept = context
        .view
        .signs
        .iter()
        .rev()
        .find(|kept| kept.what.sign.id.as_deref() == Some(id));
    kept.map(|kept| kept.what.seen)
}

fn signs_form(context: &Context<'_>, notes: &ServiceNotes) -> Markup {
    let form = context
        .form(Deed::Signs)
        .caught_up(notes.signs.iter().map(|(id, _)| {
            let now = answer_of(context, id.as_str()).unwrap_or(Seen::NotLooked);
            (format!("sign.{id}"), now.as_str())
        }));
    html! {
        section {
            h3 { "Signs" }
            (context.around(Deed::Signs, &form, &html! {
                @for (at, signs) in groups(notes) {
                    div.group {
                        h4 { (at) }
                        ul.questions {
                            @for (id, sign) in signs { (sign_row(context, notes, &form, id, sign)) }
                        }
                    }
                }
                div.acts { button.first { "Save all answers" } }
            }))
        }
    }
}

fn sign_row(
    context: &Context<'_>,
    notes: &ServiceNotes,
    form: &Form,
    id: &SignId,
    sign: &Sign,
) -> Markup {
    let name = format!("sign.{id}");
    let answer = answer_of(context, id.as_str());
    html! {
        li {
            fieldset id=(form.field_id(&name)) {
                legend {
                    span.said[answer.is_some_and(|seen| seen != Seen::NotLooked)] { (sign.question) }
                    @if !sign.needs_apart.is_empty() { span.aside { " – needs off: " (named::parts(notes, &sign.needs_apart)) } }
                }
                (form.error(&name))
                div.answers { (answers(form, &name, answer)) button.quiet name="only" value=(id) { "Save" span.unseen { " this answer: " (sign.question) } } }
            }
        }
    }
}

fn answer_label(seen: Seen) -> &'static str {
    match seen {
        Seen::Yes => "yes",
        Seen::No => "no",
        Seen::NotLooked => "not looked",
    }
}

fn known_label(known: Seen) -> &'static str {
    match known {
        Seen::NotLooked => "not known",
        known => answer_label(known),
    }
}

fn answers(form: &Form, name: &str, answer: Option<Seen>) -> Markup {
    let otherwise = answer.unwrap_or(Seen::NotLooked).as_str();
    html! {
        (form.was(name, otherwise))
        (form.radio(name, Seen::Yes.as_str(), answer_label(Seen::Yes), otherwise))
        (form.radio(name, Seen::No.as_str(), answer_label(Seen::No), otherwise))
        (form.radio(name, Seen::NotLooked.as_str(), answer_label(Seen::NotLooked), otherwise))
    }
}

pub(crate) fn signs(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let mut changes = Vec::new();
    let only = sent.fields.some("only");
    let Some(notes) = context.notes() else {
        wrong.note(
            "",
            "there are no service notes for this model; write the observation in your own words",
        );
        return Err(wrong);
    };
    for (id, text) in sent.fields.under("sign.") {
        if only.as_deref().is_some_and(|only| only != id) {
            continue;
        }
        let (Some(sign), Some(seen)) = (notes.signs.get(id), Seen::from_text(text)) else {
            wrong.note(
                format!("sign.{id}"),
                format!("the notes have no sign “{id}” with the answer “{text}”"),
            );
            continue;
        };
        let field = format!("sign.{id}");
        let now = answer_of(context, id).unwrap_or(Seen::NotLooked);
        let altered = sent.fields.altered(&field, now.as_str());
        if altered == Altered::Meanwhile {
            wrong.meanwhile(&field, answer_label(now));
        } else if altered != Altered::No {
            let sign = Term::known(id, &sign.question);
            let (numbers, note) = (Vec::new(), String::new());
            changes.push(
                SignObserved {
                    visit: context.visit(),
                    sign,
                    seen,
                    numbers,
                    note,
                }
                .into(),
            );
        }
    }
    or_wrong(changes, wrong)
}

fn circumstances_form(context: &Context<'_>, notes: &ServiceNotes) -> Markup {
    let form = context
        .form(Deed::Circumstances)
        .caught_up(notes.circumstances.iter().map(|(id, _)| {
            let now = known_of(context, id.as_str()).unwrap_or(Seen::NotLooked);
            (format!("circumstance.{id}"), now.as_str())
        }));
    html! {
        section {
            h3 { "Circumstances" }
            p.quiet-text { "What its owner can tell, and what made faults likely." }
            (context.around(Deed::Circumstances, &form, &html! {
                ul.questions {
                    @for (id, circumstance) in notes.circumstances.iter() {
                        li {
                            fieldset id=(form.field_id(&format!("circumstance.{id}"))) {
                                legend { (circumstance.question) }
                                (form.error(&format!("circumstance.{id}")))
                                div.answers { (known_answers(&form, &format!("circumstance.{id}"), known_of(context, id.as_str()))) }
                            }
                        }
                    }
                }
                div.acts { button { "Save the circumstances" } }
            }))
        }
    }
}

fn known_answers(form: &Form, name: &str, known: Option<Seen>) -> Markup {
    let otherwise = known.unwrap_or(Seen::NotLooked).as_str();
    html! {
        (form.was(name, otherwise))
        (form.radio(name, Seen::Yes.as_str(), known_label(Seen::Yes), otherwise))
        (form.radio(name, Seen::No.as_str(), known_label(Seen::No), otherwise))
        (form.radio(name, Seen::NotLooked.as_str(), known_label(Seen::NotLooked), otherwise))
    }
}

fn known_of(context: &Context<'_>, id: &str) -> Option<Seen> {
    let kept = context
        .view
        .circumstances
        .iter()
        .rev()
        .find(|kept| kept.what.circumstance.id.as_deref() == Some(id));
    kept.map(|kept| kept.what.known)
}

pub(crate) fn circumstances(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let mut changes = Vec::new();
    for (id, text) in sent.fields.under("circumstance.") {
        let circumstance = context
            .notes()
            .and_then(|notes| notes.circumstances.get(id));
        let (Some(circumstance), Some(known)) = (circumstance, Seen::from_text(text)) else {
            wrong.note(
                format!("circumstance.{id}"),
                format!("the notes have no circumstance “{id}” with the answer “{text}”"),
            );
            continue;
        };
        let field = format!("circumstance.{id}");
        let now = known_of(context, id).unwrap_or(Seen::NotLooked);
        let altered = sent.fields.altered(&field, now.as_str());
        if altered == Altered::Meanwhile {
            wrong.meanwhile(&field, known_label(now));
        } else if altered != Altered::No {
            let circumstance = Term::known(id, &circumstance.name);
            let (visit, note) = (context.visit(), String::new());
            changes.push(
                CircumstanceKnown {
                    visit,
                    circumstance,
                    known,
                    note,
                }
                .into(),
            );
        }
    }
    or_wrong(changes, wrong)
}

fn own(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::OwnSign);
    html! {
        section {
            h3 { "Observed beside these" }
            ul.lines {
                @for kept in context.view.signs.iter().filter(|kept| kept.what.sign.id.is_none()) {
                    li { div.row {
                        span { (kept.what.sign) ": " strong { (kept.what.seen) } @if !kept.what.note.is_empty() { " – " (kept.what.note) } }
                        (context.undo_kept(kept, Section::LookedOver))
                    }
                    @if let Some(notes) = context.notes() { (to_notes::offer_sign(context, notes, kept)) } }
                }
            }
            (context.around(Deed::OwnSign, &form, &html! {
                div.fields {
                    (form.line("what", "Observation, in your own words").draw())
                    (form.line("note", "Note").draw())
                }
                div.acts { button { "Note the observation" } }
            }))
        }
    }
}

pub(crate) fn own_sign(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let what = wrong.needed(&sent.fields, "what", "the observation");
    let observed = SignObserved {
        visit: context.visit(),
        sign: Term::own(what),
        seen: Seen::Yes,
        numbers: Vec::new(),
        note: sent.fields.text("note").to_owned(),
    };
    or_wrong(vec![observed.into()], wrong)
}

fn earlier(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::EarlierHands);
    html! {
        section {
            h3 { "Earlier hands" }
            p.quiet-text { "Traces of previous repair: a burred nut, thread locker, screws changed over. They forewarn of mistakes of assembly." }
            ul.lines {
                @for kept in &context.view.earlier_hands {
                    li { div.row {
                        span { (kept.what.what) @if !kept.what.at.is_empty() { span.aside { " – " (kept.what.at) } } }
                        (context.undo_kept(kept, Section::LookedOver))
                    } }
                }
            }
            (context.around(Deed::EarlierHands, &form, &html! {
                div.fields {
                    (form.line("what", "What was seen").draw())
                    (form.line("at", "Where on the camera").draw())
                }
                div.acts { button { "Note the trace" } }
            }))
        }
    }
}

pub(crate) fn earlier_hands(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let what = wrong.needed(&sent.fields, "what", "what was seen");
    let at = sent.fields.text("at").to_owned();
    or_wrong(
        vec![
            EarlierHandsNoted {
                visit: context.visit(),
                at,
                what,
            }
            .into(),
        ],
        wrong,
    )
}

/// The change that moves the visit to a stage, without a note.
pub(crate) fn moved(context: &Context<'_>, to: Stage) -> Change {
    StageMoved {
        visit: context.visit(),
        to,
        note: String::new(),
    }
    .into()
}

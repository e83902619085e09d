//! What a reading of exposure times suggests: signs to be answered with one press, never by themselves.

use fettle_bench::{
    Change, Instrument, Phase, Reading, Seen, SignObserved, Term, finding_in_words, shutter_report,
};
use fettle_reason::{Shown, suggested as of_notes};
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use crate::error::sentence;
use crate::form::Wrong;
use crate::patterns;
use crate::upload::Upload;

/// A sign that the reading suggests.
struct Suggestion {
    /// The sign's id, or `own.` and the place of the pattern for one that the notes do not know.
    key: String,
    sign: Term,
    /// The figure that suggests it.
    because: String,
    answered: Option<Seen>,
}

/// The last reading of exposure times from before the work: what came after says how the repair went.
fn reading<'a>(context: &'a Context<'_>) -> Option<&'a Reading> {
    let is_wanted = |reading: &&Reading| {
        reading.what.instrument == Instrument::Shutter && reading.what.phase == Phase::Before
    };
    context.view.readings.iter().rev().find(is_wanted)
}

fn suggestions(context: &Context<'_>, reading: &Reading) -> Vec<Suggestion> {
    let Ok(Some(report)) = shutter_report(&reading.what) else {
        return Vec::new();
    };
    let (words, shown): (Vec<String>, Vec<Shown>) = report
        .findings
        .iter()
        .filter_map(|finding| Some((finding_in_words(finding), patterns::shown(finding)?)))
        .unzip();
    let mut found = Vec::new();
    let mut told = vec![false; shown.len()];
    let answered = |is_it: &dyn Fn(&Term) -> bool| {
        let signs = context.view.signs.iter().rev();
        signs
            .map(|kept| &kept.what)
            .find(|what| is_it(&what.sign))
            .map(|what| what.seen)
    };
    for it in context
        .notes()
        .map(|notes| of_notes(notes, &shown))
        .unwrap_or_default()
    {
        if let Some(told) = told.get_mut(it.by) {
            *told = true;
        }
        let id = it.sign.as_str();
        found.push(Suggestion {
            key: id.to_owned(),
            sign: Term::known(id, &it.what.question),
            because: words.get(it.by).cloned().unwrap_or_default(),
            answered: answered(&|sign| sign.id.as_deref() == Some(id)),
        });
    }
    for (place, ((because, shown), told)) in words.iter().zip(&shown).zip(told).enumerate() {
        let own = patterns::in_words(shown.pattern);
        if !told {
            found.push(Suggestion {
                key: format!("own.{place}"),
                sign: Term::own(own.to_owned()),
                because: because.clone(),
                answered: answered(&|sign| sign.id.is_none() && sign.words == own),
            });
        }
    }
    found
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let found = reading(context)
        .map(|reading| suggestions(context, reading))
        .unwrap_or_default();
    html! {
        @if !found.is_empty() {
            section id="suggested" {
                h3 { "What the reading of exposure times suggests" }
                p.quiet-text { "Nothing is answered until you press." }
                ul.lines { @for it in &found { li { (row(context, it)) } } }
            }
        }
    }
}

fn row(context: &Context<'_>, it: &Suggestion) -> Markup {
    let form = context.form_keyed(Deed::Suggested, &it.key);
    let known = it.sign.id.is_some();
    html! {
        div.row {
            span {
                span.what { (sentence(&it.sign.words)) }
                div.aside { (sentence(&it.because)) }
            }
            @match it.answered {
                Some(Seen::Yes) => span.said { @if known { "answered: yes" } @else { "noted" } },
                answered => {
                    span {
                        @if answered == Some(Seen::No) { span.aside { "answered: no " } }
                        (context.around(Deed::Suggested, &form, &html! {
                            input type="hidden" name="suggestion" value=(it.key);
                            button {
                                @if known { "Answer yes" } @else { "Note it" }
                                span.unseen { ": " (it.sign.words) }
                            }
                        }))
                    }
                }
            }
        }
    }
}

/// Answers the sign as suggested, with the figure as its note.
pub(crate) fn suggested(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let key = sent.fields.text("suggestion");
    let found = reading(context)
        .map(|reading| suggestions(context, reading))
        .unwrap_or_default();
    let Some(it) = found.into_iter().find(|it| it.key == key) else {
        wrong.note(
            "",
            "the reading no longer suggests this sign; reload the page and look again",
        );
        return Err(wrong);
    };
    if it.answered == Some(Seen::Yes) {
        return Ok(Vec::new());
    }
    let observed = SignObserved {
        visit: context.visit(),
        sign: it.sign,
        seen: Seen::Yes,
        numbers: Vec::new(),
        note: it.because,
    };
    or_wrong(vec![observed.into()], wrong)
}

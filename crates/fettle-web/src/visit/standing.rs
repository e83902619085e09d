//! The forms at the head and foot of the page: stage, waiting, notes, photographs.

use fettle_bench::{
    About, Change, NoteWritten, Stage, StageMoved, WaitFor, WaitId, WaitingBegun, WaitingEnded,
};

use super::context::{Context, or_wrong};
use crate::form::Wrong;
use crate::upload::Upload;

pub(crate) fn stage(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let Some(to) = Stage::from_text(sent.fields.text("to")) else {
        wrong.note("to", "choose a stage from the list");
        return Err(wrong);
    };
    let note = sent.fields.text("note").to_owned();
    Ok(vec![
        StageMoved {
            visit: context.visit(),
            to,
            note,
        }
        .into(),
    ])
}

pub(crate) fn wait(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let Some(wait_for) = WaitFor::from_text(sent.fields.text("wait_for")) else {
        wrong.note("wait_for", "choose what it waits for");
        return Err(wrong);
    };
    let what = sent.fields.text("what").to_owned();
    Ok(vec![
        WaitingBegun {
            visit: context.visit(),
            wait_for,
            what,
        }
        .into(),
    ])
}

pub(crate) fn came(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let Ok(wait) = sent.fields.text("wait").parse::<i64>() else {
        wrong.note("", "the form does not say what came");
        return Err(wrong);
    };
    let note = sent.fields.text("note").to_owned();
    Ok(vec![
        WaitingEnded {
            visit: context.visit(),
            wait: WaitId::new(wait),
            note,
        }
        .into(),
    ])
}

pub(crate) fn note(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let text = wrong.needed(&sent.fields, "text", "the note");
    or_wrong(
        vec![
            NoteWritten {
                about: About::Visit(context.visit()),
                text,
            }
            .into(),
        ],
        wrong,
    )
}

pub(crate) fn photos(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = sent.wrong.clone();
    let changes = context.keep_photos(sent, &mut wrong);
    if changes.is_empty() && wrong.is_empty() {
        wrong.note("photo", "choose at least one photograph");
    }
    or_wrong(changes, wrong)
}

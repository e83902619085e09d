//! Teeth in a visit: a photograph against a limit of the service notes, kept with its report, and the sign that it answers.

use fettle_bench::{
    Change, InstrumentReport, Phase, Reading, Seen, SignObserved, Term, instrument_report,
    teeth_options, teeth_reading,
};
use fettle_measure::teeth::Report;
use fettle_notes::{Limit, LimitId, TeethLimit};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use super::readings;
use crate::error::sentence;
use crate::form::Wrong;
use crate::instrument::teeth;
use crate::number;
use crate::upload::Upload;
use crate::urls;

/// The form that takes a photograph against one limit.
pub(crate) fn form(context: &Context<'_>, id: &LimitId, limit: &TeethLimit) -> Markup {
    let form = context.form_keyed(Deed::Teeth, id.as_str());
    let count = limit
        .teeth
        .map_or_else(String::new, |teeth| format!(", {teeth} teeth"));
    let fields = html! {
        input type="hidden" name="limit" value=(id);
        p.quiet-text { (teeth::HOW) " Pitch " (number::figure(limit.pitch_mm, None, "mm")) (count) " by the notes." }
        (readings::phases(context, &form))
        div.fields {
            (teeth::file(&form, "photo", "Photograph", "JPEG, PNG or WebP, at most 40 MB"))
            (form.line("teeth", "Whole teeth in sight").hint("when it is not all of them; empty: as the notes say").class("third").draw())
            (form.line("method", "How it was taken").hint("lens, light, distance").class("wide").draw())
        }
        div.acts { button.first { "Measure the teeth and keep it" span.unseen { ": " (limit.name) } } }
    };
    html! {
        details.more open[form.is_returned()] {
            summary { "Photograph the teeth" }
            (context.around_files(Deed::Teeth, &form, &fields))
        }
    }
}

/// The photograph, its reading and the sign that it answers, in one go.
pub(crate) fn teeth(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = sent.wrong.clone();
    let id = sent.fields.text("limit");
    let limit = context.notes().and_then(|notes| notes.limits.get(id));
    let Some(Limit::Teeth(limit)) = limit else {
        wrong.note(
            "",
            format!("the service notes have no limit “{id}” for teeth"),
        );
        return Err(wrong);
    };
    let phase = readings::phase(&sent.fields, &mut wrong);
    let mut options = teeth_options(limit);
    if !sent.fields.text("teeth").is_empty() {
        options.teeth = wrong.whole(&sent.fields, "teeth", "the count of teeth");
    }
    let Some(photo) = sent.files.iter().find(|file| file.field == "photo") else {
        wrong.note("photo", "choose a photograph");
        return Err(wrong);
    };
    let report = context
        .bench
        .decoding(|| teeth::measured(photo, &options, "photo", &mut wrong));
    let (Some(report), Some(phase), true) = (report, phase, wrong.is_empty()) else {
        return Err(wrong);
    };
    kept(
        context,
        limit,
        id,
        phase,
        &report,
        photo.bytes.as_slice(),
        sent.fields.text("method"),
    )
    .map_err(|message| {
        wrong.note("photo", message);
        wrong
    })
}

fn kept(
    context: &Context<'_>,
    limit: &TeethLimit,
    id: &str,
    phase: Phase,
    report: &Report,
    photo: &[u8],
    method: &str,
) -> Result<Vec<Change>, String> {
    let visit = context.visit();
    let stage = context.view.line.stage;
    let attached = context
        .bench
        .keep_photo(visit, stage, &limit.name, photo)
        .map_err(|error| error.to_string())?;
    let Change::PhotoAttached(file) = &attached else {
        return Err("the photograph was not kept; send it again".to_owned());
    };
    let hash = file.file.hash.clone();
    let mut reading =
        teeth_reading(visit, phase, report, &hash, Some(id)).map_err(|error| error.to_string())?;
    if !method.is_empty() {
        reading.method = format!("{method}; {}", reading.method);
    }
    let sign = answered(context, limit, phase, report);
    Ok([Some(attached), Some(reading.into()), sign]
        .into_iter()
        .flatten()
        .collect())
}

/// Worn or missing teeth answer the sign with yes; sound ones with no where all are in sight and told from one another. After the work
/// it is no sign any more.
fn answered(
    context: &Context<'_>,
    limit: &TeethLimit,
    phase: Phase,
    report: &Report,
) -> Option<Change> {
    let id = limit.sign.as_ref().filter(|_| phase == Phase::Before)?;
    let sign = context.notes()?.signs.get(id)?;
    let counts = &report.counts;
    let seen = match (counts.worn + counts.missing, counts.undecided) {
        (1.., _) => Seen::Yes,
        (0, 0) if report.tells_of_all(limit.teeth) => Seen::No,
        _ => return None,
    };
    Some(
        SignObserved {
            visit: context.visit(),
            sign: Term::known(id.as_str(), &sign.question),
            seen,
            numbers: Vec::new(),
            note: format!(
                "from the photograph: {} of {} teeth worn or missing",
                counts.worn + counts.missing,
                report.teeth.len()
            ),
        }
        .into(),
    )
}

/// The teeth of a reading, on their photograph.
pub(crate) fn drawn(context: &Context<'_>, reading: &Reading) -> Markup {
    match instrument_report(&reading.what) {
        Ok(Some(InstrumentReport::Teeth(kept))) => {
            let photo = context
                .view
                .photos
                .iter()
                .find(|photo| photo.what.file.hash == kept.photo);
            let href = photo.map(|photo| urls::photo(photo.id, "display"));
            html! {
                h4 { (sentence(reading.what.phase.as_str())) }
                (teeth::result(&kept.report, href.as_deref()))
            }
        }
        Ok(_) => html! {},
        Err(error) => html! { p.quiet-text { (sentence(&error.to_string())) } },
    }
}

//! Teeth in a visit: a photograph against a limit of the service notes, kept with its report, and the sign that it answers.

use fettle_bench::{
    Change, InstrumentReport, Phase, Reading, Seen, SignObserved, Term, instrument_report,
    teeth_options, teeth_reading,
};
use fettle_measure::photograph::Picture;
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
    context.bench.decoding(|| {
        let picture = teeth::decoded(photo, "photo", &mut wrong);
        let report = picture
            .as_ref()
            .and_then(|picture| teeth::measured(picture, &options, "photo", &mut wrong));
        let (Some(picture), Some(report), Some(phase), true) =
            (picture, report, phase, wrong.is_empty())
        else {
            return Err(wrong);
        };
        let kept = Kept {
            limit,
            id,
            phase,
            report: &report,
            picture: &picture,
            photo: &photo.bytes,
        };
        kept.changes(context, sent.fields.text("method"))
            .map_err(|message| {
                wrong.note("photo", message);
                wrong
            })
    })
}

/// A photograph that was measured, as it is kept.
struct Kept<'a> {
    limit: &'a TeethLimit,
    id: &'a str,
    phase: Phase,
    report: &'a Report,
    picture: &'a Picture,
    photo: &'a [u8],
}

impl Kept<'_> {
    fn changes(&self, context: &Context<'_>, method: &str) -> Result<Vec<Change>, String> {
        let visit = context.visit();
        let stage = context.view.line.stage;
        let attached = context
            .bench
            .keep_picture(visit, stage, &self.limit.name, self.photo, self.picture)
            .map_err(|error| error.to_string())?;
        let Change::PhotoAttached(file) = &attached else {
            return Err("the photograph was not kept; send it again".to_owned());
        };
        let hash = file.file.hash.clone();
        let mut reading = teeth_reading(visit, self.phase, self.report, &hash, Some(self.id))
            .map_err(|error| error.to_string())?;
        if !method.is_empty() {
            reading.method = format!("{method}; {}", reading.method);
        }
        let sign = answered(context, self.limit, self.phase, self.report);
        Ok([Some(attached), Some(reading.into()), sign]
            .into_iter()
            .flatten()
            .collect())
    }
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

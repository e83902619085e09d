//! Trimming a setting: trials so far, the next turn that the adviser proposes, and the form for the next trial.

use fettle_bench::{
    Change, Lessons, Term, TrialMade, TrialReading, TrimReading, Turned, trials_of, trim_readings,
    trim_state,
};
use fettle_draw::{Sheet, trim_chart};
use fettle_measure::trim::{self, Advice, State};
use fettle_notes::{ServiceNotes, Setting, SettingId};
use maud::{Markup, PreEscaped, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::section::Section;
use crate::error::sentence;
use crate::form::{Form, Wrong};
use crate::number;
use crate::upload::Upload;

/// One reading repeats to this part of what is allowed, until the mechanic says otherwise.
const REPEATS: f64 = 0.1;

/// The trials of a setting with the next one to make; nothing where the notes give nothing to turn.
pub(crate) fn draw(
    context: &Context<'_>,
    notes: &ServiceNotes,
    id: &SettingId,
    setting: &Setting,
    lessons: Option<&Lessons>,
) -> Markup {
    let readings = trim_readings(notes, setting);
    // The advice takes its time to work out, and nobody reads it in a folded stretch.
    if readings.is_empty() || !context.is_open(Section::Proof) {
        return html! {};
    }
    let trials = trials_of(&context.view, id);
    let form = context.form_keyed(Deed::Trial, id.as_str());
    let state = trim_state(notes, id, setting, &trials, lessons);
    let settled = is_settled(context, id);
    // What is settled needs no advice, which takes its time to work out.
    let advised = state
        .as_ref()
        .map(|state| (state, (!settled).then(|| trim::advise(state))));
    let advice = advised
        .as_ref()
        .and_then(|(state, advice)| Some((*state, advice.as_ref()?.as_ref().ok()?)));
    html! {
        details.more open[form.is_returned() || (!trials.is_empty() && !settled)] {
            summary { "Trim it" @if !trials.is_empty() { ": " (number::count(trials.len() - 1, "trial", "trials")) } }
            @match &advised {
                None => p.quiet-text { "Read it as it stands, before anything is turned. The next turn is then worked out from the notes’ effects, and better after each trial." },
                Some((state, advice)) => {
                    (table(state, setting))
                    @match advice {
                        None => p.quiet-text { "It was proved to hold since." },
                        Some(Err(error)) => p.error { (sentence(&error.to_string())) },
                        Some(Ok(advice)) => {
                            div.chart { (PreEscaped(trim_chart(state, advice, Sheet::Inherit))) }
                            (next(state, advice))
                        }
                    }
                },
            }
            (asked(context, &form, id, setting, &readings, advice, trials.last().copied()))
        }
    }
}

/// Whether a setting was proved to hold after its last trial.
fn is_settled(context: &Context<'_>, id: &SettingId) -> bool {
    let is_it = |setting: &Term| setting.id.as_deref() == Some(id.as_str());
    let proved = context.view.settings.iter().rev();
    let mut proved = proved.filter(|kept| is_it(&kept.what.setting));
    let tried = context.view.trials.iter().rev();
    let mut tried = tried.filter(|kept| is_it(&kept.what.setting));
    proved.next().is_some_and(|proved| {
        proved.what.held && tried.next().is_none_or(|tried| tried.entry < proved.entry)
    })
}

/// Whether a setting was read or its form came back.
pub(crate) fn is_begun(context: &Context<'_>, id: &SettingId) -> bool {
    let form = context.form_keyed(Deed::Trial, id.as_str());
    form.is_returned() || !trials_of(&context.view, id).is_empty()
}

fn table(state: &State, setting: &Setting) -> Markup {
    html! {
        div.table-wrap { table {
            thead { tr {
                th.num { "Trial" }
                @for adjuster in &state.adjusters { th.num { (short(&adjuster.name, setting)) ", turned" } }
                @for reading in &state.readings { th.num { (reading.name) ", " (reading.unit) } }
            } }
            tbody {
                @for (n, trial) in state.trials.iter().enumerate() {
                    tr {
                        th.num scope="row" { @if n == 0 { "as found" } @else { (n) } }
                        @for turns in &trial.turns { td.num { @if n > 0 { (number::deviation(*turns, None, "")) } } }
                        @for value in &trial.readings { td.num { (value.map_or_else(|| "not read".to_owned(), |value| number::figure(value, None, ""))) } }
                    }
                }
            }
        } }
    }
}

/// The adjuster's name without what stands in brackets behind it, where that tells it apart.
fn short<'a>(name: &'a str, setting: &Setting) -> &'a str {
    let cut = |name: &'a str| name.split(" (").next().unwrap_or(name);
    let brief = cut(name);
    let same = setting
        .adjusters
        .iter()
        .filter(|it| it.name.split(" (").next() == Some(brief));
    if same.count() > 1 { name } else { brief }
}

fn next(state: &State, advice: &Advice) -> Markup {
    let turned: Vec<(&str, f64)> = state
        .adjusters
        .iter()
        .zip(&advice.turns)
        .filter(|(_, turns)| **turns != 0.0)
        .map(|(adjuster, turns)| (adjuster.name.as_str(), *turns))
        .collect();
    html! {
        div.next-turn {
            @if advice.inside {
                p { strong { "Inside." } " All readings lie within what is allowed; nothing more to turn." }
            } @else if turned.is_empty() {
                p { strong { "Nothing to turn." } " See below why." }
            } @else {
                p { strong { "Turn next" } ", in one movement each:" }
                ul { @for (name, turns) in &turned { li { strong { (in_turns(*turns)) } " – " (name) } } }
            }
            @if !advice.inside && !turned.is_empty() {
                p.aside { "Then to be expected: "
                    @for (i, reading) in state.readings.iter().enumerate() {
                        @if i > 0 { "; " }
                        (reading.name) " " (expected(advice, i, &reading.unit))
                    }
                }
            }
            @if !advice.findings.is_empty() {
                ul.findings { @for finding in &advice.findings { li { (sentence(&finding.describe())) } } }
            }
        }
    }
}

fn expected(advice: &Advice, i: usize, unit: &str) -> String {
    match (advice.predicted.get(i), advice.predicted_u.get(i)) {
        (Some(Some(value)), Some(u)) => number::figure(*value, *u, unit),
        _ => "unknown".to_owned(),
    }
}

/// `+0.12 turns, 43°`.
fn in_turns(turns: f64) -> String {
    format!(
        "{}, {:.0}°",
        number::deviation((turns * 1000.0).round() / 1000.0, None, "turns"),
        (turns * 360.0).abs()
    )
}

fn asked(
    context: &Context<'_>,
    form: &Form,
    id: &SettingId,
    setting: &Setting,
    readings: &[TrimReading],
    advice: Option<(&State, &Advice)>,
    last: Option<&TrialMade>,
) -> Markup {
    let advised = |name: &str| {
        let (state, advice) = advice?;
        let place = state.adjusters.iter().position(|it| it.name == name)?;
        advice.turns.get(place).copied()
    };
    let repeats = |reading: &TrimReading| {
        let before = last.and_then(|trial| {
            let mut of = trial.readings.iter();
            of.find(|it| it.limit_id == reading.limit_id.as_str())
        });
        let sigma = before.map_or(reading.limit * REPEATS, |it| it.repeatability);
        number::plain(sigma)
    };
    let begun = last.is_some();
    let fields = html! {
        input type="hidden" name="setting" value=(id);
        @if begun {
            div.table-wrap { table {
                thead { tr { th { "Turned since" } th { "Turns" } } }
                tbody { @for (place, adjuster) in setting.adjusters.iter().enumerate() { tr {
                    th scope="row" { (adjuster.name) }
                    td { (form.cell(&format!("turned.{place}"), &format!("{}: turns", adjuster.name), &advised(&adjuster.name).map(number::plain).unwrap_or_default(), None)) }
                } } }
            } }
        }
        div.table-wrap { table {
            thead { tr { th { "Read" } th { "Should be" } th { "Reading" } th { "One reading repeats to" } } }
            tbody { @for (i, reading) in readings.iter().enumerate() { tr {
                th scope="row" { (reading.name) }
                td { (number::figure(reading.target, None, "")) " ± " (number::figure(reading.limit, None, &reading.unit)) }
                td { (form.cell(&format!("value.{i}"), &format!("{}: reading in {}", reading.name, reading.unit), "", None)) }
                td { (form.cell(&format!("repeats.{i}"), &format!("{}: repeats to, in {}", reading.name, reading.unit), &repeats(reading), None)) }
            } } }
        } }
        div.acts {
            @if begun {
                button name="as_found" value="no" { "Record the trial" span.unseen { ": " (setting.name) } }
                button.quiet name="as_found" value="yes" { "Begin again from here" span.unseen { ": " (setting.name) } }
            } @else {
                button name="as_found" value="yes" { "Record as found" span.unseen { ": " (setting.name) } }
            }
        }
    };
    context.around(Deed::Trial, form, &fields)
}

/// What the form records.
pub(crate) fn trial(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let id = fields.text("setting");
    let found = context.notes().and_then(|notes| {
        let (id, setting) = notes.settings.entry(id)?;
        Some((id, setting, trim_readings(notes, setting)))
    });
    let Some((id, setting, asked)) = found else {
        wrong.note("", format!("the service notes have no setting “{id}”"));
        return Err(wrong);
    };
    let as_found = match fields.text("as_found") {
        "yes" => true,
        "no" => false,
        _ => {
            wrong.note(
                "",
                "say with one of the buttons whether anything was turned",
            );
            false
        }
    };
    let mut turned = Vec::new();
    for (place, adjuster) in setting.adjusters.iter().enumerate() {
        let turns = wrong.number(fields, &format!("turned.{place}"), &adjuster.name);
        if let Some(turns) = turns.filter(|turns| !as_found && *turns != 0.0) {
            turned.push(Turned {
                adjuster: adjuster.name.clone(),
                turns,
            });
        }
    }
    let mut readings = Vec::new();
    for (i, reading) in asked.iter().enumerate() {
        let value = wrong.number(fields, &format!("value.{i}"), &reading.name);
        let field = format!("repeats.{i}");
        let what = format!("how well {} repeats", reading.name);
        let sigma = wrong.number(fields, &field, &what);
        let repeatability = sigma.unwrap_or(reading.limit * REPEATS);
        if repeatability <= 0.0 {
            wrong.note(
                field,
                format!("{what}: write how far one reading differs from the next, more than 0"),
            );
        }
        readings.push(TrialReading {
            limit_id: reading.limit_id.as_str().to_owned(),
            value,
            repeatability,
        });
    }
    if readings.iter().all(|it| it.value.is_none()) && wrong.is_empty() {
        wrong.note("value.0", "write at least one reading");
    }
    if !as_found && trials_of(&context.view, id).is_empty() {
        wrong.note(
            "",
            format!("{}: read it as found before the first turn", setting.name),
        );
    }
    let made = TrialMade {
        visit: context.visit(),
        setting: Term::known(id.as_str(), &setting.name),
        as_found,
        turned,
        readings,
        note: String::new(),
    };
    or_wrong(vec![made.into()], wrong)
}

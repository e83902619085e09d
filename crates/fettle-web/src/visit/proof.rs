//! Settings and proof: what was disturbed, readings against limits before and after, and what
//! could not be brought back.

use fettle_bench::{Change, SettingProved, ShortfallNoted, Stage, Term};
use fettle_notes::{Limit, LimitId, ServiceNotes, Setting, SettingId};
use fettle_reason::disturbed;
use maud::{Markup, html};

use super::context::{Context, or_wrong};
use super::deed::Deed;
use super::looked_over::go_on;
use super::section::Section;
use super::{readings, run, shutter_reading, teeth, trial, typed, way};
use crate::form::Wrong;
use crate::number;
use crate::upload::Upload;
use crate::urls;

pub(crate) fn result(context: &Context<'_>) -> String {
    let view = &context.view;
    if view.readings.is_empty() && view.settings.is_empty() {
        return if Section::now(view) == Some(Section::Proof) {
            "measure it against its limits".to_owned()
        } else {
            String::new()
        };
    }
    let mut text = number::count(view.readings.len(), "reading", "readings");
    if !view.shortfalls.is_empty() {
        let count = number::count(view.shortfalls.len(), "shortfall", "shortfalls");
        text.push_str(&format!(", {count} said plainly"));
    }
    text
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    html! {
        @if let Some(notes) = context.notes() {
            (settings(context, notes))
            @for (id, limit) in notes.limits.iter() { (limit_section(context, id, limit)) }
        } @else {
            (shutter_reading::without_notes(context))
        }
        (readings::without_limit(context))
        (shortfalls(context))
        @if context.view.line.stage == Stage::Together { (go_on(context, Stage::Proved, "Proved: go on to the papers")) }
    }
}

fn settings(context: &Context<'_>, notes: &ServiceNotes) -> Markup {
    let disturbed = disturbed(notes, &way::taken_off(&context.view));
    let lessons = context
        .is_open(Section::Proof)
        .then(|| context.lessons())
        .flatten();
    let others: Vec<(&SettingId, &Setting)> = notes
        .settings
        .iter()
        .filter(|(id, setting)| {
            !setting.adjusters.is_empty() && !disturbed.iter().any(|upset| upset.setting == *id)
        })
        .collect();
    html! {
        section {
            h3 { "Settings that the way in disturbed" }
            @if !context.is_open(Section::Proof) && notes.settings.iter().any(|(_, setting)| !setting.adjusters.is_empty()) {
                div.acts { a.button href=(urls::visit_at(context.visit(), Some(Section::Proof.id()), None)) { "Trim the settings" } }
            }
            @if disturbed.is_empty() { p.empty { "None." } }
            ol.lines { @for upset in disturbed { @if let Some(setting) = notes.settings.get(upset.setting) { li { (setting_row(context, notes, upset.setting, setting, true)) (trial::draw(context, notes, upset.setting, setting, lessons.as_deref())) } } } }
            @if !others.is_empty() {
                details.more open[others.iter().any(|(id, _)| trial::is_begun(context, id))] {
                    summary { "Other settings that can be trimmed" }
                    ul.lines { @for (id, setting) in others { li { (setting_row(context, notes, id, setting, false)) (trial::draw(context, notes, id, setting, lessons.as_deref())) } } }
                }
            }
        }
    }
}

fn setting_row(
    context: &Context<'_>,
    notes: &ServiceNotes,
    id: &SettingId,
    setting: &Setting,
    upset: bool,
) -> Markup {
    let form = context.form_keyed(Deed::Setting, id.as_str());
    let kept = context
        .view
        .settings
        .iter()
        .rev()
        .find(|kept| kept.what.setting.id.as_deref() == Some(id.as_str()));
    let limit_name = |id: &LimitId| {
        notes
            .limits
            .get(id)
            .map_or(id.as_str(), Limit::name)
            .to_owned()
    };
    html! {
        div.row {
            span {
                span.what { (setting.name) }
                @if !setting.proved_by.is_empty() { span.aside { " – proved by " (setting.proved_by.iter().map(limit_name).collect::<Vec<_>>().join(", ")) } }
            }
            @if let Some(kept) = kept {
                span {
                    @if kept.what.held { span.verdict.in { "holds" } } @else { span.verdict.out { "does not hold" } }
                }
            } @else if upset { span.needs-hand { "to be proved" } }
        }
        @if let Some(note) = &setting.note { p.aside { (note) } }
        @for adjuster in &setting.adjusters {
            p.aside { "Set with: " (adjuster.name) }
            @if let Some(caution) = &adjuster.caution { div.caution { p { strong { "Caution" } " – " (caution) } } }
        }
        (context.around(Deed::Setting, &form, &html! {
            input type="hidden" name="setting" value=(id);
            div.fields { (form.line("note", "Note").draw()) div.acts {
                button name="held" value="yes" { "It holds" span.unseen { ": " (setting.name) } }
                button.quiet name="held" value="no" { "It does not hold" span.unseen { ": " (setting.name) } }
            } }
        }))
    }
}

pub(crate) fn setting(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let id = sent.fields.text("setting");
    let held = match sent.fields.text("held") {
        "yes" => true,
        "no" => false,
        _ => {
            wrong.note(
                "",
                "say whether the setting holds, with one of the two buttons",
            );
            false
        }
    };
    let Some(setting) = context.notes().and_then(|notes| notes.settings.get(id)) else {
        wrong.note("", format!("the service notes have no setting “{id}”"));
        return Err(wrong);
    };
    let proved = SettingProved {
        visit: context.visit(),
        setting: Term::known(id, &setting.name),
        held,
        note: sent.fields.text("note").to_owned(),
    };
    or_wrong(vec![proved.into()], wrong)
}

fn limit_section(context: &Context<'_>, id: &LimitId, limit: &Limit) -> Markup {
    html! {
        section id=(readings::place(Some(id.as_str()))) {
            h3 { (limit.name()) }
            (readings::against(context, id))
            @match limit {
                Limit::Shutter(shutter) => (shutter_reading::form(context, id, shutter)),
                Limit::Teeth(limit) => (teeth::form(context, id, limit)),
                _ => {}
            }
            (run::form(context, id, limit))
            (typed::form(context, id, limit))
        }
    }
}

pub(crate) fn reading(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    typed::reading(context, &sent.fields).map(|reading| vec![reading.into()])
}

pub(crate) fn recording(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    shutter_reading::recording(context, sent)
}

fn shortfalls(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Shortfall);
    html! {
        section {
            h3 { "What could not be brought back" }
            ul.lines {
                @for kept in &context.view.shortfalls {
                    li { div.row {
                        span {
                            span.what { (kept.what.what) }
                            @if !kept.what.correction.is_empty() { div.aside { "The owner can: " (kept.what.correction) } }
                        }
                        (context.undo_kept(kept, Section::Proof))
                    } }
                }
            }
            (context.around(Deed::Shortfall, &form, &html! {
                div.fields {
                    (form.line("what", "What").draw())
                    (form.line("correction", "A correction that the owner can use").hint("such as: at 1/500 open one third of a stop less").draw())
                }
                div.acts { button { "Say it plainly" } }
            }))
        }
    }
}

pub(crate) fn shortfall(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let what = wrong.needed(&sent.fields, "what", "what could not be brought back");
    let correction = sent.fields.text("correction").to_owned();
    or_wrong(
        vec![
            ShortfallNoted {
                visit: context.visit(),
                what,
                correction,
            }
            .into(),
        ],
        wrong,
    )
}

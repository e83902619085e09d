//! Circumstances, faults, signs and works.

use toml::de::DeTable;

use super::limit::mark;
use crate::desk::{Draft, Edge, Kind};
use crate::fields::Fields;
use crate::model::{
    Chance, Circumstance, CircumstanceId, Fault, FaultId, Id, Instrument, Link, Origin, PartId,
    PartUse, Pattern, Sign, SuggestedBy, Work,
};
use crate::problem::ProblemKind;
use crate::range;
use crate::values::{Field, ids};

pub(super) fn circumstance(f: &mut Fields<'_, '_, '_>, _id: &str) -> Option<Circumstance> {
    let name = f.text("name", "\"unused for years\"");
    let question = f.text(
        "question",
        "\"Has it lain unused for more than five years?\"",
    );
    let chance = f.chance("chance", "0.5");
    Some(Circumstance {
        name: name?,
        question: question?,
        chance: chance?,
    })
}

pub(super) fn fault(f: &mut Fields<'_, '_, '_>, id: &str) -> Option<Fault> {
    let name = f.text("name", "\"hardened grease in the gear train\"");
    let is = f.word("is");
    let leak = f.chance("leak", "0.02");
    let brought_on_by = origins(f, id);
    let parts = ids(f.refs("parts", Kind::Part));
    let cured_by = f.some_refs("cured_by", Kind::Work).map(ids);
    let note = f.text_if_any("note");
    if leak == Some(Chance::NEVER) && brought_on_by.as_ref().is_some_and(Vec::is_empty) {
        let message = format!(
            "`{}` can never be there: its leak is 0 and nothing brings it on",
            f.path
        );
        f.desk.report(
            Draft::warning(ProblemKind::Never, &f.span, message)
                .help("give it a leak above 0, or say in `brought_on_by` what brings it on"),
        );
    }
    Some(Fault {
        name: name?,
        is: is?,
        leak: leak?,
        brought_on_by: brought_on_by?,
        parts,
        cured_by: cured_by?,
        note,
    })
}

fn origins(f: &mut Fields<'_, '_, '_>, id: &str) -> Option<Vec<Origin>> {
    let Some(field) = f.optional("brought_on_by") else {
        return Some(Vec::new());
    };
    let here = f.desk.position(Kind::Fault, id);
    let mut found = Vec::new();
    let mut sound = field.value.is_table();
    for (key, span, value) in f.desk.entries(&field) {
        let chance = chance(f, &value);
        let circumstance = f.desk.position(Kind::Circumstance, key);
        let fault = f.desk.position(Kind::Fault, key);
        let origin = match (circumstance, fault) {
            (Some(_), None) => {
                f.desk.resolve(Kind::Circumstance, key, &span, &field.path);
                CircumstanceId::from_text(key)
                    .zip(chance)
                    .map(|(id, chance)| Origin::Circumstance { id, chance })
            }
            (None, Some(to)) => {
                f.desk.resolve(Kind::Fault, key, &span, &field.path);
                if let Some(from) = here {
                    f.desk.fault_edges.push(Edge {
                        from,
                        to,
                        span: span.clone(),
                    });
                }
                FaultId::from_text(key)
                    .zip(chance)
                    .map(|(id, chance)| Origin::Fault { id, chance })
            }
            (Some(circumstance), Some(_)) => {
                let message = format!(
                    "`{}` names `{key}`, which is both a circumstance and a fault",
                    field.path
                );
                let draft = Draft::error(ProblemKind::Ambiguous, &span, message);
                let draft = draft.help("give one of them another id");
                let other = f
                    .desk
                    .defined(Kind::Circumstance)
                    .get(circumstance)
                    .map(|d| d.span.clone());
                f.desk.report(match other {
                    Some(other) => draft.also(&other, "the circumstance of this id"),
                    None => draft,
                });
                None
            }
            (None, None) => {
                let draft =
                    f.desk
                        .unresolved(&[Kind::Circumstance, Kind::Fault], key, &span, &field.path);
                f.desk.report(draft);
                None
            }
        };
        sound &= origin.is_some();
        found.extend(origin);
    }
    sound.then_some(found)
}

fn chance(f: &mut Fields<'_, '_, '_>, value: &Field<'_>) -> Option<Chance> {
    f.desk
        .number(value, &range::CHANCE)
        .and_then(|v| Chance::new(v).ok())
}

pub(super) fn sign(f: &mut Fields<'_, '_, '_>, _id: &str) -> Option<Sign> {
    let question = f.text("question", "\"Do the slow speeds hang?\"");
    let at = f.text("at", "\"shutter\"");
    let minutes = f.minutes("1.5");
    let needs_apart = ids(f.refs::<PartId>("needs_apart", Kind::Removal));
    let links = links(f);
    let leak = f.chance("leak", "0.01");
    let measured = f.optional("measured").and_then(|field| {
        let instrument = f.desk.word(&field)?;
        f.desk.instruments.push((instrument, field.span));
        Some(instrument)
    });
    let suggested_by = suggested_by(f, measured);
    Some(Sign {
        question: question?,
        at: at?,
        minutes: minutes?,
        needs_apart,
        links: links?,
        leak: leak?,
        measured,
        suggested_by,
    })
}

fn suggested_by(f: &mut Fields<'_, '_, '_>, measured: Option<Instrument>) -> Vec<SuggestedBy> {
    if measured != Some(Instrument::Shutter)
        && let Some(field) = f.optional("suggested_by")
    {
        let message = format!("`{}` means nothing here", field.path);
        f.desk.report(
            Draft::warning(ProblemKind::Needless, &field.span, message)
                .help("add `measured = \"shutter\"`, or take it out"),
        );
    }
    f.tables("suggested_by", |mut f| {
        let pattern = f.word::<Pattern>("pattern");
        let over = f.optional("over_stops");
        let over_stops = over
            .as_ref()
            .and_then(|field| f.desk.number(field, &range::STOPS));
        let from = f.optional("from").and_then(|field| mark(f.desk, &field));
        let to = f.optional("to");
        let to_mark = to.as_ref().and_then(|field| mark(f.desk, field));
        if let (Some(from), Some(last), Some(field)) = (from, to_mark, &to)
            && last > from
        {
            let message = format!("`{}` is {last}, slower than `from`", field.path);
            f.desk.report(
                Draft::error(ProblemKind::Order, &field.span, message)
                    .help("`from` is the slowest mark, `to` the fastest"),
            );
        }
        if let (Some(pattern), Some(field)) = (pattern, &over)
            && !pattern.has_figure()
        {
            let message = format!(
                "`{}` means nothing: `{pattern}` has no figure in stops to hold it against",
                field.path
            );
            f.desk.report(
                Draft::warning(ProblemKind::Needless, &field.span, message).help("take it out"),
            );
        }
        f.finish();
        Some(SuggestedBy {
            pattern: pattern?,
            over_stops,
            from,
            to: to_mark,
        })
    })
}

fn links(f: &mut Fields<'_, '_, '_>) -> Option<Vec<Link>> {
    let field = f.required("links", "{ hardened-grease = 0.85 }")?;
    let mut found = Vec::new();
    for (key, span, value) in f.desk.entries(&field) {
        let chance = chance(f, &value);
        let at = f.desk.resolve(Kind::Fault, key, &span, &field.path);
        if let Some(at) = at {
            f.desk.shown_faults.insert(at);
            found.extend(
                FaultId::from_text(key)
                    .zip(chance)
                    .map(|(fault, chance)| Link { fault, chance }),
            );
        }
    }
    if field.value.as_table().is_some_and(DeTable::is_empty) {
        let message = format!("`{}` is empty, so the sign tells nothing", field.path);
        f.desk.report(
            Draft::error(ProblemKind::Empty, &field.span, message)
                .help("name the faults that show it, each with its chance"),
        );
    }
    Some(found)
}

pub(super) fn work(f: &mut Fields<'_, '_, '_>, _id: &str) -> Option<Work> {
    let name = f.text("name", "\"clean and lubricate the gear train\"");
    let minutes = f.minutes("55");
    let needs_apart = ids(f.refs::<PartId>("needs_apart", Kind::Removal));
    let parts = part_uses(f);
    let success = f.chance("success", "0.93");
    let overhaul = f.flag("overhaul");
    let caution = f.text_if_any("caution");
    Some(Work {
        name: name?,
        minutes: minutes?,
        needs_apart,
        parts,
        success: success?,
        overhaul: overhaul?,
        caution,
    })
}

fn part_uses(f: &mut Fields<'_, '_, '_>) -> Vec<PartUse> {
    let Some(field) = f.optional("parts") else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (key, span, value) in f.desk.entries(&field) {
        let count = f.desk.whole(&value, &range::COUNT);
        if f.desk
            .resolve(Kind::Part, key, &span, &field.path)
            .is_some()
        {
            found.extend(
                PartId::from_text(key)
                    .zip(count)
                    .map(|(part, count)| PartUse { part, count }),
            );
        }
    }
    found
}

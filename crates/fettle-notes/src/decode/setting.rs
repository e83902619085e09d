//! Settings and their adjusters.

use std::collections::HashMap;

use toml::de::DeTable;

use crate::desk::{Desk, Draft, Edge, Kind, Span};
use crate::fields::Fields;
use crate::model::{Adjuster, Effect, Id, LimitId, Setting, SettingId};
use crate::problem::ProblemKind;
use crate::range;
use crate::values::{Field, ids};

/// Relative uncertainty of an effect when the notes give none.
const REL_U_DEFAULT: f64 = 0.3;

pub(super) fn setting(f: &mut Fields<'_, '_, '_>, id: &str) -> Option<Setting> {
    let name = f.text("name", "\"register of the taking lens\"");
    let proved_by = f.some_refs::<LimitId>("proved_by", Kind::Limit).map(ids);
    let depends_on = f.refs::<SettingId>("depends_on", Kind::Setting);
    if let Some(from) = f.desk.position(Kind::Setting, id) {
        for before in &depends_on {
            f.desk.setting_edges.push(Edge {
                from,
                to: before.at,
                span: before.span.clone(),
            });
        }
    }
    let mut names = HashMap::new();
    let adjusters = f.tables("adjusters", |f| adjuster(f, &mut names));
    let note = f.text_if_any("note");
    Some(Setting {
        name: name?,
        proved_by: proved_by?,
        depends_on: ids(depends_on),
        adjusters,
        note,
    })
}

fn adjuster(mut f: Fields<'_, '_, '_>, names: &mut HashMap<String, Span>) -> Option<Adjuster> {
    let name = f.text("name", "\"shim under the lens board\"");
    if let Some(name) = &name {
        let span = f.span.clone();
        if let Some(first) = names.insert(name.clone(), span.clone()) {
            let message = format!(
                "two adjusters of one setting are called `{}`",
                crate::desk::shorten(name)
            );
            let draft = Draft::error(ProblemKind::Repeated, &span, message);
            f.desk.report(
                draft
                    .help("give each its own name")
                    .also(&first, "the first of that name"),
            );
        }
    }
    let effects = effects(&mut f);
    let backlash_turns = f.optional("backlash_turns");
    let backlash_turns = match &backlash_turns {
        Some(field) => f.desk.number(field, &range::PLAY_TURNS),
        None => Some(0.0),
    };
    let min_turns = f.number_if_any("min_turns", &range::BACK_TURNS);
    let max_turns = f.number_if_any("max_turns", &range::ON_TURNS);
    let caution = f.text_if_any("caution");
    if let (Some(min), Some(max)) = (min_turns, max_turns)
        && min >= max
    {
        let message = format!(
            "`{}` cannot be turned: `min_turns` and `max_turns` are both 0",
            f.path
        );
        f.desk.report(
            Draft::error(ProblemKind::Order, &f.span, message).help("leave room between them"),
        );
    }
    f.finish();
    Some(Adjuster {
        name: name?,
        effects: effects?,
        backlash_turns: backlash_turns?,
        min_turns,
        max_turns,
        caution,
    })
}

fn effects(f: &mut Fields<'_, '_, '_>) -> Option<Vec<Effect>> {
    let field = f.required("effects", "{ register = { per_turn = 0.05 } }")?;
    if field.value.as_table().is_some_and(DeTable::is_empty) {
        let message = format!("`{}` is empty, so the adjuster does nothing", field.path);
        f.desk.report(
            Draft::error(ProblemKind::Empty, &field.span, message)
                .help("name the limits that it moves, each with its effect per turn"),
        );
    }
    let mut found = Vec::new();
    for (key, span, value) in f.desk.entries(&field) {
        let at = f.desk.resolve(Kind::Limit, key, &span, &field.path);
        if let Some((per_turn, rel_u)) = effect(f.desk, &value)
            && at.is_some()
            && let Some(limit) = LimitId::from_text(key)
        {
            f.desk.moved_limits.push((limit.clone(), span));
            found.push(Effect {
                limit,
                per_turn,
                rel_u,
            });
        }
    }
    Some(found)
}

fn effect(desk: &mut Desk<'_>, value: &Field<'_>) -> Option<(f64, f64)> {
    let mut f = desk.table(value)?;
    let per_turn = f.required("per_turn", "0.05");
    let per_turn = per_turn.and_then(|field| {
        let figure = f.desk.number(&field, &range::PER_TURN)?;
        if figure.abs() > 0.0 {
            return Some(figure);
        }
        let message = format!(
            "`{}` is 0: an adjuster that moves nothing is none",
            field.path
        );
        f.desk.report(
            Draft::error(ProblemKind::OutOfRange, &field.span, message)
                .help("give the change of the reading per turn, with its sign"),
        );
        None
    });
    let rel_u = match f.optional("rel_u") {
        Some(field) => f.desk.number(&field, &range::REL_U),
        None => Some(REL_U_DEFAULT),
    };
    f.finish();
    per_turn.zip(rel_u)
}

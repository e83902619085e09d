//! Parts and removals.

use crate::desk::{Desk, Draft, Edge, Kind, Span};
use crate::fields::Fields;
use crate::model::{Fastener, Grade, GradeNote, Hand, Id, ModelId, Part, PartId, Removal, WayBack};
use crate::problem::ProblemKind;
use crate::range;
use crate::values::{Ref, ids};

pub(super) fn part(f: &mut Fields<'_, '_, '_>, _id: &str) -> Option<Part> {
    let name = f.text("name", "\"wind pawl\"");
    let at = f.text("at", "\"wind side, under the side cover\"");
    let count = f.count();
    let grades = f.table("grades").map(grades).unwrap_or_default();
    let fits = fits(f);
    Some(Part {
        name: name?,
        at: at?,
        count: count?,
        grades,
        fits,
    })
}

fn grades(mut f: Fields<'_, '_, '_>) -> Vec<GradeNote> {
    let mut found = Vec::new();
    for &grade in Grade::ALL {
        if let Some(note) = f.text_if_any(grade.as_str()) {
            found.push(GradeNote { grade, note });
        }
    }
    f.finish();
    found
}

fn fits(f: &mut Fields<'_, '_, '_>) -> Vec<ModelId> {
    let Some(field) = f.optional("fits") else {
        return Vec::new();
    };
    let items = f.desk.list(&field, "model ids");
    let mut found: Vec<ModelId> = Vec::new();
    for item in &items {
        let Some(text) = f.desk.text(item) else {
            continue;
        };
        match ModelId::from_text(&text) {
            Some(id) if found.contains(&id) => {
                let message = format!("`{}` names `{id}` twice", field.path);
                f.desk.report(
                    Draft::error(ProblemKind::Repeated, &item.span, message)
                        .help("take one of them out"),
                );
            }
            Some(id) => found.push(id),
            None => super::bad_id(f.desk, &text, &item.span, &item.path),
        }
    }
    found
}

pub(super) fn removal(f: &mut Fields<'_, '_, '_>, id: &str) -> Option<Removal> {
    let span = f.span.clone();
    f.desk.resolve(Kind::Part, id, &span, "removal");
    let after = f.refs::<PartId>("after", Kind::Removal);
    let either = either(f);
    let here = f.desk.position(Kind::Removal, id);
    for before in after.iter().chain(either.iter().flatten()) {
        if let Some(from) = here {
            f.desk.removal_edges.push(Edge {
                from,
                to: before.at,
                span: before.span.clone(),
            });
        }
    }
    let minutes = f.minutes("4");
    let side = f.text("side", "\"top\"");
    let tool = f.text_if_any("tool");
    let fasteners = f.tables("fasteners", fastener);
    let caution = f.text_if_any("caution");
    let disturbs = ids(f.refs("disturbs", Kind::Setting));
    let back = f.table("back").map(way_back).unwrap_or_default();
    Some(Removal {
        after: ids(after),
        either: either.into_iter().map(ids).collect(),
        minutes: minutes?,
        side: side?,
        tool,
        fasteners,
        caution,
        disturbs,
        back,
    })
}

fn either(f: &mut Fields<'_, '_, '_>) -> Vec<Vec<Ref<PartId>>> {
    let Some(field) = f.optional("either") else {
        return Vec::new();
    };
    let groups = f.desk.list(&field, "lists of ids");
    if field.value.is_array() && groups.len() < 2 {
        let message = format!(
            "`{}` has fewer than two ways, so there is no choice",
            field.path
        );
        f.desk.report(
            Draft::error(ProblemKind::OneWay, &field.span, message)
                .help("give two lists or more, or put what must come off into `after`"),
        );
    }
    let mut found = Vec::new();
    for group in &groups {
        if group.value.as_array().is_some_and(|g| g.is_empty()) {
            empty_way(f.desk, &group.path, &group.span);
        }
        found.push(f.desk.refs(group, Kind::Removal));
    }
    found
}

fn empty_way(desk: &mut Desk<'_>, path: &str, span: &Span) {
    desk.report(
        Draft::error(
            ProblemKind::Empty,
            span,
            format!("`{path}` is empty, so nothing need come off at all"),
        )
        .help("name what comes off this way, or leave `either` out"),
    );
}

fn fastener(mut f: Fields<'_, '_, '_>) -> Option<Fastener> {
    let kind = f.word("kind");
    let thread = f.text_if_any("thread");
    let length_mm = f.number_if_any("length_mm", &range::FASTENER_MM);
    let head = f.word_if_any("head");
    let count = f.count();
    let handed = f.word_if_any("handed").unwrap_or(Hand::Right);
    let note = f.text_if_any("note");
    f.finish();
    Some(Fastener {
        kind: kind?,
        thread,
        length_mm,
        head,
        count: count?,
        handed,
        note,
    })
}

fn way_back(mut f: Fields<'_, '_, '_>) -> WayBack {
    let lubricant = f.text_if_any("lubricant");
    let align = f.text_if_any("align");
    let caution = f.text_if_any("caution");
    f.finish();
    WayBack {
        lubricant,
        align,
        caution,
    }
}

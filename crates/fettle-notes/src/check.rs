//! What only the whole file shows: circles, things that nothing uses, ways that are missing.

use crate::circle::circles;
use crate::desk::{Desk, Draft, Edge, Kind, Span, shorten};
use crate::model::{Limit, PartId, ServiceNotes};
use crate::problem::ProblemKind;

/// Most members of a circle that a message names.
const CIRCLE_SHOWN: usize = 12;

/// Checks references as laid down while reading.
pub(crate) fn references(desk: &mut Desk<'_>) {
    let removals = std::mem::take(&mut desk.removal_edges);
    circle(
        desk,
        Kind::Removal,
        &removals,
        "comes off after",
        "so none of them can come off first",
    );
    let settings = std::mem::take(&mut desk.setting_edges);
    circle(
        desk,
        Kind::Setting,
        &settings,
        "depends on",
        "so none of them can be set first",
    );
    let faults = std::mem::take(&mut desk.fault_edges);
    circle(
        desk,
        Kind::Fault,
        &faults,
        "is brought on by",
        "so none of them can come first",
    );
    unused(desk);
}

fn circle(desk: &mut Desk<'_>, kind: Kind, edges: &[Edge], verb: &str, therefore: &str) {
    for circle in circles(desk.defined(kind).len(), edges) {
        let Some((first, last)) = circle.first().zip(circle.last()) else {
            continue;
        };
        let name = |at: usize| desk.defined(kind).get(at).map_or("?", |d| d.id.as_str());
        let mut story = format!("{} `{}`", kind.as_str(), name(first.from));
        for (n, edge) in circle.iter().take(CIRCLE_SHOWN).enumerate() {
            let which = if n == 0 { "" } else { ", which" };
            story.push_str(&format!("{which} {verb} `{}`", name(edge.to)));
        }
        if circle.len() > CIRCLE_SHOWN {
            story.push_str(", and so on round");
        }
        let message = format!("{story}: a circle, {therefore}");
        let draft = Draft::error(ProblemKind::Circle, &first.span, message)
            .help("take one of these references out");
        let also = format!("here the circle closes with `{}`", name(last.to));
        desk.report(if circle.len() > 1 {
            draft.also(&last.span, also)
        } else {
            draft
        });
    }
}

fn unused(desk: &mut Desk<'_>) {
    let told = [
        (
            Kind::Part,
            "no removal, fault or work concerns it",
            "name it where it belongs, or take it out",
        ),
        (
            Kind::Circumstance,
            "it brings on no fault",
            "name it in a fault's `brought_on_by`, or take it out",
        ),
        (
            Kind::Work,
            "it cures no fault",
            "name it in a fault's `cured_by`, or take it out",
        ),
    ];
    for (kind, why, help) in told {
        let idle: Vec<(Span, String)> = desk
            .defined(kind)
            .iter()
            .filter(|d| !d.used)
            .map(|d| (d.span.clone(), d.id.clone()))
            .collect();
        for (span, id) in idle {
            let message = format!(
                "{} `{}` is used nowhere: {why}",
                kind.as_str(),
                shorten(&id)
            );
            desk.report(Draft::warning(ProblemKind::Unused, &span, message).help(help));
        }
    }
}

/// Checks what the tables say together.
pub(crate) fn meaning(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    unseen(desk);
    no_way_in(desk, notes);
    numberless(desk, notes);
    limitless(desk, notes);
}

fn unseen(desk: &mut Desk<'_>) {
    let faults = desk.defined(Kind::Fault).iter().enumerate();
    let hidden: Vec<(Span, String)> = faults
        .filter(|(at, _)| !desk.shown_faults.contains(at))
        .map(|(_, fault)| (fault.span.clone(), shorten(&fault.id)))
        .collect();
    for (span, id) in hidden {
        let message =
            format!("fault `{id}` has no sign, so nothing seen at the bench can point to it");
        desk.report(
            Draft::warning(ProblemKind::Unseen, &span, message)
                .help("name it in the `links` of a sign; opening up and looking is a sign too"),
        );
    }
}

fn no_way_in(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    for (id, work) in notes
        .works
        .iter()
        .filter(|(_, work)| work.needs_apart.is_empty())
    {
        let stuck = |part: &&PartId| desk.position(Kind::Removal, part.as_str()).is_none();
        let Some(part) = work.parts.iter().map(|p| &p.part).find(stuck) else {
            continue;
        };
        let at = desk.position(Kind::Work, id.as_str());
        let span = at
            .and_then(|at| desk.defined(Kind::Work).get(at))
            .map_or(0..0, |d| d.span.clone());
        let message = format!("work `{id}` fits part `{part}`, but nothing says how to get to it");
        desk.report(
            Draft::warning(ProblemKind::NoWayIn, &span, message).help(format!(
                "name in `needs_apart` what must come off, or add a table `[removal.{part}]`"
            )),
        );
    }
}

fn numberless(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    for (limit, span) in std::mem::take(&mut desk.moved_limits) {
        let what = match notes.limits.get(&limit) {
            Some(Limit::Check(_)) => "a yes or no",
            Some(Limit::Teeth(_)) => "the wear of teeth",
            _ => continue,
        };
        let message = format!("an effect per turn is given on limit `{limit}`, which is {what}");
        desk.report(
            Draft::error(ProblemKind::NoNumber, &span, message)
                .help("give effects on limits that are numbers; a check only proves"),
        );
    }
}

fn limitless(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    for (instrument, span) in std::mem::take(&mut desk.instruments) {
        let kind = instrument.proves();
        if notes.limits.values().any(|limit| limit.kind() == kind) {
            continue;
        }
        let message = format!(
            "the {instrument} instrument answers this sign, but there is no limit of kind `{kind}`"
        );
        desk.report(
            Draft::warning(ProblemKind::NoLimit, &span, message).help(format!(
                "add a limit with `kind = \"{kind}\"`, or leave `measured` out"
            )),
        );
    }
}

//! What only the whole file shows: circles, things that nothing uses, ways that are missing.

use std::collections::HashSet;

use crate::circle::circles;
use crate::desk::{Desk, Draft, Edge, Kind, Span};
use crate::model::{Limit, ServiceNotes, ShutterKind};
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
                crate::desk::shorten(&id)
            );
            desk.report(Draft::warning(ProblemKind::Unused, &span, message).help(help));
        }
    }
}

/// Checks what the tables say together; only asked of a file that could be read.
pub(crate) fn meaning(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    unseen(desk, notes);
    no_way_in(desk, notes);
    numberless(desk, notes);
    needless(desk, notes);
}

fn span_of(desk: &Desk<'_>, kind: Kind, id: &str) -> Span {
    let at = desk.position(kind, id);
    at.and_then(|at| desk.defined(kind).get(at))
        .map_or(0..0, |d| d.span.clone())
}

fn unseen(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    let shown: HashSet<&str> = notes
        .signs
        .values()
        .flat_map(|s| &s.links)
        .map(|link| link.fault.as_str())
        .collect();
    for id in notes.faults.ids().filter(|id| !shown.contains(id.as_str())) {
        let span = span_of(desk, Kind::Fault, id.as_str());
        let message =
            format!("fault `{id}` has no sign, so nothing seen at the bench can point to it");
        desk.report(
            Draft::warning(ProblemKind::Unseen, &span, message)
                .help("name it in the `links` of a sign; opening up and looking is a sign too"),
        );
    }
}

fn no_way_in(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    let mut told = HashSet::new();
    for (work, part) in notes
        .works
        .iter()
        .flat_map(|(id, work)| work.parts.iter().map(move |p| (id, &p.part)))
    {
        let reachable = notes.removals.contains(part)
            || notes
                .works
                .get(work)
                .is_some_and(|w| !w.needs_apart.is_empty());
        if reachable || !told.insert(part) {
            continue;
        }
        let span = span_of(desk, Kind::Work, work.as_str());
        let message =
            format!("work `{work}` fits part `{part}`, but nothing says how to get to it");
        desk.report(
            Draft::warning(ProblemKind::NoWayIn, &span, message).help(format!(
                "name in `needs_apart` what must come off, or add a table `[removal.{part}]`"
            )),
        );
    }
}

fn numberless(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    for (id, setting) in notes.settings.iter() {
        for effect in setting.adjusters.iter().flat_map(|a| &a.effects) {
            if notes
                .limits
                .get(&effect.limit)
                .and_then(Limit::unit)
                .is_some()
            {
                continue;
            }
            let span = span_of(desk, Kind::Setting, id.as_str());
            let limit = &effect.limit;
            let message = format!(
                "setting `{id}` gives an effect per turn on `{limit}`, which is a yes or no"
            );
            desk.report(
                Draft::error(ProblemKind::NoNumber, &span, message)
                    .help("give effects on limits that are numbers; a check only proves"),
            );
        }
    }
}

fn needless(desk: &mut Desk<'_>, notes: &ServiceNotes) {
    for (id, limit) in notes.limits.iter() {
        let Limit::Shutter(limit) = limit else {
            continue;
        };
        let foreign = match notes.model.shutter {
            ShutterKind::Leaf if limit.gate_mm.is_some() => "gate_mm",
            ShutterKind::Leaf if !limit.sensors_mm.is_empty() => "sensors_mm",
            ShutterKind::FocalPlane if limit.fully_open_f.is_some() => "fully_open_f",
            _ => continue,
        };
        let span = span_of(desk, Kind::Limit, id.as_str());
        let shutter = notes.model.shutter;
        let message =
            format!("limit `{id}` gives `{foreign}`, which means nothing for a {shutter} shutter");
        desk.report(
            Draft::warning(ProblemKind::Needless, &span, message)
                .help("take it out, or put `model.shutter` right"),
        );
    }
}

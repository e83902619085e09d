//! What past visits taught about a model: the author's figures beside the learned ones.

use fettle_bench::{Lessons, TaughtEffect};
use fettle_notes::{ServiceNotes, WorkId};
use fettle_reason::cause::Learned;
use fettle_reason::{LearnedMinutes, LearnedSuccess};
use maud::{Markup, html};

use crate::{named, number};

/// Chances of which less was seen are folded away, in cameras' worth of seeing.
const SEEN: f64 = 1.0;

/// The tables of the page.
pub(crate) fn draw(notes: &ServiceNotes, lessons: &Lessons) -> Markup {
    let cameras = lessons.chances.cameras;
    let learned: Vec<&Learned> = lessons
        .chances
        .chances
        .iter()
        .filter(|it| it.seen >= SEEN)
        .collect();
    let works = lessons.works.iter();
    let works = works.map(|(id, it)| (named::work(notes, id.as_str()), it));
    let removals = lessons.removals.iter();
    let removals = removals.map(|(id, it)| (named::part(notes, id), it));
    html! {
        section #taught {
            h2 { "What past visits taught" }
            @if cameras == 0 { p.empty { "No visit of this model is finished yet: the figures are those of the notes." } }
            @else {
                p { "From " (number::count(cameras, "finished visit", "finished visits")) ". The notes' figures weigh as much as having seen the rarer answer twice; the causes are weighed with the learned ones." }
                @if lessons.chances.left_out > 0 { p.aside { (number::count(lessons.chances.left_out, "visit says", "visits say")) " what cannot be by the notes, and was left out." } }
                (chances(notes, &learned))
            }
            (minutes("Works", works.collect()))
            (minutes("Removals", removals.collect()))
            (successes(notes, &lessons.successes))
            (effects(notes, &lessons.effects))
            @if !learned.is_empty() { p.quiet-text { "To write these figures into a copy of the notes: " span.mono { "fettle notes learn --bench DIR --into COPIES" } } }
        }
    }
}

fn chances(notes: &ServiceNotes, learned: &[&Learned]) -> Markup {
    html! {
        details.more {
            summary { (number::count(learned.len(), "chance", "chances")) " of which something was seen" }
            div.table-wrap { table {
                thead { tr { th { "Chance" } th.num { "Notes" } th.num { "Learned" } th.num { "90 % within" } th.num { "Seen" } } }
                tbody {
                    @for it in learned {
                        tr {
                            th scope="row" { (name(notes, &it.id)) @if let Some(from) = &it.from { div.aside { "from " (name(notes, from)) } } @else { div.aside { "by itself" } } }
                            td.num { (number::chance(it.author)) }
                            td.num { (number::chance(it.chance)) }
                            td.num { (number::chance(it.low)) " to " (number::chance(it.high)) }
                            td.num { (format!("{:.0}", it.seen)) }
                        }
                    }
                }
            } }
        }
    }
}

/// The question of a sign, else the name of a circumstance or fault.
fn name<'a>(notes: &'a ServiceNotes, id: &'a str) -> &'a str {
    if notes.signs.contains(id) {
        named::sign(notes, id)
    } else {
        named::cause(notes, id)
    }
}

fn effects(notes: &ServiceNotes, taught: &[TaughtEffect]) -> Markup {
    let rows = taught.iter().filter_map(|it| {
        let setting = notes.settings.get(&it.setting)?;
        let adjuster = setting.adjusters.get(it.adjuster)?;
        let limit = notes.limits.get(&it.limit)?;
        Some((it, adjuster, limit))
    });
    html! {
        @if !taught.is_empty() {
            details.more {
                summary { (number::count(taught.len(), "effect", "effects")) " of adjusters that were tried" }
                div.table-wrap { table {
                    thead { tr { th { "One turn of" } th { "Moves" } th.num { "Notes" } th.num { "Learned, 90 % interval" } th.num { "Cameras" } } }
                    tbody {
                        @for (it, adjuster, limit) in rows {
                            @let unit = limit.unit().unwrap_or_default();
                            tr {
                                th scope="row" { (adjuster.name) }
                                td { (limit.name()) }
                                td.num { (number::deviation(it.learned.author, None, unit)) }
                                td.num { (number::deviation(it.learned.per_turn, Some(0.5 * (it.learned.high - it.learned.low)), unit)) }
                                td.num { (it.learned.cameras) }
                            }
                        }
                    }
                } }
            }
        }
    }
}

/// How often each work held until its guarantee ended.
fn successes(notes: &ServiceNotes, taught: &[(WorkId, LearnedSuccess)]) -> Markup {
    html! {
        @if !taught.is_empty() {
            details.more {
                summary { "How often " (number::count(taught.len(), "work", "works")) " held" }
                div.table-wrap { table {
                    thead { tr { th { "Work" } th.num { "Notes" } th.num { "Learned" } th.num { "90 % within" } th.num { "Cases" } th.num { "Did not hold" } } }
                    tbody {
                        @for (id, it) in taught {
                            tr {
                                th scope="row" { (named::work(notes, id.as_str())) }
                                td.num { (number::chance(it.author)) }
                                td.num { (number::chance(it.learned)) }
                                td.num { (number::chance(it.low)) " to " (number::chance(it.high)) }
                                td.num { (it.cases) }
                                td.num { (it.failed) }
                            }
                        }
                    }
                } }
            }
        }
    }
}

fn minutes(title: &str, kinds: Vec<(&str, &LearnedMinutes)>) -> Markup {
    html! {
        @if !kinds.is_empty() {
            details.more {
                summary { (title) ": minutes of " (kinds.len()) }
                div.table-wrap { table {
                    thead { tr { th { (title) } th.num { "Notes" } th.num { "Likely" } th.num { "Nine in ten within" } th.num { "Cases" } } }
                    tbody {
                        @for (name, it) in kinds {
                            tr {
                                th scope="row" { (name) }
                                td.num { (number::minutes(it.author)) }
                                td.num { (number::minutes(it.likely)) div.aside { (number::minutes(it.low)) " to " (number::minutes(it.high)) } }
                                td.num { (number::minutes(it.nine_in_ten)) }
                                td.num { (it.cases) }
                            }
                        }
                    }
                } }
            }
        }
    }
}

//! Journal entries as a list of sentences.

use fettle_bench::Entry;
use jiff::tz::TimeZone;
use maud::{Markup, html};

use crate::{layout, number};

/// Entries newest first, struck ones legible, each that stands with its undo.
pub(crate) fn draw(entries: &[Entry], zone: &TimeZone, back_to: &str) -> Markup {
    html! {
        @if entries.is_empty() { p.empty { "Nothing has happened yet." } }
        ol.journal {
            @for entry in entries {
                li {
                    time datetime=(entry.at) { (number::moment(&entry.at.to_zoned_datetime(zone.clone()))) }
                    div {
                        @if let Some(by) = entry.struck_by {
                            span.struck { (entry.sentence) }
                            span.aside { " – struck by entry " (by) }
                        } @else { (entry.sentence) }
                        span.aside { " – " (entry.hand) ", entry " (entry.id) }
                    }
                    @if entry.struck_by.is_none() {
                        (layout::undo_button(&entry.id.to_string(), back_to, "Undo"))
                    }
                }
            }
        }
    }
}

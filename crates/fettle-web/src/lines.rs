//! One camera or visit in a line, as lists show it.

use fettle_bench::VisitLine;
use maud::{Markup, html};

use crate::urls;

/// A visit in a line: a photograph to know it by, what it is, whose, and `what` is to be said.
pub(crate) fn visit(line: &VisitLine, what: &Markup) -> Markup {
    html! {
        div.visit-line {
            @if let Some(cover) = line.cover {
                img.cover src=(urls::photo(cover, "thumb")) alt="" width="84" height="63" loading="lazy";
            } @else { span.cover.no-cover aria-hidden="true" {} }
            div {
                a.what href=(urls::visit(line.visit)) { (line.camera_name) @if !line.serial.is_empty() { " " span.serial { (line.serial) } } }
                div.aside { "Visit " (line.visit) ", " bdi { (line.owner_name) } ", " (line.stage) }
            }
            div.said { (what) }
        }
    }
}

/// Links to the parts of a list before and after this one.
pub(crate) fn pager(path: &str, skip: u32, take: u32, total: u32) -> Markup {
    let before = skip.checked_sub(take).or((skip > 0).then_some(0));
    let after = skip.checked_add(take).filter(|next| *next < total);
    html! {
        @if before.is_some() || after.is_some() {
            nav.ways aria-label="Parts of the list" {
                @if let Some(before) = before { a href={ (path) "?skip=" (before) } { "Those before" } }
                @if let Some(after) = after { a href={ (path) "?skip=" (after) } { "Those after" } }
                span.aside { (skip + 1) " to " (after.unwrap_or(total)) " of " (total) }
            }
        }
    }
}

//! A camera that came back under guarantee: what was wrong then, and what is wrong now.

use fettle_bench::Returned;
use maud::{Markup, html};

use crate::urls;

/// The causes of both visits beside each other.
pub(crate) fn compared(returned: &Returned) -> Markup {
    let listed = |causes: &[fettle_bench::Term]| {
        let words: Vec<&str> = causes.iter().map(|it| it.words.as_str()).collect();
        if words.is_empty() {
            "not found yet".to_owned()
        } else {
            words.join("; ")
        }
    };
    html! {
        section {
            h3 { "Back under guarantee" }
            dl.facts {
                dt { "Of" } dd { a href=(urls::visit(returned.earlier)) { "visit " (returned.earlier) } @if !returned.within { ", after its guarantee ended" } }
                dt { "Wrong then" } dd { (listed(&returned.earlier_causes)) }
                dt { "Wrong now" } dd { (listed(&returned.these_causes)) }
                dt { "The same" } dd { @match returned.same {
                    Some(true) => { strong { "yes" } ": the cure did not hold" },
                    Some(false) => "no, something else",
                    None => "not known yet",
                } }
            }
        }
    }
}

//! Arrived: what came, in what state, and what is wanted.

use maud::{Markup, html};

use super::context::Context;
use crate::number;

pub(crate) fn result(context: &Context<'_>) -> String {
    let arrival = &context.view.arrival;
    let day = number::date(arrival.arrived);
    if arrival.came_with.is_empty() {
        format!("{day}, nothing with it")
    } else {
        format!("{day}, with {}", arrival.came_with.join(", "))
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let arrival = &context.view.arrival;
    let owner = &context.view.owner.details;
    let said = |text: &str| {
        if text.is_empty() {
            "not noted".to_owned()
        } else {
            text.to_owned()
        }
    };
    html! {
        dl.facts {
            dt { "The owner says" } dd { @if arrival.words.is_empty() { "nothing" } @else { blockquote { (arrival.words) } } }
            dt { "Wanted" } dd.words { (said(&arrival.wanted)) }
            dt { "Condition" } dd.words { (said(&arrival.condition)) }
            dt { "Came with it" } dd { (if arrival.came_with.is_empty() { "nothing".to_owned() } else { arrival.came_with.join(", ") }) }
            dt { "Owner" } dd {
                (owner.name)
                @if !owner.email.is_empty() { ", " (owner.email) }
                @if !owner.phone.is_empty() { ", " (owner.phone) }
            }
        }
    }
}

//! Counting a drawer: one form with a line a lot.

use fettle_bench::{Counted, DrawerCounted, DrawerView, Lot};
use maud::{Markup, html};

use super::part_link;
use crate::form::{Fields, Wrong};
use crate::number;
use crate::thing::Forms;

/// The form's name in its address.
pub(super) const NAME: &str = "count";

fn field(lot: &Lot) -> String {
    format!("count.{}", lot.id)
}

/// What was counted; `None` when nothing was, or something is wrong.
pub(super) fn read(view: &DrawerView, fields: &Fields, wrong: &mut Wrong) -> Option<DrawerCounted> {
    let mut counts = Vec::new();
    for lot in &view.lots {
        let name = field(lot);
        let Some(text) = fields.some(&name) else {
            continue;
        };
        let what = format!("{} ({})", lot.of.part, lot.grade);
        let Ok(counted) = text.parse() else {
            wrong.note(
                name,
                format!("{what}: “{text}” is not a whole number from 0"),
            );
            continue;
        };
        let shown = fields.text(&format!("was.{name}"));
        if !shown.is_empty() && shown != lot.quantity.to_string() {
            wrong.note(
                name,
                format!(
                    "{what}: {shown} were written when this page was drawn, {} are now, for somebody took or brought some; count it again",
                    lot.quantity
                ),
            );
            continue;
        }
        counts.push(Counted {
            lot: lot.id,
            written: lot.quantity,
            counted,
        });
    }
    gone(view, fields, wrong);
    if counts.is_empty() && wrong.is_empty() {
        wrong.note("", "no count was written; count at least one line");
    }
    wrong.is_empty().then(|| DrawerCounted {
        drawer: view.line.id,
        counts,
        note: fields.text("note").to_owned(),
    })
}

/// Lines that were counted and lie in the drawer no more.
fn gone(view: &DrawerView, fields: &Fields, wrong: &mut Wrong) {
    for (id, text) in fields.under("count.") {
        let here = view.lots.iter().any(|lot| lot.id.to_string() == id);
        if !here && !text.is_empty() {
            wrong.note(
                "",
                format!("what was counted as {text} was taken out or moved meanwhile; look at the drawer and count again"),
            );
        }
    }
}

pub(super) fn draw(forms: &Forms<'_>, view: &DrawerView) -> Markup {
    if view.lots.is_empty() {
        return html! { p.empty { "Nothing." } };
    }
    let zone = forms.desk.now.time_zone();
    let form = forms.named(NAME);
    forms.around(&form, NAME, &html! {
        div.table-wrap { table.stock {
            thead { tr {
                th { "Part" } th { "Grade" } th.num { "Written" } th { "Counted" } th { "Last count" }
            } }
            tbody { @for lot in &view.lots {
                @let name = field(lot);
                @let written = lot.quantity.to_string();
                tr {
                    th scope="row" {
                        (part_link(lot.part, &lot.of))
                        @if !lot.source.is_empty() { div.aside { (lot.source) } }
                    }
                    td { (lot.grade) }
                    td.num { (written) }
                    td.count {
                        (form.was(&name, &written))
                        (form.cell(&name, &format!("Counted: {} ({})", lot.of.part, lot.grade), "", None))
                        (form.error(&name))
                    }
                    td {
                        @if let Some(last) = &lot.counted {
                            (last.pieces)
                            @if last.difference != 0 { ", " strong { (number::signed(last.difference)) } } @else { ", as written" }
                            br; span.aside.day { (number::date(last.at.to_zoned_datetime(zone.clone()).date())) }
                        } @else { span.quiet-text { "never" } }
                    }
                }
            } }
        } }
        div.fields {
            (form.line("note", "Note on the count").class("wide").draw())
        }
        div.acts { button.first { "Record the count" } span.quiet-text { "Lines left empty are not counted. Each difference goes into the journal." } }
    })
}

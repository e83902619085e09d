//! Home: what came with it is ticked off, the parcel packed and sent.

use fettle_bench::{
    BenchSettings, Change, DeclaredItem, HoldEnded, HoldId, Kept, Money, Packed, QuoteKind,
    SendingHeld, Sent, Stage, Tick, VisitView, written,
};
use maud::{Markup, html};

use super::context::{Context, date_field, or_wrong};
use super::deed::Deed;
use super::looked_over::{go_aside, moved};
use super::section::Section;
use crate::form::{Fields, Wrong};
use crate::number;
use crate::upload::Upload;

/// Contents that the form has room for, and empty rows after those proposed.
const MOST_DECLARED: usize = 12;
const BLANK_DECLARED: usize = 2;

pub(crate) fn result(context: &Context<'_>) -> String {
    let view = &context.view;
    if let Some(sent) = view.sent.last().filter(|_| view.line.stage == Stage::Home) {
        let by = if sent.what.carrier.is_empty() {
            "fetched".to_owned()
        } else {
            format!("by {}", sent.what.carrier)
        };
        return format!("{by} on {}", number::date(sent.what.on));
    }
    match view.line.stage {
        Stage::Home => "home".to_owned(),
        Stage::Packed => "packed; not sent yet".to_owned(),
        Stage::ReturnedUnrepaired => "goes back without having been repaired".to_owned(),
        _ => String::new(),
    }
}

pub(crate) fn draw(context: &Context<'_>) -> Markup {
    let stage = context.view.line.stage;
    html! {
        @if let Some(packed) = &context.view.packed { (in_the_parcel(context, packed)) }
        @if stage != Stage::Home { (pack_form(context)) }
        @for sent in &context.view.sent {
            p {
                @if sent.what.carrier.is_empty() { "Fetched by its owner" } @else { "Sent by " strong { (sent.what.carrier) } }
                " on " (number::date(sent.what.on))
                @if !sent.what.tracking.is_empty() { ", tracking number " span.mono { (sent.what.tracking) } }
                "."
                @if let Some(days) = sent.what.guarantee_days { " Its work is guaranteed for " (number::count(days as usize, "day", "days")) @if let Some(until) = context.view.line.guarantee_until { ", until " (number::date(until)) } "." }
            }
        }
        @if stage != Stage::Home { (holds(context)) }
        @if matches!(stage, Stage::Packed | Stage::ReturnedUnrepaired) { (send_form(context)) }
        @if stage == Stage::Home && context.view.sent.is_empty() { (send_form(context)) }
        @if stage == Stage::Quoted || stage == Stage::LookedOver {
            div { p.quiet-text { "When the owner does not want it repaired:" } (go_aside(context, Stage::ReturnedUnrepaired, "Return it unrepaired")) }
        }
    }
}

fn in_the_parcel(context: &Context<'_>, packed: &Kept<Packed>) -> Markup {
    let what = &packed.what;
    html! {
        section {
            h3 { "In the parcel" }
            ul.lines {
                @for tick in &what.ticks {
                    li { (tick.item) ": " @if tick.packed { "packed" } @else { strong { "not in the parcel" } } }
                }
                @if let Some(grams) = what.weight_g { li { "weight: " (number::grams(grams)) } }
            }
            @if !what.declared.is_empty() {
                div.table-wrap { table {
                    caption { "Declared" }
                    thead { tr { th { "Contents" } th.num { "Pieces" } th.num { "Weight" } th { "Heading" } th { "Made in" } th.num { "Value" } } }
                    tbody { @for item in &what.declared { tr {
                        td { (item.what) }
                        td.num { (item.quantity) }
                        td.num { @if let Some(grams) = item.weight_g { (number::grams(grams)) } }
                        td { (item.hs) }
                        td { (item.origin) }
                        td.num { (item.value) }
                    } } }
                } }
            }
            @if !what.note.is_empty() { p.words { (what.note) } }
            @if what.has_cells { (cells_caution()) }
            (context.undo_kept(packed, Section::Home))
        }
    }
}

/// The caution stands where the cells go into the parcel.
pub(crate) fn cells_caution() -> Markup {
    html! {
        p.caution { strong { "Cells in the parcel." } " Lithium cells can burn: the rules of post and carrier decide whether and how they may be sent. Keep them in the camera or insulated one by one, none loose, none damaged." }
    }
}

fn pack_form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Packed);
    let already = |item: &str| {
        context.view.packed.as_ref().is_some_and(|packed| {
            packed
                .what
                .ticks
                .iter()
                .any(|tick| tick.packed && tick.item == item)
        })
    };
    let before = context.view.packed.as_ref().map(|kept| &kept.what);
    let currency = context.settings.currency;
    let declared = declared(context);
    html! {
        section {
            h3 { "Pack it" }
            (context.around(Deed::Packed, &form, &html! {
                p.quiet-text { "Tick what came with it as it goes into the parcel." }
                div.ticks {
                    @for item in &context.view.arrival.came_with { (form.tick("item", item, item, already(item))) }
                    @if context.view.arrival.came_with.is_empty() { span.quiet-text { "Nothing came with it but the camera." } }
                }
                (form.tick("cells", "yes", "cells or batteries are in it", before.is_some_and(|it| it.has_cells)))
                (cells_caution())
                p.caution { strong { "Glass." } " Cap the lens, leave the shutter closed and uncocked, and pad so that nothing touches the wall of the box." }
                div.fields {
                    (form.line("weight", "Weight of the parcel").unit("g").holding(&before.and_then(|it| it.weight_g).map(|it| it.to_string()).unwrap_or_default()).class("third").draw())
                    (form.line("note", "Note").hint("what else is in the parcel, how it is padded").holding(before.map_or("", |it| it.note.as_str())).class("wide").draw())
                }
                details.more open[form.is_returned() || before.is_some_and(|it| !it.declared.is_empty())] {
                    summary { "Declare its contents, for parcels abroad" }
                    p.quiet-text { "Heading of the Harmonized System: 9006 is photographic cameras. Country of origin by its two letters. The rules of the post and of customs decide." }
                    div.table-wrap { table.written {
                        thead { tr { th { "Contents, in detail" } th { "Pieces" } th { "Weight, g" } th { "Heading" } th { "Made in" } th { "Value, " (currency) } } }
                        tbody { @for (i, row) in declared.iter().enumerate() { tr {
                            @let cell = |name: &str, label: &str, value: &str| form.cell(&format!("declared.{i}.{name}"), &format!("Content {}: {label}", i + 1), value, None);
                            td { (cell("what", "in detail", &row[0])) }
                            td { (cell("pieces", "pieces", &row[1])) }
                            td { (cell("weight", "weight in grams", &row[2])) }
                            td { (cell("hs", "heading", &row[3])) }
                            td { (cell("origin", "made in", &row[4])) }
                            td { (cell("value", "value", &row[5])) }
                        } } }
                    } }
                }
                div.acts { button.next { "It is packed" } }
            }))
        }
    }
}

/// What is declared: as it was, else the camera and what came with it, and room for more.
fn declared(context: &Context<'_>) -> Vec<[String; 6]> {
    let view = &context.view;
    let text = |it: Option<u32>| it.map(|it| it.to_string()).unwrap_or_default();
    let before = view.packed.iter().flat_map(|kept| &kept.what.declared);
    let mut rows: Vec<[String; 6]> = before
        .map(|item| {
            [
                item.what.clone(),
                item.quantity.to_string(),
                text(item.weight_g),
                item.hs.clone(),
                item.origin.clone(),
                // An amount of another currency must be written anew.
                if item.value.currency == context.settings.currency {
                    written(item.value.amount, item.value.currency)
                } else {
                    String::new()
                },
            ]
        })
        .collect();
    if rows.is_empty() {
        let value = view.arrival.declared;
        let value = value.filter(|it| it.currency == context.settings.currency);
        rows.push([
            format!(
                "used mechanical camera {}, returned after repair",
                view.line.camera_name
            ),
            "1".to_owned(),
            String::new(),
            "9006".to_owned(),
            String::new(),
            value
                .map(|it| written(it.amount, it.currency))
                .unwrap_or_default(),
        ]);
    }
    rows.truncate(MOST_DECLARED);
    rows.resize_with(
        rows.len() + BLANK_DECLARED.min(MOST_DECLARED - rows.len()),
        Default::default,
    );
    rows
}

pub(crate) fn packed(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let ticked: Vec<&str> = fields.all("item").collect();
    let ticks = context
        .view
        .arrival
        .came_with
        .iter()
        .map(|item| Tick {
            item: item.clone(),
            packed: ticked.contains(&item.trim()),
        })
        .collect();
    let declared: Vec<DeclaredItem> = (0..MOST_DECLARED)
        .filter_map(|i| declared_item(context, fields, &mut wrong, i))
        .collect();
    let packed = Packed {
        ticks,
        note: fields.text("note").to_owned(),
        weight_g: wrong.whole(fields, "weight", "the weight"),
        has_cells: fields.ticked("cells"),
        declared,
        ..Packed::new(context.visit())
    };
    let mut changes: Vec<Change> = vec![packed.into()];
    if context.view.line.stage == Stage::Proved {
        changes.push(moved(context, Stage::Packed));
    }
    or_wrong(changes, wrong)
}

/// One content; a row of which nothing but its words is written is not declared.
fn declared_item(
    context: &Context<'_>,
    fields: &Fields,
    wrong: &mut Wrong,
    i: usize,
) -> Option<DeclaredItem> {
    let name = |part: &str| format!("declared.{i}.{part}");
    let what = fields.some(&name("what"))?;
    let row = i + 1;
    let said = |part: &str| !fields.text(&name(part)).is_empty();
    if !said("value") && (said("weight") || said("origin")) {
        let missing = format!("the value of content {row} is missing; write 0 if it has none");
        wrong.note(name("value"), missing);
    }
    let value = wrong.amount(
        fields,
        &name("value"),
        &format!("the value of content {row}"),
    )?;
    let mut whole =
        |part: &str, of: &str| wrong.whole(fields, &name(part), &format!("{of} of content {row}"));
    Some(DeclaredItem {
        what,
        quantity: whole("pieces", "the pieces").unwrap_or(1),
        value: Money::new(value, context.settings.currency),
        weight_g: whole("weight", "the weight"),
        hs: fields
            .some(&name("hs"))
            .unwrap_or_else(|| "9006".to_owned()),
        origin: fields.text(&name("origin")).to_uppercase(),
    })
}

/// Why it is held now, and keeping it back.
fn holds(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Hold);
    let lasting = context
        .view
        .holds
        .iter()
        .filter(|hold| hold.ended.is_none());
    html! {
        @for hold in lasting {
            @let end = context.form_keyed(Deed::HoldEnded, &hold.id.to_string());
            section {
                p.needs-hand { "Held: " (hold) }
                (context.around(Deed::HoldEnded, &end, &html! {
                    input type="hidden" name="hold" value=(hold.id);
                    div.fields { (end.line("note", "What came of it").draw()) }
                    div.acts { button { "No longer held" } }
                }))
            }
        }
        details.more open[form.is_returned()] {
            summary { "Hold it back" }
            (context.around(Deed::Hold, &form, &html! {
                div.fields {
                    (form.line("reason", "Why").hint("the owner is away; the bill is open").needed().draw())
                    (form.typed("again", "Day to look again", "date").hint("empty: none").class("third").draw())
                }
                div.acts { button { "Hold it" } }
            }))
        }
    }
}

pub(crate) fn hold(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let reason = wrong.needed(&sent.fields, "reason", "why it is held");
    let look_again = date_field(&sent.fields, &mut wrong, "again", None);
    let held = SendingHeld {
        visit: context.visit(),
        reason,
        look_again,
    };
    or_wrong(vec![held.into()], wrong)
}

pub(crate) fn hold_ended(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let Ok(hold) = sent.fields.text("hold").parse().map(HoldId::new) else {
        wrong.note("", "the form does not say which hold is over; look again");
        return Err(wrong);
    };
    let ended = HoldEnded {
        visit: context.visit(),
        hold,
        note: sent.fields.text("note").to_owned(),
    };
    Ok(vec![ended.into()])
}

/// Days of guarantee on what was agreed; none on what goes back unrepaired.
pub(crate) fn guarantee_days(view: &VisitView, settings: &BenchSettings) -> Option<u32> {
    if view.line.unrepaired {
        return None;
    }
    let agreed = view.agreed();
    let main = agreed.iter().find(|quote| quote.what.kind.is_alternative());
    let kind = main.map_or(QuoteKind::Repair, |quote| quote.what.kind);
    settings.guarantee_days(kind)
}

fn send_form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Sent);
    let today = context.today().to_string();
    let days = guarantee_days(&context.view, &context.settings);
    let days = days.map(|it| it.to_string()).unwrap_or_default();
    html! {
        section {
            h3 { "Send it" }
            (context.around(Deed::Sent, &form, &html! {
                div.fields {
                    (form.line("carrier", "Carrier").hint("empty when the owner fetches it").class("third").draw())
                    (form.line("tracking", "Tracking number").class("third").draw())
                    (form.typed("on", "Day", "date").holding(&today).class("third").draw())
                    (form.line("guarantee", "Guaranteed for").unit("days").holding(&days).hint("empty: no guarantee").class("third").draw())
                }
                div.acts { button.next { "It is on its way home" } }
            }))
        }
    }
}

pub(crate) fn sent(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let today = context.today();
    let on = date_field(fields, &mut wrong, "on", Some(today)).unwrap_or(today);
    let sent = Sent {
        visit: context.visit(),
        carrier: fields.text("carrier").to_owned(),
        tracking: fields.text("tracking").to_owned(),
        on,
        guarantee_days: wrong.whole(fields, "guarantee", "the days of guarantee"),
    };
    let mut changes: Vec<Change> = vec![sent.into()];
    if context.view.line.stage != Stage::Home {
        changes.push(moved(context, Stage::Home));
    }
    or_wrong(changes, wrong)
}

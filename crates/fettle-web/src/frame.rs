//! What a session says of the frame and the flash: times along the gate, the curtains' travel, evenness,
//! and how the flash was in step.

use fettle_measure::shutter::{
    FlashAtMark, FrameAtMark, Mean, Report, flash_by_mark, frames_by_mark,
};
use fettle_measure::{Millimetres, Seconds, Stops};
use maud::{Markup, html};

use crate::number;

/// The tables; nothing for a leaf shutter without flash.
pub(crate) fn tables(report: &Report) -> Markup {
    let frames = frames_by_mark(report);
    let flash = flash_by_mark(report);
    html! {
        @if !frames.is_empty() { (frames_table(&frames)) }
        @if !flash.is_empty() { (flash_table(&flash)) }
    }
}

/// Milliseconds with their uncertainty, without the unit, which heads the column.
fn ms(figure: Option<Mean<Seconds>>) -> String {
    figure.map_or_else(String::new, |it| {
        number::figure(it.mean.to_ms(), it.uncertainty.map(Seconds::to_ms), "")
    })
}

fn evenness(frame: &FrameAtMark) -> String {
    let of = |it: Mean<Stops>| {
        number::stops_off(it.mean.to_stops(), it.uncertainty.map(Stops::to_stops))
    };
    frame.evenness.map_or_else(String::new, of)
}

fn places(frames: &[FrameAtMark]) -> Vec<Millimetres> {
    let mut places: Vec<Millimetres> = Vec::new();
    for position in frames.iter().flat_map(|frame| &frame.positions) {
        if !places.contains(&position.x_mm) {
            places.push(position.x_mm);
        }
    }
    places.sort_by(|a, b| a.to_mm().total_cmp(&b.to_mm()));
    places
}

fn frames_table(frames: &[FrameAtMark]) -> Markup {
    let places = places(frames);
    html! {
        h4 { "The frame" }
        div.table-wrap { table.frame {
            thead { tr {
                th { "Mark" } th.num { "Releases" }
                @for x in &places { th.num { "At " (number::figure(x.to_mm(), None, "mm")) } }
                th.num { "First curtain, ms" } th.num { "Second curtain, ms" } th.num { "Far edge against near, stops" } th { "Slit" }
            } }
            tbody { @for frame in frames { tr {
                th scope="row" { (frame.marked) }
                td.num { (frame.releases) }
                @for x in &places {
                    td.num { @if let Some(time) = frame.positions.iter().find(|it| it.x_mm == *x).and_then(|it| it.effective_s) { (number::exposure(time.to_s(), None)) } }
                }
                td.num { (ms(frame.first_travel)) }
                td.num { (ms(frame.second_travel)) }
                td.num { (evenness(frame)) }
                td { (slit(frame)) }
            } } }
        } }
        p.aside { "Effective times by the sensors’ places; the curtains’ travel is that over the whole gate." }
    }
}

fn slit(frame: &FrameAtMark) -> String {
    if frame.capped == 0 {
        return "open to the end".to_owned();
    }
    let from = frame.capped_from_mm.map_or_else(String::new, |from| {
        format!(" from {}", number::figure(from.to_mm(), None, "mm"))
    });
    format!("closes{from}, in {} of {}", frame.capped, frame.releases)
}

fn flash_table(flash: &[FlashAtMark]) -> Markup {
    html! {
        h4 { "The flash contact" }
        div.table-wrap { table.flash {
            thead { tr { th { "Mark" } th.num { "Releases" } th { "Contact" } th.num { "Contact to fully open, ms" } th.num { "Open after the contact, ms" } th { "Fully open" } } }
            tbody { @for it in flash { tr {
                th scope="row" { (it.marked) }
                td.num { (it.releases) }
                td { @if it.closed == it.releases { "closes" } @else { "closes in " (it.closed) " of " (it.releases) } }
                td.num { (ms(it.delay)) }
                td.num { (ms(it.open_after)) }
                td { @if it.fully_open == it.releases { "yes" } @else if it.fully_open == 0 { "never" } @else { "in " (it.fully_open) " of " (it.releases) } }
            } } }
        } }
        p.aside { "A contact that closes late, after the shutter is fully open, has a negative time to it." }
    }
}

//! Plain words for the kinds that programs write: flags of a shot, verdicts, fasteners.

use fettle_bench::Verdict;
use fettle_measure::shutter::{ClickOf, Flag};
use fettle_notes::{Fastener, FastenerKind, Hand, Head};
use maud::{Markup, html};

use crate::number;

/// What is to be kept in mind about a shot.
fn flag(flag: Flag) -> &'static str {
    match flag {
        Flag::Clipped => "the signal reached the end of its range",
        Flag::CutOff => "the recording begins or ends within the shot; not counted",
        Flag::NeverFullyOpen => "the shutter never opened fully",
        Flag::E0Borrowed => "the fully open level was taken from slower shots",
        Flag::E0Unknown => "no shot shows the fully open level",
        Flag::Bounce => "the shutter opened a second time, partly",
        Flag::NarrowSlit => "the slit is narrower than the sensor",
        Flag::Capped => "the slit closed before the end of its travel",
        Flag::Overlapping => "another shot lies too near",
        Flag::LostSamples => "samples were lost within the shot or beside it",
        Flag::MarkUncertain => "not sure which mark this was",
        Flag::CannotTell => "the time cannot be told",
    }
}

/// As [`flag`], of all that a shot has.
pub(crate) fn flags(of: &[Flag]) -> String {
    let words: Vec<&str> = of.iter().map(|it| flag(*it)).collect();
    words.join("; ")
}

/// What can make a click.
pub(crate) fn click(of: ClickOf) -> &'static str {
    match of {
        ClickOf::Opening => "the shutter opens",
        ClickOf::Closing => "the shutter closes",
        ClickOf::MirrorUp => "the mirror goes up",
        ClickOf::MirrorDown => "the mirror comes down",
        ClickOf::Other => "nothing of the release",
    }
}

/// A verdict as a class of the style sheet, and in words.
pub(crate) fn verdict(verdict: Option<Verdict>) -> (&'static str, &'static str) {
    match verdict {
        Some(Verdict::In) => ("in", "in"),
        Some(Verdict::Out) => ("out", "out"),
        Some(Verdict::Undecided) => ("undecided", "undecided"),
        None => ("none", "not judged"),
    }
}

/// The cautions of a model, in one frame.
pub(crate) fn cautions(cautions: &[String]) -> Markup {
    html! {
        @if !cautions.is_empty() {
            div.caution.wide {
                p { strong { "Cautions" } }
                ul { @for caution in cautions { li { (caution) } } }
            }
        }
    }
}

/// A fastener in words: `3 countersunk screws, M1.7 × 3.2 mm, left-hand thread`.
pub(crate) fn fastener(fastener: &Fastener) -> String {
    let head = fastener
        .head
        .map(|head| format!("{} ", head_word(head)))
        .unwrap_or_default();
    let kind = fastener.kind.as_str();
    let mut text = match fastener.kind {
        FastenerKind::Glue | FastenerKind::Solder => kind.to_owned(),
        _ if fastener.count == 1 => format!("1 {head}{kind}"),
        _ => format!("{} {head}{kind}s", fastener.count),
    };
    match (&fastener.thread, fastener.length_mm) {
        (Some(thread), Some(length)) => {
            text.push_str(&format!(
                ", {thread} × {}",
                number::figure(length, None, "mm")
            ));
        }
        (Some(thread), None) => text.push_str(&format!(", {thread}")),
        (None, Some(length)) => text.push_str(&format!(", {}", number::figure(length, None, "mm"))),
        (None, None) => {}
    }
    if fastener.handed == Hand::Left {
        text.push_str(", left-hand thread");
    }
    if let Some(note) = &fastener.note {
        text.push_str(&format!(" – {note}"));
    }
    text
}

fn head_word(head: Head) -> &'static str {
    match head {
        Head::Cheese => "cheese-head",
        Head::Countersunk => "countersunk",
        Head::Pan => "pan-head",
        Head::Round => "round-head",
        Head::Headless => "headless",
        Head::Hexagon => "hexagon",
        Head::Slotted => "slotted",
        Head::FaceSpanner => "face-spanner",
    }
}

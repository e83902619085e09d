//! Writes every form of fastener and the verdicts' marks into one page, to be looked at: `gallery FILE.html`.

use std::fs;

use fettle_draw::{
    Fastener, FastenerKind, NutForm, ScrewHead, Sheet, fastener, verdict_mark, verdict_word,
};
use fettle_measure::Verdict;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let file = std::env::args().nth(1).ok_or("which file?")?;
    let heads = [
        ScrewHead::Cheese,
        ScrewHead::Countersunk,
        ScrewHead::Pan,
        ScrewHead::Round,
        ScrewHead::Hexagon,
        ScrewHead::FaceSpanner,
        ScrewHead::Headless,
    ];
    let nuts = [NutForm::Hexagon, NutForm::Slotted, NutForm::FaceSpanner];
    let kinds = heads
        .map(FastenerKind::Screw)
        .into_iter()
        .chain(nuts.map(FastenerKind::Nut))
        .map(|kind| (kind, "M2", Some(4.0)))
        .chain([
            (FastenerKind::Ring, "M42×0.5", None),
            (FastenerKind::Pin, "1.5", Some(9.0)),
            (FastenerKind::Screw(ScrewHead::Cheese), "", None),
        ]);
    let mut page = String::from("<!doctype html><body style=\"background:#fbf9f4\">\n");
    for (n, (kind, thread, length_mm)) in (1..).zip(kinds) {
        let nut = matches!(kind, FastenerKind::Nut(_));
        page += &fastener(
            &Fastener {
                kind,
                thread: thread.to_owned(),
                length_mm: length_mm.filter(|_| !nut),
                count: n % 4 + 1,
                left_hand: n % 5 == 0,
            },
            Sheet::Inherit,
        );
    }
    for verdict in [Verdict::In, Verdict::Out, Verdict::Undecided] {
        page += &format!(
            "<p>{} {}</p>\n",
            verdict_mark(verdict, Sheet::Inherit),
            verdict_word(verdict)
        );
    }
    fs::write(file, page)?;
    Ok(())
}

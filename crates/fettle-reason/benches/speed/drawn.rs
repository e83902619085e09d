//! Service notes of any size, drawn by lot: invented cameras of groups of parts, as real ones are.

use std::fmt::Write;

use crate::lots::Lots;

/// How much a camera has of everything.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Size {
    pub(crate) removals: usize,
    pub(crate) circumstances: usize,
    pub(crate) faults: usize,
    pub(crate) signs: usize,
    /// Parts, faults and signs fall into so many groups, such as wind, shutter and finder; one link in five leaves its group.
    pub(crate) groups: usize,
}

/// Notes as TOML text.
pub(crate) fn notes(size: Size, seed: u64) -> String {
    let mut lots = Lots::of(seed);
    let mut text = String::from(HEAD);
    removals(&mut text, size, &mut lots);
    causes(&mut text, size, &mut lots);
    signs(&mut text, size, &mut lots);
    text
}

const HEAD: &str = r#"format = "fettle-notes-1"

[model]
id = "tern"
maker = "Ostrey"
name = "Tern"
kind = "drawn by lot"
years = "1950-1955"
frame_mm = [36, 24]
shutter = "leaf"
serial_at = "nowhere"
summary = "A camera drawn by lot."
cautions = []
author = "the bench"
revised = 2026-01-01

"#;

/// Every part lies behind one of its group drawn before it; one in six can be reached by either of two.
fn removals(text: &mut String, size: Size, lots: &mut Lots) {
    for at in 0..size.removals {
        let _ = writeln!(
            text,
            "[part.part-{at}]\nname = \"part {at}\"\nat = \"inside\""
        );
    }
    for at in 0..size.removals {
        let before = |lots: &mut Lots| before(at, size.groups, lots);
        let _ = writeln!(text, "[removal.part-{at}]");
        match (before(lots), before(lots)) {
            (Some(one), Some(other)) if one != other && lots.next() < 1.0 / 6.0 => {
                let _ = writeln!(text, "either = [[\"part-{one}\"], [\"part-{other}\"]]");
            }
            (Some(one), _) => {
                let _ = writeln!(text, "after = [\"part-{one}\"]");
            }
            (None, _) => {}
        }
        let side = lots.pick(&["top", "bottom", "front", "back"]);
        let tool = lots.pick(&["driver", "spanner", "hook", "iron"]);
        let minutes = lots.between(0.5, 12.0);
        let _ = writeln!(
            text,
            "minutes = {minutes:.1}\nside = \"{side}\"\ntool = \"{tool}\""
        );
    }
}

/// One drawn before, mostly of the same group; `None` for what nothing comes before.
fn before(at: usize, groups: usize, lots: &mut Lots) -> Option<usize> {
    let fellows: Vec<usize> = if lots.next() < 0.8 {
        (0..at)
            .filter(|other| other % groups == at % groups)
            .collect()
    } else {
        (0..at).collect()
    };
    (!fellows.is_empty()).then(|| fellows[lots.below(fellows.len())])
}

fn causes(text: &mut String, size: Size, lots: &mut Lots) {
    for at in 0..size.circumstances {
        let chance = lots.between(0.05, 0.5);
        let _ = writeln!(
            text,
            "[circumstance.was-{at}]\nname = \"{at}\"\nquestion = \"{at}?\"\nchance = {chance:.2}"
        );
    }
    for at in 0..size.faults {
        let mut links: Vec<String> = Vec::new();
        for was in 0..size.circumstances {
            if lots.next() < 0.2 {
                links.push(format!("was-{was} = {:.2}", lots.between(0.03, 0.4)));
            }
        }
        for _ in 0..lots.below(3) {
            let link = before(at, size.groups, lots).map(|fault| format!("fault-{fault} = "));
            if let Some(link) =
                link.filter(|link| links.iter().all(|other| !other.starts_with(link)))
            {
                links.push(format!("{link}{:.2}", lots.between(0.03, 0.4)));
            }
        }
        let leak = lots.between(0.003, 0.05);
        let is = lots.pick(&["cause", "damage"]);
        let _ = writeln!(
            text,
            "[fault.fault-{at}]\nname = \"fault {at}\"\nis = \"{is}\"\nleak = {leak:.3}\nbrought_on_by = {{ {} }}\ncured_by = [\"work-{at}\"]",
            links.join(", ")
        );
        let (minutes, success) = (lots.between(5.0, 60.0), lots.between(0.8, 1.0));
        let _ = writeln!(
            text,
            "[work.work-{at}]\nname = \"work {at}\"\nminutes = {minutes:.0}\nneeds_apart = [\"part-{}\"]\nsuccess = {success:.2}",
            fellow(at, size.removals, size.groups, lots)
        );
    }
}

/// Each sign is shown by one to four faults; one in four needs something apart.
fn signs(text: &mut String, size: Size, lots: &mut Lots) {
    for at in 0..size.signs {
        let mut links: Vec<String> = Vec::new();
        for _ in 0..=lots.below(4) {
            let link = format!("fault-{} = ", fellow(at, size.faults, size.groups, lots));
            if links.iter().all(|other| !other.starts_with(&link)) {
                links.push(format!("{link}{:.2}", lots.between(0.1, 0.98)));
            }
        }
        let (minutes, leak) = (lots.between(0.2, 6.0), lots.between(0.0, 0.06));
        let apart = if lots.next() < 0.25 {
            let part = fellow(at, size.removals, size.groups, lots);
            format!("needs_apart = [\"part-{part}\"]\n")
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "[sign.sign-{at}]\nquestion = \"{at}?\"\nat = \"outside\"\nminutes = {minutes:.1}\n{apart}links = {{ {} }}\nleak = {leak:.3}",
            links.join(", ")
        );
    }
}

/// One of `count`, mostly of the same group as `at`.
fn fellow(at: usize, count: usize, groups: usize, lots: &mut Lots) -> usize {
    let any = lots.below(count);
    let near = any - any % groups + at % groups;
    if lots.next() < 0.8 && near < count {
        near
    } else {
        any
    }
}

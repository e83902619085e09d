//! What brings on what, and what shows it: circumstances, faults and signs.

use crate::lettering::{width_of, wrapped};
use crate::written::written_chance;

mod focus;
mod overview;

pub use focus::cause_network;
pub use overview::cause_overview;

/// Width of the sheet: what a page leaves on a tablet held upright.
const WIDTH: f64 = 748.0;
const MARGIN: f64 = 4.0;
const LETTERS: f64 = 11.5;
const SMALL: f64 = 11.0;
/// Height of the headings above the columns.
const HEAD: f64 = 26.0;

/// Circumstances, faults and signs with the chances that lead from one to another.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CauseNetwork {
    /// What the drawing shows, for a reader that cannot see it.
    pub title: String,
    /// Everything that can be so or not.
    pub nodes: Vec<CauseNode>,
    /// What brings on or shows what; links to places outside the network are left out.
    pub links: Vec<CauseLink>,
}

/// One thing of a [`CauseNetwork`] that can be so or not.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseNode {
    /// Its sort.
    pub kind: CauseKind,
    /// What it is called.
    pub name: String,
    /// Whether it is known to be so.
    pub known: Option<bool>,
    /// Its chance as things stand, 0 to 1; `None` when it was not worked out.
    pub chance: Option<f64>,
    /// Its chance when none of its causes is there, 0 to 1; of a circumstance its chance before anything is known.
    pub by_itself: Option<f64>,
    /// Address that it leads to; drawn only when it begins with `/`, `?` or `#`.
    pub link: Option<String>,
}

/// The three layers of a [`CauseNetwork`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CauseKind {
    /// What happened to the camera.
    Circumstance,
    /// What is wrong with it.
    Fault,
    /// What can be seen of it.
    Sign,
}

/// That one thing brings on or shows as another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CauseLink {
    /// The cause, as a place in [`CauseNetwork::nodes`].
    pub from: usize,
    /// What it brings on or shows as.
    pub to: usize,
    /// Chance that it does, 0 to 1, were there no other cause.
    pub chance: f64,
}

impl CauseNode {
    /// What is known of it, or else its chance now.
    fn standing(&self) -> Option<String> {
        let known = self.known.map(|known| match (self.kind, known) {
            (CauseKind::Circumstance, true) => "yes",
            (CauseKind::Circumstance, false) => "no",
            (CauseKind::Fault, true) => "found",
            (CauseKind::Fault, false) => "ruled out",
            (CauseKind::Sign, true) => "seen",
            (CauseKind::Sign, false) => "not seen",
        });
        match known {
            Some(word) => Some(word.to_owned()),
            None => self.chance.and_then(written_chance),
        }
    }
}

impl CauseKind {
    const fn word(self) -> &'static str {
        match self {
            Self::Circumstance => "circumstance",
            Self::Fault => "fault",
            Self::Sign => "sign",
        }
    }

    /// What a chance without any cause is called.
    const fn by_itself(self) -> &'static str {
        match self {
            Self::Circumstance => "beforehand",
            Self::Fault | Self::Sign => "by itself",
        }
    }

    const fn heading(self) -> &'static str {
        match self {
            Self::Circumstance => "circumstances",
            Self::Fault => "faults",
            Self::Sign => "signs",
        }
    }
}

impl CauseNetwork {
    /// The links between two different things of the network, once each.
    fn joined(&self) -> Vec<CauseLink> {
        let mut seen = std::collections::BTreeSet::new();
        self.links
            .iter()
            .filter(|l| l.from < self.nodes.len() && l.to < self.nodes.len() && l.from != l.to)
            .filter(|l| seen.insert((l.from, l.to)))
            .copied()
            .collect()
    }

    /// A thing in words, with what brings it on and what it leads to.
    fn told(&self, n: usize, links: &[CauseLink]) -> String {
        let Some(node) = self.nodes.get(n) else {
            return String::new();
        };
        let mut words = format!("{}: {}", node.kind.word(), node.name);
        if let Some(standing) = node.standing() {
            words = continued(&words, &standing);
        }
        if let Some(chance) = node.by_itself.and_then(written_chance) {
            words = format!("{words}, {} {chance}", node.kind.by_itself());
        }
        let list = |of: &dyn Fn(&CauseLink) -> Option<usize>| {
            let named = links.iter().filter_map(|link| {
                let other = self.nodes.get(of(link)?)?;
                let chance = written_chance(link.chance).unwrap_or_default();
                Some(format!("{} {chance}", other.name).trim_end().to_owned())
            });
            named.collect::<Vec<_>>().join(", ")
        };
        let from = list(&|l| (l.to == n).then_some(l.from));
        if !from.is_empty() {
            words = format!("{words}; from {from}");
        }
        let to = list(&|l| (l.from == n).then_some(l.to));
        if !to.is_empty() {
            words = format!("{words}; leads to {to}");
        }
        words
    }
}

/// How bold a line is for its chance, between the lines of 0 and 1.
fn weight(chance: f64, none: f64, certain: f64) -> f64 {
    let chance = if chance.is_finite() {
        chance.clamp(0.0, 1.0)
    } else {
        0.0
    };
    none + (certain - none) * chance
}

/// Words with more after them; a question keeps its own mark.
fn continued(words: &str, more: &str) -> String {
    let comma = if words.ends_with('?') { "" } else { "," };
    format!("{words}{comma} {more}")
}

/// Lines of a name and of what stands under it.
fn lettered(name: &str, foot: &[String], width: f64, most: usize) -> Vec<String> {
    let mut lines = wrapped(name, LETTERS, width, most);
    for words in foot {
        // A short foot goes on after a short last line.
        let joined = lines.last().map(|last| continued(last, words));
        match (joined, lines.last_mut()) {
            (Some(joined), Some(last)) if width_of(&joined, LETTERS) <= width => *last = joined,
            _ => lines.extend(wrapped(words, LETTERS, width, 2)),
        }
    }
    lines
}

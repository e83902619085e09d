//! Where the readers of a file lay down what they find: problems, definitions, references.

use std::collections::{HashMap, HashSet};
use std::ops::Range;

use crate::model::{ID_RULE, Instrument, LimitId, ShutterKind, is_id};
use crate::problem::{OtherPlace, Problem, ProblemKind, Severity};
use crate::source::Source;

/// Most problems shown of one file.
pub(crate) const PROBLEMS_SHOWN: usize = 200;
/// Most problems kept while reading; a hostile file could have a million.
const PROBLEMS_KEPT: usize = 20_000;
/// Most searches for a like name in one file: each compares with every name there is.
const SUGGESTIONS: usize = 200;
/// Longest word for which a like one is sought, in bytes.
const SUGGESTION_MAX: usize = 64;

/// A byte range of the file.
pub(crate) type Span = Range<usize>;

/// Kinds of things that one file defines and refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Kind {
    Part,
    Removal,
    Circumstance,
    Fault,
    Sign,
    Work,
    Setting,
    Limit,
}

impl Kind {
    pub(crate) const ALL: [Self; 8] = [
        Self::Part,
        Self::Removal,
        Self::Circumstance,
        Self::Fault,
        Self::Sign,
        Self::Work,
        Self::Setting,
        Self::Limit,
    ];

    /// The table's name in the file, and the word for one of the kind.
    pub(crate) const fn as_str(self) -> &'static str {
        match self {
            Self::Part => "part",
            Self::Removal => "removal",
            Self::Circumstance => "circumstance",
            Self::Fault => "fault",
            Self::Sign => "sign",
            Self::Work => "work",
            Self::Setting => "setting",
            Self::Limit => "limit",
        }
    }
}

/// What one kind defines, in the file's order.
#[derive(Default)]
pub(crate) struct Definitions {
    place: HashMap<String, usize>,
    entries: Vec<Definition>,
}

pub(crate) struct Definition {
    pub(crate) id: String,
    pub(crate) span: Span,
    pub(crate) used: bool,
}

impl Definitions {
    pub(crate) fn position(&self, id: &str) -> Option<usize> {
        self.place.get(id).copied()
    }

    pub(crate) fn entries(&self) -> &[Definition] {
        &self.entries
    }
}

/// A reference from one definition to another of the same kind that must not run in a circle.
pub(crate) struct Edge {
    pub(crate) from: usize,
    pub(crate) to: usize,
    pub(crate) span: Span,
}

/// A problem before lines and columns are counted.
pub(crate) struct Draft {
    kind: ProblemKind,
    severity: Severity,
    span: Span,
    message: String,
    help: Option<String>,
    also: Option<(Span, String)>,
}

impl Draft {
    pub(crate) fn error(kind: ProblemKind, span: &Span, message: impl Into<String>) -> Self {
        Self {
            kind,
            severity: Severity::Error,
            span: span.clone(),
            message: message.into(),
            help: None,
            also: None,
        }
    }

    pub(crate) fn warning(kind: ProblemKind, span: &Span, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Warning,
            ..Self::error(kind, span, message)
        }
    }

    pub(crate) fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    pub(crate) fn also(mut self, span: &Span, what: impl Into<String>) -> Self {
        self.also = Some((span.clone(), what.into()));
        self
    }
}

/// Collects what the readers find.
pub(crate) struct Desk<'s> {
    pub(crate) source: &'s Source<'s>,
    drafts: Vec<Draft>,
    dropped: usize,
    failed: bool,
    defined: HashMap<Kind, Definitions>,
    suggestions_left: usize,
    /// Removals that wait for others.
    pub(crate) removal_edges: Vec<Edge>,
    /// Settings that depend on others.
    pub(crate) setting_edges: Vec<Edge>,
    /// Faults that others bring on.
    pub(crate) fault_edges: Vec<Edge>,
    /// Places of the faults that a sign shows.
    pub(crate) shown_faults: HashSet<usize>,
    /// Limits on which adjusters have an effect, with the place that says so.
    pub(crate) moved_limits: Vec<(LimitId, Span)>,
    /// Instruments that answer signs, with the place that says so.
    pub(crate) instruments: Vec<(Instrument, Span)>,
    /// The model's sort of shutter, once it is read.
    pub(crate) shutter: Option<ShutterKind>,
}

impl<'s> Desk<'s> {
    pub(crate) fn new(source: &'s Source<'s>) -> Self {
        Self {
            source,
            drafts: Vec::new(),
            dropped: 0,
            failed: false,
            defined: Kind::ALL
                .into_iter()
                .map(|kind| (kind, Definitions::default()))
                .collect(),
            suggestions_left: SUGGESTIONS,
            removal_edges: Vec::new(),
            setting_edges: Vec::new(),
            fault_edges: Vec::new(),
            shown_faults: HashSet::new(),
            moved_limits: Vec::new(),
            instruments: Vec::new(),
            shutter: None,
        }
    }

    pub(crate) fn report(&mut self, draft: Draft) {
        self.failed |= draft.severity == Severity::Error;
        if self.drafts.len() < PROBLEMS_KEPT {
            self.drafts.push(draft);
        } else {
            self.dropped += 1;
        }
    }

    /// Whether a problem was found that makes the file useless.
    pub(crate) fn failed(&self) -> bool {
        self.failed
    }

    pub(crate) fn define(&mut self, kind: Kind, id: &str, span: &Span) {
        let of_kind = self.defined.entry(kind).or_default();
        of_kind.place.insert(id.to_owned(), of_kind.entries.len());
        of_kind.entries.push(Definition {
            id: id.to_owned(),
            span: span.clone(),
            used: false,
        });
    }

    pub(crate) fn defined(&self, kind: Kind) -> &[Definition] {
        self.defined.get(&kind).map_or(&[], Definitions::entries)
    }

    pub(crate) fn position(&self, kind: Kind, id: &str) -> Option<usize> {
        self.defined.get(&kind)?.position(id)
    }

    fn mark_used(&mut self, kind: Kind, at: usize) {
        if let Some(entry) = self
            .defined
            .get_mut(&kind)
            .and_then(|d| d.entries.get_mut(at))
        {
            entry.used = true;
        }
    }

    /// Follows a reference; says where in its kind the thing stands, or reports that there is none.
    pub(crate) fn resolve(
        &mut self,
        kind: Kind,
        id: &str,
        span: &Span,
        path: &str,
    ) -> Option<usize> {
        let found = self.position(kind, id);
        if kind == Kind::Removal
            && let Some(part) = self.position(Kind::Part, id)
        {
            self.mark_used(Kind::Part, part);
        }
        if let Some(at) = found {
            self.mark_used(kind, at);
        } else {
            let draft = self.unresolved(&[kind], id, span, path);
            self.report(draft);
        }
        found
    }

    /// What to say of a reference that leads nowhere.
    pub(crate) fn unresolved(
        &mut self,
        kinds: &[Kind],
        id: &str,
        span: &Span,
        path: &str,
    ) -> Draft {
        let wanted: Vec<&str> = kinds.iter().map(|k| k.as_str()).collect();
        let wanted = wanted.join(" or ");
        if kinds == [Kind::Removal] && self.position(Kind::Part, id).is_some() {
            let message =
                format!("`{path}` needs part `{id}` off, but nothing says how it comes off");
            return Draft::error(ProblemKind::Unresolved, span, message).help(format!(
                "add a table `[removal.{id}]`, or name a part that comes off"
            ));
        }
        let shown = shorten(id);
        let message = format!("`{path}` names {wanted} `{shown}`, which the file does not define");
        let draft = Draft::error(ProblemKind::Unresolved, span, message);
        if !is_id(id) {
            return draft.help(format!("it is not an id; write {ID_RULE}"));
        }
        // A removal has the id of its part, so it is not another thing.
        let other = Kind::ALL
            .into_iter()
            .find(|k| *k != Kind::Removal && !kinds.contains(k) && self.position(*k, id).is_some());
        if let Some(other) = other {
            return draft.help(format!(
                "`{id}` is a {}; name a {wanted} here",
                other.as_str()
            ));
        }
        match self.nearest_defined(kinds, id) {
            Some(near) => draft.help(format!("did you mean `{near}`?")),
            None => draft.help(format!(
                "define it as `[{}.{shown}]`",
                kinds.first().map_or("part", |k| k.as_str())
            )),
        }
    }

    fn nearest_defined(&mut self, kinds: &[Kind], id: &str) -> Option<String> {
        self.suggestions_left = self.suggestions_left.checked_sub(1)?;
        let names = kinds
            .iter()
            .flat_map(|k| self.defined(*k))
            .map(|d| d.id.as_str());
        nearest(id, names).map(str::to_owned)
    }

    /// The word of a closed list that is most like the one given.
    pub(crate) fn nearest_word<'w>(
        &mut self,
        word: &str,
        words: impl Iterator<Item = &'w str>,
    ) -> Option<&'w str> {
        self.suggestions_left = self.suggestions_left.checked_sub(1)?;
        nearest(word, words)
    }

    /// The problems in the file's order, with their lines.
    pub(crate) fn into_problems(mut self, file: Option<&str>) -> Vec<Problem> {
        self.drafts.sort_by_key(|d| (d.span.start, d.span.end));
        let beyond = self.drafts.len().saturating_sub(PROBLEMS_SHOWN) + self.dropped;
        let hidden_error = self
            .drafts
            .iter()
            .skip(PROBLEMS_SHOWN)
            .any(|d| d.severity == Severity::Error);
        let last = self.drafts.get(PROBLEMS_SHOWN).map(|d| d.span.clone());
        self.drafts.truncate(PROBLEMS_SHOWN);
        if let Some(span) = last {
            let message = format!("{beyond} more problems begin here and are not shown");
            let severity = if hidden_error || self.dropped > 0 {
                Severity::Error
            } else {
                Severity::Warning
            };
            let more = Draft {
                severity,
                ..Draft::error(ProblemKind::More, &span, message)
            };
            self.drafts
                .push(more.help("put those above right, then check again"));
        }
        let source = self.source;
        self.drafts
            .into_iter()
            .map(|draft| draft.into_problem(source, file))
            .collect()
    }
}

impl Draft {
    fn into_problem(self, source: &Source<'_>, file: Option<&str>) -> Problem {
        let place = source.place(self.span.start);
        let excerpt = source.excerpt(&self.span);
        let also = self.also.map(|(span, what)| {
            let place = source.place(span.start);
            OtherPlace {
                line: place.line,
                column: place.column,
                what,
            }
        });
        Problem {
            kind: self.kind,
            severity: self.severity,
            file: file.map(str::to_owned),
            line: place.line,
            column: place.column,
            message: self.message,
            help: self.help,
            also,
            source_line: excerpt.line,
            indent: excerpt.indent,
            width: excerpt.width,
        }
    }
}

/// A text cut to what a message bears, without control characters.
pub(crate) fn shorten(text: &str) -> String {
    const SHOWN: usize = 60;
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push_str("...");
    }
    shown
}

/// The candidate that is most like the word, when one is like enough; the first among equals.
fn nearest<'c>(word: &str, candidates: impl Iterator<Item = &'c str>) -> Option<&'c str> {
    if word.is_empty() || word.len() > SUGGESTION_MAX {
        return None;
    }
    // A third of the letters may be wrong: more finds words that only look alike by chance.
    let allowed = (word.chars().count() / 3).max(1);
    candidates
        .filter(|c| c.len() <= SUGGESTION_MAX && c.len().abs_diff(word.len()) <= 2 * allowed)
        .map(|c| (strsim::osa_distance(word, c), c))
        .filter(|(distance, _)| *distance <= allowed)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, c)| c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_word_is_offered_only_when_it_is_like() {
        let known = ["leather", "wind-knob", "top-cover"];
        assert_eq!(nearest("leathr", known.into_iter()), Some("leather"));
        assert_eq!(nearest("wind-konb", known.into_iter()), Some("wind-knob"));
        assert_eq!(nearest("shutter", known.into_iter()), None);
        assert_eq!(nearest("", known.into_iter()), None);
    }
}

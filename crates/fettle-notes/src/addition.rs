//! Faults and signs that a camera showed and the notes did not have.

use crate::model::{FaultId, FaultKind, ServiceNotes, SignId, WorkId};
use crate::template::quoted;

/// Chances that stand for what is not known yet: about one camera in a hundred has the fault, and half of those show the sign.
const NEW_FAULT: f64 = 0.01;
const NEW_LINK: f64 = 0.5;
/// One look in fifty says yes without cause, and takes a minute.
const NEW_LEAK: f64 = 0.02;
const NEW_MINUTES: f64 = 1.0;
/// The longest id that the format takes.
const LONGEST: usize = 40;

/// Text to be put at the end of the notes' file, and the id that the new entry has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Addition<Id> {
    /// The id.
    pub id: Id,
    /// The entry, as TOML.
    pub text: String,
}

/// A fault as new notes know it, with figures for its author to better. `None` for a name without a letter or digit.
#[must_use]
pub fn new_fault(
    notes: &ServiceNotes,
    name: &str,
    is: FaultKind,
    cured_by: &WorkId,
) -> Option<Addition<FaultId>> {
    let taken = |id: &str| notes.faults.contains(id) || notes.circumstances.contains(id);
    let id = FaultId::new(&free_id(name, taken)?).ok()?;
    let (name, is) = (quoted(name), is.as_str());
    let text = format!(
        "\n# From a visit; the figures are a first guess.\n[fault.{id}]\nname = {name}\nis = \"{is}\"\nleak = {NEW_FAULT}\nbrought_on_by = {{}}\nparts = []\ncured_by = [\"{cured_by}\"]\n"
    );
    Some(Addition { id, text })
}

/// A sign as new notes know it, for one fault and seen at a place. `None` for a question without a letter or digit.
#[must_use]
pub fn new_sign(
    notes: &ServiceNotes,
    question: &str,
    at: &str,
    shows: &FaultId,
) -> Option<Addition<SignId>> {
    let id = SignId::new(&free_id(question, |id| notes.signs.contains(id))?).ok()?;
    let (question, at) = (quoted(question), quoted(at));
    let text = format!(
        "\n# From a visit; the figures are a first guess.\n[sign.{id}]\nquestion = {question}\nat = {at}\nminutes = {NEW_MINUTES}\nneeds_apart = []\nlinks = {{ {shows} = {NEW_LINK} }}\nleak = {NEW_LEAK}\n"
    );
    Some(Addition { id, text })
}

/// An id from words: `the spool's clutch slips` gives `the-spools-clutch-slips`, or the same with a number when it is taken.
fn free_id(words: &str, taken: impl Fn(&str) -> bool) -> Option<String> {
    let mut id = String::new();
    for c in words.chars().flat_map(char::to_lowercase) {
        match c {
            'a'..='z' | '0'..='9' => id.push(c),
            '\'' | '’' => {}
            _ if !id.is_empty() && !id.ends_with('-') => id.push('-'),
            _ => {}
        }
    }
    // Room for a number.
    id.truncate(LONGEST - 4);
    let id = id.trim_end_matches('-');
    if id.is_empty() {
        return None;
    }
    let numbered = (2..1000).map(|n| format!("{id}-{n}"));
    std::iter::once(id.to_owned())
        .chain(numbered)
        .find(|id| !taken(id))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Date, ModelId, parse, template};

    fn notes() -> (String, ServiceNotes) {
        let id = ModelId::new("corran-66").unwrap();
        let text = template(&id, "Aldous", "Corran 66", Date::new(2026, 3, 14).unwrap());
        let notes = parse(&text, None).unwrap().0;
        (text, notes)
    }

    #[test]
    fn what_is_added_is_found_in_the_notes_again() {
        let (text, notes) = notes();
        let work = notes.works.ids().next().unwrap();
        let fault = new_fault(
            &notes,
            "The spool's \"clutch\" slips",
            FaultKind::Damage,
            work,
        )
        .unwrap();
        assert_eq!(fault.id.as_str(), "the-spools-clutch-slips");
        let text = text + &fault.text;
        let (notes, _) = parse(&text, None).unwrap();
        let added = notes.faults.get(&fault.id).unwrap();
        assert_eq!(added.name, "The spool's \"clutch\" slips");
        assert_eq!(added.is, FaultKind::Damage);

        let sign = new_sign(&notes, "Does the spool slip?", "wind", &fault.id).unwrap();
        let (notes, _) = parse(&(text + &sign.text), None).unwrap();
        assert_eq!(notes.signs.get(&sign.id).unwrap().links[0].fault, fault.id);
    }

    #[test]
    fn a_name_taken_gets_a_number_and_one_without_letters_none() {
        assert_eq!(free_id("Oil!", |id| id == "oil"), Some("oil-2".to_owned()));
        assert_eq!(free_id(" ‽ ", |_| false), None);
        let long = free_id(&"grease ".repeat(20), |_| false).unwrap();
        assert!(long.len() <= LONGEST && !long.ends_with('-'), "{long}");
    }
}

//! The models whose cameras come: three with the demo's service notes, and others without any.

use fettle_bench::Term;
use fettle_notes::parse;

use crate::lots::name;

/// How many models have no service notes.
const WITHOUT: u64 = 37;

/// What is told of one model's cameras.
pub(crate) struct Model {
    pub(crate) maker: String,
    pub(crate) name: String,
    pub(crate) notes_id: Option<String>,
    pub(crate) circumstances: Vec<Term>,
    pub(crate) signs: Vec<Term>,
    pub(crate) faults: Vec<Term>,
    pub(crate) works: Vec<(Term, f64)>,
    /// In an order in which they come off.
    pub(crate) pieces: Vec<(Term, f64)>,
    pub(crate) parts: Vec<Term>,
    pub(crate) settings: Vec<Term>,
    /// The limit on exposure times and the marks of the dial.
    pub(crate) dial: Option<(String, Vec<String>)>,
}

/// Those with notes first.
pub(crate) fn models() -> Vec<Model> {
    let known = fettle_demo::notes().map(|(file, text)| known(file, text));
    known.into_iter().chain((0..WITHOUT).map(typed)).collect()
}

fn known(file: &str, text: &str) -> Model {
    let (notes, _) = parse(text, Some(file)).expect("the demo's notes can be read");
    let dial = notes.shutter_limit().map(|(id, limit)| {
        let marks = limit.marks.iter().map(ToString::to_string);
        (id.as_str().to_owned(), marks.collect())
    });
    let part_name = |id: &fettle_notes::PartId| {
        notes
            .parts
            .get(id)
            .map_or_else(|| id.to_string(), |it| it.name.clone())
    };
    let mut off: Vec<Term> = Vec::new();
    let mut pieces = Vec::new();
    while off.len() < notes.removals.len() {
        let is_off = |id: &fettle_notes::PartId| off.iter().any(|it| it.key() == id.as_str());
        let next = notes.removals.iter().find(|(id, it)| {
            !is_off(id)
                && it.after.iter().all(is_off)
                && (it.either.is_empty() || it.either.iter().any(|group| group.iter().all(is_off)))
        });
        let (id, removal) = next.expect("the removals have an order");
        let piece = Term::known(id.as_str(), part_name(id));
        pieces.push((piece.clone(), removal.minutes.to_f64()));
        off.push(piece);
    }
    let settings = notes.settings.iter();
    Model {
        maker: notes.model.maker.clone(),
        name: notes.model.name.clone(),
        notes_id: Some(notes.model.id.as_str().to_owned()),
        circumstances: notes
            .circumstances
            .iter()
            .map(|(id, it)| Term::known(id.as_str(), &it.name))
            .collect(),
        signs: notes
            .signs
            .iter()
            .map(|(id, it)| Term::known(id.as_str(), &it.question))
            .collect(),
        faults: notes
            .faults
            .iter()
            .map(|(id, it)| Term::known(id.as_str(), &it.name))
            .collect(),
        works: notes
            .works
            .iter()
            .map(|(id, it)| (Term::known(id.as_str(), &it.name), it.minutes.to_f64()))
            .collect(),
        pieces,
        parts: notes
            .parts
            .iter()
            .map(|(id, it)| Term::known(id.as_str(), &it.name))
            .collect(),
        settings: settings
            .map(|(id, it)| Term::known(id.as_str(), &it.name))
            .collect(),
        dial,
    }
}

fn typed(n: u64) -> Model {
    let own = |words: &[&str]| words.iter().map(|it| Term::own(*it)).collect::<Vec<_>>();
    let timed = |words: &[(&str, f64)]| {
        words
            .iter()
            .map(|(it, minutes)| (Term::own(*it), *minutes))
            .collect()
    };
    Model {
        maker: name(n % 9 * 31 + 5),
        name: format!("{} {}", name(n * 97 + 11), n % 4 + 1),
        notes_id: None,
        circumstances: own(&["kept in a damp place", "it fell", "not used for long"]),
        signs: own(&[
            "slow speeds hang",
            "the finder is dim",
            "film does not move on",
            "the aperture sticks",
            "light gets in at a corner",
        ]),
        faults: own(&[
            "dried grease",
            "bent lever",
            "haze on the mirror",
            "worn pawl",
            "perished seal",
            "weak spring",
        ]),
        works: timed(&[
            ("clean and grease the train", 55.0),
            ("straighten the lever", 25.0),
            ("new seals", 35.0),
            ("set the spring", 20.0),
        ]),
        pieces: timed(&[
            ("top cover", 6.0),
            ("front plate", 4.0),
            ("leather", 9.0),
            ("shutter", 12.0),
            ("lens cell", 3.0),
            ("back", 2.0),
        ]),
        parts: own(&["seal strip", "spring", "screw M1.4", "mirror"]),
        settings: own(&["infinity", "finder"]),
        dial: None,
    }
}

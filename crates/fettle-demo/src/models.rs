//! The three models that have service notes, and a few that have none.

use fettle_notes::{ServiceNotes, parse};

use crate::DemoError;

const CORRAN: &str = include_str!("../notes/corran-66.toml");
const SPRAT: &str = include_str!("../notes/sprat.toml");
const MERIDIAN: &str = include_str!("../notes/meridian.toml");

/// The service notes of the demo's three models: file name and text.
#[must_use]
pub const fn notes() -> [(&'static str, &'static str); 3] {
    [
        ("corran-66.toml", CORRAN),
        ("sprat.toml", SPRAT),
        ("meridian.toml", MERIDIAN),
    ]
}

/// The notes read, in the order of [`notes`].
pub(crate) fn read() -> Result<Vec<ServiceNotes>, DemoError> {
    let read = |(name, text)| {
        parse(text, Some(name))
            .map(|(notes, _)| notes)
            .map_err(|problems| DemoError::Notes(problems.to_string()))
    };
    notes().into_iter().map(read).collect()
}

/// A model of which the bench has no service notes: what is known of it is typed in.
#[derive(Debug)]
pub(crate) struct TypedModel {
    pub(crate) maker: &'static str,
    pub(crate) name: &'static str,
    /// What was seen, the damage, its cause, the work that cures both, and its usual minutes.
    pub(crate) sign: &'static str,
    pub(crate) damage: &'static str,
    pub(crate) cause: &'static str,
    pub(crate) work: &'static str,
    pub(crate) minutes: f64,
    pub(crate) piece: &'static str,
}

/// Models that came in once or twice.
pub(crate) const TYPED: [TypedModel; 4] = [
    TypedModel {
        maker: "Tarn & Vole",
        name: "Lantern II",
        sign: "bellows let light in at two corners",
        damage: "pinholes in the bellows",
        cause: "bellows folded while damp",
        work: "patch the bellows from the inside",
        minutes: 95.0,
        piece: "back door",
    },
    TypedModel {
        maker: "Hollin",
        name: "Pilot",
        sign: "blades open and do not close",
        damage: "closing spring off its post",
        cause: "oil on the blades",
        work: "clean the blades and hang the spring",
        minutes: 70.0,
        piece: "front cell",
    },
    TypedModel {
        maker: "Brothers Quillet",
        name: "Box 4",
        sign: "finder mirror blind",
        damage: "silvering gone",
        cause: "damp storage",
        work: "cut and fit a new mirror",
        minutes: 35.0,
        piece: "front board",
    },
    TypedModel {
        maker: "Aldous",
        name: "Wren",
        sign: "film does not move on",
        damage: "take-up spool cracked",
        cause: "wound against a jammed counter",
        work: "free the counter and turn a spool",
        minutes: 110.0,
        piece: "top cover",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_notes_check_without_a_warning() {
        for (name, text) in notes() {
            let (_, warnings) = parse(text, Some(name)).unwrap();
            assert!(warnings.is_empty(), "{}", warnings[0]);
        }
    }
}

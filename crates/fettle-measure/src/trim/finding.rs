//! What was noticed about the mechanism, the limits or the readings.

use serde::{Deserialize, Serialize};

/// Nobody averages more readings than this.
const MOST_AVERAGED: u32 = 50;

/// Something noticed. In JSON one flat object: `{"kind":"no-effect","adjuster":"depth"}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// The adjuster's travel ends before the readings are inside.
    Travel {
        /// Its name.
        adjuster: String,
        /// Where its travel ends, in turns from where it stood at the first trial.
        at_turns: f64,
    },
    /// The adjuster was turned and moves nothing, or next to nothing, of what the notes say.
    NoEffect {
        /// Its name.
        adjuster: String,
    },
    /// The adjuster acts against the notes, or far more strongly than they say.
    Contrary {
        /// Its name.
        adjuster: String,
        /// The reading that shows it most clearly.
        reading: String,
        /// The reading's unit.
        unit: String,
        /// What one turn does by the notes.
        noted_per_turn: f64,
        /// What one turn does as now believed.
        per_turn: f64,
    },
    /// No setting of the adjusters brings all readings inside together.
    LimitsConflict {
        /// The readings in question.
        readings: Vec<String>,
    },
    /// The reading repeats too badly to tell whether it is inside.
    Coarse {
        /// Its name.
        reading: String,
        /// So many readings have to be averaged to tell.
        take: u32,
    },
    /// The reading was not taken since the last movement and cannot be told from the others.
    Unread {
        /// Its name.
        reading: String,
    },
    /// The readings do not follow the turns as closely as their repeatability says.
    Misfit {
        /// How many times worse they follow.
        ratio: f64,
    },
}

impl Finding {
    /// The finding in plain words, a sentence without its stop.
    #[must_use]
    pub fn describe(&self) -> String {
        match self {
            Self::Travel { adjuster, at_turns } => format!(
                "the travel of {adjuster} ends at {at_turns} turns, before the readings are inside: shift what it acts on, or \
                 begin from another setting"
            ),
            Self::NoEffect { adjuster } => format!(
                "{adjuster} was turned and moves next to nothing of what the notes say: look whether it is stripped, slipping \
                 or still locked, and whether it is the right screw"
            ),
            Self::Contrary {
                adjuster,
                reading,
                unit,
                noted_per_turn,
                per_turn,
            } => format!(
                "{adjuster} moves {reading} by {per_turn:.3} {unit} a turn where the notes say {noted_per_turn:.3}: look whether \
                 it is the right screw and which way it is counted"
            ),
            Self::LimitsConflict { readings } => format!(
                "no setting brings {} inside together: the turn goes as near as it can; something else is out, or a limit is \
                 too tight",
                readings.join(", ")
            ),
            Self::Coarse { reading, take } if *take > MOST_AVERAGED => format!(
                "one reading of {reading} repeats too badly to tell whether it is inside: read it by a better instrument, or widen \
                 its limit"
            ),
            Self::Coarse { reading, take } => format!(
                "one reading of {reading} repeats too badly to tell whether it is inside: average {take} of them and write down \
                 their mean and its repeatability"
            ),
            Self::Unread { reading } => format!(
                "{reading} was not read since the last movement and the others do not tell it: read it before turning on"
            ),
            Self::Misfit { ratio } => format!(
                "the readings follow the turns {ratio:.1} times worse than their repeatability says: look for something loose or \
                 binding, or a reading written down wrongly"
            ),
        }
    }
}

//! Parts of the camera.

use serde::Serialize;

use super::id::ModelId;
use super::words::words;

/// One kind of part in the camera.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Part {
    /// What it is called.
    pub name: String,
    /// Where it sits.
    pub at: String,
    /// How many of it are in one camera, from 1.
    pub count: u32,
    /// What is known of its grades, best first.
    pub grades: Vec<GradeNote>,
    /// Other models that it fits; they need not be known here.
    pub fits: Vec<ModelId>,
}

impl Part {
    /// What is known of one grade; `None` when nothing is.
    #[must_use]
    pub fn grade(&self, grade: Grade) -> Option<&str> {
        self.grades
            .iter()
            .find(|note| note.grade == grade)
            .map(|note| note.note.as_str())
    }
}

words! {
    /// Where a replacement comes from.
    Grade {
        /// Old stock of the maker.
        Original = "original",
        /// Made by others after the maker closed.
        Reproduction = "reproduction",
        /// Taken from a donor.
        Salvaged = "salvaged",
        /// Made at the bench.
        Made = "made",
    }
}

/// What is known of one grade of a part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct GradeNote {
    /// The grade.
    pub grade: Grade,
    /// Where it is had, or what to mind with it.
    pub note: String,
}

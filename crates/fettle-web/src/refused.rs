//! What the record refuses, said at the field of the form that brought it.

use fettle_bench::BenchError;

use crate::error::{PageError, sentence};
use crate::form::Wrong;

/// How a reason begins that needs to be told of what.
const PREDICATES: [&str; 8] = [
    "is ", "has ", "holds ", "makes ", "names ", "does ", "cannot ", "add up ",
];

/// The form's field for a field of a change, and what it is called in a sentence.
fn place(kind: &str, field: &str) -> Option<(&'static str, &'static str)> {
    Some(match (kind, field) {
        ("owner-added", "name") => ("owner_name", "the owner's name"),
        ("owner-added", "email") => ("owner_email", "the mail address"),
        ("owner-added", "phone") => ("owner_phone", "the telephone"),
        ("owner-added", "address") => ("owner_address", "the postal address"),
        ("owner-corrected" | "bench-settled", "name") => ("name", "the name"),
        ("owner-corrected", "email") => ("email", "the mail address"),
        ("owner-corrected", "phone") => ("phone", "the telephone"),
        ("owner-corrected" | "bench-settled", "address") => ("address", "the postal address"),
        ("bench-settled", "place") => ("place", "the place"),
        ("bench-settled", "contact") => ("contact", "the way to reach the bench"),
        ("bench-settled", "hourly_rate") => ("hourly_rate", "the hourly rate"),
        ("camera-added" | "camera-corrected", "maker") => ("maker", "the maker"),
        ("camera-added" | "camera-corrected", "model") => ("model", "the model"),
        ("camera-added" | "camera-corrected", "notes_id") => ("notes", "the service notes"),
        ("camera-added" | "camera-corrected", "serials") => {
            ("serial.0.number", "a serial number or its place")
        }
        ("visit-opened", "words") => ("words", "what the owner says"),
        ("visit-opened", "wanted") => ("wanted", "what is wanted"),
        ("visit-opened", "condition") => ("condition", "the condition"),
        ("visit-opened", "came_with") => ("with_other", "what came with it"),
        ("visit-opened", "declared") => ("declared", "the declared value"),
        ("visit-opened", "promised") => ("promised", "the promised day"),
        ("visit-opened", "guarantee_of") => ("guarantee_of", "the earlier visit"),
        ("stage-moved", "to") => ("to", "the stage"),
        ("sign-observed", "sign") => ("what", "the observation"),
        ("earlier-hands-noted", "what") => ("what", "what was seen"),
        ("earlier-hands-noted", "at") => ("at", "where it was seen"),
        ("fault-recorded", "fault") => ("fault", "the fault"),
        ("fault-recorded", "because_of") => ("because_of", "what brought it on"),
        ("piece-removed", "piece") => ("words", "the piece"),
        ("piece-removed", "cell") => ("cell", "the tray cell"),
        ("work-done", "work") => ("work", "the work"),
        ("work-done", "minutes") => ("minutes", "the time it took"),
        ("part-fitted", "part") => ("part", "the part"),
        ("part-fitted", "quantity") => ("quantity", "the number of pieces"),
        ("part-fitted", "price") => ("price", "the price"),
        ("drawer-named", "name") => ("name", "what stands on its front"),
        ("drawer-named", "place") => ("place", "where it is"),
        ("part-stored", "part") => ("part", "the part"),
        ("part-stored", "model") => ("model", "the model"),
        ("part-stored", "source") | ("lot-corrected", "source") => {
            ("source", "where they came from")
        }
        (
            "part-stored" | "part-taken" | "part-returned" | "lot-moved" | "part-salvaged",
            "quantity",
        ) => ("quantity", "the number of pieces"),
        ("part-stored" | "part-taken" | "part-salvaged" | "lot-corrected", "price") => {
            ("price", "the price")
        }
        ("part-stored" | "minimum-set", "minimum") => ("minimum", "the minimum"),
        ("lot-moved" | "part-returned", "drawer") => ("drawer", "the drawer"),
        ("drawer-counted", "counts") => ("", "the count"),
        ("donor-registered", "model") => ("model", "the model"),
        ("donor-registered" | "donor-corrected", "serial") => ("serial", "the serial number"),
        ("donor-registered" | "donor-corrected", "source") => ("source", "where it came from"),
        ("donor-registered" | "donor-corrected", "condition") => ("condition", "the condition"),
        ("donor-parts-noted", "part") => ("part", "the part"),
        ("donor-parts-noted", "quantity") => ("", "the number of pieces"),
        ("part-salvaged", "to") => ("to", "where it goes"),
        ("reading-taken", "method") => ("method", "how it was taken"),
        ("reading-taken", "rows") => ("value.0", "a figure of the reading"),
        ("shortfall-noted", "what") => ("what", "what fell short"),
        ("shortfall-noted", "correction") => ("correction", "the correction"),
        ("sent", "carrier") => ("carrier", "the carrier"),
        ("sent", "tracking") => ("tracking", "the tracking number"),
        ("note-written", "text") => ("text", "the note"),
        ("waiting-begun", "what") => ("what", "what it waits for"),
        ("photo-attached", "caption") => ("caption", "the caption"),
        (
            "owner-corrected" | "camera-corrected" | "sign-observed" | "fault-recorded"
            | "quote-made" | "piece-removed" | "piece-returned" | "work-done" | "part-fitted"
            | "setting-proved" | "packed" | "part-stored" | "part-taken" | "part-returned"
            | "lot-corrected" | "drawer-counted" | "part-salvaged",
            "note",
        ) => ("note", "the note"),
        _ => return None,
    })
}

/// What a rule says, as a sentence without the record's own names.
pub(crate) fn spoken(kind: &str, field: &str, why: &str) -> String {
    let what = place(kind, field).map_or("what was written", |(_, label)| label);
    if PREDICATES.iter().any(|start| why.starts_with(start)) {
        sentence(&format!("{what} {why}"))
    } else {
        sentence(why)
    }
}

impl Wrong {
    /// Notes why the record took nothing, so that the form comes back with what was typed; gives back what no form can tell.
    pub(crate) fn not_recorded(&mut self, error: BenchError) -> Result<(), PageError> {
        match error {
            BenchError::Rule {
                kind, field, why, ..
            } => self.refused(kind, field, &why),
            error @ (BenchError::DiskFull { .. }
            | BenchError::ReadOnly { .. }
            | BenchError::Busy { .. }
            | BenchError::Corrupt { .. }
            | BenchError::File { .. }) => self.note("", sentence(&error.to_string())),
            error => return Err(error.into()),
        }
        Ok(())
    }

    /// Notes that the record refused a change: at the field it speaks of, else of the whole form.
    pub(crate) fn refused(&mut self, kind: &str, field: &str, why: &str) {
        let at = place(kind, field).map_or("", |(at, _)| at);
        self.note(at, spoken(kind, field, why));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_speaks_of_the_form_and_not_of_the_record() {
        for (kind, field, why, said) in [
            (
                "owner-added",
                "name",
                "is empty: write something",
                "The owner's name is empty: write something.",
            ),
            (
                "undo",
                "entry",
                "entry 27 is already struck by entry 28",
                "Entry 27 is already struck by entry 28.",
            ),
            (
                "recording-attached",
                "name",
                "holds the control character U+0007: take it out",
                "What was written holds the control character U+0007: take it out.",
            ),
        ] {
            assert_eq!(spoken(kind, field, why), said);
        }
    }

    #[test]
    fn what_the_disk_refuses_is_said_above_the_form_and_what_was_typed_stays() {
        let path = std::path::PathBuf::from("/bench/bench.db");
        for (error, said) in [
            (
                BenchError::ReadOnly { path: path.clone() },
                "read-only for this user",
            ),
            (
                BenchError::DiskFull { path: path.clone() },
                "make room and try again",
            ),
            (BenchError::Busy { db: path }, "try again"),
        ] {
            let mut wrong = Wrong::default();
            wrong.not_recorded(error).unwrap();
            let fields = crate::form::Fields::new(vec![("note".to_owned(), "typed".to_owned())]);
            let form = crate::form::Form::returned("f", fields, wrong);
            assert!(form.problems().into_string().contains(said), "{said}");
            assert_eq!(form.value("note", ""), "typed");
        }
        let unknown = BenchError::Unknown {
            what: "visit",
            id: 9,
        };
        assert!(Wrong::default().not_recorded(unknown).is_err());
    }

    #[test]
    fn a_refusal_without_a_field_stands_above_the_form() {
        let mut wrong = Wrong::default();
        wrong.refused("visit-opened", "camera", "camera 1 is still here");
        let form = crate::form::Form::returned("f", crate::form::Fields::default(), wrong);
        let html = form.problems().into_string();
        assert!(html.contains("Camera 1 is still here."), "{html}");
        assert!(!html.contains("href"), "{html}");
    }
}

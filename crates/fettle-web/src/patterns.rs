//! Patterns over the dial: from a report's findings to what the reasoning takes.

use fettle_measure::shutter::{Finding, FindingKind};
use fettle_measure::{Marked, Stops};
use fettle_notes::{DialMark, Pattern};
use fettle_reason::Shown;

/// The pattern that a finding is; `None` for one about the recording, or a mark that was not shot.
pub(crate) fn shown(finding: &Finding) -> Option<Shown> {
    use FindingKind as F;
    let of = |pattern, marks: &[Marked], stops: Option<Stops>, uncertainty: Option<Stops>| {
        Some(Shown {
            pattern,
            marks: marks
                .iter()
                .filter_map(|mark| mark.to_string().parse::<DialMark>().ok())
                .collect(),
            stops: stops.map(Stops::to_stops),
            uncertainty_stops: uncertainty.map(Stops::to_stops),
        })
    };
    match &finding.what {
        F::AllSlow {
            marks,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::AllSlow,
            marks,
            Some(*stops),
            Some(*uncertainty_stops),
        ),
        F::AllFast {
            marks,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::AllFast,
            marks,
            Some(stops.abs()),
            Some(*uncertainty_stops),
        ),
        F::SlowEnd {
            marks,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::SlowEnd,
            marks,
            Some(*stops),
            Some(*uncertainty_stops),
        ),
        F::TopSpeed {
            marks,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::TopSpeed,
            marks,
            Some(*stops),
            Some(*uncertainty_stops),
        ),
        F::SlowFirst {
            marked,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::SlowFirst,
            &[*marked],
            Some(*stops),
            *uncertainty_stops,
        ),
        F::Scatter {
            marked,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::Scatter,
            &[*marked],
            Some(*stops),
            Some(*uncertainty_stops),
        ),
        F::Alike {
            marks,
            stops,
            uncertainty_stops,
        } => of(Pattern::Alike, marks, *stops, *uncertainty_stops),
        F::Uneven {
            marks,
            stops,
            uncertainty_stops,
        } => of(
            Pattern::Uneven,
            marks,
            Some(*stops),
            Some(*uncertainty_stops),
        ),
        F::Capping { marks, .. } => of(Pattern::Capping, marks, None, None),
        F::Bounce { marks, .. } => of(Pattern::Bounce, marks, None, None),
        _ => None,
    }
}

/// A pattern as an observation, where the service notes have no sign for it.
pub(crate) fn in_words(pattern: Pattern) -> &'static str {
    match pattern {
        Pattern::AllSlow => "all speeds are long alike",
        Pattern::AllFast => "all speeds are short alike",
        Pattern::SlowEnd => "the slow speeds alone are long",
        Pattern::TopSpeed => "the top speed alone is long",
        Pattern::SlowFirst => "the first shot after a rest is slow",
        Pattern::Scatter => "the shots at one speed scatter",
        Pattern::Alike => "two neighbouring speeds give the same time",
        Pattern::Uneven => "one end of the frame is exposed longer than the other",
        Pattern::Capping => "the slit closes within the frame",
        Pattern::Bounce => "the shutter opens a second time",
    }
}

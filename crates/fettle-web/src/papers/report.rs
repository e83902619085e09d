//! The report of findings.

use fettle_bench::{Found, Seen};
use fettle_papers::{
    FaultIs, FaultTold, FindingsReport, PartTold, Pdf, SignLooked, SignSeen, findings_report,
};

use super::{From, grade, lines};

/// Beyond so many, what was looked for and not there would bury what was seen.
const MOST_SIGNS: usize = 16;

pub(super) fn report(from: &From<'_>) -> Result<Pdf, String> {
    let view = from.view;
    let (out, told): (Vec<_>, Vec<_>) = view
        .faults
        .iter()
        .partition(|fault| fault.what.found == Found::RuledOut);
    let place = |id| told.iter().position(|fault| fault.id == id);
    let report = FindingsReport {
        language: from.language,
        bench: from.bench(),
        visit: from.visit(),
        owner: from.owner(),
        camera: from.camera(),
        arrived: view.arrival.arrived,
        issued: from.today,
        signed_by: String::new(),
        owners_words: lines(&view.arrival.words),
        wanted: lines(&view.arrival.wanted),
        signs: view
            .signs
            .iter()
            .filter(|kept| kept.what.seen == Seen::Yes || view.signs.len() <= MOST_SIGNS)
            .map(|kept| SignLooked {
                words: kept.what.sign.words.clone(),
                seen: match kept.what.seen {
                    Seen::Yes => SignSeen::Yes,
                    Seen::No => SignSeen::No,
                    Seen::NotLooked => SignSeen::NotLooked,
                },
                note: kept.what.note.clone(),
            })
            .collect(),
        faults: told
            .iter()
            .map(|fault| FaultTold {
                words: fault.what.fault.words.clone(),
                is: match fault.what.is {
                    fettle_bench::FaultIs::Damage => FaultIs::Damage,
                    fettle_bench::FaultIs::Cause => FaultIs::Cause,
                },
                suspected: fault.what.found == Found::Suspected,
                because_of: fault.what.because_of.and_then(place),
                note: fault.what.note.clone(),
            })
            .collect(),
        ruled_out: out
            .iter()
            .map(|fault| fault.what.fault.words.clone())
            .collect(),
        earlier_hands: view
            .earlier_hands
            .iter()
            .map(|kept| match kept.what.at.as_str() {
                "" => kept.what.what.clone(),
                at => format!("{at}: {}", kept.what.what),
            })
            .collect(),
        done: view
            .works
            .iter()
            .map(|kept| kept.what.work.words.clone())
            .collect(),
        fitted: view
            .parts
            .iter()
            .map(|kept| PartTold {
                words: kept.what.part.words.clone(),
                quantity: kept.what.quantity,
                grade: grade(kept.what.grade),
            })
            .collect(),
        photographs: from.photographs(|_| true),
        not_brought_back: from.not_brought_back(),
        cautions: from.cautions(),
    };
    findings_report(&report, from.size).map_err(|error| error.to_string())
}

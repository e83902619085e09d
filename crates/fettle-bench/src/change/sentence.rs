//! What happened, in a sentence for people.

use jiff::civil::Date;

use super::{About, Change, OnDonor, ReadingTaken, SalvagedTo, SignObserved, TrialMade};
use crate::{
    ids::VisitId,
    words::{Found, QuoteKind, Seen, Stage, Verdict},
};

impl Change {
    /// What happened, in a sentence without a full stop. It is told from the change alone; where the journal knows more (which
    /// piece, which wait, what was undone) its entry says so.
    #[must_use]
    pub fn sentence(&self) -> String {
        match self {
            Self::BenchSettled(it) => with("bench settled", &it.name, &it.place),
            Self::OwnerAdded(it) => format!("owner added: {}", it.name),
            Self::OwnerCorrected(it) => format!("owner corrected: {}", it.details.name),
            Self::CameraAdded(it) => with("camera added", &it.name(), it.serial()),
            Self::CameraCorrected(it) => {
                with("camera corrected", &it.details.name(), it.details.serial())
            }
            Self::VisitOpened(it) => with("arrived", &it.arrival.words, &it.arrival.wanted),
            Self::ArrivalCorrected(it) => {
                with("arrival corrected", &it.arrival.words, &it.arrival.wanted)
            }
            Self::StageMoved(it) => with(stage_sentence(it.to), &it.note, ""),
            Self::WaitingBegun(it) => {
                with(&format!("waiting for the {}", it.wait_for), &it.what, "")
            }
            Self::WaitingEnded(it) => with("the wait is over", &it.note, ""),
            Self::SignObserved(it) => sign_sentence(it),
            Self::CircumstanceKnown(it) => with(
                &format!("{} {}", it.circumstance, answer(it.known)),
                &it.note,
                "",
            ),
            Self::EarlierHandsNoted(it) => with("earlier hands", &it.at, &it.what),
            Self::FaultRecorded(it) => {
                let how = match it.found {
                    Found::Found => "found",
                    Found::RuledOut => "ruled out",
                    Found::Suspected => "suspected",
                };
                with(&format!("{how} as {}", it.is), &it.fault.words, &it.note)
            }
            Self::QuoteMade(it) => {
                let head = match it.kind {
                    QuoteKind::Repair => "quoted",
                    QuoteKind::Overhaul => "an overhaul quoted",
                    QuoteKind::ReturnUnrepaired => "the return unrepaired quoted",
                    QuoteKind::Extra => "extra work quoted",
                };
                with(head, &it.total.to_string(), &it.note)
            }
            Self::QuoteAnswered(it) => with(
                if it.agreed {
                    "the owner agreed"
                } else {
                    "the owner did not agree"
                },
                &it.words,
                "",
            ),
            Self::StripOrdered(it) => if it.ordered {
                "the owner ordered a full strip"
            } else {
                "no full strip is ordered"
            }
            .to_owned(),
            Self::PieceRemoved(it) => {
                let cell = it
                    .cell
                    .map_or(String::new(), |cell| format!(" into cell {cell}"));
                with(&format!("{} taken off{cell}", it.piece), &it.note, "")
            }
            Self::PieceReturned(it) => with("a piece put back", &it.note, ""),
            Self::WorkDone(it) => {
                let time = it
                    .minutes
                    .map_or(String::new(), |minutes| format!(" in {minutes} min"));
                with(&format!("done{time}"), &it.work.words, &it.note)
            }
            Self::PartFitted(it) => with(
                &format!("fitted {} × {} ({})", it.quantity, it.part, it.grade),
                &it.price.map_or(String::new(), |price| price.to_string()),
                &it.note,
            ),
            Self::ReadingTaken(it) => reading_sentence(it),
            Self::SettingProved(it) => with(
                &format!(
                    "{} {}",
                    it.setting,
                    if it.held { "holds" } else { "does not hold" }
                ),
                &it.note,
                "",
            ),
            Self::TrialMade(it) => trial_sentence(it),
            Self::ShortfallNoted(it) => with("not brought back", &it.what, &it.correction),
            Self::PhotoAttached(it) => with("photograph", &it.caption, ""),
            Self::RecordingAttached(it) => with("recording", &it.caption, ""),
            Self::PaperAttached(it) => with(&it.paper.to_string(), &it.title, ""),
            Self::Packed(it) => {
                let left: Vec<&str> = it
                    .ticks
                    .iter()
                    .filter(|tick| !tick.packed)
                    .map(|tick| tick.item.as_str())
                    .collect();
                let missing = if left.is_empty() {
                    String::new()
                } else {
                    format!("without {}", left.join(", "))
                };
                with("parcel packed", &missing, &it.note)
            }
            Self::Sent(it) => with(&format!("sent on {}", it.on), &it.carrier, &it.tracking),
            Self::SendingHeld(it) => with("held", &held(&it.reason, it.look_again), ""),
            Self::HoldEnded(it) => with("no longer held", &it.note, ""),
            Self::BillIssued(it) => with("a bill issued", "", &it.note),
            Self::CreditIssued(it) => with(
                &format!("a credit note on bill {} issued", it.bill),
                &it.reason,
                "",
            ),
            Self::PaymentReceived(it) => {
                let (head, amount) = if it.amount.amount.is_sign_negative() {
                    ("paid back", -it.amount.amount)
                } else {
                    ("paid", it.amount.amount)
                };
                let amount = crate::Money::new(amount, it.amount.currency);
                with(&format!("{head} {amount} on {}", it.on), &it.how, &it.note)
            }
            Self::NoteWritten(it) => match it.about {
                About::Visit(_) => with("note", &it.text, ""),
                About::Camera(_) => with("note on the camera", &it.text, ""),
                About::Owner(_) => with("note on the owner", &it.text, ""),
            },
            Self::DrawerNamed(it) => {
                let head = if it.drawer.is_some() {
                    "drawer renamed"
                } else {
                    "drawer named"
                };
                with(head, &it.name, &it.place)
            }
            Self::PartStored(it) => with(
                &format!("stored {} × {} ({})", it.quantity, it.of.name(), it.grade),
                &it.source,
                &it.note,
            ),
            Self::MinimumSet(it) => minimum_told(it.minimum),
            Self::LotCorrected(it) => with("a lot corrected", &it.source, &it.note),
            Self::LotMoved(_) => "moved to another drawer".to_owned(),
            Self::PartTaken(it) => with(
                &format!("took {}{}", it.quantity, for_visit(it.visit)),
                &it.note,
                "",
            ),
            Self::PartReturned(it) => with(&format!("brought back {}", it.quantity), &it.note, ""),
            Self::DrawerCounted(it) => with(
                &format!("a drawer counted, {} of its lots", it.counts.len()),
                &it.note,
                "",
            ),
            Self::DonorRegistered(it) => with("donor registered", &it.name(), &it.serial),
            Self::DonorCorrected(it) => {
                with("donor corrected", &it.details.name(), &it.details.serial)
            }
            Self::DonorPartsNoted(it) => noted(&it.parts),
            Self::PartSalvaged(it) => {
                let to = match it.to {
                    SalvagedTo::Drawer(_) => String::new(),
                    SalvagedTo::Visit(visit) => for_visit(Some(visit)),
                };
                with(
                    &format!("took {} off a donor{to}", it.quantity),
                    &it.note,
                    "",
                )
            }
            Self::Undo(it) => format!("entry {} undone", it.entry),
        }
    }
}

fn trial_sentence(it: &TrialMade) -> String {
    let turned: Vec<String> = it
        .turned
        .iter()
        .map(|one| format!("{} by {:+} turns", one.adjuster, one.turns))
        .collect();
    let read: Vec<String> = it
        .readings
        .iter()
        .filter_map(|one| Some(format!("{} {}", one.limit_id, one.value?)))
        .collect();
    let how = if it.as_found {
        format!("{} as found", it.setting)
    } else if turned.is_empty() {
        format!("{} read again", it.setting)
    } else {
        format!("{}: {}", it.setting, turned.join(", "))
    };
    with(&how, &read.join(", "), &it.note)
}

fn stage_sentence(to: Stage) -> &'static str {
    match to {
        Stage::Arrived => "back to the start",
        Stage::LookedOver => "looked over",
        Stage::Quoted => "quoted to the owner",
        Stage::Agreed => "agreed with the owner",
        Stage::Apart => "taken apart",
        Stage::Together => "together again",
        Stage::Proved => "proved",
        Stage::Packed => "packed",
        Stage::Home => "gone home",
        Stage::ReturnedUnrepaired => "to be returned unrepaired",
    }
}

fn sign_sentence(it: &SignObserved) -> String {
    let numbers: Vec<String> = it
        .numbers
        .iter()
        .map(|number| {
            format!("{} {} {}", number.name, number.value, number.unit)
                .trim_end()
                .to_owned()
        })
        .collect();
    with(
        &format!("{} {}", it.sign, answer(it.seen)),
        &numbers.join(", "),
        &it.note,
    )
}

fn reading_sentence(it: &ReadingTaken) -> String {
    let count = |verdict| {
        it.rows
            .iter()
            .filter(|row| row.verdict == Some(verdict))
            .count()
    };
    let what = match it.instrument {
        crate::Instrument::Other => it
            .limit_id
            .as_deref()
            .map_or("reading".to_owned(), |id| id.replace('-', " ")),
        instrument => instrument.to_string(),
    };
    let mut told = Vec::new();
    for (verdict, words) in [
        (Verdict::In, "in"),
        (Verdict::Out, "out"),
        (Verdict::Undecided, "undecided"),
    ] {
        if count(verdict) > 0 {
            told.push(format!("{} {words}", count(verdict)));
        }
    }
    with(
        &format!("{what} read {} the work", it.phase),
        &told.join(", "),
        "",
    )
}

fn answer(seen: Seen) -> &'static str {
    match seen {
        Seen::Yes => "— yes",
        Seen::No => "— no",
        Seen::NotLooked => "— not looked",
    }
}

/// Why a camera is held, and until when.
pub(crate) fn held(reason: &str, look_again: Option<Date>) -> String {
    match look_again {
        Some(day) => format!("{reason} (look again on {day})"),
        None => reason.to_owned(),
    }
}

pub(crate) fn minimum_told(minimum: Option<u32>) -> String {
    minimum.map_or("no minimum".to_owned(), |minimum| {
        format!("a minimum of {minimum}")
    })
}

pub(crate) fn for_visit(visit: Option<VisitId>) -> String {
    visit.map_or(String::new(), |visit| format!(" for visit {visit}"))
}

/// What was noted, the first few by name.
pub(crate) fn noted(parts: &[OnDonor]) -> String {
    let mut told: Vec<String> = parts
        .iter()
        .take(4)
        .map(|on| format!("{} × {} ({})", on.quantity, on.part, on.state))
        .collect();
    if parts.len() > told.len() {
        told.push(format!("{} more", parts.len() - told.len()));
    }
    format!("looked at what is on it, {}", told.join(", "))
}

/// `head: first, second`, leaving out what is empty.
pub(crate) fn with(head: &str, first: &str, second: &str) -> String {
    let tail: Vec<&str> = [first.trim(), second.trim()]
        .into_iter()
        .filter(|s| !s.is_empty())
        .collect();
    if tail.is_empty() {
        head.to_owned()
    } else {
        format!("{head}: {}", tail.join(", "))
    }
}

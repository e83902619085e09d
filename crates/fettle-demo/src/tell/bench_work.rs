//! Taking apart, work, putting back, measuring, proving and going home.

use fettle_bench::{
    Change, Decimal, FaultId, FaultRecorded, Found, Instrument, Money, Packed, PartFitted, Phase,
    PieceRemoved, PieceReturned, ReadingTaken, RecordingId, Seen, Sent, SettingProved,
    ShortfallNoted, SignObserved, Stage, Term, Tick, VisitId, WaitFor, WaitingBegun, WaitingEnded,
    WorkDone, shutter_reading, teeth_reading,
};
use fettle_notes::Limit;

use super::arrival::moved;
use super::money::GUARANTEE_DAYS;
use super::{Known, Teller};
use crate::DemoError;
use crate::lots::Lots;
use crate::matter::Fitted;
use crate::plan::{Act, Event, VisitPlan};
use crate::readings::{against, dial, dial_rows, limits_to_prove};
use crate::runs;
use crate::stock::Taken;
use crate::worn;

/// So many limits besides exposure times are read at a visit at most.
const MOST_LIMITS: usize = 5;
/// Cells of the tray.
const CELLS: usize = 48;

const CARRIERS: [&str; 3] = ["Saltmere Post", "Coast Parcels", ""];

impl Teller<'_> {
    pub(super) fn take_apart(
        &self,
        event: &Event,
        visit: &VisitPlan,
        id: VisitId,
        pieces: usize,
    ) -> Result<Vec<Change>, DemoError> {
        let mut changes: Vec<Change> = visit
            .matter
            .pieces
            .iter()
            .take(pieces)
            .enumerate()
            .map(|(n, piece)| {
                PieceRemoved {
                    visit: id,
                    piece: piece.clone(),
                    cell: u32::try_from(n + 1).ok().filter(|_| n < CELLS),
                    note: String::new(),
                    photo: None,
                }
                .into()
            })
            .collect();
        changes.push(moved(id, Stage::Apart));
        changes.extend(self.photograph_teeth(event, visit, id, pieces)?);
        Ok(changes)
    }

    /// Faults as they were found inside, the works that cured them, the parts fitted.
    pub(super) fn work(
        &self,
        event: &Event,
        visit: &VisitPlan,
        id: VisitId,
    ) -> Result<Vec<Change>, DemoError> {
        let mut lots = Lots::of(self.seed, "work", event.visit);
        let mut changes = found(visit, id);
        for job in &visit.matter.works {
            changes.push(
                WorkDone {
                    visit: id,
                    work: job.work.clone(),
                    minutes: lots.chance(0.9).then_some(job.taken),
                    note: String::new(),
                }
                .into(),
            );
        }
        let (camera, mut taken) = (self.camera_details(visit), Taken::default());
        for it in &visit.matter.fitted {
            let fitted = self.fitted(visit, id, it);
            let taken = self.stock.instead_of(&fitted, &camera, &mut taken)?;
            changes.push(taken.unwrap_or_else(|| fitted.into()));
        }
        Ok(changes)
    }

    /// The teeth of a part that lies in the tray, against the light: worn where the sign was seen, and in the camera that still lies apart.
    fn photograph_teeth(
        &self,
        event: &Event,
        visit: &VisitPlan,
        id: VisitId,
        pieces: usize,
    ) -> Result<Vec<Change>, DemoError> {
        let mut changes = Vec::new();
        let Some(notes) = self.notes_of(visit).filter(|_| !visit.old) else {
            return Ok(changes);
        };
        let is_off = |part: &str| {
            let mut off = visit.matter.pieces.iter().take(pieces);
            off.any(|piece| piece.id.as_deref() == Some(part))
        };
        let phase = Phase::Before;
        for (limit_id, limit) in notes.limits.iter() {
            let Limit::Teeth(limit) = limit else { continue };
            if !is_off(limit.part.as_str()) {
                continue;
            }
            let sign = limit.sign.as_ref().map_or("", |sign| sign.as_str());
            let is_open = event.act == Act::BeginApart;
            let is_worn = is_open || (!sign.is_empty() && visit.matter.seen(sign));
            let mut lots = Lots::of(self.seed, limit_id.as_str(), event.visit);
            let Some(it) = worn::photograph(limit, is_worn, &mut lots) else {
                continue;
            };
            let caption = format!("{}, {phase} the work", limit.name);
            let kept =
                self.bench
                    .keep_picture(id, Stage::Apart, &caption, &it.bytes, &it.picture)?;
            let Change::PhotoAttached(photo) = &kept else {
                continue;
            };
            let limit_id = Some(limit_id.as_str());
            let reading = teeth_reading(id, phase, &it.report, &photo.file.hash, limit_id)?;
            changes.extend([kept, reading.into()]);
            if let Some(known) = notes.signs.get(sign).filter(|_| is_open) {
                changes.push(
                    SignObserved {
                        visit: id,
                        sign: Term::known(sign, &known.question),
                        seen: Seen::Yes,
                        numbers: Vec::new(),
                        note: format!("from the photograph: {}", it.report.counts.describe()),
                    }
                    .into(),
                );
            }
        }
        Ok(changes)
    }

    fn fitted(&self, visit: &VisitPlan, id: VisitId, it: &Fitted) -> PartFitted {
        let price = Money::new(Decimal::new(it.cents, 2), self.currency);
        PartFitted {
            visit: id,
            part: it.part.clone(),
            grade: it.grade,
            quantity: it.quantity,
            price: visit.guarantee_of.is_none().then_some(price),
            note: String::new(),
        }
    }

    /// Last off, first on.
    pub(super) fn put_back(&self, known: &Known) -> Vec<Change> {
        let back = |piece: &_| {
            PieceReturned {
                visit: known.id,
                piece: *piece,
                note: String::new(),
            }
            .into()
        };
        let mut changes: Vec<Change> = known.pieces.iter().rev().map(back).collect();
        changes.push(moved(known.id, Stage::Together));
        changes
    }

    /// Exposure times first; of other limits, those that the work concerns.
    pub(super) fn measure(
        &self,
        event: &Event,
        visit: &VisitPlan,
        id: VisitId,
        phase: Phase,
    ) -> Result<Vec<Change>, DemoError> {
        let Some(notes) = self.notes_of(visit) else {
            return Ok(Vec::new());
        };
        let mut changes = Vec::new();
        if let Some((limit_id, limit)) = notes.shutter_limit() {
            let limit_id = Some(limit_id.as_str());
            if let Some(session) = self.shelf.sessions.get(&(event.visit, phase)) {
                let stage = if phase == Phase::Before {
                    Stage::LookedOver
                } else {
                    Stage::Together
                };
                let caption = format!("exposure times {phase} the work");
                changes.push(self.bench.keep_recording(
                    id,
                    stage,
                    &caption,
                    &session.name,
                    &session.wav,
                )?);
                let taken = shutter_reading(
                    id,
                    phase,
                    &session.report,
                    &session.options,
                    limit_id,
                    Some(RecordingId::LATEST),
                )?;
                changes.push(taken.into());
            } else {
                let mut lots = dial_lots(self.seed, event.visit, phase);
                let dial = dial(limit, visit, phase, &mut lots);
                changes.push(
                    ReadingTaken {
                        visit: id,
                        phase,
                        instrument: Instrument::Shutter,
                        limit_id: limit_id.map(str::to_owned),
                        rows: dial_rows(&dial, &mut lots),
                        findings: Vec::new(),
                        recording: None,
                        method: "three shots a mark, written down; no recording kept".to_owned(),
                        detail: None,
                    }
                    .into(),
                );
            }
        }
        let mut lots = Lots::of(self.seed, phase.as_str(), event.visit);
        for (limit_id, limit) in limits_to_prove(notes, visit).into_iter().take(MOST_LIMITS) {
            let mut of_run = Lots::of(self.seed, &format!("{limit_id}, {phase}"), event.visit);
            if let Some(taken) = runs::run(id, phase, (limit_id, limit), &mut of_run) {
                changes.push(taken.into());
            } else if let Some(rows) = against(limit, phase, &mut lots) {
                changes.push(
                    ReadingTaken {
                        visit: id,
                        phase,
                        instrument: Instrument::Other,
                        limit_id: Some(limit_id.to_owned()),
                        rows,
                        findings: Vec::new(),
                        recording: None,
                        method: String::new(),
                        detail: None,
                    }
                    .into(),
                );
            }
        }
        Ok(changes)
    }

    /// Settings in their order, what could not be brought back, and the stage.
    pub(super) fn prove(&self, event: &Event, visit: &VisitPlan, id: VisitId) -> Vec<Change> {
        let mut lots = Lots::of(self.seed, "prove", event.visit);
        let mut changes = Vec::new();
        if let Some(notes) = self.notes_of(visit) {
            for setting in &visit.matter.settings {
                let Some(it) = notes.settings.get(setting.as_str()) else {
                    continue;
                };
                let term = Term::known(setting, &it.name);
                if let Some((setting, _)) = notes.settings.entry(setting.as_str()) {
                    let mut of_trials = Lots::of(self.seed, setting.as_str(), event.visit);
                    changes.extend(runs::trials(id, notes, setting, &mut of_trials));
                }
                if lots.chance(0.12) {
                    changes.push(proved(id, &term, false, "out of its limit; set again"));
                }
                changes.push(proved(id, &term, true, ""));
            }
            let top = notes
                .shutter_limit()
                .and_then(|(_, limit)| limit.marks.last());
            if let (true, Some(top)) = (visit.shortfall, top) {
                changes.push(
                    ShortfallNoted {
                        visit: id,
                        what: format!("{top} s stays about half a stop long: the spring is tired and no sound one was to be had"),
                        correction: format!("at {top} s close the aperture by half a stop, or use the mark before it"),
                    }
                    .into(),
                );
            }
        }
        changes.push(moved(id, Stage::Proved));
        changes
    }

    pub(super) fn wait_for_part(&self, visit: &VisitPlan, id: VisitId) -> Vec<Change> {
        let what = visit
            .matter
            .fitted
            .first()
            .map_or("a piece of leather", |it| it.part.words.as_str());
        vec![
            WaitingBegun {
                visit: id,
                wait_for: WaitFor::Part,
                what: what.to_owned(),
            }
            .into(),
        ]
    }

    pub(super) fn part_came(&self, visit: &VisitPlan, known: &Known) -> Vec<Change> {
        let grade = visit
            .matter
            .fitted
            .first()
            .map_or("as ordered".to_owned(), |it| format!("{} came", it.grade));
        let end = |wait| {
            WaitingEnded {
                visit: known.id,
                wait,
                note: grade,
            }
            .into()
        };
        known.wait.map(end).into_iter().collect()
    }

    pub(super) fn wait_for_post(&self, id: VisitId) -> Vec<Change> {
        let what = "no boat in this weather".to_owned();
        vec![
            WaitingBegun {
                visit: id,
                wait_for: WaitFor::Post,
                what,
            }
            .into(),
        ]
    }

    pub(super) fn pack(&self, event: &Event, visit: &VisitPlan, known: &Known) -> Vec<Change> {
        let tick = |item: &String| Tick {
            item: item.clone(),
            packed: true,
        };
        let packed = Packed {
            ticks: known.came_with.iter().map(tick).collect(),
            ..Packed::new(known.id)
        };
        let bill = was_apart(known).then(|| self.billed(event, visit, known.id));
        let bill = bill.flatten().map(Change::from);
        bill.into_iter()
            .chain([packed.into(), moved(known.id, Stage::Packed)])
            .collect()
    }

    pub(super) fn send(&self, event: &Event, visit: &VisitPlan, known: &Known) -> Vec<Change> {
        let id = known.id;
        let mut lots = Lots::of(self.seed, "send", event.visit);
        let carrier = lots.pick(&CARRIERS).copied().unwrap_or_default();
        let tracking = match carrier {
            "" => String::new(),
            _ => format!("SM{:08}", lots.whole(1_000_000, 99_999_999)),
        };
        let sent = Sent {
            visit: id,
            carrier: carrier.to_owned(),
            tracking,
            on: event.on,
            guarantee_days: was_apart(known).then_some(GUARANTEE_DAYS),
        };
        let paid = was_apart(known).then(|| self.paid(event, visit, id));
        let paid = paid.flatten().map(Change::from);
        paid.into_iter()
            .chain([sent.into(), moved(id, Stage::Home)])
            .collect()
    }
}

/// Whether anything was agreed to and done.
fn was_apart(known: &Known) -> bool {
    !known.pieces.is_empty()
}

/// The lots of one measurement of the dial: the recording and the figures share them.
pub(crate) fn dial_lots(seed: u64, visit: usize, phase: Phase) -> Lots {
    let thing = if phase == Phase::Before {
        "dial before"
    } else {
        "dial after"
    };
    Lots::of(seed, thing, visit)
}

/// Faults said again as found, each cause directly before the damage that it brought on.
fn found(visit: &VisitPlan, id: VisitId) -> Vec<Change> {
    let faults = &visit.matter.faults;
    let say = |n: usize, because_of: Option<FaultId>| {
        FaultRecorded {
            visit: id,
            fault: faults[n].fault.clone(),
            is: faults[n].is,
            found: Found::Found,
            because_of,
            note: faults[n].note.clone(),
        }
        .into()
    };
    let mut changes = Vec::new();
    for (n, wrong) in faults.iter().enumerate() {
        match wrong.because_of {
            // Said again, the cause is the latest fault, whatever came between.
            Some(cause) => {
                let above = faults[cause].because_of;
                if above.is_none() {
                    changes.push(say(cause, None));
                    changes.push(say(n, Some(FaultId::LATEST)));
                } else {
                    changes.push(say(n, None));
                }
            }
            None => changes.push(say(n, None)),
        }
    }
    changes
}

fn proved(visit: VisitId, setting: &Term, held: bool, note: &str) -> Change {
    SettingProved {
        visit,
        setting: setting.clone(),
        held,
        note: note.to_owned(),
    }
    .into()
}

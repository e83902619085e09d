//! Turns what is planned into changes of the record.

mod arrival;
mod bench_work;
mod money;

pub(crate) use bench_work::dial_lots;
pub(crate) use money::{
    DEPOSIT_PERCENT, GUARANTEE_DAYS, HOURLY_CENTS, PAY_DAYS, QUOTE_DAYS, TAX_PERCENT,
};

use std::collections::BTreeMap;

use fettle_bench::{
    About, Applied, Bench, CameraId, Change, Currency, EntryId, NoteWritten, OwnerId, Phase,
    PhotoAttached, PieceId, QuoteId, RecordingId, Stage, Undo, VisitId, WaitId,
};
use fettle_measure::shutter::{Options, Report};
use fettle_notes::ServiceNotes;
use jiff::Timestamp;

use crate::DemoError;
use crate::picture::{Body, View};
use crate::plan::{Act, CameraPlan, Event, ModelOf, Plan, VisitPlan};
use crate::stock::Stock;

/// What prices are in.
pub(crate) const CURRENCY: &str = "EUR";

/// Pictures and recordings made beforehand, and the notes of the models.
pub(crate) struct Shelf {
    pub(crate) notes: Vec<ServiceNotes>,
    pub(crate) pictures: BTreeMap<(Body, View, u64), Vec<u8>>,
    pub(crate) sessions: BTreeMap<(usize, Phase), Session>,
}

/// A recording, how it was read and what the instrument said of it.
pub(crate) struct Session {
    pub(crate) name: String,
    pub(crate) wav: Vec<u8>,
    pub(crate) options: Options,
    pub(crate) report: Report,
}

/// Tells the plan to a bench, event by event, and remembers the numbers that it gives.
pub(crate) struct Teller<'a> {
    bench: &'a Bench,
    plan: &'a Plan,
    shelf: &'a Shelf,
    seed: u64,
    currency: Currency,
    stock: Stock<'a>,
    owners: BTreeMap<usize, OwnerId>,
    cameras: BTreeMap<usize, CameraId>,
    visits: BTreeMap<usize, Known>,
    kept: BTreeMap<(Body, View, u64), PhotoAttached>,
}

/// The numbers that the record gave to one visit and what belongs to it.
#[derive(Debug)]
struct Known {
    id: VisitId,
    quote: Option<QuoteId>,
    wait: Option<WaitId>,
    pieces: Vec<PieceId>,
    recording: Option<RecordingId>,
    slip: Option<EntryId>,
    /// What the visit's last event left to be settled by the next.
    came_with: Vec<String>,
}

impl<'a> Teller<'a> {
    pub(crate) fn new(
        bench: &'a Bench,
        plan: &'a Plan,
        shelf: &'a Shelf,
        seed: u64,
    ) -> Result<Self, DemoError> {
        let currency =
            Currency::new(CURRENCY).map_err(|error| DemoError::Notes(error.to_string()))?;
        let moment = |event: Option<&Event>| event.map_or(Timestamp::UNIX_EPOCH, |it| it.at);
        let (from, until) = (moment(plan.events.first()), moment(plan.events.last()));
        let stock = Stock::open(bench, &shelf.notes, seed, currency, from, until)?;
        Ok(Self {
            bench,
            plan,
            shelf,
            seed,
            currency,
            stock,
            owners: BTreeMap::new(),
            cameras: BTreeMap::new(),
            visits: BTreeMap::new(),
            kept: BTreeMap::new(),
        })
    }

    /// Records one event.
    pub(crate) fn tell(&mut self, event: &Event) -> Result<(), DemoError> {
        self.stock.pass(event.at)?;
        let changes = self.changes(event)?;
        if changes.is_empty() {
            return Ok(());
        }
        let hand = crate::people::hand(event.hand);
        let applied = self.bench.apply(&hand, event.at, changes)?;
        self.learn(event, &applied);
        Ok(())
    }

    fn changes(&mut self, event: &Event) -> Result<Vec<Change>, DemoError> {
        if event.act == Act::Arrive {
            return Ok(self.arrive(event));
        }
        if let Act::Photograph(view, stage) = event.act {
            return Ok(vec![self.photograph(event, view, stage)?]);
        }
        let plan = self.plan;
        let visit = &plan.visits[event.visit];
        let Some(known) = self.visits.get(&event.visit) else {
            return Ok(Vec::new());
        };
        Ok(match event.act {
            Act::Arrive | Act::Photograph(..) => Vec::new(),
            Act::CorrectArrival => self.correct_arrival(event, known),
            Act::LookOver => self.look_over(event, visit, known.id),
            Act::Measure(phase) => self.measure(event, visit, known.id, phase)?,
            Act::Slip => vec![
                NoteWritten {
                    about: About::Visit(known.id),
                    text: "the strap came loose in the post; told the owner".to_owned(),
                }
                .into(),
            ],
            Act::TakeBack => known
                .slip
                .map(|entry| Undo { entry }.into())
                .into_iter()
                .collect(),
            Act::Quote => self.quote(event, visit, known.id),
            Act::Agree => self.answer(event, known, true),
            Act::Refuse => self.answer(event, known, false),
            Act::WaitForPart => self.wait_for_part(visit, known.id),
            Act::PartCame => self.part_came(visit, known),
            Act::BeginApart => self.take_apart(
                event,
                visit,
                known.id,
                visit.matter.pieces.len().div_ceil(2),
            )?,
            Act::TakeApart => self.take_apart(event, visit, known.id, visit.matter.pieces.len())?,
            Act::Work => self.work(event, visit, known.id)?,
            Act::PutBack => self.put_back(known),
            Act::Prove => self.prove(event, visit, known.id),
            Act::Pack => self.pack(event, visit, known),
            Act::WaitForPost => self.wait_for_post(known.id),
            Act::Send => self.send(event, visit, known),
        })
    }

    /// Remembers what the record called things.
    fn learn(&mut self, event: &Event, applied: &Applied) {
        let camera = self.plan.visits[event.visit].camera;
        if let Some(owner) = applied.owner() {
            self.owners.insert(self.plan.cameras[camera].owner, owner);
        }
        if let Some(id) = applied.camera() {
            self.cameras.insert(camera, id);
        }
        if let Some(id) = applied.visit() {
            let came_with = self.came_with(event.visit);
            self.visits.insert(
                event.visit,
                Known {
                    id,
                    quote: None,
                    wait: None,
                    pieces: Vec::new(),
                    recording: None,
                    slip: None,
                    came_with,
                },
            );
        }
        let Some(known) = self.visits.get_mut(&event.visit) else {
            return;
        };
        known.quote = applied.quote().or(known.quote);
        known.wait = applied.wait().or(known.wait);
        known.recording = applied.recording().or(known.recording);
        if event.act == Act::Slip {
            known.slip = applied.entries.first().copied();
        }
        known
            .pieces
            .extend(applied.made.iter().filter_map(|made| match made {
                fettle_bench::Made::Piece(piece) => Some(*piece),
                _ => None,
            }));
    }

    /// Attaches a picture; each is kept in the folder once and shared.
    fn photograph(&mut self, event: &Event, view: View, stage: Stage) -> Result<Change, DemoError> {
        let plan = self.plan;
        let camera = plan.visits[event.visit].camera;
        let key = picture_of(&plan.cameras[camera], camera, view);
        let visit = self
            .visits
            .get(&event.visit)
            .map_or(VisitId::LATEST, |known| known.id);
        if !self.kept.contains_key(&key) {
            let bytes = self.shelf.pictures.get(&key).map_or(&[][..], Vec::as_slice);
            let change = self.bench.keep_photo(visit, stage, view.caption(), bytes)?;
            if let Change::PhotoAttached(attached) = change {
                self.kept.insert(key, attached);
            }
        }
        self.kept
            .get(&key)
            .map(|kept| {
                PhotoAttached {
                    visit,
                    stage,
                    ..kept.clone()
                }
                .into()
            })
            .ok_or_else(|| DemoError::Picture("the bench kept no photograph".to_owned()))
    }

    fn notes_of(&self, visit: &VisitPlan) -> Option<&'a ServiceNotes> {
        match self.plan.cameras[visit.camera].model {
            ModelOf::Noted(n) => self.shelf.notes.get(n),
            ModelOf::Typed(_) => None,
        }
    }
}

/// Which picture shows this camera; a few variants serve for all examples of a model.
pub(crate) fn picture_of(camera: &CameraPlan, number: usize, view: View) -> (Body, View, u64) {
    let body = match camera.model {
        ModelOf::Noted(0) => Body::Twin,
        ModelOf::Noted(1) => Body::Half,
        ModelOf::Noted(_) => Body::Rangefinder,
        ModelOf::Typed(_) => Body::Box,
    };
    let variants = match view {
        View::Front => 4,
        View::Top | View::Open | View::Tray => 2,
    };
    // A tray looks alike whatever lies in it.
    let body = if view == View::Tray { Body::Twin } else { body };
    (body, view, number as u64 % variants)
}

//! The bench's drawers and donors: stocked when it opened, used and filled up as cameras came, counted once a year.

use std::collections::BTreeMap;

use fettle_bench::{
    Bench, CameraDetails, Change, Counted, Currency, Decimal, DonorDetails, DonorId, DonorPartId,
    DonorPartIs, DonorPartsNoted, DrawerCounted, DrawerId, DrawerNamed, Grade, LotId, Money,
    OnDonor, Page, PartFilter, PartFitted, PartLine, PartOf, PartSalvaged, PartStored, PartTaken,
    SalvagedTo, Term, VisitId,
};
use fettle_notes::ServiceNotes;
use jiff::{Span, Timestamp};

use crate::DemoError;
use crate::lots::Lots;
use crate::matter::grade;
use crate::people;

/// What stands on each drawer and where it is; the last three are for what any camera may need.
const DRAWERS: [(&str, &str); 9] = [
    ("A1", "cabinet by the window, left"),
    ("A2", "cabinet by the window, left"),
    ("B1", "cabinet by the window, middle"),
    ("B2", "cabinet by the window, middle"),
    ("C1", "cabinet by the window, right"),
    ("C2", "cabinet by the window, right"),
    ("leather", "under the bench"),
    ("screws", "tin on the shelf"),
    ("springs", "tin on the shelf"),
];

/// What fits anything: drawer, part, grade, pieces, minimum, cents apiece.
const FOR_ANY: [(usize, &str, Grade, u32, u32, i64); 5] = [
    (
        6,
        "goatskin 0.6 mm, black, hand-sized sheet",
        Grade::Reproduction,
        9,
        3,
        640,
    ),
    (
        6,
        "light seal foam 1.5 mm, strip",
        Grade::Reproduction,
        24,
        6,
        110,
    ),
    (
        7,
        "screw M1.4 × 2.5, slotted",
        Grade::Reproduction,
        60,
        20,
        15,
    ),
    (7, "screw M1.7 × 4, slotted", Grade::Original, 14, 10, 40),
    (
        8,
        "hairspring stock 0.10 × 1.2 mm, 10 cm",
        Grade::Reproduction,
        5,
        2,
        320,
    ),
];

const SOURCES: [&str; 4] = [
    "the clockmaker's estate, Torvøy",
    "Ropewalk Small Parts",
    "swapped with the bench at Oudezand",
    "a box from the harbour market",
];

/// Days from opening until each donor came, its model's place, serial number and condition.
const DONORS: [(i64, usize, &str, &str); 3] = [
    (
        40,
        0,
        "C 20933",
        "taking lens fogged, bottom plate dented, works sound",
    ),
    (
        300,
        2,
        "M 7718",
        "curtains torn, rangefinder clear, top cover cracked",
    ),
    (
        640,
        1,
        "S 50142",
        "fell from a pier, body bent; shutter and meter dry",
    ),
];

/// Days after which what ran short is filled up again.
const REORDER_DAYS: i64 = 25;
/// Days between two counts of everything.
const COUNT_DAYS: i64 = 365;
/// Most parts of one model that were bought when the bench opened.
const OF_A_MODEL: usize = 14;

/// What one visit took so far, which the record does not know yet.
#[derive(Debug, Default)]
pub(crate) struct Taken {
    lots: BTreeMap<LotId, u32>,
    donor_parts: BTreeMap<DonorPartId, u32>,
}

/// The drawers as the story goes on.
pub(crate) struct Stock<'a> {
    bench: &'a Bench,
    notes: &'a [ServiceNotes],
    seed: u64,
    currency: Currency,
    /// What is to happen, by its day.
    due: BTreeMap<Timestamp, Vec<Due>>,
}

#[derive(Clone, Copy, Debug)]
enum Due {
    Donor(usize),
    FillUp,
    Count(usize),
}

impl<'a> Stock<'a> {
    /// Names the drawers and stocks them, at the moment when the bench opens.
    pub(crate) fn open(
        bench: &'a Bench,
        notes: &'a [ServiceNotes],
        seed: u64,
        currency: Currency,
        at: Timestamp,
        until: Timestamp,
    ) -> Result<Self, DemoError> {
        let mut stock = Self {
            bench,
            notes,
            seed,
            currency,
            due: BTreeMap::new(),
        };
        let mut changes: Vec<Change> = DRAWERS
            .iter()
            .map(|(name, place)| {
                DrawerNamed {
                    drawer: None,
                    name: (*name).to_owned(),
                    place: (*place).to_owned(),
                }
                .into()
            })
            .collect();
        changes.extend(stock.for_any());
        for model in 0..notes.len() {
            changes.extend(stock.of_model(model));
        }
        bench.apply(&people::hand(0), at, changes)?;
        for (number, (days, ..)) in DONORS.iter().enumerate() {
            stock.plan(at, *days, until, Due::Donor(number));
        }
        for days in (REORDER_DAYS..4 * COUNT_DAYS).step_by(REORDER_DAYS.unsigned_abs() as usize) {
            stock.plan(at, days, until, Due::FillUp);
        }
        for year in 1..4 {
            for drawer in 0..DRAWERS.len() {
                stock.plan(at, year * COUNT_DAYS, until, Due::Count(drawer));
            }
        }
        Ok(stock)
    }

    fn plan(&mut self, from: Timestamp, days: i64, until: Timestamp, due: Due) {
        let hours = Span::new().hours(24 * days);
        if let Ok(at) = from.checked_add(hours)
            && at < until
        {
            self.due.entry(at).or_default().push(due);
        }
    }

    fn money(&self, cents: i64) -> Money {
        Money::new(Decimal::new(cents, 2), self.currency)
    }

    fn for_any(&self) -> Vec<Change> {
        FOR_ANY
            .iter()
            .map(|&(drawer, words, grade, quantity, minimum, cents)| {
                PartStored {
                    of: PartOf {
                        notes_id: None,
                        model: String::new(),
                        part: Term::own(words),
                    },
                    grade,
                    quantity,
                    price: Some(self.money(cents)),
                    source: SOURCES[1].to_owned(),
                    drawer: drawer_id(drawer),
                    minimum: Some(minimum),
                    note: String::new(),
                }
                .into()
            })
            .collect()
    }

    /// Parts of one model that its works use: a lot for each grade to be had, original ones few.
    fn of_model(&self, model: usize) -> Vec<Change> {
        let Some(notes) = self.notes.get(model) else {
            return Vec::new();
        };
        let used: Vec<&str> = notes
            .works
            .iter()
            .flat_map(|(_, work)| work.parts.iter().map(|used| used.part.as_str()))
            .collect();
        let mut changes = Vec::new();
        let kept = notes
            .parts
            .iter()
            .filter(|(id, part)| used.contains(&id.as_str()) && !part.grades.is_empty());
        for (n, (id, part)) in kept.take(OF_A_MODEL).enumerate() {
            let mut lots = Lots::of(self.seed, "stock", 100 * model + n);
            let minimum = u32::try_from(lots.whole(1, 2)).unwrap_or(1) * part.count;
            for note in part.grades.iter().take(2) {
                let grade = grade(note.grade);
                let pieces = match grade {
                    Grade::Original => lots.whole(1, 3),
                    Grade::Salvaged => lots.whole(1, 2),
                    Grade::Reproduction => lots.whole(3, 8),
                    Grade::Made => lots.whole(2, 4),
                };
                changes.push(
                    PartStored {
                        of: of(notes, id.as_str(), &part.name),
                        grade,
                        quantity: u32::try_from(pieces).unwrap_or(1) * part.count,
                        price: Some(self.money(10 * lots.whole(20, 180))),
                        source: source(grade, &mut lots),
                        drawer: drawer_id(2 * model + n % 2),
                        minimum: Some(minimum),
                        note: String::new(),
                    }
                    .into(),
                );
            }
        }
        changes
    }

    /// What came due until this moment happens, each at its own.
    pub(crate) fn pass(&mut self, until: Timestamp) -> Result<(), DemoError> {
        while let Some(first) = self.due.first_entry() {
            if *first.key() > until {
                break;
            }
            let (at, due) = first.remove_entry();
            for one in due {
                let changes = match one {
                    Due::Donor(number) => self.donor(number),
                    Due::FillUp => self.fill_up(at)?,
                    Due::Count(drawer) => self.count(at, drawer)?,
                };
                if !changes.is_empty() {
                    self.bench.apply(&people::hand(0), at, changes)?;
                }
            }
        }
        Ok(())
    }

    fn donor(&self, number: usize) -> Vec<Change> {
        let Some((_, model, serial, condition)) = DONORS.get(number) else {
            return Vec::new();
        };
        let Some(notes) = self.notes.get(*model) else {
            return Vec::new();
        };
        let mut lots = Lots::of(self.seed, "donor", number);
        let details = DonorDetails {
            maker: notes.model.maker.clone(),
            model: notes.model.name.clone(),
            notes_id: Some(notes.model.id.to_string()),
            serial: (*serial).to_owned(),
            condition: (*condition).to_owned(),
            source: lots.pick(&SOURCES).copied().unwrap_or_default().to_owned(),
        };
        let on = |(id, part): (&fettle_notes::PartId, &fettle_notes::Part)| {
            let state = match lots.uniform() {
                ..0.35 => DonorPartIs::Good,
                ..0.6 => DonorPartIs::Worn,
                ..0.9 => DonorPartIs::NotLooked,
                _ => DonorPartIs::Spoiled,
            };
            OnDonor {
                part: Term::known(id.as_str(), &part.name),
                quantity: part.count,
                state,
                note: String::new(),
            }
        };
        let parts = notes.parts.iter().map(on).collect();
        let noted = DonorPartsNoted {
            donor: DonorId::LATEST,
            parts,
        };
        vec![details.into(), noted.into()]
    }

    /// Buys or makes what is below its minimum; original parts are not to be had any more.
    fn fill_up(&self, at: Timestamp) -> Result<Vec<Change>, DemoError> {
        let below = PartFilter {
            below: true,
            ..PartFilter::default()
        };
        let list = self.bench.parts(&below, Page::first(500), at)?;
        let mut changes = Vec::new();
        for line in list.lines {
            let mut lots = Lots::of(self.seed, "fill-up", entry_of(&line, at));
            // Nobody finds everything at once.
            if lots.chance(0.45) {
                changes.extend(self.bought(&line, &mut lots));
            }
        }
        Ok(changes)
    }

    fn bought(&self, line: &PartLine, lots: &mut Lots) -> Option<Change> {
        let grade = match line.of.notes_id.as_deref() {
            None => Some(Grade::Reproduction),
            Some(id) => {
                let notes = self.notes.iter().find(|it| it.model.id.as_str() == id)?;
                let part = notes.parts.get(line.of.part.id.as_deref()?)?;
                let to_be_had = |it: &Grade| matches!(it, Grade::Reproduction | Grade::Made);
                part.grades.iter().map(|it| grade(it.grade)).find(to_be_had)
            }
        }?;
        let minimum = line.minimum.unwrap_or(1).max(1);
        let (drawer, _) = line
            .drawers
            .first()
            .cloned()
            .unwrap_or((DrawerId::new(1), String::new()));
        Some(
            PartStored {
                of: line.of.clone(),
                grade,
                quantity: minimum * u32::try_from(lots.whole(1, 3)).unwrap_or(1),
                price: Some(self.money(10 * lots.whole(20, 180))),
                source: source(grade, lots),
                drawer,
                minimum: None,
                note: String::new(),
            }
            .into(),
        )
    }

    /// Counts a drawer; now and then a small piece is missing.
    fn count(&self, at: Timestamp, drawer: usize) -> Result<Vec<Change>, DemoError> {
        let id = drawer_id(drawer);
        let view = self.bench.drawer(id)?;
        let salt = usize::try_from(at.as_second() / 86_400).unwrap_or(0);
        let mut lots = Lots::of(self.seed, "count", 100 * salt + drawer);
        let counts: Vec<Counted> = view
            .lots
            .iter()
            .map(|lot| Counted {
                lot: lot.id,
                written: lot.quantity,
                counted: lot.quantity - u32::from(lots.chance(0.08)),
            })
            .collect();
        if counts.is_empty() {
            return Ok(Vec::new());
        }
        let counted = DrawerCounted {
            drawer: id,
            counts,
            note: String::new(),
        };
        Ok(vec![counted.into()])
    }

    /// The part out of a drawer, or else off a donor, when one of them has it.
    pub(crate) fn instead_of(
        &self,
        fitted: &PartFitted,
        camera: &CameraDetails,
        taken: &mut Taken,
    ) -> Result<Option<Change>, DemoError> {
        let each = fitted.price.and_then(|all| {
            let each = all.amount.checked_div(Decimal::from(fitted.quantity))?;
            (each * Decimal::from(fitted.quantity) == all.amount)
                .then(|| Money::new(each, all.currency))
        });
        if fitted.price.is_some() && each.is_none() {
            return Ok(None);
        }
        let lots = self.bench.lots_for(camera)?;
        let own = lots
            .iter()
            .filter(|lot| lot.of.part.id == fitted.part.id && fitted.part.id.is_some());
        for lot in own {
            let before = taken.lots.entry(lot.id).or_default();
            if lot.quantity < *before + fitted.quantity {
                continue;
            }
            *before += fitted.quantity;
            return Ok(Some(
                PartTaken {
                    lot: lot.id,
                    visit: Some(fitted.visit),
                    quantity: fitted.quantity,
                    price: each,
                    note: fitted.note.clone(),
                }
                .into(),
            ));
        }
        Ok(self
            .off_a_donor(fitted, camera, each, taken)?
            .map(Into::into))
    }

    fn off_a_donor(
        &self,
        fitted: &PartFitted,
        camera: &CameraDetails,
        each: Option<Money>,
        taken: &mut Taken,
    ) -> Result<Option<PartSalvaged>, DemoError> {
        for line in self.bench.donors()? {
            if line.details.notes_id != camera.notes_id || camera.notes_id.is_none() {
                continue;
            }
            let donor = self.bench.donor(line.id)?;
            let usable = |state| matches!(state, DonorPartIs::Good | DonorPartIs::Worn);
            let part = donor
                .parts
                .iter()
                .find(|part| part.on.part.id == fitted.part.id && usable(part.on.state));
            if let Some(part) = part {
                let before = taken.donor_parts.entry(part.id).or_default();
                if part.on.quantity < *before + fitted.quantity {
                    continue;
                }
                *before += fitted.quantity;
                let to: VisitId = fitted.visit;
                return Ok(Some(PartSalvaged {
                    from: part.id,
                    quantity: fitted.quantity,
                    to: SalvagedTo::Visit(to),
                    price: each,
                    note: fitted.note.clone(),
                }));
            }
        }
        Ok(None)
    }
}

fn of(notes: &ServiceNotes, id: &str, name: &str) -> PartOf {
    PartOf {
        notes_id: Some(notes.model.id.to_string()),
        model: format!("{} {}", notes.model.maker, notes.model.name),
        part: Term::known(id, name),
    }
}

/// The drawer of this place in the list: they are named first and in order.
fn drawer_id(place: usize) -> DrawerId {
    DrawerId::new(i64::try_from(place).unwrap_or(0) + 1)
}

fn source(grade: Grade, lots: &mut Lots) -> String {
    match grade {
        Grade::Made => "made at the bench".to_owned(),
        _ => lots.pick(&SOURCES).copied().unwrap_or_default().to_owned(),
    }
}

/// A number of its own for a part on a day.
fn entry_of(line: &PartLine, at: Timestamp) -> usize {
    let day = at.as_second() / 86_400;
    usize::try_from(line.id.get() * 100_000 + day).unwrap_or(0)
}

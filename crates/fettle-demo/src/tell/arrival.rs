//! Arrival, looking over, the quote and its answer.

use fettle_bench::{
    ArrivalCorrected, ArrivalDetails, CameraDetails, CameraId, Change, CircumstanceKnown, Decimal,
    EarlierHandsNoted, FaultIs, FaultRecorded, Found, Money, OwnerId, QuoteAnswered, Seen, Serial,
    SignObserved, Stage, StageMoved, VisitId, VisitOpened, WaitFor, WaitingBegun, WaitingEnded,
};
use jiff::Span;
use jiff::civil::Date;

use super::{Known, Teller};
use crate::lots::Lots;
use crate::matter::Matter;
use crate::models::TYPED;
use crate::people;
use crate::plan::{Event, ModelOf, VisitPlan};

const CAME_WITH: [&str; 7] = [
    "lens cap",
    "leather case",
    "strap",
    "lens hood",
    "take-up spool",
    "filter in a tin",
    "instruction leaflet",
];

const CONDITIONS: [&str; 6] = [
    "clean, leather sound, a small dent at one corner",
    "dusty, leather lifting along the lower edge",
    "much used, paint worn to the brass on the edges",
    "like new but for a cleaning mark on the front glass",
    "green deposit round the screws, smells of a cellar",
    "scratched on the base, one strap lug bent",
];

const EARLIER_HANDS: [(&str, &str); 6] = [
    ("front plate", "two screws of unlike length changed over"),
    ("lens ring", "slots burred by a screwdriver"),
    (
        "under the top cover",
        "thread locker where the factory used none",
    ),
    ("shutter cover", "a screw with a metric thread forced in"),
    ("leather", "glued down with contact cement"),
    ("wind knob", "nut chewed by pliers"),
];

/// What owners say, by a word in the id of a sign that is seen.
const WORDS: [(&str, &str); 10] = [
    (
        "slow",
        "the slow speeds stick when it is cold, sometimes for good",
    ),
    (
        "wind",
        "it has become stiff to wind and last week something gave",
    ),
    (
        "speed",
        "slides have come back a little too light all summer",
    ),
    (
        "focus",
        "the focus knob has play and near pictures are soft",
    ),
    (
        "range",
        "the two images in the finder no longer meet far away",
    ),
    ("needle", "the needle hardly moves, even in full sun"),
    ("light", "there are red streaks at the edge of every film"),
    ("blade", "nothing but black pictures on the last film"),
    ("frame", "pictures overlap by a finger's breadth"),
    (
        "lens",
        "there is a veil over everything, as through a net curtain",
    ),
];

const WANTED: [&str; 5] = [
    "working again for a journey in spring",
    "looked over and put right as far as it is worth it",
    "it was my aunt's: keep its traces of use, make it work",
    "quote first, please",
    "all speeds within reason, and a paper that says so",
];

const GUARANTEE_WORDS: &str = "it worked for two films and is doing it again";

impl Teller<'_> {
    pub(super) fn arrive(&self, event: &Event) -> Vec<Change> {
        let plan = self.plan;
        let visit = &plan.visits[event.visit];
        let camera = &plan.cameras[visit.camera];
        let mut changes = Vec::new();
        let owner = self.owners.get(&camera.owner).copied().unwrap_or_else(|| {
            changes.push(people::owner(camera.owner).into());
            OwnerId::LATEST
        });
        let camera = self.cameras.get(&visit.camera).copied().unwrap_or_else(|| {
            changes.push(self.camera_details(visit).into());
            CameraId::LATEST
        });
        let arrival = self.arrival(event, owner);
        changes.push(VisitOpened { camera, arrival }.into());
        changes
    }

    pub(super) fn camera_details(&self, visit: &VisitPlan) -> CameraDetails {
        let camera = &self.plan.cameras[visit.camera];
        let serial = |at: &str, number: u32| Serial {
            at: at.to_owned(),
            number: number.to_string(),
        };
        match (camera.model, self.notes_of(visit)) {
            (ModelOf::Noted(_), Some(notes)) => CameraDetails {
                maker: notes.model.maker.clone(),
                model: notes.model.name.clone(),
                notes_id: Some(notes.model.id.to_string()),
                serials: vec![
                    serial("body", camera.serial),
                    serial("lens", 700_000 + 7 * camera.serial),
                ],
                note: String::new(),
            },
            (ModelOf::Noted(n) | ModelOf::Typed(n), _) => {
                let typed = &TYPED[n % TYPED.len()];
                CameraDetails {
                    maker: typed.maker.to_owned(),
                    model: typed.name.to_owned(),
                    notes_id: None,
                    serials: vec![serial("body", camera.serial)],
                    note: "no service notes yet".to_owned(),
                }
            }
        }
    }

    /// What came with it, fixed for the visit.
    pub(super) fn came_with(&self, visit: usize) -> Vec<String> {
        let mut lots = Lots::of(self.seed, "came with", visit);
        CAME_WITH
            .iter()
            .filter(|_| lots.chance(0.3))
            .map(|item| (*item).to_owned())
            .collect()
    }

    fn arrival(&self, event: &Event, owner: OwnerId) -> ArrivalDetails {
        let visit = &self.plan.visits[event.visit];
        let mut lots = Lots::of(self.seed, "arrival", event.visit);
        let earlier = visit
            .guarantee_of
            .and_then(|it| self.visits.get(&it))
            .map(|known| known.id);
        let words = match earlier {
            Some(_) => GUARANTEE_WORDS,
            None => owners_words(&visit.matter),
        };
        let declared = Decimal::from(10 * lots.whole(4, 38));
        ArrivalDetails {
            owner,
            arrived: event.on,
            words: words.to_owned(),
            wanted: lots
                .pick(&WANTED)
                .map_or_else(String::new, |it| (*it).to_owned()),
            condition: lots
                .pick(&CONDITIONS)
                .map_or_else(String::new, |it| (*it).to_owned()),
            came_with: self.came_with(event.visit),
            declared: Some(Money::new(declared, self.currency)),
            promised: lots
                .chance(0.4)
                .then(|| weeks_after(event.on, lots.whole(4, 9)))
                .flatten(),
            guarantee_of: earlier,
        }
    }

    /// The parcel held one thing more than was written down.
    pub(super) fn correct_arrival(&self, event: &Event, known: &Known) -> Vec<Change> {
        let visit = &self.plan.visits[event.visit];
        let Some(owner) = self.owners.get(&self.plan.cameras[visit.camera].owner) else {
            return Vec::new();
        };
        let mut arrival = self.arrival(event, *owner);
        arrival.came_with.clone_from(&known.came_with);
        arrival.condition.push_str("; a film is still in it");
        vec![
            ArrivalCorrected {
                visit: known.id,
                arrival,
            }
            .into(),
        ]
    }

    pub(super) fn look_over(&self, event: &Event, visit: &VisitPlan, id: VisitId) -> Vec<Change> {
        let mut lots = Lots::of(self.seed, "look over", event.visit);
        let mut changes = Vec::new();
        for (circumstance, holds) in &visit.matter.circumstances {
            // Owners do not know everything.
            let known = match (lots.chance(0.7), holds) {
                (false, _) => continue,
                (true, true) => Seen::Yes,
                (true, false) => Seen::No,
            };
            let circumstance = circumstance.clone();
            changes.push(
                CircumstanceKnown {
                    visit: id,
                    circumstance,
                    known,
                    note: String::new(),
                }
                .into(),
            );
        }
        for (sign, seen) in &visit.matter.signs {
            // Of visits long past only what was wrong was kept in full.
            let kept = match seen {
                Seen::Yes => true,
                Seen::No => !visit.old || lots.chance(0.3),
                Seen::NotLooked => false,
            };
            if kept {
                changes.push(
                    SignObserved {
                        visit: id,
                        sign: sign.clone(),
                        seen: *seen,
                        numbers: Vec::new(),
                        note: String::new(),
                    }
                    .into(),
                );
            }
        }
        let meddled = visit
            .matter
            .circumstances
            .iter()
            .any(|(it, holds)| *holds && it.key() == "earlier-hands");
        if (meddled || lots.chance(0.15))
            && let Some((at, what)) = lots.pick(&EARLIER_HANDS)
        {
            changes.push(
                EarlierHandsNoted {
                    visit: id,
                    at: (*at).to_owned(),
                    what: (*what).to_owned(),
                }
                .into(),
            );
        }
        changes.push(moved(id, Stage::LookedOver));
        changes
    }

    /// What is thought to be wrong, then what it will cost; from here on the answer is waited for.
    pub(super) fn quote(&self, event: &Event, visit: &VisitPlan, id: VisitId) -> Vec<Change> {
        let mut changes = suspected(&visit.matter, id);
        changes.extend([
            self.quoted(visit, id, event.on).into(),
            moved(id, Stage::Quoted),
            WaitingBegun {
                visit: id,
                wait_for: WaitFor::Answer,
                what: "the quote".to_owned(),
            }
            .into(),
        ]);
        changes
    }

    pub(super) fn answer(&self, event: &Event, known: &Known, agreed: bool) -> Vec<Change> {
        let id = known.id;
        let mut changes = Vec::new();
        if let Some(quote) = known.quote {
            let words = if agreed {
                "go ahead, there is no hurry"
            } else {
                "too much for me, send it back as it is, please"
            };
            changes.push(
                QuoteAnswered {
                    visit: id,
                    quote,
                    agreed,
                    words: words.to_owned(),
                    on: event.on,
                }
                .into(),
            );
        }
        if let Some(wait) = known.wait {
            let note = "the answer came by mail".to_owned();
            changes.push(
                WaitingEnded {
                    visit: id,
                    wait,
                    note,
                }
                .into(),
            );
        }
        changes.push(moved(
            id,
            if agreed {
                Stage::Agreed
            } else {
                Stage::ReturnedUnrepaired
            },
        ));
        changes
    }
}

/// A visit moved on.
pub(super) fn moved(visit: VisitId, to: Stage) -> Change {
    StageMoved {
        visit,
        to,
        note: String::new(),
    }
    .into()
}

/// Causes as suspected, damage as found where it can be seen from outside, two faults ruled out.
fn suspected(matter: &Matter, visit: VisitId) -> Vec<Change> {
    let mut changes: Vec<Change> = matter
        .faults
        .iter()
        .map(|wrong| {
            FaultRecorded {
                visit,
                fault: wrong.fault.clone(),
                is: wrong.is,
                found: if wrong.is == FaultIs::Cause {
                    Found::Suspected
                } else {
                    Found::Found
                },
                because_of: None,
                note: String::new(),
            }
            .into()
        })
        .collect();
    changes.extend(matter.ruled_out.iter().map(|(fault, is)| {
        Change::from(FaultRecorded {
            visit,
            fault: fault.clone(),
            is: *is,
            found: Found::RuledOut,
            because_of: None,
            note: String::new(),
        })
    }));
    changes
}

fn owners_words(matter: &Matter) -> &'static str {
    WORDS.iter().find(|(word, _)| matter.seen(word)).map_or(
        "it has lain in a drawer for years; please look whether it is worth it",
        |it| it.1,
    )
}

fn weeks_after(day: Date, weeks: i64) -> Option<Date> {
    day.checked_add(Span::new().try_weeks(weeks).ok()?).ok()
}

//! The scenario as plain data: which cameras come, when, and how far each visit gets.

use fettle_bench::{Phase, Stage};
use fettle_notes::{ServiceNotes, ShutterKind};
use jiff::civil::Date;
use jiff::{Span, Timestamp, tz::TimeZone};

use crate::lots::Lots;
use crate::matter::Matter;
use crate::models::TYPED;
use crate::people::OWNERS;
use crate::picture::View;
use crate::{DemoError, Scale};

/// How long the bench has been keeping its record, in days.
const RECORD_DAYS: i64 = 1095;
/// Visits that ended longer ago than this are history.
const RECENT_DAYS: i64 = 75;
/// Of so many cameras one has no service notes.
const ONE_TYPED_IN: usize = 12;
/// Of so many visits one has its arrival corrected.
const CORRECTED: usize = 10;
/// Of so many visits one has a note that belongs to another, undone at once.
const MISTAKEN: usize = 9;

/// Everything that happens, in the order of time.
#[derive(Debug)]
pub(crate) struct Plan {
    pub(crate) cameras: Vec<CameraPlan>,
    pub(crate) visits: Vec<VisitPlan>,
    pub(crate) events: Vec<Event>,
}

/// A camera and whose it is.
#[derive(Debug)]
pub(crate) struct CameraPlan {
    pub(crate) owner: usize,
    pub(crate) model: ModelOf,
    pub(crate) serial: u32,
}

/// What the bench knows of a model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ModelOf {
    /// The place among the models with service notes.
    Noted(usize),
    /// The place among those typed in.
    Typed(usize),
}

/// One stay of a camera.
#[derive(Debug)]
pub(crate) struct VisitPlan {
    pub(crate) camera: usize,
    /// The visit under whose guarantee it came back, by its place in the plan.
    pub(crate) guarantee_of: Option<usize>,
    pub(crate) matter: Matter,
    /// Whether a top speed stays out of its limit.
    pub(crate) shortfall: bool,
    /// Phases of which a recording is kept.
    pub(crate) recorded: Vec<Phase>,
    /// Long past: fewer photographs and answers are kept.
    pub(crate) old: bool,
}

/// Something done at one moment.
#[derive(Debug)]
pub(crate) struct Event {
    pub(crate) at: Timestamp,
    pub(crate) on: Date,
    pub(crate) visit: usize,
    pub(crate) hand: usize,
    pub(crate) act: Act,
}

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Act {
    Arrive,
    Photograph(View, Stage),
    CorrectArrival,
    LookOver,
    Measure(Phase),
    /// A note that belongs to another camera.
    Slip,
    /// Undoes the slip.
    TakeBack,
    Quote,
    Agree,
    Refuse,
    WaitForPart,
    PartCame,
    TakeApart,
    /// The way in as far as half.
    BeginApart,
    Work,
    PutBack,
    Prove,
    Pack,
    WaitForPost,
    Send,
}

/// How far a visit has got.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reach {
    Home,
    HomeUnrepaired,
    ReturnedUnrepaired,
    Arrived,
    LookedOver,
    Quoted,
    Agreed,
    AgreedWaiting,
    BegunApart,
    Apart,
    ApartWaiting,
    Together,
    Proved,
    Packed,
    PackedWaiting,
}

/// Where the cameras now on the bench stand; a smaller scenario takes the first of them.
const NOW: [Reach; 24] = [
    Reach::Apart,
    Reach::Arrived,
    Reach::Quoted,
    Reach::Proved,
    Reach::LookedOver,
    Reach::ApartWaiting,
    Reach::Packed,
    Reach::Agreed,
    Reach::Together,
    Reach::ReturnedUnrepaired,
    Reach::PackedWaiting,
    Reach::AgreedWaiting,
    Reach::BegunApart,
    Reach::Arrived,
    Reach::Quoted,
    Reach::LookedOver,
    Reach::Apart,
    Reach::Agreed,
    Reach::Proved,
    Reach::Arrived,
    Reach::Together,
    Reach::Quoted,
    Reach::Packed,
    Reach::LookedOver,
];

impl Plan {
    /// Draws the scenario.
    pub(crate) fn draw(
        notes: &[ServiceNotes],
        seed: u64,
        today: Date,
        scale: Scale,
    ) -> Result<Self, DemoError> {
        let mut plan = Self {
            cameras: (0..scale.cameras).map(|n| camera(n, seed)).collect(),
            visits: Vec::new(),
            events: Vec::new(),
        };
        let now = NOW.len().min((scale.cameras * 2).div_ceil(5));
        for n in 0..scale.cameras {
            let mut lots = Lots::of(seed, "visits", n);
            let current = NOW.get(n).copied().filter(|_| n < now);
            let (reach, end) = match current {
                Some(reach) => (reach, lots.whole(1, 6)),
                None => {
                    let home = if lots.chance(0.08) {
                        Reach::HomeUnrepaired
                    } else {
                        Reach::Home
                    };
                    (home, lots.whole(RECENT_DAYS, RECORD_DAYS - 150))
                }
            };
            // Some have been here before; of those, some come back under guarantee.
            let mut earlier = None;
            if n % 4 == 1 && reach != Reach::Arrived {
                let guarantee = lots.chance(0.5);
                let ago = end + lots.whole(110, if guarantee { 260 } else { 520 });
                let visit = plan.visit(notes, n, Reach::Home, today, ago, None, seed)?;
                earlier = guarantee.then_some(visit);
            }
            plan.visit(notes, n, reach, today, end, earlier, seed)?;
        }
        plan.events.sort_by_key(|event| (event.at, event.visit));
        plan.choose_recordings(notes, scale.recordings);
        Ok(plan)
    }

    /// Adds a visit whose last event lies `end` days back; gives its place.
    #[expect(
        clippy::too_many_arguments,
        reason = "what a visit is made of, in one private place"
    )]
    fn visit(
        &mut self,
        notes: &[ServiceNotes],
        camera: usize,
        reach: Reach,
        today: Date,
        end: i64,
        guarantee_of: Option<usize>,
        seed: u64,
    ) -> Result<usize, DemoError> {
        let visit = self.visits.len();
        let mut lots = Lots::of(seed, "visit", visit);
        let matter = match self.cameras[camera].model {
            ModelOf::Noted(n) => Matter::draw(&notes[n], &mut lots),
            ModelOf::Typed(n) => Matter::typed(&TYPED[n], &mut lots),
        };
        let old = end > 2 * RECENT_DAYS;
        let acts = acts(reach, old, visit, &mut lots);
        let hand = usize::from(lots.chance(0.4));
        let mut day = -end - acts.iter().map(|(gap, _)| gap).sum::<i64>();
        let mut minute = 0;
        for (gap, act) in acts {
            day += gap;
            minute = if gap > 0 {
                lots.whole(0, 90)
            } else {
                minute + lots.whole(4, 25)
            };
            let on = days_from(today, day)?;
            // Cameras are booked in by whoever opens the parcel.
            let hand = if act == Act::Arrive {
                usize::from(lots.chance(0.5))
            } else {
                hand
            };
            self.events.push(Event {
                at: moment(on, minute)?,
                on,
                visit,
                hand,
                act,
            });
        }
        self.visits.push(VisitPlan {
            camera,
            guarantee_of,
            matter,
            shortfall: lots.chance(0.22),
            recorded: Vec::new(),
            old,
        });
        Ok(visit)
    }

    /// The latest measurements of leaf shutters are those of which recordings are kept.
    fn choose_recordings(&mut self, notes: &[ServiceNotes], count: usize) {
        let mut left = count;
        for event in self.events.iter().rev() {
            let Act::Measure(phase) = event.act else {
                continue;
            };
            let visit = &mut self.visits[event.visit];
            let leaf = match self.cameras[visit.camera].model {
                ModelOf::Noted(n) => notes[n].model.shutter == ShutterKind::Leaf,
                ModelOf::Typed(_) => false,
            };
            if leaf && left > 0 {
                visit.recorded.push(phase);
                left -= 1;
            }
        }
    }
}

fn camera(n: usize, seed: u64) -> CameraPlan {
    let mut lots = Lots::of(seed, "camera", n);
    let model = if n % ONE_TYPED_IN == ONE_TYPED_IN - 1 {
        ModelOf::Typed((n / ONE_TYPED_IN) % TYPED.len())
    } else {
        ModelOf::Noted([0, 1, 2, 0, 2, 1, 0][n % 7])
    };
    // Everybody has one camera before anybody has a second.
    let owner = if n < OWNERS {
        n
    } else {
        lots.whole(0, OWNERS as i64 - 1) as usize
    };
    CameraPlan {
        owner,
        model,
        serial: lots.whole(10_400, 48_900) as u32,
    }
}

/// What is done in a visit that gets this far: days since the act before, and the act.
fn acts(reach: Reach, old: bool, visit: usize, lots: &mut Lots) -> Vec<(i64, Act)> {
    let mut acts = vec![
        (0, Act::Arrive),
        (0, Act::Photograph(View::Front, Stage::Arrived)),
    ];
    if !old {
        acts.push((0, Act::Photograph(View::Top, Stage::Arrived)));
    }
    if visit % CORRECTED == 3 {
        acts.push((0, Act::CorrectArrival));
    }
    if reach == Reach::Arrived {
        return acts;
    }
    acts.push((lots.whole(1, 5), Act::LookOver));
    if visit % MISTAKEN == 2 {
        acts.extend([(0, Act::Slip), (0, Act::TakeBack)]);
    }
    acts.push((0, Act::Measure(Phase::Before)));
    if reach == Reach::LookedOver {
        return acts;
    }
    acts.push((lots.whole(0, 3), Act::Quote));
    match reach {
        Reach::Quoted => return acts,
        Reach::HomeUnrepaired | Reach::ReturnedUnrepaired => {
            acts.push((lots.whole(1, 9), Act::Refuse));
            if reach == Reach::HomeUnrepaired {
                acts.extend([(lots.whole(1, 4), Act::Pack), (lots.whole(0, 2), Act::Send)]);
            }
            return acts;
        }
        _ => acts.push((lots.whole(1, 9), Act::Agree)),
    }
    match reach {
        Reach::Agreed => return acts,
        Reach::AgreedWaiting => {
            acts.push((1, Act::WaitForPart));
            return acts;
        }
        _ if lots.chance(0.2) => {
            acts.extend([(1, Act::WaitForPart), (lots.whole(8, 30), Act::PartCame)]);
        }
        _ => {}
    }
    if reach == Reach::BegunApart {
        acts.push((lots.whole(1, 9), Act::BeginApart));
        return acts;
    }
    acts.push((lots.whole(1, 9), Act::TakeApart));
    acts.push((0, Act::Photograph(View::Open, Stage::Apart)));
    if !old {
        acts.push((0, Act::Photograph(View::Tray, Stage::Apart)));
    }
    match reach {
        Reach::Apart => return acts,
        Reach::ApartWaiting => {
            acts.push((0, Act::WaitForPart));
            return acts;
        }
        _ => {}
    }
    acts.extend([
        (lots.whole(0, 2), Act::Work),
        (lots.whole(0, 3), Act::PutBack),
    ]);
    if reach == Reach::Together {
        return acts;
    }
    acts.extend([
        (lots.whole(0, 2), Act::Measure(Phase::After)),
        (0, Act::Prove),
    ]);
    if reach == Reach::Proved {
        return acts;
    }
    acts.push((lots.whole(0, 4), Act::Pack));
    match reach {
        Reach::Packed => {}
        Reach::PackedWaiting => acts.push((0, Act::WaitForPost)),
        _ => acts.push((lots.whole(0, 3), Act::Send)),
    }
    acts
}

fn days_from(today: Date, days: i64) -> Result<Date, DemoError> {
    let out_of_reach = |_| DemoError::Date(today.to_string());
    let span = Span::new().try_days(days).map_err(out_of_reach)?;
    today.checked_add(span).map_err(out_of_reach)
}

/// So many minutes after nine on that day.
fn moment(on: Date, minutes: i64) -> Result<Timestamp, DemoError> {
    let (hour, minute) = (9 + minutes / 60, minutes % 60);
    on.at(hour.min(20) as i8, minute as i8, 0, 0)
        .to_zoned_datetime(TimeZone::UTC)
        .map(|moment| moment.timestamp())
        .map_err(|_| DemoError::Date(on.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::models;
    use std::collections::BTreeSet;

    fn plan(cameras: usize) -> Plan {
        let scale = Scale {
            cameras,
            recordings: 12,
        };
        let today = Date::new(2026, 11, 25).unwrap();
        Plan::draw(&models::read().unwrap(), 66, today, scale).unwrap()
    }

    #[test]
    fn events_run_in_the_order_of_time_and_end_before_today() {
        let plan = plan(60);
        assert!(plan.events.windows(2).all(|pair| pair[0].at <= pair[1].at));
        let today = Date::new(2026, 11, 25).unwrap();
        assert!(plan.events.iter().all(|event| event.on < today));
        let first = plan.events[0].on;
        assert!(first.year() >= 2023, "{first}");
    }

    #[test]
    fn a_camera_is_home_before_it_arrives_again() {
        let plan = plan(60);
        for camera in 0..plan.cameras.len() {
            let events: Vec<_> = plan
                .events
                .iter()
                .filter(|event| plan.visits[event.visit].camera == camera)
                .collect();
            let arrivals = events
                .iter()
                .filter(|event| event.act == Act::Arrive)
                .count();
            let visits: BTreeSet<_> = events.iter().map(|event| event.visit).collect();
            assert_eq!(arrivals, visits.len());
            let in_turn = events
                .windows(2)
                .filter(|pair| pair[0].visit != pair[1].visit)
                .count();
            assert_eq!(
                in_turn,
                visits.len() - 1,
                "visits of camera {camera} overlap"
            );
        }
    }

    #[test]
    fn some_come_back_under_guarantee_and_a_dozen_recordings_are_kept() {
        let plan = plan(60);
        assert!(
            plan.visits
                .iter()
                .filter(|visit| visit.guarantee_of.is_some())
                .count()
                >= 3
        );
        let recorded: usize = plan.visits.iter().map(|visit| visit.recorded.len()).sum();
        assert_eq!(recorded, 12);
    }

    #[test]
    fn a_small_scenario_is_small() {
        let plan = plan(4);
        assert_eq!(plan.cameras.len(), 4);
        assert!((4..=6).contains(&plan.visits.len()));
    }
}

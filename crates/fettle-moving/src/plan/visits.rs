//! Plans visits: those that are over, told as they would have been entered, and cameras that are here.

use std::collections::{HashMap, HashSet};

use fettle_bench::{
    About, ArrivalDetails, CameraDetails, CameraId, Change, FaultIs, FaultRecorded, Found, LineFor,
    Money, NoteWritten, OwnerId, QuoteAnswered, QuoteId, QuoteLine, QuoteMade, Sent, Stage,
    StageMoved, Term, VisitId, VisitOpened, WorkDone,
};
use fettle_notes::ServiceNotes;
use jiff::civil::Date;

use super::{
    As, Group, Plan, Same, Terms,
    cameras::{BySerial, same_model},
    owners::name_key,
    row::Reading,
};
use crate::{
    known::{self, Known},
    map::Columns,
    table::Table,
    value::{Unfit, amount, day, minutes, several, yes},
};

/// How many unknown names get the nearest known one told.
const NEAREST_MAX: usize = 20;
/// The most bytes of the works' names that stand in the line of a price.
const PRICE_FOR_MAX: usize = 400;
/// What the journal says of stages that no mechanic moved one by one.
const TAKEN_IN: &str = "taken in from a table";

/// A row as it was understood.
struct Visit {
    place: (u32, u32),
    camera: CameraId,
    home: Option<Date>,
    unrepaired: bool,
    arrival: ArrivalDetails,
    faults: Vec<(Term, bool)>,
    works: Vec<(Term, Option<f64>)>,
    price: Option<Money>,
    carrier: String,
    tracking: String,
    note: String,
}

pub(super) fn plan(
    table: &Table,
    columns: &Columns,
    known: &Known,
    terms: &Terms,
    plan: &mut Plan,
) {
    let mut finder = Finder::new(known);
    // Known visits, and those of earlier rows, by camera and day.
    let mut taken: HashMap<(CameraId, Date), As> = HashMap::new();
    let mut here: HashMap<CameraId, As> = HashMap::new();
    for visit in &known.index.visits {
        let it = As::Known(visit.visit.get());
        taken.insert((visit.camera, visit.arrived), it);
        if visit.here {
            here.insert(visit.camera, it);
        }
    }
    let mut visits: Vec<Visit> = Vec::new();
    for (n, row) in table.rows.iter().enumerate() {
        let mut reading = Reading::new(row, columns);
        let read = read(&mut reading, known, &mut finder, terms);
        if let Some(visit) = read.as_ref().filter(|_| reading.wrong.is_empty()) {
            match taken.get(&(visit.camera, visit.arrival.arrived)) {
                Some(As::Row(earlier, at))
                    if table.rows.get(*at).is_none_or(|it| it.cells != row.cells) =>
                {
                    let why = format!("is the day on which row {earlier} has this camera arrive");
                    let unfit = Unfit::new(why, "make the rows equal, or correct one day");
                    reading.unfit("arrived", unfit);
                }
                Some(known_as) => {
                    plan.same.push(Same {
                        row: row.row,
                        line: row.line,
                        known_as: known_as.told("visit"),
                        differs: Vec::new(),
                    });
                    continue;
                }
                None => {}
            }
            if let Some(it) = here.get(&visit.camera).filter(|it| {
                // A visit that is over goes before one of the same table that is not.
                matches!(it, As::Known(_)) || visit.home.is_none()
            }) {
                let why = format!("is here already: {}", it.told("visit"));
                let unfit = Unfit::new(
                    why,
                    "that visit goes home first, or this row needs a day home",
                );
                reading.unfit("serial", unfit);
            }
        }
        match read.filter(|_| reading.wrong.is_empty()) {
            Some(visit) => {
                let it = As::Row(row.row, n);
                taken.insert((visit.camera, visit.arrival.arrived), it);
                if visit.home.is_none() {
                    here.insert(visit.camera, it);
                }
                visits.push(visit);
            }
            None => plan.problems.append(&mut reading.wrong),
        }
    }
    // In the order in which they came, so that their numbers count up; those that are over first, for a camera is here but once.
    visits.sort_by_key(|visit| (visit.home.is_none(), visit.arrival.arrived));
    let staying = visits.iter().filter(|visit| visit.home.is_none()).count();
    if staying > 0 {
        plan.remarks.push(format!(
            "{staying} of the visits have no day home: these cameras are here, arrived and not yet looked over"
        ));
    }
    for visit in visits {
        plan.groups.push(told(visit));
    }
}

fn read(
    reading: &mut Reading<'_>,
    known: &Known,
    finder: &mut Finder<'_>,
    terms: &Terms,
) -> Option<Visit> {
    let owner = finder.owner(reading);
    let camera = finder.camera(reading);
    let read_day = |cell: &str| day(cell, terms.habits.dates, terms.today);
    let arrived = reading.needed_value("arrived", "the day of arrival", read_day);
    let home = reading.value("home", read_day);
    for (field, day) in [("arrived", arrived), ("home", home)] {
        if day.is_some_and(|day| day > terms.today) {
            reading.unfit(field, Unfit::new("lies after today", "correct it"));
        }
    }
    if let Some((arrived, home)) = arrived.zip(home).filter(|(arrived, home)| home < arrived) {
        let why = format!("is {home}, before it arrived on {arrived}");
        reading.unfit("home", Unfit::new(why, "correct one of the two days"));
    }
    let notes = camera
        .as_ref()
        .and_then(|(_, details)| details.notes_id.as_deref());
    let notes = notes.and_then(|id| known.notes(id));
    let unrepaired = reading.value("unrepaired", yes).unwrap_or(false);
    if unrepaired && home.is_none() {
        let unfit = Unfit::new("has no day home", "write the day on which it went back");
        reading.unfit("unrepaired", unfit);
    }
    let works = works(reading, notes, terms);
    let faults: Vec<String> = checked(reading, "faults");
    let currency = reading.value("currency", |cell| {
        cell.parse()
            .map_err(|_| Unfit::new("is not a currency", "write its three letters, such as EUR"))
    });
    let currency = currency.unwrap_or(known.currency);
    let price = reading.value("price", |cell| amount(cell, currency, terms.habits.decimal));
    let came_with = checked(reading, "came-with");
    let (words, wanted, condition) = (
        reading.prose("words"),
        reading.prose("wanted"),
        reading.prose("condition"),
    );
    let (carrier, tracking) = (reading.line("carrier"), reading.line("tracking"));
    let note = reading.prose("note");
    Some(Visit {
        place: reading.place(),
        camera: camera?.0,
        home,
        unrepaired,
        arrival: ArrivalDetails {
            owner: owner?,
            arrived: arrived?,
            words,
            wanted,
            condition,
            came_with,
            declared: None,
            promised: None,
            guarantee_of: None,
        },
        faults: faults
            .iter()
            .map(|fault| known::fault(notes, fault))
            .collect(),
        works,
        price,
        carrier,
        tracking,
        note,
    })
}

/// Several lines of one cell, each as short as a line is.
fn checked(reading: &mut Reading<'_>, field: &str) -> Vec<String> {
    let parts = several(reading.cell(field));
    let lines: Vec<String> = parts
        .iter()
        .map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    if lines
        .iter()
        .any(|line| line.len() > fettle_bench::LINE_MAX_BYTES)
    {
        let why = format!(
            "has a line of more than {} bytes",
            fettle_bench::LINE_MAX_BYTES
        );
        reading.unfit(
            field,
            Unfit::new(why, "divide it with semicolons, or put it into the note"),
        );
    } else if lines
        .iter()
        .flat_map(|line| line.chars())
        .any(char::is_control)
    {
        reading.unfit(
            field,
            Unfit::new("holds a control character", "take it out"),
        );
    }
    lines
}

/// The works with their minutes: as many times as works, or one time for all of them together.
fn works(
    reading: &mut Reading<'_>,
    notes: Option<&ServiceNotes>,
    terms: &Terms,
) -> Vec<(Term, Option<f64>)> {
    let works = checked(reading, "work");
    let mut times = Vec::new();
    for cell in several(reading.cell("minutes")) {
        match minutes(cell, terms.habits.decimal) {
            Ok(minutes) => times.push(minutes),
            Err(unfit) => {
                reading.unfit("minutes", unfit);
                return Vec::new();
            }
        }
    }
    let term = |work: &String| known::work(notes, work);
    match (works.len(), times.as_slice()) {
        (_, []) => works.iter().map(|work| (term(work), None)).collect(),
        (0, times) => times
            .iter()
            .map(|it| (Term::own("work"), Some(*it)))
            .collect(),
        (1, times) => works
            .iter()
            .map(|work| (term(work), Some(times.iter().sum())))
            .collect(),
        (_, [all]) => vec![(Term::own(cut_line(&works.join(", "))), Some(*all))],
        (n, times) if n == times.len() => works
            .iter()
            .map(term)
            .zip(times.iter().map(|it| Some(*it)))
            .collect(),
        (n, times) => {
            let why = format!("has {} times for {n} works", times.len());
            let remedy = "give one time for each work, or one for all of them together";
            reading.unfit("minutes", Unfit::new(why, remedy));
            Vec::new()
        }
    }
}

fn cut_line(text: &str) -> String {
    let mut cut = String::new();
    for letter in text.chars() {
        if cut.len() + letter.len_utf8() > PRICE_FOR_MAX {
            cut.push('…');
            break;
        }
        cut.push(letter);
    }
    cut
}

/// A visit as it would have been entered.
fn told(it: Visit) -> Group {
    let visit = VisitId::LATEST;
    let mut group = Group::default();
    let mut tell = |change: Change| group.push(it.place, change);
    let arrived = it.arrival.arrived;
    tell(
        VisitOpened {
            camera: it.camera,
            arrival: it.arrival,
        }
        .into(),
    );
    for (fault, is_cause) in it.faults {
        let is = if is_cause {
            FaultIs::Cause
        } else {
            FaultIs::Damage
        };
        let found = Found::Found;
        let note = String::new();
        tell(
            FaultRecorded {
                visit,
                fault,
                is,
                found,
                because_of: None,
                note,
            }
            .into(),
        );
    }
    if let Some(price) = it.price {
        let names: Vec<&str> = it
            .works
            .iter()
            .map(|(work, _)| work.words.as_str())
            .collect();
        let what = if names.is_empty() {
            "repair".to_owned()
        } else {
            cut_line(&names.join(", "))
        };
        let line = QuoteLine {
            line_for: LineFor::Work,
            what: Term::own(what),
            grade: None,
            quantity: None,
            minutes_likely: None,
            minutes_nine_in_ten: None,
            amount: price.amount,
        };
        tell(QuoteMade::new(visit, vec![line], price.currency, TAKEN_IN).into());
        let on = it.home.unwrap_or(arrived);
        let (quote, words) = (QuoteId::LATEST, String::new());
        tell(
            QuoteAnswered {
                visit,
                quote,
                agreed: true,
                words,
                on,
            }
            .into(),
        );
    }
    for (work, minutes) in it.works {
        tell(
            WorkDone {
                visit,
                work,
                minutes,
                note: String::new(),
            }
            .into(),
        );
    }
    if !it.note.is_empty() {
        tell(
            NoteWritten {
                about: About::Visit(visit),
                text: it.note,
            }
            .into(),
        );
    }
    if let Some(on) = it.home {
        let stages: &[Stage] = if it.unrepaired {
            &[Stage::ReturnedUnrepaired]
        } else {
            &[Stage::Proved, Stage::Packed]
        };
        for (n, &to) in stages.iter().enumerate() {
            let note = if n == 0 {
                TAKEN_IN.to_owned()
            } else {
                String::new()
            };
            tell(StageMoved { visit, to, note }.into());
        }
        tell(
            Sent {
                visit,
                carrier: it.carrier,
                tracking: it.tracking,
                on,
                guarantee_days: None,
            }
            .into(),
        );
        tell(
            StageMoved {
                visit,
                to: Stage::Home,
                note: String::new(),
            }
            .into(),
        );
    }
    group
}

/// Finds owners and cameras by what a row says of them.
struct Finder<'k> {
    by_name: HashMap<String, Vec<OwnerId>>,
    by_email: HashMap<String, Vec<OwnerId>>,
    names: HashMap<OwnerId, &'k str>,
    by_serial: BySerial,
    /// Unknown names that were told already.
    unknown: HashSet<String>,
}

impl<'k> Finder<'k> {
    fn new(known: &'k Known) -> Self {
        let mut finder = Self {
            by_name: HashMap::new(),
            by_email: HashMap::new(),
            names: HashMap::new(),
            by_serial: BySerial::of(known),
            unknown: HashSet::new(),
        };
        for owner in &known.index.owners {
            let details = &owner.details;
            finder
                .by_name
                .entry(name_key(&details.name))
                .or_default()
                .push(owner.id);
            finder.names.insert(owner.id, details.name.as_str());
            if !details.email.is_empty() {
                finder
                    .by_email
                    .entry(details.email.to_lowercase())
                    .or_default()
                    .push(owner.id);
            }
        }
        finder
    }

    fn owner(&mut self, reading: &mut Reading<'_>) -> Option<OwnerId> {
        let (name, email) = (reading.line("owner"), reading.line("email"));
        let of = |list: &HashMap<String, Vec<OwnerId>>, key: String| {
            list.get(&key).cloned().unwrap_or_default()
        };
        let by_email = of(&self.by_email, email.to_lowercase());
        let by_name = of(&self.by_name, name_key(&name));
        if name.is_empty() && email.is_empty() {
            reading.needed("owner", "the owner");
            return None;
        }
        let both: Vec<OwnerId> = by_email
            .iter()
            .copied()
            .filter(|id| by_name.contains(id))
            .collect();
        let (field, found) = match (both.as_slice(), name.is_empty(), by_email.as_slice()) {
            ([_, ..], _, _) => ("email", both.as_slice()),
            ([], true, _) => ("email", by_email.as_slice()),
            ([], false, [other, ..]) => {
                let other = self.names.get(other).copied().unwrap_or_default();
                let why = format!("is the mail address of {other}");
                reading.unfit("email", Unfit::new(why, "correct the name or the address"));
                return None;
            }
            ([], false, []) => ("owner", by_name.as_slice()),
        };
        match found {
            [owner] => Some(*owner),
            [] => {
                let unfit = self.unknown_owner(&name);
                reading.unfit(field, unfit);
                None
            }
            [first, second, ..] => {
                let why = format!("is known of owners {first} and {second}");
                let remedy = "tell them apart by a column with their mail addresses";
                reading.unfit(field, Unfit::new(why, remedy));
                None
            }
        }
    }

    fn unknown_owner(&mut self, name: &str) -> Unfit {
        self.unknown.insert(name.to_owned());
        let key = name_key(name);
        let look = !name.is_empty() && self.unknown.len() <= NEAREST_MAX;
        let nearest = look.then(|| {
            let likeness =
                |other: &&str| strsim::normalized_damerau_levenshtein(&name_key(other), &key);
            let names = self
                .names
                .values()
                .copied()
                .map(|name| (likeness(&name), name));
            names
                .filter(|(likeness, _)| *likeness >= 0.75)
                .max_by(|(a, a_name), (b, b_name)| a.total_cmp(b).then(b_name.cmp(a_name)))
        });
        match nearest.flatten() {
            Some((_, nearest)) => Unfit::new(
                "is no owner of this bench",
                format!("take in the owners first, or correct it: {nearest} is known"),
            ),
            None => Unfit::new(
                "is no owner of this bench",
                "take in the owners first, or correct it",
            ),
        }
    }

    fn camera(&self, reading: &mut Reading<'_>) -> Option<(CameraId, CameraDetails)> {
        let (serial, model) = (
            reading.needed("serial", "the serial number"),
            reading.line("model"),
        );
        if serial.is_empty() {
            return None;
        }
        let wanted = CameraDetails {
            model: model.clone(),
            ..CameraDetails::default()
        };
        let with = self.by_serial.with(&serial);
        let fits = |details: &CameraDetails| model.is_empty() || same_model(details, &wanted);
        let mut found: Vec<(i64, &CameraDetails)> = Vec::new();
        for (it, details) in with {
            if let As::Known(id) = it
                && fits(details)
                && found.iter().all(|(other, _)| other != id)
            {
                found.push((*id, details));
            }
        }
        let unfit = match (found.as_slice(), with.first()) {
            ([(id, details)], _) => return Some((CameraId::new(*id), (*details).clone())),
            ([], Some((_, other))) => {
                let why = format!("is the number of {}, not of {model}", other.name());
                Unfit::new(why, "correct the number or the model")
            }
            ([], None) => Unfit::new(
                "is no camera of this bench",
                "take in the cameras first, or correct it",
            ),
            ([(first, _), (second, _), ..], _) => Unfit::new(
                format!("is the number of cameras {first} and {second}"),
                "tell them apart by a column with their models",
            ),
        };
        reading.unfit("serial", unfit);
        None
    }
}

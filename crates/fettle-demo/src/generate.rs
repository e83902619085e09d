//! Makes the demo bench: draws the plan, makes pictures and recordings, tells it all to a bench.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Cursor;
use std::path::Path;
use std::{fs, thread};

use fettle_bench::{Bench, BenchSettings, Currency, Decimal, Phase, shutter_options};
use fettle_measure::recording;
use fettle_measure::shutter::analyse;
use fettle_notes::ServiceNotes;
use jiff::civil::Date;

use crate::picture::{self, Body, View};
use crate::plan::{Act, ModelOf, Plan};
use crate::readings::dial;
use crate::tell::{
    CURRENCY, DEPOSIT_PERCENT, GUARANTEE_DAYS, HOURLY_CENTS, PAY_DAYS, QUOTE_DAYS, Session, Shelf,
    TAX_PERCENT, Teller, dial_lots, picture_of,
};
use crate::{DemoError, MARKER, models, people, sound};

type PictureKey = (Body, View, u64);

/// How large a scenario is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Scale {
    /// How many cameras; one in four has been there twice.
    pub cameras: usize,
    /// Of how many measurements a recording is kept.
    pub recordings: usize,
}

impl Scale {
    /// The bench that `fettle demo` makes: sixty cameras, a dozen recordings.
    pub const FULL: Self = Self {
        cameras: 60,
        recordings: 12,
    };
    /// For tests: eight cameras, two recordings.
    pub const SMALL: Self = Self {
        cameras: 8,
        recordings: 2,
    };
}

/// Makes the demo bench in a folder that holds none yet. The same seed, day and scale make the same
/// journal and the same files; the day is the bench's today, and everything happened before it.
///
/// `progress` is told what is being made, in words.
///
/// # Errors
/// When the folder already is a bench or cannot be written, or `today` lies too near the ends of the
/// calendar. What was written until then stays in the folder.
pub fn generate(
    dir: &Path,
    seed: u64,
    today: Date,
    scale: Scale,
    progress: &mut dyn FnMut(&str),
) -> Result<Bench, DemoError> {
    let notes = models::read()?;
    let plan = Plan::draw(&notes, seed, today, scale)?;
    let first = plan
        .events
        .first()
        .ok_or_else(|| DemoError::Date(today.to_string()))?;

    progress("drawing photographs and recording shutters");
    let shelf = fill_shelf(notes, &plan, seed)?;

    progress(&format!(
        "telling {} visits of {} cameras to the record",
        plan.visits.len(),
        plan.cameras.len()
    ));
    Bench::make(dir, settings()?, &people::hand(0), first.at, |bench| {
        write_texts(dir)?;
        let mut teller = Teller::new(bench, &plan, &shelf, seed)?;
        for event in &plan.events {
            teller.tell(event)?;
        }
        Ok(())
    })
}

fn settings() -> Result<BenchSettings, DemoError> {
    let currency = Currency::new(CURRENCY).map_err(|error| DemoError::Notes(error.to_string()))?;
    Ok(BenchSettings {
        place: "Saltmere".to_owned(),
        address: "14 Lantern Steps\nSaltmere".to_owned(),
        contact: "bench@saltmere.example".to_owned(),
        // One of the codes of ISO 3166-1 that no country has.
        country: "XS".to_owned(),
        hourly_rate: Some(Decimal::new(HOURLY_CENTS, 2)),
        tax_percent: Some(Decimal::from(TAX_PERCENT)),
        deposit_percent: Some(Decimal::from(DEPOSIT_PERCENT)),
        quote_days: Some(QUOTE_DAYS),
        pay_days: Some(PAY_DAYS),
        guarantee_repair_days: Some(GUARANTEE_DAYS),
        guarantee_overhaul_days: Some(2 * GUARANTEE_DAYS),
        payment: "Harbour Bank of Saltmere, account 0042 117".to_owned(),
        ..BenchSettings::new("The bench at Saltmere", currency)
    })
}

/// The service notes, and the mark by which the folder is known as a demo.
fn write_texts(dir: &Path) -> Result<(), DemoError> {
    let write = |path: &Path, text: &str| {
        fs::write(path, text).map_err(|error| DemoError::File {
            path: path.to_owned(),
            why: error.to_string(),
        })
    };
    let folder = dir.join("notes");
    fs::create_dir_all(&folder).map_err(|error| DemoError::File {
        path: folder.clone(),
        why: error.to_string(),
    })?;
    for (name, text) in models::notes() {
        write(&folder.join(name), text)?;
    }
    write(
        &dir.join(MARKER),
        "This bench is invented: its owners, cameras and places do not exist.\n\
         To make it new, delete this folder and run fettle demo again.\n",
    )
}

/// Makes pictures and recordings, on two threads: neither waits for the other.
fn fill_shelf(notes: Vec<ServiceNotes>, plan: &Plan, seed: u64) -> Result<Shelf, DemoError> {
    let (pictures, sessions) = thread::scope(|scope| {
        let sessions = scope.spawn(|| record_sessions(&notes, plan, seed));
        let pictures = draw_pictures(plan);
        (pictures, sessions.join())
    });
    let sessions =
        sessions.map_err(|_| DemoError::Sound("the signal generator stopped".to_owned()))??;
    Ok(Shelf {
        notes,
        pictures: pictures?,
        sessions,
    })
}

fn draw_pictures(plan: &Plan) -> Result<BTreeMap<PictureKey, Vec<u8>>, DemoError> {
    let mut wanted = BTreeSet::new();
    for event in &plan.events {
        if let Act::Photograph(view, _) = event.act {
            let camera = plan.visits[event.visit].camera;
            wanted.insert(picture_of(&plan.cameras[camera], camera, view));
        }
    }
    wanted
        .into_iter()
        .map(|key @ (body, view, variant)| Ok((key, picture::draw(body, view, variant)?)))
        .collect()
}

fn record_sessions(
    notes: &[ServiceNotes],
    plan: &Plan,
    seed: u64,
) -> Result<BTreeMap<(usize, Phase), Session>, DemoError> {
    let mut sessions = BTreeMap::new();
    for (n, visit) in plan.visits.iter().enumerate() {
        let ModelOf::Noted(model) = plan.cameras[visit.camera].model else {
            continue;
        };
        let Some((_, limit)) = notes[model].shutter_limit() else {
            continue;
        };
        for &phase in &visit.recorded {
            let mut lots = dial_lots(seed, n, phase);
            let dial = dial(limit, visit, phase, &mut lots);
            let first_slow = phase == Phase::Before && visit.matter.seen("first-shot");
            let known = sound::session(&dial, first_slow, &mut lots)?;
            let name = format!("{}-{phase}.wav", notes[model].model.id);
            let session = recording::read(&name, Cursor::new(&known.wav))
                .map_err(|error| DemoError::Sound(error.to_string()))?;
            let options = shutter_options(&notes[model], Some(limit));
            let report = analyse(&[session], &options)
                .map_err(|error| DemoError::Sound(error.to_string()))?;
            sessions.insert(
                (n, phase),
                Session {
                    name,
                    wav: known.wav,
                    options,
                    report,
                },
            );
        }
    }
    Ok(sessions)
}

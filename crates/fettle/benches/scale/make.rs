//! Makes the bench of thirty years, once; the next run finds it in the target folder.

use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
    time::Instant,
};

use fettle_bench::{
    Bench, BenchError, BenchSettings, Change, Currency, DrawerId, DrawerNamed, FileRef, Grade,
    Hand, PartOf, PartStored,
};
use image::{ImageFormat, Rgb, RgbImage};
use jiff::{Timestamp, civil::Date};

use crate::{
    lots::Lots,
    models::{Model, models},
    story::Teller,
};

/// How much there is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Size {
    pub(crate) visits: u64,
    pub(crate) entries: u64,
    pub(crate) photographs: u64,
    /// How many of the visits have not gone home.
    pub(crate) here: u64,
    /// Over so many days up to this one.
    pub(crate) days: u64,
    pub(crate) until: Date,
}

/// A change to what is made gets a new number, so that no older bench is taken for it.
const EDITION: u32 = 1;
const SEED: u64 = 66;
/// Visits told in one transaction.
const TOGETHER: u64 = 25;
const DRAWERS: i64 = 60;
/// Parts of each model that lie in drawers, and pieces of each.
const PARTS: usize = 50;
const PIECES: u32 = 12;

pub(crate) fn currency() -> Currency {
    Currency::new("XTS").expect("a currency")
}

/// The folder of the bench of this size, made if it is not there.
pub(crate) fn bench(size: Size) -> PathBuf {
    let Size {
        visits,
        entries,
        photographs,
        ..
    } = size;
    let name = format!("scale-{EDITION}-{visits}-{entries}-{photographs}");
    let dir = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    if dir.join("bench.db").is_file() {
        println!("the bench of an earlier run: {}", dir.display());
        return dir;
    }
    println!(
        "making a bench of {visits} visits, {entries} entries and {photographs} photographs, once: {}",
        dir.display()
    );
    let began = Instant::now();
    if let Err(error) = make(&dir, size) {
        panic!("{}: {error}", dir.display());
    }
    println!("made in {:.0} s", began.elapsed().as_secs_f64());
    dir
}

fn make(dir: &Path, size: Size) -> Result<(), BenchError> {
    let (photos, notes) = (dir.join("photos"), dir.join("notes"));
    for folder in [&photos, &notes] {
        fs::create_dir_all(folder).expect("the target folder can be written");
    }
    for (name, text) in fettle_demo::notes() {
        fs::write(notes.join(name), text).expect("notes are written");
    }
    let files = (0..size.photographs)
        .map(|n| photograph(&photos, n))
        .collect();
    // Brought to the disk all at once where the system can, for one by one takes longer than all the rest.
    if let Err(error) = Command::new("sync").status() {
        println!("sync: {error}");
    }
    let hand = Hand::new("Ines");
    let settings = BenchSettings {
        place: "Saltmere".to_owned(),
        ..BenchSettings::new("The bench at Saltmere", currency())
    };
    let first = Timestamp::from_second(820_000_000).expect("a moment");
    let mut teller = Teller::new(size, models(), files, SEED);
    Bench::make::<BenchError>(dir, settings, &hand, first, |bench| {
        stock(bench, &hand, first, &mut teller)?;
        let mut n = 1;
        while n <= size.visits {
            let end = size.visits.min(n + TOGETHER - 1);
            bench.apply_together(|tell| (n..=end).try_for_each(|n| teller.visit(n, tell)))?;
            n = end + 1;
        }
        Ok(())
    })
    .map(drop)
}

/// A small photograph unlike all others, written under the name of its content.
fn photograph(folder: &Path, n: u64) -> FileRef {
    let mut lots = Lots::new(n);
    let picture = RgbImage::from_fn(8, 6, |_, _| {
        Rgb(lots.next().to_le_bytes()[..3]
            .try_into()
            .unwrap_or_default())
    });
    let mut png = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut png, ImageFormat::Png)
        .expect("a picture is written to memory");
    let bytes = png.into_inner();
    let file = FileRef {
        hash: blake3::hash(&bytes).to_hex().to_string(),
        extension: "png".to_owned(),
        bytes: bytes.len() as u64,
    };
    let path = folder.join(format!("{}.png", file.hash));
    fs::write(&path, &bytes).expect("a photograph is written");
    file
}

/// Drawers and what lies in them.
fn stock(bench: &Bench, hand: &Hand, at: Timestamp, teller: &mut Teller) -> Result<(), BenchError> {
    let drawers = (1..=DRAWERS).map(|n| {
        Change::from(DrawerNamed {
            name: format!("drawer {n}"),
            ..DrawerNamed::default()
        })
    });
    bench.apply(hand, at, drawers.collect())?;
    let mut told = DRAWERS as u64;
    for model in 0..teller.models().len() {
        let parts = parts(&teller.models()[model], model);
        told += parts.len() as u64;
        let stored = bench.apply(hand, at, parts)?;
        let lots = stored.made.iter().filter_map(|made| match made {
            fettle_bench::Made::Lot(lot) => Some((*lot, PIECES)),
            _ => None,
        });
        teller.stock.insert(model, lots.collect());
    }
    teller.entries += told + 1;
    Ok(())
}

/// The parts of a model that are kept: those of its notes, then own words.
fn parts(model: &Model, place: usize) -> Vec<Change> {
    let own = (0..PARTS).map(|n| {
        fettle_bench::Term::own(format!(
            "spare {n} {}",
            crate::lots::word((place * PARTS + n) as u64)
        ))
    });
    let known = model.parts.iter().filter(|part| part.id.is_some()).cloned();
    let name = format!("{} {}", model.maker, model.name);
    let stored = known.chain(own).take(PARTS).enumerate().map(|(n, part)| {
        PartStored {
            of: PartOf {
                notes_id: model.notes_id.clone(),
                model: name.clone(),
                part,
            },
            grade: Grade::Original,
            quantity: PIECES,
            price: None,
            source: "the clockmaker's estate".to_owned(),
            drawer: DrawerId::new((place + n) as i64 % DRAWERS + 1),
            minimum: (n % 7 == 0).then_some(3),
            note: String::new(),
        }
        .into()
    });
    stored.collect()
}

//! How long 20,000 rows take to be planned and taken in, and a bench of that size to be written out and read back. Each answer is
//! checked; times are printed, none is asserted.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench that cannot be made is not measured; the figures are what it is for"
)]

use std::{fmt::Write, path::Path, time::Instant};

use fettle_bench::{Bench, BenchSettings, Currency, Hand, Page, VisitFilter};
use fettle_moving::{Kind, Known, Reading, Table, Terms, bring, export, offer, plan, read_back};

const ROWS: usize = 20_000;

fn main() {
    let dir = tempfile::tempdir().unwrap();
    let (hand, now) = (Hand::new("Ines"), "2026-11-25T09:00:00Z".parse().unwrap());
    let settings = BenchSettings::new("The bench at Saltmere", Currency::new("XTS").unwrap());
    let folder = dir.path().join("bench");
    let bench = Bench::create(&folder, settings, &hand, now).unwrap();
    let take = |kind: Kind, text: &str| {
        let from = Instant::now();
        let table = Table::read(text.as_bytes(), &Reading::default()).unwrap();
        let map = offer(kind, &table.headings);
        let known = Known::read(&bench).unwrap();
        let terms = Terms::strict(jiff::civil::date(2026, 11, 25));
        let plan = plan(&table, &map, &known, &terms);
        assert!(plan.problems.is_empty(), "{}", plan.problems[0]);
        let planned = from.elapsed().as_secs_f64();
        let changes = bring(&bench, &hand, now, &plan, &mut |_| ()).unwrap();
        println!(
            "{kind}: {} new rows of {}, {changes} changes: planned in {planned:.2} s, taken in within {:.2} s in all",
            plan.new_rows(),
            plan.rows,
            from.elapsed().as_secs_f64()
        );
        plan.new_rows()
    };
    for kind in Kind::ALL {
        let text = table(kind);
        assert_eq!(take(kind, &text), ROWS);
        assert_eq!(take(kind, &text), 0);
    }
    let visits = bench
        .visits(&VisitFilter::default(), Page::first(1))
        .unwrap();
    assert_eq!(visits.total as usize, ROWS);
    write_out_and_read_back(&bench, dir.path());
}

fn write_out_and_read_back(bench: &Bench, dir: &Path) {
    let now = "2026-11-25T09:00:00Z".parse().unwrap();
    let from = Instant::now();
    let manifest = export(bench, &dir.join("out"), now, &mut |_| ()).unwrap();
    let bytes: u64 = manifest.files.iter().map(|file| file.bytes).sum();
    println!(
        "written out: {} entries, {} MB in {:.2} s",
        manifest.entries,
        bytes / 1_000_000,
        from.elapsed().as_secs_f64()
    );
    let from = Instant::now();
    let back = read_back(&dir.join("out"), &dir.join("back"), &mut |_| ()).unwrap();
    println!("read back in {:.2} s", from.elapsed().as_secs_f64());
    assert_eq!(
        u64::from(back.journal(Page::first(0)).unwrap().total),
        manifest.entries
    );
}

fn table(kind: Kind) -> String {
    let mut text = String::from(match kind {
        Kind::Owners => "name;email;phone;street;postcode;town;note\n",
        Kind::Cameras => "maker;model;serial;note\n",
        Kind::Visits => "owner;email;serial;arrived;home;words;faults;work;minutes;price;note\n",
        Kind::Parts => "part;model;grade;quantity;price;source;drawer;minimum\n",
    });
    for n in 0..ROWS {
        let day = 1 + n % 28;
        let _ = match kind {
            Kind::Owners => writeln!(
                text,
                "Owner {n};o{n}@example.org;+00 {n};Quay {n};1234;Saltmere;came by the harbour"
            ),
            Kind::Cameras => writeln!(text, "Aldous;Corran 66;K {n};dented"),
            Kind::Visits => writeln!(
                text,
                "Owner {n};;K {n};{day}.3.2024;{day}.5.2024;slow speeds hang;grease has set hard;shutter cleaned;90;120,50;paid at once"
            ),
            Kind::Parts => writeln!(
                text,
                "part {n};Aldous Corran 66;original;3;1,50;the clockmaker's estate;drawer {};2",
                n % 200
            ),
        };
    }
    text
}

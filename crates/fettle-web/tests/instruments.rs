//! Meter, register and rangefinder on their own pages and in a visit, and settings trimmed by trial.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{Instrument, InstrumentReport, Phase, VisitId, instrument_report};
use support::{Site, site};

fn view(site: &Site) -> fettle_bench::VisitView {
    site.bench.visit(VisitId::new(1)).unwrap()
}

/// Cells of a run as a form sends them.
fn cells(columns: &[&str], rows: &[&[&str]]) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    for (row, values) in rows.iter().enumerate() {
        for (column, value) in columns.iter().zip(*values) {
            fields.push((format!("run.{row}.{column}"), (*value).to_owned()));
        }
    }
    fields
}

fn with<'a>(run: &'a [(String, String)], fields: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let run = run
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()));
    run.chain(fields.iter().copied()).collect()
}

const EV: [&str; 2] = ["true_ev", "indicated_ev"];
const DEPTHS: [&str; 3] = ["x_mm", "y_mm", "reading_mm"];
const TAPED: [&str; 2] = ["distance_m", "extension_mm"];

#[tokio::test]
async fn each_instrument_works_on_its_own_page() {
    let site = site();
    let rooms = site.page("/instruments").await;
    for page in [
        "/meter",
        "/register",
        "/register/infinity",
        "/rangefinder",
        "/mesh",
        "/teeth",
        "/draw",
    ] {
        rooms.shows(&format!("href=\"{page}\""));
        site.page(page).await.hides("Nothing is done yet");
    }
    let run = cells(
        &EV,
        &[
            &["4", "4,3"],
            &["8", "8.35"],
            &["12", "12.3"],
            &["16", "16.35"],
        ],
    );
    site.upload(
        "/meter",
        &with(&run, &[("limit", "0.25"), ("click", "")]),
        &[],
    )
    .await
    .shows("Correction card, for the meter after its setting")
    .shows("Set the scale by");
    let run = cells(
        &DEPTHS,
        &[
            &["0", "0", "43.90"],
            &["-14", "10", "43.91"],
            &["14", "10", "43.90"],
            &["0", "-10", "43.90"],
        ],
    );
    let asked = [
        ("target", "43.95"),
        ("limit", "0.02"),
        ("shims", "0.05x3, 0.1x2"),
    ];
    site.upload("/register", &with(&run, &asked), &[])
        .await
        .shows("Add shims")
        .shows("<svg");
    let run = cells(
        &TAPED,
        &[
            &["inf", "0.04"],
            &["5", "0.55"],
            &["2", "1.36"],
            &["1", "2.82"],
        ],
    );
    let asked = [("focal", "50"), ("f", "2"), ("coc", "0.03"), ("base", "38")];
    site.upload("/rangefinder", &with(&run, &asked), &[])
        .await
        .shows("To set it right")
        .shows("read next at");
    assert_eq!(view_count(&site), 0, "nothing is kept");
}

fn view_count(site: &Site) -> usize {
    let all = site.bench.visits(
        &fettle_bench::VisitFilter::default(),
        fettle_bench::Page::first(5),
    );
    all.unwrap().lines.len()
}

#[tokio::test]
async fn a_wrong_cell_is_named_and_what_was_typed_stays() {
    let site = site();
    let run = cells(&EV, &[&["4", "4.3"], &["8", "eight"], &["12", ""]]);
    let answer = site.upload("/meter", &with(&run, &[]), &[]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("line 2: ")
        .shows("value=\"eight\"")
        .shows("line 3: ");
    let answer = site
        .upload("/register", &with(&[], &[("limit", "0.02")]), &[])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("the register that it should have is missing");
}

#[tokio::test]
async fn a_table_stands_in_for_the_cells_and_is_told_by_its_lines() {
    let site = site();
    let table = b"indicated_ev;true_ev\n4,3;4\n8,3;8\n12,4;12\n16,3;16\n".to_vec();
    site.upload("/meter", &[], &[("table", "run.csv", table)])
        .await
        .shows("Worst error as found");
    let broken = b"true_ev,indicated_ev\n4,4.3\n8,nan\n".to_vec();
    let answer = site
        .upload("/meter", &[], &[("table", "run.csv", broken)])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("line 3");
}

#[tokio::test]
async fn exposure_values_follow_from_what_the_bench_has() {
    let site = site();
    site.page("/meter/light?luminance=4096&time=1/125&aperture=8&iso=400&mark=18&scale=old-din")
        .await
        .shows("4096 cd/m²: EV 15.00")
        .shows("EV 11.00")
        .shows("slower than it is");
    site.page("/meter/light?luminance=-1")
        .await
        .shows("gives no exposure value");
}

#[tokio::test]
async fn infinity_tells_how_far_to_turn() {
    let site = site();
    let page = "/register/infinity";
    site.page(page).await.hides("Nothing is done yet");
    let asked = "readings=0,06+0.06&target=&focal=50&f=2&coc=0.03&screw=helicoid&lead=6";
    site.page(&format!("{page}?{asked}"))
        .await
        .shows("+1\u{a0}depths")
        .shows("0.01\u{a0}turns outwards, 4°");
    site.page(&format!("{page}?readings=x&focal=50&f=2&coc=0.03&lead=0"))
        .await
        .shows("“x” is no number");
    site.page(&format!("{page}?readings=0.1&focal=50&f=2&coc=0.03&lead=0"))
        .await
        .shows("cannot be");
}

#[tokio::test]
async fn mesh_tells_how_much_play_the_drive_bears() {
    let site = site();
    let page = "/mesh";
    site.page(page).await.hides("Nothing is done yet");
    let pair = "asked=1&module=0,5&teeth=12&mate=rack&play=0.1&arm=8&mesh-arm=16";
    site.page(&format!("{page}?{pair}"))
        .await
        .shows("1.18; 1.30 without undercut")
        .shows("Play that the drive bears")
        .shows("undercut: 12 teeth")
        .shows("class=\"mesh-drawing\"")
        .shows("data-tooth-rad")
        .shows("/draw?form=gear&amp;module=0.5000&amp;teeth=12");
    let read = "asked=1&teeth=20&mate=gear&mate-teeth=40&tip=11.00&span-teeth=2&span=2.354&span-next=3.830&rack-pitches=20&rack=31.42";
    site.page(&format!("{page}?{read}"))
        .await
        .shows("What gear it is")
        .shows("What the pair does");
    for (asked, told) in [
        ("asked=1&teeth=12", "the module is missing"),
        ("asked=1&module=0.5&teeth=3", "cannot be: give 4 to 1000"),
        (
            "asked=1&module=0.5&teeth=12&tip=7",
            "leave one of them empty",
        ),
        (
            "asked=1&module=0.5&teeth=12&mate=gear",
            "the gear’s teeth are missing",
        ),
    ] {
        site.page(&format!("{page}?{asked}")).await.shows(told);
    }
}

#[tokio::test]
async fn a_part_is_drawn_with_its_files_and_sheet() {
    let site = site();
    site.page("/draw").await.hides("Nothing is done yet");
    // As another page hands it over, the thickness still to be given.
    site.page("/draw?form=rack&module=0.4&teeth=22&angle=20&shift=0")
        .await
        .hides("Nothing is done yet")
        .shows("value=\"22\"");
    let gear = "asked=1&form=gear&module=0,4&teeth=14&thickness=2&bore=2.5&backlash=0.02";
    site.page(&format!("/draw?{gear}"))
        .await
        .shows("span over 2 teeth")
        .shows("The sheet with its measures");
    for (kind, begins) in [
        ("svg", "<svg"),
        ("dxf", "0"),
        ("step", "ISO-10303-21;"),
        ("pdf", "%PDF-"),
    ] {
        let file = site.page(&format!("/draw/{kind}?{gear}")).await;
        assert!(file.text().trim_start().starts_with(begins), "{kind}");
    }
    for (asked, told) in [
        (
            "asked=1&form=gear&module=0.4&teeth=14",
            "the thickness is missing",
        ),
        (
            "asked=1&form=gear&module=0.4&teeth=14&thickness=2&bore=9",
            "give a smaller bore",
        ),
        (
            "asked=1&form=rack&module=0.4&teeth=14&thickness=2&holes=1.7",
            "“1.7” cannot be read",
        ),
    ] {
        site.page(&format!("/draw?{asked}")).await.shows(told);
    }
    let refused = site.get("/draw/svg?form=gear").await;
    assert_eq!(refused.status, 400, "{}", refused.text());
}

#[tokio::test]
async fn a_run_is_kept_with_its_report_against_the_notes() {
    let site = site();
    let visit = site.arrived().await;
    site.page(&format!("{visit}?open=proof"))
        .await
        .shows("Take a run of readings");
    let rows: [&[&str]; 5] = [
        &["0", "0", "78.40"],
        &["-22", "22", "78.41"],
        &["22", "22", "78.40"],
        &["22", "-22", "78.40"],
        &["-22", "-22", "78.41"],
    ];
    let run = cells(&DEPTHS, &rows);
    let asked = [
        ("limit", "register"),
        ("phase", "before"),
        ("shims", "0.1x2, 0.02x5"),
        ("method", "depth gauge"),
    ];
    site.upload(&format!("{visit}/run"), &with(&run, &asked), &[])
        .await
        .goes_to();
    let kept = view(&site);
    let reading = &kept.readings[0].what;
    assert_eq!(
        (reading.instrument, reading.phase),
        (Instrument::Register, Phase::Before)
    );
    assert!(
        reading.method.starts_with("depth gauge; a plane"),
        "{}",
        reading.method
    );
    let Some(InstrumentReport::Register(report)) = instrument_report(reading).unwrap() else {
        panic!("no report of a register is kept");
    };
    assert!(
        (report.error_mm + 0.116).abs() < 0.01,
        "{}",
        report.error_mm
    );
    assert_eq!(report.seats.len(), 3, "the notes' seats");
    site.page(&format!("{visit}?open=proof"))
        .await
        .shows("at the worst corner")
        .shows("<svg");

    let wrong = cells(&DEPTHS, &[&["0", "0", "0.0784"]]);
    let asked = [("limit", "register"), ("phase", "after")];
    let answer = site
        .upload(&format!("{visit}/run"), &with(&wrong, &asked), &[])
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(view(&site).readings.len(), 1);
}

#[tokio::test]
async fn a_setting_is_trimmed_by_trial_and_each_trial_is_in_the_journal() {
    let site = site();
    let visit = site.arrived().await;
    let page = format!("{visit}?open=proof");
    let setting = ("setting", "infinity-taking");
    site.page(&page).await.shows("Trim it");

    let early = [
        setting,
        ("as_found", "no"),
        ("turned.0", "0.1"),
        ("value.0", "0.1"),
    ];
    let answer = site.post(&format!("{visit}/trial"), &early).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("read it as found before the first turn");

    let found = [
        setting,
        ("as_found", "yes"),
        ("value.0", "0.4"),
        ("repeats.0", "0.005"),
    ];
    site.post(&format!("{visit}/trial"), &found).await.goes_to();
    site.page(&page)
        .await
        .shows("Turn next")
        .shows("Then to be expected");
    let next = [
        setting,
        ("as_found", "no"),
        ("turned.0", "-0.9"),
        ("value.0", "0.0"),
        ("repeats.0", "0.005"),
    ];
    site.post(&format!("{visit}/trial"), &next).await.goes_to();
    site.page(&page).await.shows("Inside.").shows("1 trial");
    site.post(&format!("{visit}/setting"), &[setting, ("held", "yes")])
        .await
        .goes_to();
    site.page(&page).await.shows("It was proved to hold since");
    let kept = view(&site);
    assert_eq!(kept.trials.len(), 2);
    assert!(
        kept.journal
            .iter()
            .any(|entry| entry.sentence.contains("-0.9 turns")),
        "{:?}",
        kept.journal
    );
}

#[tokio::test]
async fn a_full_strip_is_ordered_and_taken_back() {
    let site = site();
    let visit = site.arrived().await;
    let page = format!("{visit}?open=cause");
    for (answer, ordered, says) in [
        ("yes", true, "A full strip is ordered"),
        ("no", false, "Openings are counted once"),
    ] {
        site.post(&format!("{visit}/strip"), &[("ordered", answer)])
            .await
            .goes_to();
        assert_eq!(view(&site).full_strip, ordered);
        site.page(&page).await.shows(says);
    }
}

#[tokio::test]
async fn a_pair_is_handed_from_mesh_to_the_drawing_and_narrows_its_span() {
    let site = site();
    let mesh = site
        .page("/mesh?asked=1&module=0.4&teeth=14&mate=rack&apart=0.1")
        .await;
    let text = mesh.text().replace("&amp;", "&");
    let from = text.find("/draw?").expect("the pinion can be drawn");
    let to = from + text[from..].find('"').unwrap();
    let drawing = site
        .page(&format!("{}&asked=1&thickness=2", &text[from..to]))
        .await;
    drawing.shows("its backlash").shows("a rack");
    let alone = site
        .page("/draw?asked=1&form=gear&module=0.4&teeth=14&thickness=2")
        .await;
    assert!(!alone.text().contains("its backlash"));
    site.page("/draw?asked=1&form=gear&module=0.4&teeth=14&thickness=2&mate=gear")
        .await
        .shows("the mate’s teeth are missing");
    site.page("/mesh?asked=1&mate=gear&shift=x&teeth=14")
        .await
        .shows("the module is missing")
        .shows("the gear’s teeth are missing")
        .shows("“x” is not a number");
}

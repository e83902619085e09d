//! One camera goes all the way through the house, in a real Chromium.
#![allow(
    clippy::expect_used,
    clippy::panic,
    unreachable_pub,
    reason = "a test that cannot go on says so by ending"
)]

mod by_keyboard;
mod driver;
mod every_page;
mod listening;
mod page;
mod pictures;

use std::{
    fs,
    io::{Read, Write},
    net::TcpStream,
    path::{Path, PathBuf},
};

use driver::{Browser, fettle, serve};
use fettle_demo::KnownRecording;
use fettle_measure::Series;
use page::Page;

/// A new bench in a folder, with the demo's service notes.
fn new_bench(folder: &Path) -> PathBuf {
    let bench = folder.join("bench");
    fettle(&[
        "new",
        bench.to_str().expect("UTF-8"),
        "--name",
        "Test bench",
        "--place",
        "Saltmere",
    ]);
    for (name, text) in fettle_demo::notes() {
        fs::write(bench.join("notes").join(name), text).expect("notes can be written");
    }
    bench
}

/// The head of an answer and the bytes after it, fetched without a browser; `None` when there is no answer.
fn try_fetch(site: &str, path: &str) -> Option<(String, Vec<u8>)> {
    let host = site.trim_start_matches("http://");
    let mut stream = TcpStream::connect(host).ok()?;
    write!(
        stream,
        "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
    )
    .ok()?;
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).ok()?;
    let head = answer.windows(4).position(|four| four == b"\r\n\r\n")?;
    let body = answer.split_off(head + 4);
    Some((String::from_utf8_lossy(&answer).into_owned(), body))
}

/// Bytes of an answer after its head.
fn fetch(site: &str, path: &str) -> Vec<u8> {
    let (head, body) = try_fetch(site, path).expect("answered");
    assert!(head.starts_with("HTTP/1.1 200"), "{path}: {head}");
    body
}

fn photograph(folder: &Path, name: &str, shade: u8) -> PathBuf {
    let path = folder.join(name);
    let picture = image::RgbImage::from_fn(640, 480, |x, y| {
        let ring = ((f64::from(x) - 320.0).hypot(f64::from(y) - 240.0) / 12.0).sin() > 0.0;
        image::Rgb([if ring { shade } else { 40 }, shade, 90])
    });
    picture.save(&path).expect("the photograph can be written");
    path
}

/// The last path of the site that a visit's page links to under this prefix.
async fn link(page: &Page<'_>, prefix: &str) -> String {
    let element = page.element(&format!("a[href^='{prefix}']")).await;
    element
        .attr("href")
        .await
        .expect("readable")
        .expect("a link has an address")
}

#[tokio::test(flavor = "multi_thread")]
async fn one_camera_goes_from_arrival_to_home() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let bench = new_bench(folder.path());
    let session = fettle_demo::browser_recording().expect("a session can be generated");
    let recording = folder.path().join("dial.wav");
    fs::write(&recording, &session.wav).expect("the recording can be written");
    let front = photograph(folder.path(), "front.jpg", 200);
    let back = photograph(folder.path(), "back.png", 120);

    let served = serve(&bench);
    let browser = Browser::start(1366, 900).await;
    let page = Page::of(&browser.client, &served.address);

    arrive(&page, &front, &back).await;
    browser.picture("arrived").await;
    look_over(&page).await;
    find_the_cause(&page).await;
    quote(&page).await;
    take_apart(&page, &front).await;
    browser.picture("apart").await;
    repair_and_put_back(&page).await;
    prove(&page, &recording, &session).await;
    browser.picture("proved").await;
    let sheet = make_the_proof_sheet(&page, &served.address).await;
    assert!(sheet.starts_with(b"%PDF-"), "the proof sheet is a PDF");
    let metadata = String::from_utf8_lossy(&sheet);
    assert!(
        metadata.contains("<pdfaid:part>2</pdfaid:part>"),
        "the proof sheet is PDF/A-2"
    );
    assert!(
        metadata.contains("<pdfaid:conformance>B</pdfaid:conformance>"),
        "of level B"
    );
    go_home(&page).await;
    browser.picture("home").await;
    the_journal_tells_the_story(&page).await;
    browser
        .client
        .clone()
        .close()
        .await
        .expect("the browser session ends");
}

async fn arrive(page: &Page<'_>, front: &Path, back: &Path) {
    page.go("/arrive").await;
    page.write("[name=owner_name]", "Ottoline Marchbank").await;
    page.write("[name=owner_email]", "ottoline@harbour.example")
        .await;
    page.choose("[name=notes]", "corran-66").await;
    page.write("[name='serial.0.number']", "C66-20417").await;
    page.click("[name=with][value=case]").await;
    page.write(
        "[name=words]",
        "The knob went hard, then free; the film does not stop.",
    )
    .await;
    page.write(
        "[name=wanted]",
        "Make it work, and tell me how far it can be trusted.",
    )
    .await;
    page.write("[name=condition]", "Brassing at the edges, glass clear.")
        .await;
    page.write("[name=declared]", "240").await;
    page.choose_files("[name=photo]", &[front, back]).await;
    page.press("#arrive button.next").await;
    assert_eq!(page.path().await, "/visits/1");
    page.says(&["Ottoline Marchbank", "C66-20417", "does not stop"])
        .await;
    assert_eq!(
        page.count("#photographs img").await,
        2,
        "both photographs are shown"
    );
}

async fn look_over(page: &Page<'_>) {
    page.go("/visits/1?open=looked-over").await;
    for (sign, answer) in [
        ("slow-speeds-hang", "yes"),
        ("wind-knob-heavy", "yes"),
        ("film-runs-past", "yes"),
    ] {
        page.click(&format!("[name='sign.{sign}'][value={answer}]"))
            .await;
    }
    page.press("#form-signs button.first").await;
    page.go("/visits/1?open=looked-over").await;
    page.write(
        "#form-earlier-hands [name=what]",
        "A burred nut on the wind side",
    )
    .await;
    page.press("#form-earlier-hands button").await;
    page.go("/visits/1?open=looked-over").await;
    page.press("#form-go-to-looked-over button").await;
    page.says(&["looked over"]).await;
}

async fn find_the_cause(page: &Page<'_>) {
    page.go("/visits/1?open=cause").await;
    page.write(
        "#form-fault [name=fault]",
        "Grease gone hard in the gear train",
    )
    .await;
    page.choose("#form-fault [name=is]", "cause").await;
    page.press("#form-fault button.first").await;
    page.go("/visits/1?open=cause").await;
    page.write("#form-fault [name=fault]", "Sheared wind pawl")
        .await;
    page.choose("#form-fault [name=is]", "damage").await;
    page.choose("#form-fault [name=because_of]", "1").await;
    page.press("#form-fault button.first").await;
    page.says(&["Sheared wind pawl", "brought on by Grease gone hard"])
        .await;
}

async fn quote(page: &Page<'_>) {
    page.go("/visits/1?open=quote").await;
    page.write(
        "[name='work.0.what']",
        "Clean the shutter and renew the pawl",
    )
    .await;
    page.write("[name='work.0.likely']", "150").await;
    page.write("[name='work.0.nine']", "220").await;
    page.write("[name='work.0.amount']", "130").await;
    page.write("[name='part.0.what']", "wind pawl").await;
    page.write("[name='part.0.quantity']", "1").await;
    page.write("[name='part.0.amount']", "18.50").await;
    page.press("#form-quote button.next").await;
    page.says(&["148.50"]).await;
    page.go("/visits/1?open=quote").await;
    page.click("#form-answer [name=quote]").await;
    page.write("#form-answer [name=words]", "Please do.").await;
    page.press("#form-answer button.next").await;
    page.says(&["Please do."]).await;
}

async fn take_apart(page: &Page<'_>, photo: &Path) {
    for piece in 0..3 {
        page.go("/visits/1?open=apart").await;
        if piece == 0 {
            page.choose_files(".step [name=photo]", &[photo]).await;
        }
        page.press(".step [data-step=done]").await;
    }
    page.says(&["3 pieces in the tray"]).await;
}

async fn repair_and_put_back(page: &Page<'_>) {
    page.go("/visits/1?open=repaired").await;
    page.write("#form-work [name=work]", "Shutter cleaned and lubricated")
        .await;
    page.write("#form-work [name=minutes]", "95").await;
    page.press("#form-work button.first").await;
    page.go("/visits/1?open=repaired").await;
    page.write("#form-part [name=part]", "wind pawl").await;
    page.choose("#form-part [name=grade]", "made").await;
    page.press("#form-part button.first").await;
    for _ in 0..3 {
        page.go("/visits/1?open=put-back").await;
        page.press("#put-back .step button.next").await;
    }
    page.go("/visits/1?open=put-back").await;
    page.says(&["The tray is empty"]).await;
    page.press("#form-go-to-together button").await;
}

/// Measures the dial before and after, and holds the page's figures against the generator's truth.
async fn prove(page: &Page<'_>, recording: &Path, session: &KnownRecording) {
    for phase in ["before", "after"] {
        page.go("/visits/1?open=proof").await;
        page.click(&format!(
            "#form-recording-shutter [name=phase][value={phase}]"
        ))
        .await;
        page.choose_files("#form-recording-shutter [name=recording]", &[recording])
            .await;
        page.press("#form-recording-shutter button.first").await;
    }
    page.go("/visits/1?open=proof").await;
    hold_against_truth(page, session).await;
    page.write("#form-shortfall [name=what]", "1/500 is slower than marked")
        .await;
    page.write(
        "#form-shortfall [name=correction]",
        "at 1/500 give a third of a stop less",
    )
    .await;
    page.press("#form-shortfall button").await;
    page.go("/visits/1?open=proof").await;
    page.press("#form-go-to-proved button").await;
}

/// Every figure on the page, before and after, lies within 0.05 stop of what the generator made.
async fn hold_against_truth(page: &Page<'_>, session: &KnownRecording) {
    let rows = page.table("#limit-shutter table").await;
    for (mark, truth) in &session.truth {
        let nominal = mark.nominal(Series::Marked);
        let wanted = (truth.to_s() / nominal.to_s()).log2();
        let row = rows
            .iter()
            .find(|row| row[0].trim_end_matches(" s") == mark.to_string())
            .unwrap_or_else(|| panic!("no row for {mark} in {rows:?}"));
        let errors: Vec<f64> = row.iter().filter_map(|cell| stops(cell)).collect();
        assert_eq!(errors.len(), 2, "before and after in {row:?}");
        for error in errors {
            assert!(
                (error - wanted).abs() <= 0.05,
                "{mark}: {error} on the page, {wanted} made"
            );
        }
    }
}

/// A deviation in stops with its uncertainty, such as `+0.31 ± 0.02`.
fn stops(cell: &str) -> Option<f64> {
    let (figure, _) = cell.trim().split_once(" ± ")?;
    figure.replace('\u{2212}', "-").parse().ok()
}

async fn make_the_proof_sheet(page: &Page<'_>, site: &str) -> Vec<u8> {
    page.go("/visits/1/papers/proof-sheet").await;
    page.press("#form-paper button").await;
    page.go("/visits/1?open=papers").await;
    let path = link(page, "/papers/").await;
    fetch(site, &path)
}

async fn go_home(page: &Page<'_>) {
    page.go("/visits/1?open=home").await;
    page.click("#form-packed [name=item][value=case]").await;
    page.press("#form-packed button.next").await;
    page.go("/visits/1?open=home").await;
    page.write("#form-sent [name=carrier]", "Harbour post")
        .await;
    page.write("#form-sent [name=tracking]", "HP 0042 117")
        .await;
    page.press("#form-sent button.next").await;
    page.says(&["home"]).await;
}

/// The journal runs newest first and says what was done, stage by stage.
async fn the_journal_tells_the_story(page: &Page<'_>) {
    page.go("/visits/1").await;
    let journal = page
        .element("#journal")
        .await
        .text()
        .await
        .expect("readable");
    let story = [
        "gone home",
        "sent on",
        "parcel packed",
        "proof sheet",
        "proved",
        "not brought back: 1/500 is slower than marked",
        "shutter read after the work",
        "shutter read before the work",
        "together again",
        "put back from cell 1",
        "fitted 1 × wind pawl (made)",
        "done in 95 min: Shutter cleaned and lubricated",
        "taken off into cell 1",
        "taken apart",
        "the owner agreed: Please do.",
        "quoted: EUR 148.50",
        "Sheared wind pawl",
        "found as cause: Grease gone hard in the gear train",
        "looked over",
        "earlier hands: A burred nut on the wind side",
        "photograph",
        "arrived: The knob went hard",
    ];
    let mut rest = journal.as_str();
    for step in story {
        let at = rest
            .find(step)
            .unwrap_or_else(|| panic!("no “{step}” in its place in: {journal}"));
        rest = &rest[at + step.len()..];
    }
    page.go("/find?q=C66-20417").await;
    page.says(&["Corran 66"]).await;
}

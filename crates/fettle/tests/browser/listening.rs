//! A shutter is listened to through the browser's sound input, which plays a two-channel recording.

use std::{fs, path::Path, time::Duration};

use crate::driver::{Browser, serve};
use crate::page::Page;
use crate::{new_bench, photograph};
use fantoccini::key::Key;
use fettle_demo::KnownRecording;
use fettle_measure::Series;
use tokio::time::sleep;

/// Samples that a busy computer drops are told by the clocks a second or two later; a shot that misses some is shown
/// till then.
const LOSS_IS_TOLD_WITHIN_SECONDS: u32 = 4;
/// The recording's first half is waited for; the browser plays it over and over.
const MOST_SECONDS: u32 = 90;

/// A WAV file of two channels: the light, and a tenth of it beside it, as a second sensor picks it up.
fn in_two_channels(wav: &[u8]) -> Vec<u8> {
    let at = wav
        .windows(4)
        .position(|four| four == b"data")
        .expect("a WAV file has samples");
    let samples: Vec<i16> = wav[at + 8..]
        .chunks_exact(2)
        .map(|two| i16::from_le_bytes([two[0], two[1]]))
        .collect();
    let bytes = samples.len() as u32 * 4;
    let mut out = Vec::new();
    out.extend(b"RIFF");
    out.extend((36 + bytes).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16_u32.to_le_bytes());
    out.extend([1, 0, 2, 0]);
    out.extend(48_000_u32.to_le_bytes());
    out.extend((48_000_u32 * 4).to_le_bytes());
    out.extend([4, 0, 16, 0]);
    out.extend(b"data");
    out.extend(bytes.to_le_bytes());
    for sample in samples {
        out.extend((sample / 10).to_le_bytes());
        out.extend(sample.to_le_bytes());
    }
    out
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shutter_is_listened_to_and_its_reading_lands_in_the_visit() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let bench = new_bench(folder.path());
    let session = fettle_demo::browser_recording().expect("a session can be generated");
    let sound = folder.path().join("sound.wav");
    fs::write(&sound, in_two_channels(&session.wav)).expect("the recording can be written");
    let served = serve(&bench);
    let browser = Browser::start_hearing(1366, 900, &sound).await;
    let page = Page::of(&browser.client, &served.address);

    arrive(&page, folder.path()).await;
    page.go("/visits/1?open=proof").await;
    page.click("#form-recording-shutter [name=phase][value=before]")
        .await;
    page.click("#form-recording-shutter [data-part=start]")
        .await;
    hear_the_dial(&page, &session).await;
    assert_eq!(
        text_of(&page, "[data-part=wrong]").await,
        "",
        "nothing is wrong with the input"
    );
    strike_one(&page).await;
    browser.picture("listening").await;
    page.press("#form-recording-shutter [data-part=keep]").await;
    the_reading_is_there(&page, &session).await;
    browser.picture("heard").await;
    look_closely(&page).await;
    browser.picture("closely").await;
    browser
        .client
        .clone()
        .close()
        .await
        .expect("the browser session ends");
}

async fn arrive(page: &Page<'_>, folder: &Path) {
    let front = photograph(folder, "front.jpg", 200);
    page.go("/arrive").await;
    page.write("[name=owner_name]", "Ottoline Marchbank").await;
    page.choose("[name=notes]", "corran-66").await;
    page.write("[name='serial.0.number']", "C66-20417").await;
    page.write("[name=words]", "Too bright.").await;
    page.choose_files("[name=photo]", &[&front]).await;
    page.press("#arrive button.next").await;
}

async fn text_of(page: &Page<'_>, css: &str) -> String {
    let element = page.element(css).await;
    element
        .prop("textContent")
        .await
        .expect("readable")
        .unwrap_or_default()
}

/// Waits until every mark of the dial has its shots, and holds the page's figures against the truth. The
/// recording is played over and over from some place in it: each mark then has two shots or more.
async fn hear_the_dial(page: &Page<'_>, session: &KnownRecording) {
    let marks: usize = session.truth.len() / 2;
    let mut off = Vec::new();
    let mut seconds_off = 0;
    for _ in 0..MOST_SECONDS {
        sleep(Duration::from_secs(1)).await;
        let rows = page.table("#form-recording-shutter .dial").await;
        let fired = rows
            .iter()
            .filter(|row| row[2].split_whitespace().count() >= 2)
            .count();
        if fired == marks {
            off = off_the_truth(&rows, session);
            if off.is_empty() {
                return;
            }
            seconds_off += 1;
            if seconds_off > LOSS_IS_TOLD_WITHIN_SECONDS {
                break;
            }
        }
    }
    panic!(
        "not all marks were heard rightly, {off:?}: {:?}, {}, {}",
        page.table("#form-recording-shutter .dial").await,
        text_of(page, "[data-part=state]").await,
        text_of(page, "[data-part=wrong]").await,
    );
}

/// Marks of which the page says another error than was made.
fn off_the_truth(rows: &[Vec<String>], session: &KnownRecording) -> Vec<String> {
    let mut off = Vec::new();
    for (mark, truth) in &session.truth {
        let nominal = mark.nominal(Series::Marked);
        let wanted = (truth.to_s() / nominal.to_s()).log2();
        let row = rows.iter().find(|row| row[0] == mark.to_string());
        let row = row.unwrap_or_else(|| panic!("no row for {mark} in {rows:?}"));
        for error in row[2].split_whitespace() {
            let error: f64 = error
                .replace('\u{2212}', "-")
                .parse()
                .expect("a number of stops");
            if (error - wanted).abs() > 0.05 {
                off.push(format!("{mark}: {error} heard, {wanted} made"));
            }
        }
    }
    off
}

/// The last shot is struck with one key, as the mechanic would.
async fn strike_one(page: &Page<'_>) {
    page.key(Key::Delete).await;
    page.element(".shots-heard li .struck").await;
}

async fn the_reading_is_there(page: &Page<'_>, session: &KnownRecording) {
    assert_eq!(page.path().await, "/visits/1");
    page.go("/visits/1?open=proof").await;
    page.says(&["struck, not counted", "its recording", "Before: taken"])
        .await;
    let rows = page.table("#limit-shutter table").await;
    for (mark, truth) in &session.truth {
        let nominal = mark.nominal(Series::Marked);
        let wanted = (truth.to_s() / nominal.to_s()).log2();
        let row = rows
            .iter()
            .find(|row| row[0].trim_end_matches(" s") == mark.to_string())
            .unwrap_or_else(|| panic!("no row for {mark} in {rows:?}"));
        let error = row.iter().find_map(|cell| crate::stops(cell));
        let error = error.unwrap_or_else(|| panic!("no deviation in {row:?}"));
        assert!(
            (error - wanted).abs() <= 0.05,
            "{mark}: {error} kept, {wanted} made"
        );
    }
}

/// The trace of a kept shot is drawn from the recording, down to single samples.
async fn look_closely(page: &Page<'_>) {
    page.go("/visits/1/traces/1?shot=2").await;
    page.says(&["Shot 2 at", "closely"]).await;
    for _ in 0..12 {
        page.click("[data-act=in]").await;
    }
    for _ in 0..50 {
        sleep(Duration::from_millis(200)).await;
        if text_of(page, ".closely [data-part=said]")
            .await
            .contains("single samples")
        {
            return;
        }
    }
    panic!(
        "no single samples: {}",
        text_of(page, ".closely [data-part=said]").await
    );
}

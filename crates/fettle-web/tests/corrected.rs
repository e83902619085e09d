//! Shots measured already: a mark corrected, a shot left out, at a visit and on the instrument's own page.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{Reading, VisitId, shutter_report};
use fettle_measure::Marked;
use fettle_measure::shutter::Report;
use support::{Site, recording, site};

fn mark(text: &str) -> Marked {
    text.parse().unwrap()
}

/// The only reading of the first visit.
fn reading(site: &Site) -> Reading {
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    assert_eq!(view.readings.len(), 1);
    view.readings.last().unwrap().clone()
}

fn report(reading: &Reading) -> Report {
    shutter_report(&reading.what).unwrap().unwrap()
}

/// How many shots count at a mark.
fn counted(report: &Report, at: &str) -> u32 {
    let speed = report.speeds.iter().find(|it| it.marked == mark(at));
    speed.map_or(0, |speed| speed.shots)
}

async fn measured() -> (Site, String) {
    let site = site();
    let visit = site.arrived().await;
    let fields = [("phase", "before"), ("limit", "shutter")];
    let files = [("recording", "dial.wav", recording())];
    let back = site
        .upload(&format!("{visit}/recording"), &fields, &files)
        .await;
    site.page(&back.goes_to())
        .await
        .shows("Every shot: correct a mark, or leave a shot out")
        .shows("name=\"mark-18\"")
        .shows("name=\"strike-18\"");
    (site, visit)
}

#[tokio::test]
async fn a_kept_reading_is_read_again_with_what_is_said_of_its_shots() {
    let (site, visit) = measured().await;
    let first = reading(&site);
    assert_eq!(counted(&report(&first), "1/100"), 2);
    let id = first.id.to_string();
    let fields = [
        ("reading", id.as_str()),
        ("mark-13", "1/250"),
        ("strike-14", "yes"),
    ];
    let back = site.post(&format!("{visit}/corrected"), &fields).await;
    let page = site.page(&back.goes_to()).await;
    page.shows("1/250 s (said)").shows("struck, not counted");

    let second = reading(&site);
    assert_ne!(second.id, first.id);
    assert_eq!(second.what.recording, first.what.recording);
    assert_eq!(second.what.limit_id, first.what.limit_id);
    let now = report(&second);
    assert_eq!((counted(&now, "1/100"), counted(&now, "1/250")), (0, 3));
    let said: Vec<bool> = now.shots.iter().map(|shot| shot.told).collect();
    assert_eq!(said.iter().filter(|told| **told).count(), 1);
    // What was said stands in the fields, and taking it back is one more correction.
    page.shows("<option value=\"1/250\" selected>1/250 s</option>");
    let id = second.id.to_string();
    let back = site
        .post(
            &format!("{visit}/corrected"),
            &[("reading", id.as_str()), ("mark-13", "")],
        )
        .await;
    site.page(&back.goes_to()).await.hides("(said)");
    assert!(report(&reading(&site)) == report(&first), "the same again");
}

#[tokio::test]
async fn a_correction_that_says_nothing_or_too_much_alters_nothing() {
    let (site, visit) = measured().await;
    let first = reading(&site);
    let id = first.id.to_string();
    for (fields, why) in [
        (vec![("reading", id.as_str())], "nothing was changed"),
        (
            vec![("reading", id.as_str()), ("mark-3", "1/3")],
            "shot 3 was fired at no such mark",
        ),
        (
            vec![("reading", "99"), ("strike-3", "yes")],
            "this reading no longer stands",
        ),
    ] {
        let answer = site.post(&format!("{visit}/corrected"), &fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{why}");
        let text = answer.text();
        assert!(text.contains(why), "{why} not in the page");
        assert_eq!(reading(&site).id, first.id);
    }
}

#[tokio::test]
async fn a_recording_on_the_instruments_page_is_read_again_without_being_given_again() {
    let site = site();
    let files = [("recording", "dial.wav", recording())];
    let form = [
        ("kind", "leaf"),
        ("speeds", "1 1/2 1/5 1/10 1/25 1/50 1/100 1/250 1/500"),
    ];
    let at = site.upload("/shutter", &form, &files).await.goes_to();
    let token = at.split("given=").nth(1).unwrap().to_owned();
    site.page(&at)
        .await
        .shows("What dial.wav says")
        .shows("value=\"1 1/2 1/5 1/10 1/25 1/50 1/100 1/250 1/500\"")
        .hides("(said)");
    let trace = site
        .page(&format!("/shutter/given/{token}/trace?shot=3"))
        .await;
    trace.shows("Shot 3 at 1/2, closely").shows(&at);
    let samples = format!("/shutter/given/{token}/samples?from=0&to=1000&columns=100");
    site.page(&samples).await.shows("\"per_column\":10");

    let said = [
        ("given", token.as_str()),
        ("mark-3", "1/5"),
        ("strike-4", "yes"),
    ];
    let again = site.post("/shutter", &said).await.goes_to();
    assert_ne!(again, at);
    site.page(&again)
        .await
        .shows("struck, not counted")
        .shows("<option value=\"1/5\" selected>1/5 s</option>");
    let nothing = [("given", token.as_str())];
    let answer = site.post("/shutter", &nothing).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("nothing was changed")
        .shows("What dial.wav says");
    for path in [
        "/shutter?given=x",
        "/shutter/given/x/trace",
        "/shutter/given/x/samples?from=0&to=9&columns=9",
    ] {
        let gone = site.get(path).await;
        assert_eq!(gone.status, StatusCode::NOT_FOUND, "{path}");
        gone.shows("no longer held");
    }
}

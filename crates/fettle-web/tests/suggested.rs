//! What a reading of exposure times suggests, and the check of the chain that took it.

mod support;

use axum::http::StatusCode;
use fettle_bench::{Seen, VisitId};
use fettle_measure::Seconds;
use fettle_measure::synth::{Chain, Firing, HandScene, LeafShutter, Scene, Uncovering};
use support::{site, wav};

/// Five shots at 1/25 of which the first is half a stop slow, and three at 1/500 that are 0.7 long.
fn worn() -> Vec<u8> {
    let slow = [0.5, 0.0, 0.01, -0.01, 0.0].map(|error: f64| error.exp2() / 25.0);
    let at_marks = |below: f64, error: f64| [error.exp2() / below; 3];
    let mut times = slow.to_vec();
    for below in [1.0, 2.0, 5.0, 10.0, 50.0, 100.0, 250.0] {
        times.extend(at_marks(below, 0.02));
    }
    times.extend(at_marks(500.0, 0.7));
    let mut at = 0.8;
    let mut firings = Vec::new();
    for time in times {
        firings.push(Firing::new(Seconds::s(at), Seconds::s(time)));
        at += time + 1.1;
    }
    let take = Scene {
        shutter: LeafShutter::default(),
        firings,
        chain: Chain::default(),
        lasting: Seconds::s(at),
        seed: 11,
    }
    .record();
    wav(&take.samples, take.sample_rate.to_hz() as u32)
}

#[tokio::test]
async fn a_reading_suggests_signs_that_are_answered_with_one_press() {
    let site = site();
    let visit = site.arrived().await;
    site.page(&visit)
        .await
        .hides("suggests")
        .shows("Measure its exposure times as it came");
    let files = [("recording", "dial.wav", worn())];
    let fields = [("phase", "before"), ("limit", "shutter")];
    site.upload(&format!("{visit}/recording"), &fields, &files)
        .await
        .goes_to();
    let page = site.page(&visit).await;
    page.shows("What the reading of exposure times suggests")
        .shows("The first shot at 1/25 s is 0.50")
        .shows("1/500 s alone is 0.6")
        .shows("Answer yes")
        .hides("Measure its exposure times as it came");
    let signs = |site: &support::Site| site.bench.visit(VisitId::new(1)).unwrap().signs;
    assert!(signs(&site).is_empty(), "nothing is answered by itself");

    let answer = [("suggestion", "first-shot-slow")];
    let back = site.post(&format!("{visit}/suggested"), &answer).await;
    site.page(&back.goes_to()).await.shows("answered: yes");
    let kept = signs(&site);
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].what.sign.id.as_deref(), Some("first-shot-slow"));
    assert_eq!(kept[0].what.seen, Seen::Yes);
    assert!(
        kept[0]
            .what
            .note
            .starts_with("the first shot at 1/25 s is 0.50"),
        "{}",
        kept[0].what.note
    );
    site.post(&format!("{visit}/suggested"), &answer).await;
    assert_eq!(signs(&site).len(), 1, "a second press changes nothing");
    let stranger = [("suggestion", "oil-seen")];
    let refused = site.post(&format!("{visit}/suggested"), &stranger).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    refused.shows("no longer suggests");
}

#[tokio::test]
async fn a_chain_is_proved_on_its_own_page() {
    let site = site();
    let uncovering = |at: f64| Uncovering {
        at: Seconds::s(at),
        opening: Seconds::ms(20.0),
        held: Seconds::s(1.2),
        closing: Seconds::ms(50.0),
    };
    let mut scene = HandScene {
        uncoverings: vec![uncovering(1.0), uncovering(3.5)],
        chain: Chain::default(),
        lasting: Seconds::s(6.0),
        seed: 3,
    };
    let take = scene.record();
    let rate = take.sample_rate.to_hz() as u32;
    let files = [("recording", "hand.wav", wav(&take.samples, rate))];
    let fields = [("model", "corran-66")];
    let answer = site.upload("/shutter/check", &fields, &files).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    answer
        .shows("What hand.wav can prove")
        .shows("can be")
        .shows("50.0 kHz: not at this rate")
        .shows("2 times");
    scene.uncoverings.pop();
    let files = [("recording", "once.wav", wav(&scene.record().samples, rate))];
    let answer = site.upload("/shutter/check", &fields, &files).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("at least twice");
}

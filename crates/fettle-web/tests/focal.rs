//! Recordings of a focal-plane shutter on the pages: the frame, the curtains, the flash.
#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on says so by ending"
)]

mod support;

use std::path::Path;

use axum::http::StatusCode;
use fettle_measure::recording::{wave_head, wave_samples};
use fettle_measure::synth::{Chain, Contact, CurtainRun, FocalPlane, FocalScene, Release, Sensor};
use fettle_measure::{Decibels, Hertz, Millimetres, Seconds};
use support::site;

const PLACES_MM: [f64; 3] = [3.0, 18.0, 33.0];

/// Two releases each at 1/30, 1/125 and 1/500, with the flash contact on a fourth channel.
fn recording() -> Vec<u8> {
    let run = CurtainRun {
        mm_per_ms: 2.2,
        mm_per_ms2: 0.15,
    };
    let marks = [30.0, 125.0, 500.0].into_iter().flat_map(|it| [it, it]);
    let releases: Vec<Release> = (0..)
        .zip(marks)
        .map(|(n, mark)| Release {
            at: Seconds::s(0.7 + 1.3 * f64::from(n)),
            slit: Seconds::s(1.0 / mark),
            first: run,
            second: run,
            bounce: None,
            contact: Some(Contact {
                at: Seconds::ms(14.0),
                lasting: Seconds::ms(20.0),
                ..Contact::default()
            }),
        })
        .collect();
    let chain = Chain {
        gain: 0.4,
        snr: Some(Decibels::db(52.0)),
        coupling: Some(Hertz::hz(2.0)),
        ..Chain::default()
    };
    let sensor = |x: f64| Sensor {
        x: Millimetres::mm(x),
        width: Millimetres::mm(2.0),
        round: true,
        chain: chain.clone(),
    };
    let take = FocalScene {
        shutter: FocalPlane {
            gate: Millimetres::mm(36.0),
            overrun: Millimetres::mm(1.0),
        },
        lasting: Seconds::s(0.7 + 1.3 * releases.len() as f64),
        releases,
        sensors: PLACES_MM.map(sensor).to_vec(),
        contact: Some(chain.clone()),
        seed: 5,
    }
    .record();
    let frames = take.channels[0].len();
    let mut bytes = wave_head(48_000, 4, frames as u64);
    let samples: Vec<f32> = (0..frames)
        .flat_map(|n| take.channels.iter().map(move |channel| channel[n]))
        .collect();
    wave_samples(&samples, &mut bytes);
    bytes
}

const FORM: [(&str, &str); 8] = [
    ("model", ""),
    ("kind", "focal-plane"),
    ("speeds", "1/30 1/60 1/125 1/250 1/500 1/1000"),
    ("limits", ""),
    ("channels", "1, 2, 3"),
    ("sensors", "3, 18, 33"),
    ("gate", "36"),
    ("flash", "4"),
];

#[tokio::test]
async fn the_shutter_page_shows_frame_curtains_and_flash() {
    let site = site();
    let files = [("recording", "curtains.wav", recording())];
    let answer = site.upload("/shutter", &FORM, &files).await;
    site.page(&answer.goes_to())
        .await
        .shows("6 shots")
        .shows("At 3\u{a0}mm")
        .shows("At 33\u{a0}mm")
        .shows("First curtain, ms")
        .shows("Far edge against near, stops")
        .shows("The flash contact")
        .shows("open to the end")
        .shows("Release 6 at 18\u{a0}mm");
}

#[tokio::test]
async fn sensors_that_make_no_sense_are_said_at_their_field() {
    let wrong = |name: &'static str, value: &'static str| {
        FORM.map(|(field, old)| (field, if field == name { value } else { old }))
    };
    for (name, value, said) in [
        ("sensors", "3, x, 33", "“x” is no place in mm"),
        ("sensors", "3, 18, 90", "90 mm lies outside the gate"),
        ("gate", "2", "is no gate’s width"),
    ] {
        let answer = site()
            .upload(
                "/shutter",
                &wrong(name, value),
                &[("recording", "a.wav", recording())],
            )
            .await;
        assert_eq!(
            answer.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{name} {value}"
        );
        let text = answer.text().replace("&#39;", "’").replace('\'', "’");
        assert!(
            text.contains(said),
            "{said} not in the page for {name} {value}"
        );
        answer.shows(&format!("value=\"{value}\""));
    }
}

#[tokio::test]
async fn a_reading_of_curtains_is_kept_with_the_visit() {
    let site = site();
    let notes = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fettle-demo/notes/meridian.toml");
    std::fs::copy(notes, site.dir.path().join("notes/meridian.toml")).unwrap();
    let arrival = [
        ("owner_name", "Ada Wren"),
        ("notes", "meridian"),
        ("serial.0.number", "M-311"),
        ("words", "dark at one end"),
    ];
    let visit = site.upload("/arrive", &arrival, &[]).await.goes_to();
    let visit = visit.split('?').next().unwrap().to_owned();
    let proof = format!("{visit}?open=proof");
    site.page(&proof)
        .await
        .hides("cannot be measured yet")
        .shows("Against the dial of the notes")
        .shows("Channel of the flash contact");
    // Sensors and gate are the notes'; the contact is on the fourth channel.
    let fields = [("phase", "before"), ("limit", "shutter"), ("flash", "4")];
    site.upload(
        &format!("{visit}/recording"),
        &fields,
        &[("recording", "curtains.wav", recording())],
    )
    .await
    .goes_to();
    site.page(&proof)
        .await
        .shows("At 33\u{a0}mm")
        .shows("First curtain, ms")
        .shows("The flash contact");
}

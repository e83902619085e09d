//! Teeth from a photograph: on a page of its own, and in a visit with the sign that it answers.

#![expect(clippy::unwrap_used, reason = "a helper that fails ends its test")]

mod support;

use fettle_bench::{Instrument, Seen, VisitId};
use fettle_measure::synth::{TeethScene, ToothDamage, ToothedPart};
use support::{photograph, site};

/// A photograph of the Corran's rack with 22 teeth, of which these are worn by a tenth of a millimetre.
fn rack(worn: &[u32]) -> Vec<u8> {
    let px_per_mm = 55.0;
    let scene = TeethScene {
        width: 1800,
        height: 500,
        damage: worn
            .iter()
            .map(|n| (*n, ToothDamage::Flank(1.0, 0.1 * px_per_mm)))
            .collect(),
        ..TeethScene::plain(ToothedPart::Rack, 22, 0.4, px_per_mm)
    };
    let shot = scene.take().unwrap();
    let picture = image::GrayImage::from_raw(1800, 500, shot.grey).unwrap();
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

#[tokio::test]
async fn a_photograph_tells_the_worn_teeth_and_nothing_is_kept() {
    let site = site();
    site.page("/instruments").await.shows("href=\"/teeth\"");
    let asked = [("kind", "rack"), ("pitch", "1,2566"), ("limit", "0.04")];
    site.upload("/teeth", &asked, &[("photo", "rack.png", rack(&[6, 7]))])
        .await
        .shows("20 sound, 2 worn")
        .shows("data:image/jpeg;base64,")
        .shows("outline, its distance drawn")
        .shows("/draw?form=rack&amp;module=0.4000&amp;teeth=22");
    let files = [
        ("photo", "new.png", rack(&[6])),
        ("against", "old.png", rack(&[])),
    ];
    site.upload("/teeth", &asked, &files)
        .await
        .shows("Against the other photograph");
}

#[tokio::test]
async fn what_is_no_photograph_of_teeth_is_told_at_its_field() {
    let site = site();
    let asked = [("kind", "rack"), ("pitch", "1.2566")];
    let refused = |answer: &support::Answer| assert_eq!(answer.status, 422, "{}", answer.text());
    let answer = site.upload("/teeth", &asked, &[]).await;
    refused(answer.shows("choose a photograph"));
    let text = [("photo", "rack.png", b"no picture".to_vec())];
    let answer = site.upload("/teeth", &asked, &text).await;
    refused(answer.shows("not a photograph that can be read"));
    let small = [("photo", "rack.png", photograph())];
    let answer = site.upload("/teeth", &asked, &small).await;
    refused(answer.shows("id=\"teeth-photo-error\""));
    let miscounted = [("kind", "rack"), ("pitch", "1.2566"), ("teeth", "21")];
    let files = [("photo", "rack.png", rack(&[]))];
    let answer = site.upload("/teeth", &miscounted, &files).await;
    refused(answer.shows("the photograph shows 22 teeth, not 21"));
    let no_scale = [("kind", "rack"), ("pitch", "")];
    let answer = site.upload("/teeth", &no_scale, &files).await;
    refused(answer.shows("the scale: the pitch, a bar, or pixels for a millimetre is missing"));
}

#[tokio::test]
async fn in_a_visit_the_photograph_answers_the_sign() {
    let site = site();
    let visit = site.arrived().await;
    site.page(&format!("{visit}?open=proof"))
        .await
        .shows("Photograph the teeth");
    let asked = [("limit", "rack-teeth"), ("phase", "before"), ("method", "")];
    let sent = site
        .upload(
            &format!("{visit}/teeth"),
            &asked,
            &[("photo", "rack.png", rack(&[6]))],
        )
        .await;
    site.page(&sent.goes_to())
        .await
        .shows("the most worn flank")
        .shows("/display\" preserveAspectRatio");

    let number: i64 = visit.trim_start_matches("/visits/").parse().unwrap();
    let view = site.bench.visit(VisitId::new(number)).unwrap();
    let reading = &view.readings[0].what;
    assert_eq!(reading.instrument, Instrument::Teeth);
    assert_eq!(reading.limit_id.as_deref(), Some("rack-teeth"));
    assert_eq!(view.photos.len(), 2, "one of its arrival and this one");
    let sign = &view.signs[0].what;
    assert_eq!(sign.sign.id.as_deref(), Some("teeth-worn"));
    assert_eq!(sign.seen, Seen::Yes);

    // Sound teeth after the work are a reading, and no sign any more.
    let after = [("limit", "rack-teeth"), ("phase", "after"), ("method", "")];
    site.upload(
        &format!("{visit}/teeth"),
        &after,
        &[("photo", "rack.png", rack(&[]))],
    )
    .await;
    let view = site.bench.visit(VisitId::new(number)).unwrap();
    assert_eq!((view.readings.len(), view.signs.len()), (2, 1));
}

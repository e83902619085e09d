//! Forms of two hands at once, and forms that contradict themselves.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{OwnerId, Seen, VisitId};
use support::{Site, site};

fn answers(site: &Site) -> Vec<Seen> {
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    view.signs.iter().map(|kept| kept.what.seen).collect()
}

#[tokio::test]
async fn an_older_page_leaves_the_answers_of_another_hand_alone() {
    let site = site();
    let signs = format!("{}/signs", site.arrived().await);
    let notes = site.bench.notes("corran-66").unwrap();
    let ids: Vec<String> = notes.signs.ids().take(2).map(ToString::to_string).collect();
    let field = |id: &str| (format!("sign.{id}"), format!("was.sign.{id}"));
    let ((one, was_one), (two, was_two)) = (field(&ids[0]), field(&ids[1]));
    site.post(&signs, &[(&one, "yes"), (&was_one, "not-looked")])
        .await
        .goes_to();
    let older = [
        (one.as_str(), "not-looked"),
        (was_one.as_str(), "not-looked"),
        (two.as_str(), "no"),
        (was_two.as_str(), "not-looked"),
    ];
    site.post(&signs, &older).await.goes_to();
    assert_eq!(answers(&site), [Seen::Yes, Seen::No]);

    let contrary = [(one.as_str(), "no"), (was_one.as_str(), "not-looked")];
    let answer = site.post(&signs, &contrary).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("changed on another page meanwhile and now says “yes”")
        .shows(&format!("name=\"{was_one}\" value=\"yes\""))
        .shows(&format!(" id=\"signs-sign-{}\"", ids[0]));
    assert_eq!(answers(&site), [Seen::Yes, Seen::No]);

    let insisted = [(one.as_str(), "no"), (was_one.as_str(), "yes")];
    site.post(&signs, &insisted).await.goes_to();
    assert!(answers(&site).contains(&Seen::No) && !answers(&site).contains(&Seen::Yes));
}

#[tokio::test]
async fn an_older_page_leaves_the_circumstances_of_another_hand_alone() {
    let site = site();
    let deed = format!("{}/circumstances", site.arrived().await);
    let notes = site.bench.notes("corran-66").unwrap();
    let id = notes.circumstances.ids().next().unwrap().to_string();
    let (field, was) = (
        format!("circumstance.{id}"),
        format!("was.circumstance.{id}"),
    );
    let send = |value: &'static str| [(field.clone(), value), (was.clone(), "not-looked")];
    for (value, status) in [
        ("yes", StatusCode::SEE_OTHER),
        ("not-looked", StatusCode::SEE_OTHER),
        ("no", StatusCode::UNPROCESSABLE_ENTITY),
    ] {
        let fields = send(value);
        let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (k.as_str(), *v)).collect();
        assert_eq!(site.post(&deed, &fields).await.status, status, "{value}");
        let view = site.bench.visit(VisitId::new(1)).unwrap();
        assert_eq!(view.circumstances.len(), 1);
        assert_eq!(view.circumstances[0].what.known, Seen::Yes);
    }
}

#[tokio::test]
async fn an_older_page_of_an_owner_clears_nothing_that_another_hand_wrote() {
    let site = site();
    site.arrived().await;
    let phone = [("phone", "12"), ("was.phone", "")];
    site.post("/owners/1", &phone).await.goes_to();
    let older = [
        ("name", "Ada Wren-Mole"),
        ("was.name", "Ada Wren"),
        ("phone", ""),
        ("was.phone", ""),
    ];
    site.post("/owners/1", &older).await.goes_to();
    let details = || site.bench.owner(OwnerId::new(1)).unwrap().owner.details;
    assert_eq!(details().phone, "12");
    assert_eq!(details().name, "Ada Wren-Mole");

    let contrary = [
        ("name", "Ada Wren"),
        ("was.name", "Ada Wren"),
        ("phone", "34"),
        ("was.phone", ""),
    ];
    let answer = site.post("/owners/1", &contrary).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("now says “12”")
        .shows("name=\"name\" value=\"Ada Wren-Mole\"")
        .shows("name=\"was.phone\" value=\"12\"")
        .shows("value=\"34\"");
    assert_eq!(details().phone, "12");
}

//! Forms of two hands at once, and forms that contradict themselves.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod support;

use axum::http::StatusCode;
use fettle_bench::{OwnerDetails, OwnerId, Page, Seen, Stage, VisitFilter, VisitId};
use support::{Site, photograph, site};

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
    site.post("/owners/1/correct", &phone).await.goes_to();
    let older = [
        ("name", "Ada Wren-Mole"),
        ("was.name", "Ada Wren"),
        ("phone", ""),
        ("was.phone", ""),
    ];
    site.post("/owners/1/correct", &older).await.goes_to();
    let details = || site.bench.owner(OwnerId::new(1)).unwrap().owner.details;
    assert_eq!(details().phone, "12");
    assert_eq!(details().name, "Ada Wren-Mole");

    let contrary = [
        ("name", "Ada Wren"),
        ("was.name", "Ada Wren"),
        ("phone", "34"),
        ("was.phone", ""),
    ];
    let answer = site.post("/owners/1/correct", &contrary).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("now says “12”")
        .shows("name=\"name\" value=\"Ada Wren-Mole\"")
        .shows("name=\"was.phone\" value=\"12\"")
        .shows("value=\"34\"");
    assert_eq!(details().phone, "12");
}

/// The value of a hidden field.
fn hidden(page: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    let value = page.split(&start).nth(1).unwrap();
    value.split('"').next().unwrap().replace("&quot;", "\"")
}

fn counts(site: &Site) -> (u32, u32, u32) {
    let first = Page::first(1);
    (
        site.bench.owners(first).unwrap().total,
        site.bench.cameras(first).unwrap().total,
        site.bench
            .visits(&VisitFilter::default(), first)
            .unwrap()
            .total,
    )
}

#[tokio::test]
async fn an_arrival_sent_twice_at_once_is_recorded_once() {
    let site = site();
    let token = hidden(&site.page("/arrive").await.text(), "once");
    let fields = [
        ("once", token.as_str()),
        ("owner_name", "Ada Wren"),
        ("model", "Box"),
    ];
    let (one, two) = tokio::join!(
        site.upload("/arrive", &fields, &[]),
        site.upload("/arrive", &fields, &[])
    );
    assert_eq!(one.goes_to(), two.goes_to());
    assert_eq!(counts(&site), (1, 1, 1));

    let edited = [
        ("once", token.as_str()),
        ("owner_name", "Ada Wren"),
        ("model", "Other Box"),
    ];
    site.upload("/arrive", &edited, &[]).await.goes_to();
    assert_eq!(counts(&site), (2, 2, 2));
    let drawn_anew = hidden(&site.page("/arrive").await.text(), "once");
    assert_ne!(token, drawn_anew);
}

#[tokio::test]
async fn an_arrival_that_contradicts_itself_comes_back_with_that_at_the_field() {
    let site = site();
    site.arrived().await;
    let before = counts(&site);
    for (fields, at, said) in [
        (
            vec![("owner", "1"), ("owner_name", "Other"), ("model", "Box")],
            "arrive-owner_name",
            "an owner is chosen above",
        ),
        (
            vec![("owner", "1"), ("owner_phone", "12"), ("model", "Box")],
            "arrive-owner_phone",
            "an owner is chosen above",
        ),
        (
            vec![
                ("owner", "1"),
                ("notes", "corran-66"),
                ("maker", "Aldous"),
                ("model", "Box"),
            ],
            "arrive-model",
            "a model is chosen above",
        ),
        (
            vec![("owner", "1"), ("notes", "zzz")],
            "arrive-notes",
            "there are no service notes “zzz”",
        ),
        (
            vec![("owner", "abc"), ("model", "Box")],
            "arrive-owner",
            "“abc” is no owner of the record",
        ),
        (
            vec![("owner", "99"), ("model", "Box")],
            "arrive-owner",
            "“99” is no owner of the record",
        ),
        (
            vec![("owner", "1"), ("camera", "abc")],
            "",
            "“abc” is no camera of the record",
        ),
        (
            vec![("owner", "1"), ("model", "Box"), ("promised", "2020-01-01")],
            "arrive-promised",
            "The promised day is 2020-01-01, before it arrived",
        ),
    ] {
        let answer = site.upload("/arrive", &fields, &[]).await;
        assert_eq!(
            answer.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{fields:?}"
        );
        answer.shows(said).hides("visit-opened");
        if !at.is_empty() {
            answer
                .shows(&format!("href=\"#{at}\""))
                .shows(&format!("id=\"{at}\""));
        }
        assert_eq!(counts(&site), before, "{fields:?}");
    }
    let name = "x\u{7}y";
    let fields = [("owner_name", name), ("model", "Box")];
    site.upload("/arrive", &fields, &[])
        .await
        .shows("The owner's name holds the control character")
        .shows("href=\"#arrive-owner_name\"");
}

#[tokio::test]
async fn an_arrival_for_nobody_known_leads_on_and_the_owner_asked_for_is_always_offered() {
    let site = site();
    for (path, way) in [
        ("/arrive?owner=99", "/owners"),
        ("/arrive?owner=abc", "/owners"),
        ("/arrive?camera=99", "/cameras"),
        ("/arrive?camera=abc", "/cameras"),
    ] {
        let answer = site.get(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        answer
            .shows("in the record.")
            .shows(&format!("<li><a href=\"{way}\">Go to the"));
    }
    let owner = |i: usize| OwnerDetails {
        name: format!("Wren {i:03}"),
        ..OwnerDetails::default()
    };
    let changes = (0..502)
        .map(|i| fettle_bench::Change::OwnerAdded(owner(i)))
        .collect();
    let hand = fettle_bench::Hand::new("Ines");
    let now = "2026-11-25T10:30:00Z".parse().unwrap();
    site.bench.apply(&hand, now, changes).unwrap();
    let offered: Vec<OwnerId> = site
        .bench
        .owners(Page::first(500))
        .unwrap()
        .lines
        .iter()
        .map(|line| line.owner.id)
        .collect();
    let beyond = (1..=502)
        .map(OwnerId::new)
        .find(|id| !offered.contains(id))
        .unwrap();
    site.page(&format!("/arrive?owner={beyond}"))
        .await
        .shows(&format!("<option value=\"{beyond}\" selected>"));
}

#[tokio::test]
async fn of_a_photograph_kept_before_only_the_file_is_believed() {
    let site = site();
    let files = [("photo", "front.png", photograph())];
    let answer = site.upload("/arrive", &[("model", "Box")], &files).await;
    let kept = hidden(&answer.text(), "kept");
    assert!(!kept.contains("visit") && !kept.contains("stage"), "{kept}");
    let fields = [
        ("owner_name", "Ada Wren"),
        ("model", "Box"),
        ("kept", kept.as_str()),
    ];
    site.upload("/arrive", &fields, &[]).await.goes_to();
    let view = site.bench.visit(VisitId::new(1)).unwrap();
    let photo = &view.photos[0].what;
    assert_eq!((photo.width_px, photo.height_px), (8, 6));
    assert_eq!(photo.stage, Stage::Arrived);

    for forged in [
        "{}",
        "../../bench.db",
        r#"{"hash":"../../bench","extension":"db","bytes":1}"#,
        &kept.replacen(|c: char| c.is_ascii_digit(), "f", 1),
    ] {
        let fields = [
            ("owner_name", "Bo Wren"),
            ("model", "Box"),
            ("kept", forged),
        ];
        let answer = site.upload("/arrive", &fields, &[]).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{forged}");
        answer.shows("a photograph kept from before is gone");
    }
}

#[tokio::test]
async fn an_undo_that_is_refused_says_so_in_plain_words() {
    let site = site();
    let visit = site.arrived().await;
    let note = site
        .post(&format!("{visit}/note"), &[("text", "x")])
        .await
        .goes_to();
    let entry = note.split("recorded=").nth(1).unwrap().to_owned();
    let undo = [("entry", entry.as_str()), ("back_to", visit.as_str())];
    site.post("/undo", &undo).await.goes_to();
    let again = site.post("/undo", &undo).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    again
        .shows(&format!("Entry {entry} is already struck"))
        .hides("undo: entry:")
        .shows(&format!("<a href=\"{visit}\">"));
}

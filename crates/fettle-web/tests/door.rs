//! Coming in from the network, and what happens to those who try otherwise.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

#[path = "support/network.rs"]
mod network;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use jiff::SignedDuration;
use network::{HERE, Open, Reply, WORDS, open};

/// An owner, so that a visit can be opened: something to write in the journal.
const OWNER: [(&str, &str); 3] = [
    ("owner_name", "Ada Wren"),
    ("words", "the slow speeds hang"),
    ("model", "Corran 66"),
];

fn entries(open: &Open) -> usize {
    let journal = open.bench.journal(fettle_bench::Page::first(1000)).unwrap();
    journal.lines.len()
}

/// The code on the page for pairing.
fn code_on(page: &Reply) -> String {
    let start = page.text.find("pairing-code\">").unwrap() + "pairing-code\">".len();
    page.text[start..].chars().take(9).collect()
}

#[tokio::test]
async fn nobody_sees_or_sends_anything_without_a_session() {
    let open = open();
    let stranger = open.device("192.0.2.66");
    let before = entries(&open);
    for path in [
        "/",
        "/cameras",
        "/visits/1",
        "/owners",
        "/owners/1",
        "/settings",
        "/find?q=wren",
        "/photos/1/original",
        "/recordings/1",
        "/papers/1",
        "/hands",
        "/pair",
        "/calendar.ics",
        "/learned/faults.csv",
        "/import",
        "/shutter/live/abc/recording.wav",
        "/nowhere",
        "/draw/step",
        "/enter/../cameras",
        "/Enter",
        "/enter/",
        "/%65nter",
        "/assets",
    ] {
        let reply = stranger.get(path).await;
        assert_eq!(
            reply.status,
            StatusCode::SEE_OTHER,
            "{path}: {}",
            reply.text
        );
        assert!(
            reply.location().starts_with("/enter"),
            "{path}: {}",
            reply.location()
        );
        assert!(reply.text.is_empty(), "{path}");
    }
    for path in [
        "/arrive",
        "/settings",
        "/hands",
        "/pair",
        "/undo",
        "/visits/1/note",
        "/shutter",
    ] {
        let reply = stranger.post(path, &OWNER).await;
        assert_eq!(reply.status, StatusCode::UNAUTHORIZED, "{path}");
        reply
            .shows("has not come in")
            .hides("The bench at Saltmere</a>")
            .hides("Rooms");
    }
    let live = Request::get("/shutter/live")
        .header("host", HERE)
        .header("origin", format!("https://{HERE}"))
        .header("upgrade", "websocket")
        .header("connection", "upgrade");
    assert_eq!(
        stranger.ask(live, Body::empty()).await.status,
        StatusCode::UNAUTHORIZED
    );
    assert_eq!(entries(&open), before);
}

#[tokio::test]
async fn a_bench_hand_comes_in_and_signs_what_is_written() {
    let open = open();
    let tablet = open.device("192.0.2.20");
    let door = tablet.get("/visits/7?open=cause").await;
    assert_eq!(door.location(), "/enter?to=%2Fvisits%2F7%3Fopen%3Dcause");
    let page = tablet.get(door.location()).await;
    page.shows("value=\"/visits/7?open=cause\"")
        .shows("autocomplete=\"current-password\"");
    let came = tablet
        .post(
            "/enter",
            &[
                ("hand", "ines"),
                ("passphrase", WORDS),
                ("device", "the tablet"),
                ("to", "/visits/7?open=cause"),
            ],
        )
        .await;
    assert_eq!(came.location(), "/visits/7?open=cause");
    let line = came.cookie_line().unwrap();
    assert!(line.starts_with("__Host-fettle="), "{line}");
    for part in ["; Path=/", "; Secure", "; HttpOnly", "; SameSite=Lax"] {
        assert!(line.contains(part), "{part}: {line}");
    }
    assert!(!line.contains("Domain"), "{line}");
    tablet
        .get("/")
        .await
        .shows("In as ")
        .shows("<bdi>Ines</bdi>");
    let arrived = tablet.post("/arrive", &OWNER).await;
    assert_eq!(arrived.status, StatusCode::SEE_OTHER, "{}", arrived.text);
    assert_eq!(open.last_hand(), "Ines");
    let renamed = open
        .own_post("/settings", &[("name", "Saltmere"), ("currency", "EUR")])
        .await;
    assert_eq!(renamed.status, StatusCode::SEE_OTHER, "{}", renamed.text);
    assert_eq!(open.last_hand(), "bench");
}

#[tokio::test]
async fn a_wrong_passphrase_is_told_without_what_was_typed_and_tries_are_slowed() {
    let open = open();
    let guesser = open.device("192.0.2.66");
    let guess = [("hand", "Ines"), ("passphrase", "grease under bench lamp")];
    for _ in 0..3 {
        let reply = guesser.post("/enter", &guess).await;
        assert_eq!(reply.status, StatusCode::UNPROCESSABLE_ENTITY);
        reply
            .shows("do not belong together")
            .shows("value=\"Ines\"")
            .hides("grease");
        assert!(reply.cookie_line().is_none());
    }
    let reply = guesser.post("/enter", &guess).await;
    assert_eq!(reply.status, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(reply.headers["retry-after"], "2");
    reply.shows("Wait 2 seconds");
    // The right one does not help before its time; another address is not held up.
    let right = [("hand", "Ines"), ("passphrase", WORDS)];
    assert_eq!(
        guesser.post("/enter", &right).await.status,
        StatusCode::TOO_MANY_REQUESTS
    );
    assert_eq!(
        open.device("192.0.2.20")
            .post("/enter", &right)
            .await
            .status,
        StatusCode::SEE_OTHER
    );
    open.later(SignedDuration::from_secs(2));
    assert_eq!(
        guesser.post("/enter", &right).await.status,
        StatusCode::SEE_OTHER
    );
}

#[tokio::test]
async fn brute_force_gets_no_further_than_a_few_tries_an_hour() {
    let open = open();
    let guesser = open.device("192.0.2.66");
    let mut tried = 0;
    for second in 0..3600 {
        open.later(SignedDuration::from_secs(1));
        let typed = format!("grease under lamp {second}");
        let reply = guesser
            .post("/enter", &[("hand", "Ines"), ("passphrase", &typed)])
            .await;
        match reply.status {
            StatusCode::UNPROCESSABLE_ENTITY => tried += 1,
            StatusCode::TOO_MANY_REQUESTS => {}
            other => panic!("{other}: {}", reply.text),
        }
    }
    assert!((10..25).contains(&tried), "{tried}");
    // Who is in stays in, and the bench's own computer is never shut out.
    assert_eq!(open.own_get("/").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_tablet_is_paired_with_the_code_on_the_bench_s_own_page_once() {
    let open = open();
    open.own_get("/pair")
        .await
        .shows("Make a code")
        .hides("pairing-code");
    let made = open.own_post("/pair", &[("hand", "Ines")]).await;
    assert_eq!(made.location(), "/pair");
    let page = open.own_get("/pair").await;
    let code = code_on(&page);
    page.shows(&format!(
        "Code of the address https://{HERE}/enter?code={code}"
    ))
    .shows("SHA-256")
    .shows("<bdi>Ines</bdi>");
    let tablet = open.device("192.0.2.20");
    let scanned = tablet.get(&format!("/enter?code={code}")).await;
    scanned
        .shows("The code was read")
        .shows(&format!("value=\"{code}\""));
    let typed = code.to_lowercase().replace('-', " ");
    let came = tablet
        .post("/enter", &[("code", &typed), ("device", "window")])
        .await;
    assert_eq!(came.location(), "/");
    tablet
        .get("/hands")
        .await
        .shows("window")
        .shows("– this one");
    // Used up: neither another device nor the same one comes in by it.
    let thief = open.device("192.0.2.66");
    let again = thief.post("/enter", &[("code", &code)]).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    again.shows("was used already");
    open.own_get("/pair").await.hides("pairing-code");
}

#[tokio::test]
async fn a_code_is_shown_to_its_maker_alone_and_dies_after_five_minutes() {
    let open = open();
    open.own_post("/pair", &[("hand", "Ines")]).await;
    let code = code_on(&open.own_get("/pair").await);
    let tablet = open.tablet().await;
    tablet
        .get("/pair")
        .await
        .hides(&code)
        .shows("You see this over the network.");
    // Over the network one pairs for oneself alone.
    open.door
        .add(
            "Tomas",
            &fettle_door::Passphrase::new("copper washer over glass").unwrap(),
            "2026-11-25T10:30:00Z".parse().unwrap(),
        )
        .unwrap();
    let unproved = tablet.post("/pair", &[("hand", "Tomas")]).await;
    assert_eq!(unproved.status, StatusCode::UNPROCESSABLE_ENTITY);
    unproved
        .shows("not your present passphrase")
        .hides("pairing-code");
    tablet
        .post("/pair", &[("hand", "Tomas"), ("present", WORDS)])
        .await;
    tablet
        .get("/pair")
        .await
        .shows("<bdi>Ines</bdi>")
        .shows("pairing-code")
        .hides("Tomas");
    open.later(SignedDuration::from_secs(301));
    let late = open
        .device("192.0.2.21")
        .post("/enter", &[("code", &code)])
        .await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    open.own_get("/pair").await.hides("pairing-code");
}

#[tokio::test]
async fn a_session_that_was_ended_or_has_run_out_is_worth_nothing() {
    let open = open();
    let tablet = open.tablet().await;
    let other = open.tablet().await;
    let page = tablet.get("/hands").await;
    page.shows("the tablet");
    let stolen = tablet.shown();
    let name = open
        .door
        .sessions("2026-11-25T10:30:00Z".parse().unwrap())
        .unwrap();
    for session in &name {
        page.shows(&session.name);
    }
    // It leaves by itself: the cookie is taken away, and worth nothing to who copied it.
    let own = page.text.split("– this one").nth(1).unwrap();
    let own = own.split("name=\"session\" value=\"").nth(1).unwrap();
    let own: String = own.chars().take_while(|&c| c != '"').collect();
    let left = tablet
        .post("/hands", &[("do", "end"), ("session", &own)])
        .await;
    assert_eq!(left.location(), "/enter");
    assert!(left.cookie_line().unwrap().contains("Max-Age=0"));
    let thief = open.device("192.0.2.66");
    thief.shows(stolen);
    assert!(thief.get("/").await.location().starts_with("/enter"));
    assert_eq!(other.get("/").await.status, StatusCode::OK);
    open.later(SignedDuration::from_hours(31 * 24));
    assert!(other.get("/").await.location().starts_with("/enter"));
    assert_eq!(
        other.post("/arrive", &OWNER).await.status,
        StatusCode::UNAUTHORIZED
    );
}

#[tokio::test]
async fn a_session_cannot_be_given_to_somebody_beforehand() {
    let open = open();
    let tablet = open.device("192.0.2.20");
    tablet.shows(Some("__Host-fettle=chosen-by-somebody-else".to_owned()));
    tablet
        .post("/enter", &[("hand", "Ines"), ("passphrase", WORDS)])
        .await;
    let first = tablet.shown().unwrap();
    assert!(!first.contains("chosen"), "{first}");
    assert_eq!(tablet.get("/").await.status, StatusCode::OK);
    // Coming in again on the same device ends the session before.
    tablet
        .post("/enter", &[("hand", "Ines"), ("passphrase", WORDS)])
        .await;
    assert_ne!(tablet.shown().unwrap(), first);
    tablet.shows(Some(first));
    assert!(tablet.get("/").await.location().starts_with("/enter"));
    for forged in [
        "__Host-fettle=",
        "__Host-fettle=a; __Host-fettle=b",
        "fettle=x",
        "__Host-fettle=%00",
        "__Host-fettle=\"x\"",
    ] {
        tablet.shows(Some(forged.to_owned()));
        assert!(
            tablet.get("/").await.location().starts_with("/enter"),
            "{forged}"
        );
    }
}

#[tokio::test]
async fn foreign_hosts_and_origins_are_refused_with_and_without_a_session() {
    let open = open();
    let tablet = open.tablet().await;
    let before = entries(&open);
    for host in [
        "saltmere.example:4781",
        "192.0.2.8:4781",
        "localhost:4781",
        "192.0.2.7",
        "192.0.2.7:4780",
        "",
    ] {
        let request = Request::get("/").header("host", host);
        let reply = tablet.ask(request, Body::empty()).await;
        assert_eq!(reply.status, StatusCode::FORBIDDEN, "{host}");
        reply.hides("Saltmere</a>");
    }
    let form = || Body::from("owner_name=Ada+Wren&words=hang&model=Corran");
    let post = || {
        Request::post("/arrive")
            .header("host", HERE)
            .header("content-type", "application/x-www-form-urlencoded")
    };
    let refused = [
        post().header("origin", "https://saltmere.example"),
        post().header("origin", format!("http://{HERE}")),
        post().header("origin", "null"),
        post().header("sec-fetch-site", "cross-site"),
        post().header("sec-fetch-site", "same-site"),
        post(),
    ];
    for request in refused {
        let reply = tablet.ask(request, form()).await;
        assert_eq!(reply.status, StatusCode::FORBIDDEN, "{}", reply.text);
    }
    assert_eq!(entries(&open), before);
    let own = tablet
        .ask(post().header("sec-fetch-site", "same-origin"), form())
        .await;
    assert_eq!(own.status, StatusCode::SEE_OTHER, "{}", own.text);
    // The code on a camera's tag is a link from outside.
    let link = Request::get("/visits/1")
        .header("host", HERE)
        .header("sec-fetch-site", "cross-site")
        .header("sec-fetch-mode", "navigate");
    assert_eq!(tablet.ask(link, Body::empty()).await.status, StatusCode::OK);
}

#[tokio::test]
async fn the_door_leads_nowhere_else() {
    let open = open();
    for to in [
        "https://saltmere.example/",
        "//saltmere.example",
        "/\\saltmere.example",
        "javascript:alert(1)",
        "saltmere",
        "/\tx",
    ] {
        let tablet = open.device("192.0.2.20");
        let came = tablet
            .post(
                "/enter",
                &[("hand", "Ines"), ("passphrase", WORDS), ("to", to)],
            )
            .await;
        assert_eq!(came.location(), "/", "{to}");
        let encoded = percent_encoding::utf8_percent_encode(to, percent_encoding::NON_ALPHANUMERIC)
            .to_string();
        assert_eq!(
            tablet.get(&format!("/enter?to={encoded}")).await.location(),
            "/",
            "{to}"
        );
    }
}

#[tokio::test]
async fn bench_hands_are_added_and_removed_at_the_bench_s_own_computer_only() {
    let open = open();
    let tablet = open.tablet().await;
    let tomas = [
        ("do", "add"),
        ("hand", "Tomas"),
        ("passphrase", "copper washer over glass"),
        ("again", "copper washer over glass"),
    ];
    assert_eq!(
        tablet.post("/hands", &tomas).await.status,
        StatusCode::FORBIDDEN
    );
    assert_eq!(
        tablet
            .post("/hands", &[("do", "remove"), ("hand", "Ines")])
            .await
            .status,
        StatusCode::FORBIDDEN
    );
    assert_eq!(open.door.hands().unwrap().len(), 1);
    let weak = [
        ("do", "add"),
        ("hand", "Tomas"),
        ("passphrase", "short"),
        ("again", "short"),
    ];
    let reply = open.own_post("/hands", &weak).await;
    assert_eq!(reply.status, StatusCode::UNPROCESSABLE_ENTITY);
    reply
        .shows("shorter than 15")
        .shows("value=\"Tomas\"")
        .hides("value=\"short\"");
    let unlike = [
        ("do", "add"),
        ("hand", "Tomas"),
        ("passphrase", "copper washer over glass"),
        ("again", "x"),
    ];
    open.own_post("/hands", &unlike)
        .await
        .shows("repetition differ")
        .hides("copper");
    assert_eq!(
        open.own_post("/hands", &tomas).await.status,
        StatusCode::SEE_OTHER
    );
    open.own_post("/hands", &tomas)
        .await
        .shows("is a bench-hand already");
    open.own_get("/hands").await.shows("Tomas");
    open.own_post("/hands", &[("do", "remove"), ("hand", "Ines")])
        .await;
    assert!(tablet.get("/").await.location().starts_with("/enter"));
    let missing = open
        .own_post("/hands", &[("do", "remove"), ("hand", "Ines")])
        .await;
    missing.shows("There is no bench-hand Ines");
    let unknown = open.own_post("/hands", &[("do", "sing")]).await;
    assert_eq!(unknown.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn one_s_own_passphrase_is_changed_by_who_knows_it() {
    let open = open();
    let tablet = open.tablet().await;
    let other = open.tablet().await;
    let change = |present: &'static str| {
        [
            ("do", "passphrase"),
            ("present", present),
            ("passphrase", "copper washer over glass"),
            ("again", "copper washer over glass"),
        ]
    };
    let wrong = tablet
        .post("/hands", &change("brass shim under lamps"))
        .await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    wrong.shows("not your present passphrase").hides("copper");
    let changed = tablet.post("/hands", &change(WORDS)).await;
    assert_eq!(changed.location(), "/enter");
    for device in [&tablet, &other] {
        assert!(device.get("/").await.location().starts_with("/enter"));
    }
    let old = tablet
        .post("/enter", &[("hand", "Ines"), ("passphrase", WORDS)])
        .await;
    assert_eq!(old.status, StatusCode::UNPROCESSABLE_ENTITY);
    // At the bench's own computer a forgotten one is replaced.
    let set = [
        ("do", "passphrase"),
        ("hand", "Ines"),
        ("passphrase", WORDS),
        ("again", WORDS),
    ];
    assert_eq!(
        open.own_post("/hands", &set).await.status,
        StatusCode::SEE_OTHER
    );
    assert_eq!(
        tablet
            .post("/enter", &[("hand", "Ines"), ("passphrase", WORDS)])
            .await
            .status,
        StatusCode::SEE_OTHER
    );
}

#[tokio::test]
async fn forms_of_the_door_are_small() {
    let open = open();
    let long = "x".repeat(9000);
    let reply = open
        .device("192.0.2.66")
        .post("/enter", &[("hand", "Ines"), ("passphrase", &long)])
        .await;
    assert_eq!(reply.status, StatusCode::PAYLOAD_TOO_LARGE);
    let long = "x".repeat(7000);
    let reply = open
        .device("192.0.2.67")
        .post(
            "/enter",
            &[("hand", &long), ("passphrase", &"y".repeat(500))],
        )
        .await;
    assert_eq!(reply.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn damaged_secrets_shut_everybody_out_but_the_bench_s_own_computer() {
    let open = open();
    let tablet = open.tablet().await;
    std::fs::write(open.dir.path().join("door/hands.json"), "{").unwrap();
    let reply = tablet.get("/cameras").await;
    assert_eq!(reply.status, StatusCode::SERVICE_UNAVAILABLE);
    reply
        .shows("Nobody can come in just now")
        .hides("hands.json");
    assert_eq!(open.own_get("/cameras").await.status, StatusCode::OK);
    assert_eq!(
        open.own_get("/hands").await.status,
        StatusCode::SERVICE_UNAVAILABLE
    );
}

#[tokio::test]
async fn codes_to_scan_lead_where_a_tablet_reaches_the_bench() {
    let open = open();
    let tablet = open.tablet().await;
    tablet.post("/arrive", &OWNER).await;
    let address = format!("https://{HERE}/visits/1");
    open.own_get("/visits/1/tag").await.shows(&address);
    tablet.get("/visits/1/tag").await.shows(&address);
}

//! Every page, on an empty bench and on a small one.

mod support;

use axum::http::StatusCode;
use support::site;

const ROOMS: [&str; 11] = [
    "/",
    "/arrive",
    "/cameras",
    "/owners",
    "/models",
    "/models/corran-66",
    "/instruments",
    "/shutter",
    "/shutter/check",
    "/going-home",
    "/find",
];

#[tokio::test]
async fn every_room_opens_on_an_empty_bench() {
    let site = site();
    for path in ROOMS {
        site.page(path).await;
    }
}

#[tokio::test]
async fn every_page_has_one_heading_a_language_labels_and_a_way_past_the_head() {
    let site = site();
    let visit = site.arrived().await;
    let mut paths = ROOMS.map(str::to_owned).to_vec();
    paths.extend([
        visit.clone(),
        format!("{visit}/papers/receipt"),
        format!("{visit}/papers/labels"),
        "/settings".to_owned(),
        "/learned".to_owned(),
        format!("{visit}/tag"),
        "/cameras/1".to_owned(),
        "/owners/1".to_owned(),
        "/find?q=wren".to_owned(),
        "/arrive?camera=1".to_owned(),
    ]);
    for path in paths {
        let page = site.page(&path).await;
        assert_eq!(page.text().matches("<h1").count(), 1, "{path}");
        page.shows("<html lang=\"en\">")
            .shows("href=\"#sheet\"")
            .shows("<main id=\"sheet\"");
        unlabelled(&path, &page.text());
        ids_are_unique(&path, &page.text());
    }
}

/// Every field a person fills in has a label around it, for it, or in words of its own.
fn unlabelled(path: &str, page: &str) {
    for start in ["<input ", "<select ", "<textarea "] {
        for (at, _) in page.match_indices(start) {
            let tag: String = page[at..].chars().take_while(|&c| c != '>').collect();
            let attribute = |name: &str| {
                let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
                tag[from..].split('"').next()
            };
            let hidden = attribute("type") == Some("hidden");
            let wrapped = matches!(attribute("type"), Some("radio" | "checkbox"));
            let labelled = attribute("aria-label").is_some()
                || attribute("id").is_some_and(|id| page.contains(&format!("for=\"{id}\"")));
            assert!(hidden || wrapped || labelled, "{path}: no label for {tag}");
        }
    }
}

fn ids_are_unique(path: &str, page: &str) {
    let mut seen = std::collections::HashSet::new();
    for (at, _) in page.match_indices(" id=\"") {
        let id: String = page[at + 5..].chars().take_while(|&c| c != '"').collect();
        assert!(seen.insert(id.clone()), "{path}: the id {id} stands twice");
    }
}

#[tokio::test]
async fn what_does_not_exist_is_said_with_a_way_out() {
    let site = site();
    let none = site.get("/visits/999").await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
    none.shows("Visit 999 does not exist; no camera has arrived yet.")
        .shows("href=\"/arrive\"");
    site.arrived().await;
    let one = site.get("/visits/999").await;
    assert_eq!(one.status, StatusCode::NOT_FOUND);
    one.shows("Visit 999 does not exist; the newest is 1.")
        .shows("href=\"/visits/1\"");
    for path in [
        "/nowhere",
        "/visits/x",
        "/visits/-1",
        "/visits/99999999999999999999",
        "/cameras/999",
        "/cameras/x",
        "/owners/999",
        "/owners/x",
        "/models/none",
        "/photos/999/thumb",
        "/photos/1/huge",
        "/recordings/1",
        "/papers/1",
    ] {
        let answer = site.get(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        answer.shows("<h1>").shows("Go to the bench");
    }
    let odd = site.get("/photos/x/thumb").await;
    assert_eq!(odd.status, StatusCode::BAD_REQUEST);
    odd.shows("<h1>");
    let wrong_way = site.get("/undo").await;
    assert_eq!(wrong_way.status, StatusCode::METHOD_NOT_ALLOWED);
    wrong_way.shows("takes no such request");
}

#[tokio::test]
async fn the_bench_says_what_can_be_done_next() {
    let site = site();
    site.page("/")
        .await
        .shows("Nothing is on the bench")
        .shows("A camera has come");
    site.arrived().await;
    site.page("/")
        .await
        .shows("Can go on")
        .shows("Aldous Corran 66")
        .shows("20417")
        .shows("look it over");
}

#[tokio::test]
async fn anything_is_found_and_a_scanned_tag_goes_to_its_visit() {
    let site = site();
    site.arrived().await;
    for text in ["20417", "Wren", "hang"] {
        site.page(&format!("/find?q={text}"))
            .await
            .shows("/1\"")
            .shows("<mark>");
    }
    site.page("/find?q=nosuchword").await.shows("Nothing.");
    site.page("/find?q=%22%20OR%20*%20(").await;
    let scanned = site
        .get("/find?q=http%3A%2F%2F127.0.0.1%3A7700%2Fvisits%2F1")
        .await;
    assert_eq!(scanned.goes_to(), "/visits/1");
}

#[tokio::test]
async fn a_tag_carries_the_code_of_its_visit() {
    let site = site();
    let visit = site.arrived().await;
    let tag = site.page(&format!("{visit}/tag")).await;
    tag.shows("Code of the address http://127.0.0.1:7700/visits/1")
        .shows("<svg")
        .hides("<?xml");
}

#[tokio::test]
async fn photographs_come_in_every_size() {
    let site = site();
    site.arrived().await;
    for size in ["original", "display", "thumb"] {
        let photo = site.page(&format!("/photos/1/{size}")).await;
        let kind = photo.headers["content-type"].to_str().unwrap();
        assert!(kind.starts_with("image/"), "{size}: {kind}");
        image::load_from_memory(&photo.bytes).unwrap();
    }
}

#[tokio::test]
async fn broken_service_notes_are_listed_with_what_is_wrong() {
    let site = site();
    std::fs::write(
        site.dir.path().join("notes/odd.toml"),
        "format = \"fettle-notes-1\"\n[model\n",
    )
    .unwrap();
    site.page("/models")
        .await
        .shows("odd")
        .shows("cannot be used");
    site.page("/models/odd")
        .await
        .shows("cannot be used until this is put right")
        .shows("odd.toml");
}

#[tokio::test]
async fn hostile_words_stay_words_on_every_page() {
    let site = site();
    let evil = "\"><script>alert(1)</script><img src=x onerror=alert(1)>";
    let answer = site
        .upload(
            "/arrive",
            &[
                ("owner_name", evil),
                ("owner_address", evil),
                ("maker", evil),
                ("model", evil),
                ("serial.0.number", evil),
                ("serial.0.at", evil),
                ("with_other", evil),
                ("words", evil),
                ("wanted", evil),
                ("condition", evil),
            ],
            &[],
        )
        .await;
    answer.goes_to();
    for deed in [
        ("note", [("text", evil), ("x", "")]),
        ("own-sign", [("what", evil), ("note", evil)]),
        ("earlier-hands", [("what", evil), ("at", evil)]),
        ("fault", [("fault", evil), ("note", evil)]),
        ("work", [("work", evil), ("note", evil)]),
        ("shortfall", [("what", evil), ("correction", evil)]),
        ("wait", [("wait_for", "part"), ("what", evil)]),
    ] {
        site.post(&format!("/visits/1/{}", deed.0), &deed.1)
            .await
            .goes_to();
    }
    site.upload("/visits/1/removed", &[("words", evil), ("note", evil)], &[])
        .await
        .goes_to();
    let find = format!("/find?q={}", "%22%3E%3Cscript%3Ealert(1)%3C%2Fscript%3E");
    for path in [
        "/",
        "/visits/1",
        "/visits/1/papers/receipt",
        "/visits/1/tag",
        "/cameras",
        "/cameras/1",
        "/owners",
        "/owners/1",
        "/going-home",
        "/arrive",
        "/arrive?camera=1",
        find.as_str(),
    ] {
        let page = site.page(path).await;
        page.hides("<script>alert").hides("<img src=x");
    }
}

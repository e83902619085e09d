//! Addresses, forms and files that nobody at a bench would send.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

mod support;

use std::collections::BTreeSet;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use support::{Site, photograph, recording, site};

/// Every address with something in it that a visitor chooses, `*` in its place.
const WITH_PLACES: [&str; 24] = [
    "/assets/*",
    "/cameras/*",
    "/cameras/*/correct",
    "/owners/*",
    "/owners/*/correct",
    "/models/*",
    "/drawers/*",
    "/drawers/*/correct",
    "/drawers/parts/*",
    "/drawers/parts/*/minimum",
    "/donors/*",
    "/donors/*/correct",
    "/visits/*",
    "/visits/*/note",
    "/visits/1/*",
    "/visits/*/papers/receipt",
    "/visits/1/papers/*",
    "/visits/1/papers/*/pdf",
    "/visits/1/traces/*",
    "/photos/*/original",
    "/photos/1/*",
    "/recordings/*",
    "/papers/*",
    "/shutter/live/*/recording.wav",
];

/// What leads out of a folder, or means something to a system, a database or a page.
const TRICKS: [&str; 20] = [
    "..",
    "../../../../etc/passwd",
    "..%2f..%2f..%2f..%2fetc%2fpasswd",
    "%2e%2e%2f%2e%2e%2fbench.db",
    "..%5c..%5cbench.db",
    "%2fetc%2fpasswd",
    "....//....//etc/passwd",
    "..%252fbench.db",
    "%00",
    "1%00.png",
    "..;/bench.db",
    "file:%2f%2f%2fetc%2fpasswd",
    "door%2fhands.json",
    "-1",
    "9223372036854775808",
    "1e9",
    "1'%20OR%20'1'='1",
    "%3Cscript%3Ealert(1)%3C%2Fscript%3E",
    "%ff%fe",
    "CON",
];

async fn asked(site: &Site, path: &str) -> support::Answer {
    let request = Request::get(path).header("host", "127.0.0.1:7700");
    match request.body(Body::empty()) {
        Ok(request) => site.ask(request).await,
        Err(error) => panic!("{path}: {error}"),
    }
}

fn lists_secrets(text: &str) -> bool {
    ["root:", "SQLite format", "argon2id"]
        .iter()
        .any(|secret| text.contains(secret))
}

#[tokio::test]
async fn no_address_leads_out_of_the_bench() {
    let site = site();
    site.arrived().await;
    let before = site.bench.journal(fettle_bench::Page::first(1000)).unwrap();
    for pattern in WITH_PLACES {
        for trick in TRICKS {
            let path = pattern.replace('*', trick);
            let answer = asked(&site, &path).await;
            let text = answer.text();
            let is_page = answer.headers["content-type"]
                .to_str()
                .unwrap()
                .starts_with("text/html");
            assert!(
                answer.status.is_client_error() && is_page,
                "{path}: {}",
                answer.status
            );
            assert!(
                !lists_secrets(&text) && !text.contains("<script>alert"),
                "{path}: {text}"
            );
            let answer = site.post(&path, &[("text", "x")]).await;
            assert!(
                answer.status.is_client_error(),
                "POST {path}: {}",
                answer.status
            );
        }
    }
    assert_eq!(
        site.bench.journal(fettle_bench::Page::first(1000)).unwrap(),
        before
    );
}

#[tokio::test]
async fn what_the_address_asks_is_no_way_out_either() {
    let site = site();
    let visit = site.arrived().await;
    for trick in TRICKS {
        for path in [
            format!("/find?q={trick}"),
            format!("/?recorded={trick}"),
            format!(
                "{visit}?open={trick}&step={trick}&to={trick}&why={trick}&draft={trick}&mail={trick}"
            ),
            format!("/models/corran-66?of={trick}"),
            format!("/cameras?skip={trick}"),
            format!("/draw?form={trick}&module={trick}&teeth={trick}"),
            format!("/draw/step?form={trick}&module={trick}&teeth={trick}"),
            format!("/drawers/labels?drawer={trick}"),
            format!("/enter?to={trick}&code={trick}"),
            format!("/pair?at={trick}"),
        ] {
            let answer = asked(&site, &path).await;
            let text = answer.text();
            assert!(
                !answer.status.is_server_error(),
                "{path}: {} {text}",
                answer.status
            );
            assert!(
                !lists_secrets(&text) && !text.contains("<script>alert"),
                "{path}: {text}"
            );
        }
    }
}

#[tokio::test]
async fn an_undo_leads_back_to_this_site_only() {
    let site = site();
    site.arrived().await;
    for (n, to) in [
        "https://saltmere.example/",
        "//saltmere.example",
        "/\\saltmere.example",
        "javascript:alert(1)",
    ]
    .iter()
    .enumerate()
    {
        let visit = site.arrived().await;
        let entries = site.bench.journal(fettle_bench::Page::first(1)).unwrap();
        let last = entries.lines[0].id.to_string();
        let answer = site
            .post("/undo", &[("entry", &last), ("back_to", to)])
            .await;
        if let Some(location) = answer.headers.get("location") {
            let location = location.to_str().unwrap();
            assert!(
                location.starts_with('/')
                    && !location.starts_with("//")
                    && !location.contains('\\'),
                "{n} {visit}: {location}"
            );
        }
    }
}

#[tokio::test]
async fn over_long_addresses_and_forms_are_refused_with_a_page() {
    let site = site();
    let visit = site.arrived().await;
    let long = "x".repeat(5000);
    for path in [
        format!("/find?q={long}"),
        format!("/models/{long}"),
        format!("/{long}"),
    ] {
        let answer = asked(&site, &path).await;
        assert_eq!(answer.status, StatusCode::URI_TOO_LONG, "{path}");
        answer.shows("longer than any of a page here");
    }
    let many: Vec<(&str, &str)> = vec![("a", ""); 20_000];
    let answer = site.post(&format!("{visit}/note"), &many).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    let answer = site.upload(&format!("{visit}/photos"), &many, &[]).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    let names = "n".repeat(300_000);
    let wide: Vec<(&str, &str)> = vec![(names.as_str(), ""); 5];
    let answer = site.upload(&format!("{visit}/photos"), &wide, &[]).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    let files: Vec<(&str, &str, Vec<u8>)> =
        (0..41).map(|_| ("photo", "a.png", photograph())).collect();
    let answer = site
        .upload(&format!("{visit}/photos"), &[("caption", "c")], &files)
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("one too many");
}

#[tokio::test]
async fn bodies_that_are_no_form_are_refused() {
    let site = site();
    let visit = site.arrived().await;
    for (kind, body) in [
        ("multipart/form-data", "x"),
        ("multipart/form-data; boundary=", "x"),
        ("multipart/form-data; boundary=b", "--b\r\n"),
        (
            "multipart/form-data; boundary=b",
            "--b\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\nnever ends",
        ),
        ("application/json", "{\"text\":\"x\"}"),
        ("text/plain", "text=x"),
        ("application/x-www-form-urlencoded", "%zz=%"),
        ("", ""),
    ] {
        let request = Request::post(format!("{visit}/note"))
            .header("host", "127.0.0.1:7700")
            .header("origin", "http://127.0.0.1:7700")
            .header("content-type", kind)
            .body(Body::from(body))
            .unwrap();
        let answer = site.ask(request).await;
        assert!(
            answer.status.is_client_error(),
            "{kind}: {} {}",
            answer.status,
            answer.text()
        );
    }
}

/// A PNG that claims to be this large.
fn claiming(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = photograph();
    bytes[16..20].copy_from_slice(&width.to_be_bytes());
    bytes[20..24].copy_from_slice(&height.to_be_bytes());
    let sum = crc(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&sum.to_be_bytes());
    bytes
}

/// The check sum of PNG's chunks (ISO 15948, annex D).
fn crc(bytes: &[u8]) -> u32 {
    let step = |sum: u32| {
        if sum & 1 == 1 {
            0xEDB8_8320 ^ (sum >> 1)
        } else {
            sum >> 1
        }
    };
    !bytes.iter().fold(u32::MAX, |sum, &byte| {
        (0..8).fold(sum ^ u32::from(byte), |sum, _| step(sum))
    })
}

/// A WebP without loss that claims to be 16383 pixels a side.
fn large_webp() -> Vec<u8> {
    let size = 0x3FFE_u32 | (0x3FFE << 14);
    let mut chunk = vec![0x2F];
    chunk.extend(size.to_le_bytes());
    chunk.extend([0; 11]);
    let mut bytes = b"RIFF".to_vec();
    bytes.extend((4 + 8 + chunk.len() as u32).to_le_bytes());
    bytes.extend(b"WEBPVP8L");
    bytes.extend((chunk.len() as u32).to_le_bytes());
    bytes.extend(chunk);
    bytes
}

/// A JPEG whose frame claims to be 65500 pixels a side.
fn large_jpeg() -> Vec<u8> {
    let mut bytes = vec![0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8, 0xFF, 0xDC, 0xFF, 0xDC, 3];
    bytes.extend([1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1]);
    bytes.extend([
        0xFF, 0xDA, 0, 12, 3, 1, 0, 2, 0x11, 3, 0x11, 0, 63, 0, 0, 0xFF, 0xD9,
    ]);
    bytes
}

#[tokio::test]
async fn small_files_of_huge_pictures_are_refused_wherever_pictures_are_taken() {
    let site = site();
    let visit = site.arrived().await;
    for (name, bomb) in [
        ("a.png", claiming(30_000, 30_000)),
        ("b.png", claiming(u32::MAX, 1)),
        ("c.webp", large_webp()),
        ("d.jpg", large_jpeg()),
    ] {
        for path in [format!("{visit}/photos"), "/teeth".to_owned()] {
            let fields = [("caption", "c"), ("kind", "rack"), ("pitch", "2")];
            let answer = site
                .upload(&path, &fields, &[("photo", name, bomb.clone())])
                .await;
            assert_eq!(
                answer.status,
                StatusCode::UNPROCESSABLE_ENTITY,
                "{path} {name}: {}",
                answer.text()
            );
        }
    }
    let id = fettle_bench::VisitId::new(1);
    assert_eq!(site.bench.visit(id).unwrap().photos.len(), 1);
}

#[tokio::test]
async fn files_are_taken_by_their_content_and_not_by_their_name() {
    let site = site();
    let visit = site.arrived().await;
    for (name, bytes) in [
        (
            "page.png",
            b"<html><script>alert(1)</script></html>".to_vec(),
        ),
        (
            "drawing.jpg",
            b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>".to_vec(),
        ),
        ("recording.webp", recording()),
    ] {
        let answer = site
            .upload(
                &format!("{visit}/photos"),
                &[("caption", "c")],
                &[("photo", name, bytes)],
            )
            .await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
    }
    let named = [("photo", "../../evil.html", photograph())];
    let answer = site
        .upload(&format!("{visit}/photos"), &[("caption", "c")], &named)
        .await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    let given = site.page("/photos/2/original").await;
    assert_eq!(given.headers["content-type"], "image/png");
    assert_eq!(given.headers["x-content-type-options"], "nosniff");
    assert!(
        !given.headers["content-disposition"]
            .to_str()
            .unwrap()
            .contains("evil")
    );
    assert_eq!(given.bytes, photograph());
}

#[tokio::test]
async fn kept_files_go_out_whole() {
    let site = site();
    site.arrived().await;
    let take = recording();
    assert!(take.len() > 200_000, "several pieces");
    let id = fettle_bench::VisitId::new(1);
    let kept = site
        .bench
        .keep_recording(id, fettle_bench::Stage::Arrived, "", "a.wav", &take)
        .unwrap();
    site.bench
        .apply(
            &fettle_bench::Hand::new("Ines"),
            "2026-11-25T10:31:00Z".parse().unwrap(),
            vec![kept],
        )
        .unwrap();
    let given = site.page("/recordings/1").await;
    assert_eq!(given.bytes, take);
    assert_eq!(given.headers["content-length"], take.len().to_string());
    assert!(
        given.headers["content-disposition"]
            .to_str()
            .unwrap()
            .starts_with("attachment")
    );
}

#[cfg(unix)]
#[tokio::test]
async fn links_in_the_bench_s_folder_are_not_followed() {
    let site = site();
    site.arrived().await;
    let secret = site.dir.path().join("secret.png");
    std::fs::write(&secret, photograph()).unwrap();
    for entry in std::fs::read_dir(site.dir.path().join("photos")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            std::fs::remove_file(&path).unwrap();
            std::os::unix::fs::symlink(&secret, &path).unwrap();
        }
    }
    let answer = site.get("/photos/1/original").await;
    assert_eq!(
        answer.status,
        StatusCode::SERVICE_UNAVAILABLE,
        "{}",
        answer.text()
    );
    answer.shows("not followed");
    // A shelf that is not there has no page either.
    for path in [
        "/photos",
        "/photos/",
        "/notes/corran-66.toml",
        "/bench.db",
        "/door/hands.json",
        "/recordings/",
    ] {
        assert_eq!(site.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
}

/// What a page holds that the policy of its answer would not let run.
fn runs_by_itself(html: &str) -> Option<String> {
    let lower = html.to_lowercase();
    let tags = lower
        .split('<')
        .skip(1)
        .map(|rest| rest.split('>').next().unwrap_or_default());
    for tag in tags {
        let handler = tag
            .split_whitespace()
            .skip(1)
            .any(|word| word.starts_with("on") && word.contains('=') && !word.starts_with("on="));
        let inline = tag.starts_with("script") && !tag.contains(" src=")
            || tag.starts_with("style")
            || tag.contains(" style=")
            || tag.contains("javascript:")
            || tag.starts_with("base ")
            || tag.starts_with("iframe");
        if handler || inline {
            return Some(tag.to_owned());
        }
    }
    None
}

#[tokio::test]
async fn no_page_that_can_be_reached_runs_anything_of_its_own() {
    let site = site();
    site.arrived().await;
    let mut known: BTreeSet<String> = [
        "/",
        "/pair",
        "/hands",
        "/settings",
        "/import",
        "/learned",
        "/visits/1/tag",
    ]
    .map(str::to_owned)
    .into();
    let mut queue: Vec<String> = known.iter().cloned().collect();
    let mut pages = 0;
    while let Some(path) = queue.pop() {
        let answer = site.get(&path).await;
        let is_page = answer
            .headers
            .get("content-type")
            .is_some_and(|kind| kind.to_str().unwrap().starts_with("text/html"));
        if !is_page {
            continue;
        }
        pages += 1;
        let text = answer.text();
        assert_eq!(runs_by_itself(&text), None, "{path}");
        for link in text.split("href=\"").skip(1) {
            let link = link.split(['"', '#']).next().unwrap().replace("&amp;", "&");
            if link.starts_with('/') && known.len() < 150 && known.insert(link.clone()) {
                queue.push(link);
            }
        }
    }
    assert!(pages > 30, "{pages}");
}

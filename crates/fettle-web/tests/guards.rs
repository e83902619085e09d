//! Who may ask, and how much may be sent.

mod support;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use support::{photograph, site};

#[tokio::test]
async fn a_request_under_a_foreign_name_is_refused_with_a_page() {
    let site = site();
    for host in [
        "saltmere.example",
        "127.0.0.1:80",
        "localhost.saltmere.example:7700",
    ] {
        let request = Request::get("/")
            .header("host", host)
            .body(Body::empty())
            .unwrap();
        let answer = site.ask(request).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{host}");
        answer
            .shows("answers only to its own computer")
            .shows("<h1>Refused</h1>");
    }
    let nameless = Request::get("/").body(Body::empty()).unwrap();
    assert_eq!(site.ask(nameless).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_form_of_another_site_changes_nothing() {
    let site = site();
    let visit = site.arrived().await;
    let before = site.bench.journal(fettle_bench::Page::first(100)).unwrap();
    for origin in ["http://saltmere.example", "null", "http://127.0.0.1:7701"] {
        let request = Request::post(format!("{visit}/note"))
            .header("host", "127.0.0.1:7700")
            .header("origin", origin)
            .header("content-type", "application/x-www-form-urlencoded")
            .body(Body::from("text=hello"))
            .unwrap();
        let answer = site.ask(request).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{origin}");
        answer.shows("page of another site");
    }
    assert_eq!(
        site.bench.journal(fettle_bench::Page::first(100)).unwrap(),
        before
    );
}

#[tokio::test]
async fn every_answer_forbids_foreign_scripts_and_frames() {
    let site = site();
    for path in ["/", "/nowhere", "/assets/nothing.css"] {
        let answer = site.get(path).await;
        let policy = answer.headers["content-security-policy"].to_str().unwrap();
        assert!(policy.contains("default-src 'self'"), "{path}: {policy}");
        assert!(
            policy.contains("frame-ancestors 'none'"),
            "{path}: {policy}"
        );
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(
            answer.headers["x-content-type-options"], "nosniff",
            "{path}"
        );
        assert_eq!(answer.headers["referrer-policy"], "same-origin", "{path}");
    }
}

#[tokio::test]
async fn no_page_has_a_script_or_style_of_its_own() {
    let site = site();
    let visit = site.arrived().await;
    for path in [
        "/",
        "/arrive",
        "/models/corran-66",
        "/shutter",
        visit.as_str(),
    ] {
        let answer = site.page(path).await;
        answer
            .hides("<style")
            .hides(" style=\"")
            .hides(" onclick=")
            .hides("javascript:");
        assert!(!answer.text().contains("<script>"), "{path}");
    }
}

#[tokio::test]
async fn a_form_beyond_its_bound_is_refused_with_a_page() {
    let site = site();
    let visit = site.arrived().await;
    let long = "x".repeat((1 << 20) + 1);
    let answer = site
        .post(&format!("{visit}/note"), &[("text", &long)])
        .await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
    answer.shows("A form may hold 1 MB");
}

#[tokio::test]
async fn a_photograph_beyond_its_bound_is_named_and_the_words_are_kept() {
    let site = site();
    let visit = site.arrived().await;
    let large = vec![0; (40 << 20) + 1];
    let answer = site
        .upload(
            &format!("{visit}/photos"),
            &[("caption", "the back")],
            &[("photo", "large.jpg", large)],
        )
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer
        .shows("large.jpg is larger than")
        .shows("value=\"the back\"");
}

#[tokio::test]
async fn a_text_that_calls_itself_a_photograph_is_refused_and_nothing_is_half_kept() {
    let site = site();
    let visit = site.arrived().await;
    let files = [
        ("photo", "good.png", photograph()),
        ("photo", "bad.jpg", b"no photograph".to_vec()),
    ];
    let answer = site
        .upload(&format!("{visit}/photos"), &[("caption", "both")], &files)
        .await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    answer.shows("bad.jpg").shows("value=\"both\"");
    let id = fettle_bench::VisitId::new(1);
    assert_eq!(site.bench.visit(id).unwrap().photos.len(), 1);
}

#[tokio::test]
async fn assets_are_kept_by_browsers_because_their_names_tell_their_content() {
    let site = site();
    let page = site.page("/").await.text();
    let start = page.find("/assets/style-").unwrap();
    let url: String = page[start..].chars().take_while(|&c| c != '"').collect();
    let style = site.page(&url).await;
    assert_eq!(style.headers["content-type"], "text/css; charset=utf-8");
    assert!(
        style.headers["cache-control"]
            .to_str()
            .unwrap()
            .contains("immutable")
    );
    assert_eq!(
        site.get("/assets/style-0.css").await.status,
        StatusCode::NOT_FOUND
    );
}

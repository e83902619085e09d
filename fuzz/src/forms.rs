//! Whatever is sent to the site.

use std::fs;
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

use axum::body::{Body, to_bytes};
use axum::http::Request;
use fettle_bench::{Bench, CameraDetails, Hand};
use fettle_web::{AppState, Clock, router};
use jiff::ZonedDateTime;
use tokio::runtime::Runtime;
use tower::ServiceExt;

use crate::begun::{folder, with_a_camera};
use crate::kind_of;

const HOST: &str = "127.0.0.1:7700";
const NOTES: &str = include_str!("../../crates/fettle-demo/notes/corran-66.toml");

/// What every input begins with: a bench with a camera on it.
struct Start {
    _dir: tempfile::TempDir,
    bench: PathBuf,
    now: ZonedDateTime,
    runtime: Runtime,
}

fn start() -> &'static Start {
    static MADE: OnceLock<Start> = OnceLock::new();
    MADE.get_or_init(|| made().unwrap_or_else(|why| panic!("the bench of the target: {why}")))
}

fn made() -> Result<Start, Box<dyn std::error::Error>> {
    let dir = folder()?;
    let now: ZonedDateTime = "2026-11-25T10:30:00+00:00[UTC]".parse()?;
    let (hand, place) = (Hand::new("Ines"), dir.path().join("bench"));
    let camera = CameraDetails {
        maker: "Aldous".to_owned(),
        model: "Corran 66".to_owned(),
        notes_id: Some("corran-66".to_owned()),
        ..CameraDetails::default()
    };
    let bench = with_a_camera(&place, camera, &hand, now.timestamp())?;
    fs::write(place.join("notes/corran-66.toml"), NOTES)?;
    drop(bench);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    Ok(Start {
        _dir: dir,
        bench: place,
        now,
        runtime,
    })
}

/// One request to the whole site. The first line is the method, the address and how the rest is to be read: `POST /arrive m` for a form
/// in parts, divided by `fettle`, `u` for one in pairs, `-` for neither.
pub fn forms(bytes: &[u8]) -> String {
    let start = start();
    let cut = bytes
        .iter()
        .position(|byte| *byte == b'\n')
        .unwrap_or(bytes.len());
    let (head, body) = bytes.split_at(cut);
    let body = body.get(1..).unwrap_or_default().to_vec();
    let head = String::from_utf8_lossy(head).into_owned();
    let mut words = head.split(' ');
    let (method, path) = (
        words.next().unwrap_or_default(),
        words.next().unwrap_or("/"),
    );
    let mut request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", HOST);
    match words.next() {
        Some("m") => {
            request = request.header("content-type", "multipart/form-data; boundary=fettle")
        }
        Some("u") => request = request.header("content-type", "application/x-www-form-urlencoded"),
        _ => {}
    }
    let Ok(request) = request.body(Body::from(body)) else {
        return "no request".to_owned();
    };
    let Ok(dir) = folder() else {
        return "no folder".to_owned();
    };
    let bench = match copied(start, dir.path().to_owned()) {
        Ok(bench) => bench,
        Err(why) => panic!("{why}"),
    };
    let state = AppState::new(Arc::clone(&bench), Clock::fixed(start.now.clone()), "Ines");
    let Ok(state) = state else {
        panic!("the bench has no name")
    };
    let router = router(state.with_port(7700));
    let (status, page) = start.runtime.block_on(async {
        let Ok(answer) = router.oneshot(request).await;
        let status = answer.status().as_u16();
        let body = to_bytes(answer.into_body(), usize::MAX)
            .await
            .unwrap_or_default();
        (status, body)
    });
    let page = String::from_utf8_lossy(&page).into_owned();
    assert!(status < 500, "{head}: {status}: {page}");
    let checked = bench.check();
    assert!(checked.is_ok(), "{head}: {checked:?}");
    let wrong = page
        .split("class=\"error\"")
        .nth(1)
        .map(kind_of)
        .unwrap_or_default();
    format!(
        "{} {status} {}",
        path.split('?')
            .next()
            .unwrap_or_default()
            .chars()
            .take(60)
            .collect::<String>(),
        wrong
    )
}

fn copied(start: &Start, to: PathBuf) -> Result<Arc<Bench>, Box<dyn std::error::Error>> {
    for folder in ["notes", "photos", "recordings", "papers"] {
        fs::create_dir_all(to.join(folder))?;
    }
    fs::copy(start.bench.join("bench.db"), to.join("bench.db"))?;
    fs::write(to.join("notes/corran-66.toml"), NOTES)?;
    Ok(Arc::new(Bench::open(&to)?))
}

//! What the tests share: a site over a bench in a folder of its own, and a visitor to it.
#![allow(dead_code, reason = "each test file takes what it needs")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Request, StatusCode};
use fettle_bench::{Bench, BenchSettings, Currency, Hand};
use fettle_measure::Seconds;
use fettle_measure::synth::{Chain, Firing, LeafShutter, Scene};
use fettle_web::{AppState, Clock, router};
use tower::ServiceExt;

const BOUNDARY: &str = "fettle-test-boundary";

/// A site that nobody else sees.
pub(crate) struct Site {
    router: Router,
    pub(crate) bench: Arc<Bench>,
    /// Keeps the folder as long as the site.
    pub(crate) dir: tempfile::TempDir,
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) bytes: Vec<u8>,
}

impl Answer {
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }

    /// Where it sends the browser.
    pub(crate) fn goes_to(&self) -> String {
        assert_eq!(self.status, StatusCode::SEE_OTHER, "{}", self.text());
        self.headers["location"].to_str().unwrap().to_owned()
    }

    #[track_caller]
    pub(crate) fn shows(&self, text: &str) -> &Self {
        assert!(
            self.text().contains(text),
            "“{text}” is not on the page:\n{}",
            self.text()
        );
        self
    }

    #[track_caller]
    pub(crate) fn hides(&self, text: &str) -> &Self {
        assert!(
            !self.text().contains(text),
            "“{text}” is on the page:\n{}",
            self.text()
        );
        self
    }
}

/// A bench without anything on it but the service notes of the Corran.
pub(crate) fn site() -> Site {
    site_in(tempfile::tempdir().unwrap())
}

/// The same in this folder.
pub(crate) fn site_in(dir: tempfile::TempDir) -> Site {
    let settings = BenchSettings {
        place: "Saltmere".to_owned(),
        address: "3 Ropewalk\nSaltmere".to_owned(),
        contact: "bench@saltmere.example".to_owned(),
        hourly_rate: Some("60".parse().unwrap()),
        ..BenchSettings::new("The bench at Saltmere", Currency::new("EUR").unwrap())
    };
    let now: jiff::ZonedDateTime = "2026-11-25T10:30:00+00:00[UTC]".parse().unwrap();
    let bench = Bench::create(dir.path(), settings, &Hand::new("Ines"), now.timestamp()).unwrap();
    let notes = dir.path().join("notes");
    std::fs::create_dir_all(&notes).unwrap();
    let corran = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fettle-demo/notes/corran-66.toml");
    std::fs::copy(corran, notes.join("corran-66.toml")).unwrap();
    let bench = Arc::new(bench);
    let state = AppState::new(Arc::clone(&bench), Clock::fixed(now), "Ines").unwrap();
    Site {
        router: router(state.with_port(7700)),
        bench,
        dir,
    }
}

impl Site {
    pub(crate) async fn ask(&self, request: Request<Body>) -> Answer {
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, usize::MAX).await.unwrap().to_vec();
        Answer {
            status: parts.status,
            headers: parts.headers,
            bytes,
        }
    }

    pub(crate) async fn get(&self, path: &str) -> Answer {
        let path = path.split('#').next().unwrap();
        let request = Request::get(path).header("host", "127.0.0.1:7700");
        self.ask(request.body(Body::empty()).unwrap()).await
    }

    /// The page, which must be there.
    pub(crate) async fn page(&self, path: &str) -> Answer {
        let answer = self.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text());
        answer
    }

    pub(crate) async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let pairs: Vec<String> = fields
            .iter()
            .map(|(key, value)| format!("{}={}", encoded(key), encoded(value)))
            .collect();
        let request = Request::post(path)
            .header("host", "127.0.0.1:7700")
            .header("origin", "http://127.0.0.1:7700")
            .header("content-type", "application/x-www-form-urlencoded");
        self.ask(request.body(Body::from(pairs.join("&"))).unwrap())
            .await
    }

    /// A form with files: field, file name, bytes.
    pub(crate) async fn upload(
        &self,
        path: &str,
        fields: &[(&str, &str)],
        files: &[(&str, &str, Vec<u8>)],
    ) -> Answer {
        let mut body = Vec::new();
        for (name, value) in fields {
            let head =
                format!("--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n");
            body.extend([head.as_bytes(), value.as_bytes(), b"\r\n"].concat());
        }
        for (name, file, bytes) in files {
            let head = format!(
                "--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"{name}\"; filename=\"{file}\"\r\n\
                 Content-Type: application/octet-stream\r\n\r\n"
            );
            body.extend([head.as_bytes(), bytes, b"\r\n"].concat());
        }
        body.extend(format!("--{BOUNDARY}--\r\n").as_bytes());
        let request = Request::post(path).header("host", "127.0.0.1:7700").header(
            "content-type",
            format!("multipart/form-data; boundary={BOUNDARY}"),
        );
        self.ask(request.body(Body::from(body)).unwrap()).await
    }

    /// A Corran arrives; gives the address of its visit.
    pub(crate) async fn arrived(&self) -> String {
        let answer = self
            .upload(
                "/arrive",
                &[
                    ("owner_name", "Ada Wren"),
                    ("owner_email", "ada@wren.example"),
                    ("owner_address", "1 Mole Lane\nSaltmere"),
                    ("notes", "corran-66"),
                    ("serial.0.number", "20417"),
                    ("serial.0.at", "body"),
                    ("with", "case"),
                    ("with", "strap"),
                    ("words", "the slow speeds hang"),
                    ("wanted", "right again"),
                    ("declared", "240,50"),
                ],
                &[("photo", "front.png", photograph())],
            )
            .await;
        answer.goes_to().split('?').next().unwrap().to_owned()
    }
}

fn encoded(text: &str) -> String {
    let mut out = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() {
            out.push(char::from(byte));
        } else {
            write!(out, "%{byte:02X}").unwrap();
        }
    }
    out
}

/// A small photograph of nothing.
pub(crate) fn photograph() -> Vec<u8> {
    let mut bytes = Vec::new();
    image::RgbImage::from_fn(8, 6, |x, y| image::Rgb([x as u8 * 20, y as u8 * 30, 90]))
        .write_to(
            &mut std::io::Cursor::new(&mut bytes),
            image::ImageFormat::Png,
        )
        .unwrap();
    bytes
}

/// A recording of the Corran's dial, each mark fired twice, as a WAV file.
pub(crate) fn recording() -> Vec<u8> {
    let mut at = 0.8;
    let mut firings = Vec::new();
    for below in [1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0, 250.0, 500.0] {
        for _ in 0..2 {
            firings.push(Firing::new(Seconds::s(at), Seconds::s(1.1 / below)));
            at += 1.1 / below + 1.2;
        }
    }
    let take = Scene {
        shutter: LeafShutter::default(),
        firings,
        chain: Chain::default(),
        lasting: Seconds::s(at),
        seed: 7,
    }
    .record();
    wav(&take.samples, take.sample_rate.to_hz() as u32)
}

pub(crate) fn wav(samples: &[f32], rate: u32) -> Vec<u8> {
    let size = u32::try_from(samples.len() * 2).unwrap();
    let mut out = Vec::new();
    out.extend(b"RIFF");
    out.extend((36 + size).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(16u32.to_le_bytes());
    out.extend(1u16.to_le_bytes());
    out.extend(1u16.to_le_bytes());
    out.extend(rate.to_le_bytes());
    out.extend((rate * 2).to_le_bytes());
    out.extend(2u16.to_le_bytes());
    out.extend(16u16.to_le_bytes());
    out.extend(b"data");
    out.extend(size.to_le_bytes());
    for sample in samples {
        out.extend(((sample * 32767.0) as i16).to_le_bytes());
    }
    out
}

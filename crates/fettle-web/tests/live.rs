//! The socket through which a page listens to the shutter.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::io::{Read, Write};
use std::sync::Arc;

use fettle_bench::{Bench, BenchSettings, Currency, Hand};
use fettle_web::{AppState, Clock, serve};
use futures_util::{SinkExt, StreamExt};
use serde_json::{Value, json};
use tokio::net::{TcpListener, TcpStream};
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::tungstenite::{Error, Message};
use tokio_tungstenite::{WebSocketStream, client_async};

type Socket = WebSocketStream<TcpStream>;

struct Served {
    address: String,
    _dir: tempfile::TempDir,
}

/// A bench that listens on a port.
async fn served() -> Served {
    let dir = tempfile::tempdir().unwrap();
    let settings = BenchSettings::new("Saltmere", Currency::new("EUR").unwrap());
    let now: jiff::ZonedDateTime = "2026-11-25T10:30:00+00:00[UTC]".parse().unwrap();
    let bench = Bench::create(dir.path(), settings, &Hand::new("Ines"), now.timestamp()).unwrap();
    let state = AppState::new(Arc::new(bench), Clock::fixed(now), "Ines").unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap().to_string();
    tokio::spawn(serve(state, listener));
    Served { address, _dir: dir }
}

async fn connect(served: &Served, origin: Option<&str>) -> Result<Socket, Error> {
    let mut request = format!("ws://{}/shutter/live", served.address).into_client_request()?;
    if let Some(origin) = origin {
        request
            .headers_mut()
            .insert("origin", origin.parse().unwrap());
    }
    let stream = TcpStream::connect(&served.address).await?;
    Ok(client_async(request, stream).await?.0)
}

async fn own(served: &Served) -> Socket {
    connect(served, Some(&format!("http://{}", served.address)))
        .await
        .unwrap()
}

async fn say(socket: &mut Socket, word: Value) {
    socket.send(Message::text(word.to_string())).await.unwrap();
}

fn begin(speeds: &str) -> Value {
    json!({"kind": "begin", "rate_hz": 48_000.0, "channels": 1, "fields": [["model", ""], ["speeds", speeds], ["limits", ""]]})
}

async fn block(socket: &mut Socket, first: usize, samples: &[f32]) {
    let mut bytes = (first as u64).to_le_bytes().to_vec();
    bytes.extend(samples.iter().flat_map(|sample| sample.to_le_bytes()));
    socket.send(Message::binary(bytes)).await.unwrap();
}

/// The next word of this kind.
async fn hear(socket: &mut Socket, kind: &str) -> Value {
    loop {
        let message = socket.next().await.unwrap().unwrap();
        let Message::Text(text) = message else {
            panic!("no word of kind {kind} before {message:?}");
        };
        let word: Value = serde_json::from_str(text.as_str()).unwrap();
        if word["kind"] == kind {
            return word;
        }
        assert_ne!(word["kind"], "refused", "{word}");
    }
}

/// The session of the other tests as samples: two shots at 1/30.
fn samples() -> Vec<f32> {
    use fettle_measure::Seconds;
    use fettle_measure::synth::{Chain, Firing, LeafShutter, Scene};
    let firing = |at: f64| Firing::new(Seconds::s(at), Seconds::ms(34.0));
    let scene = Scene {
        shutter: LeafShutter::default(),
        firings: vec![firing(0.6), firing(1.9)],
        chain: Chain::default(),
        lasting: Seconds::s(3.4),
        seed: 3,
    };
    scene.record().samples
}

#[tokio::test]
async fn shots_are_told_as_they_fall_and_the_recording_is_kept_for_the_form() {
    let served = served().await;
    let mut socket = own(&served).await;
    say(&mut socket, begin("1/15, 1/30, 1/60")).await;
    let begun = hear(&mut socket, "begun").await;
    assert_eq!(begun["marks"], json!(["1/15", "1/30", "1/60"]));
    let samples = samples();
    for (n, part) in samples.chunks(1024).enumerate() {
        block(&mut socket, n * 1024, part).await;
    }
    let mut fresh = Vec::new();
    while fresh.len() < 2 {
        let state = hear(&mut socket, "state").await;
        if let Some(sentence) = state["fresh"]["sentence"].as_str() {
            assert_eq!(state["fresh"]["tone"], "good");
            fresh.push(sentence.to_owned());
        }
    }
    assert!(
        fresh[0].starts_with("Shot 1: 34") && fresh[1].starts_with("Shot 2: 34"),
        "{fresh:?}"
    );
    say(&mut socket, json!({"kind": "finish"})).await;
    hear(&mut socket, "finished").await;

    let token = begun["token"].as_str().unwrap();
    let path = format!("/shutter/live/{token}/recording.wav");
    let answer = get(&served, &path).await;
    let read = fettle_measure::recording::read("a.wav", std::io::Cursor::new(answer)).unwrap();
    assert_eq!(read.length(), samples.len());
    assert!(!read.is_header_repaired());
    let report = post(
        &served,
        "/shutter",
        &format!("model=&speeds=1%2F15+1%2F30+1%2F60&limits=&live={token}"),
    )
    .await;
    assert!(
        report.contains("Look closely") && report.contains("1/30"),
        "{report}"
    );
    let window = get(
        &served,
        &format!("/shutter/live/{token}/samples?from=28000&to=31000&columns=100"),
    )
    .await;
    let window: Value = serde_json::from_slice(&window).unwrap();
    assert_eq!(window["per_column"], 30);
    assert_eq!(window["whole"], true);
}

#[tokio::test]
async fn a_struck_shot_is_drawn_struck() {
    let served = served().await;
    let mut socket = own(&served).await;
    say(&mut socket, begin("1/30")).await;
    hear(&mut socket, "begun").await;
    for (n, part) in samples()[..60_000].chunks(1024).enumerate() {
        block(&mut socket, n * 1024, part).await;
    }
    let start = loop {
        let state = hear(&mut socket, "state").await;
        if !state["fresh"].is_null() {
            break state["last"][0].clone();
        }
    };
    say(
        &mut socket,
        json!({"kind": "strike", "start_s": start, "struck": true}),
    )
    .await;
    let struck = hear(&mut socket, "state").await;
    assert_eq!(struck["last"][1], true);
    assert!(
        struck["html"]["shots"]
            .as_str()
            .unwrap()
            .contains("Count again")
    );
}

#[tokio::test]
async fn a_page_of_another_site_cannot_listen() {
    let served = served().await;
    for origin in [None, Some("http://saltmere.example"), Some("null")] {
        let refused = connect(&served, origin).await;
        let Err(Error::Http(answer)) = refused else {
            panic!("{origin:?} was let in");
        };
        assert_eq!(answer.status(), 403);
    }
}

#[tokio::test]
async fn what_makes_no_sense_is_refused_in_words() {
    let served = served().await;
    for (word, said) in [
        (begin("tomorrow"), "tomorrow"),
        (
            json!({"kind": "begin", "rate_hz": 1.0, "channels": 1, "fields": []}),
            "samples a second",
        ),
        (
            json!({"kind": "begin", "rate_hz": 48_000.0, "channels": 99, "fields": []}),
            "channels",
        ),
        (json!({"kind": "sing"}), "reload"),
    ] {
        let mut socket = own(&served).await;
        say(&mut socket, word).await;
        let refused = hear_refusal(&mut socket).await;
        assert!(refused.contains(said), "{refused}");
    }
    let mut socket = own(&served).await;
    say(&mut socket, begin("1/30")).await;
    hear(&mut socket, "begun").await;
    block(&mut socket, 40_000_000, &[0.0; 64]).await;
    assert!(hear_refusal(&mut socket).await.contains("faster"));
}

#[tokio::test]
async fn no_more_sessions_listen_than_the_computer_bears() {
    let served = served().await;
    let mut sockets = Vec::new();
    for _ in 0..3 {
        let mut socket = own(&served).await;
        say(&mut socket, begin("1/30")).await;
        hear(&mut socket, "begun").await;
        sockets.push(socket);
    }
    let mut socket = own(&served).await;
    say(&mut socket, begin("1/30")).await;
    assert!(
        hear_refusal(&mut socket)
            .await
            .contains("listening already")
    );
}

async fn hear_refusal(socket: &mut Socket) -> String {
    loop {
        let message = socket.next().await.unwrap().unwrap();
        let word: Value = serde_json::from_str(message.to_text().unwrap()).unwrap();
        if word["kind"] == "refused" {
            return word["why"].as_str().unwrap().to_owned();
        }
    }
}

async fn get(served: &Served, path: &str) -> Vec<u8> {
    ask(
        served,
        &format!(
            "GET {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n\r\n",
            served.address
        ),
    )
    .await
}

/// Sends a form and follows to where it leads.
async fn post(served: &Served, path: &str, form: &str) -> String {
    let head = format!(
        "POST {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\ncontent-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{form}",
        served.address,
        form.len()
    );
    let (head, _) = exchange(served, &head).await;
    assert!(head.starts_with("HTTP/1.1 303"), "{head}");
    let to = head.split("location: ").nth(1).unwrap().lines().next();
    String::from_utf8(get(served, to.unwrap()).await).unwrap()
}

/// The body of an answer that must be good.
async fn ask(served: &Served, request: &str) -> Vec<u8> {
    let (head, body) = exchange(served, request).await;
    assert!(head.starts_with("HTTP/1.1 200"), "{head}");
    body
}

/// An answer's head and body.
async fn exchange(served: &Served, request: &str) -> (String, Vec<u8>) {
    let (address, request) = (served.address.clone(), request.to_owned());
    let exchange = move || {
        let mut stream = std::net::TcpStream::connect(address).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        answer
    };
    let mut answer = tokio::task::spawn_blocking(exchange).await.unwrap();
    let head = answer
        .windows(4)
        .position(|four| four == b"\r\n\r\n")
        .unwrap();
    let text = String::from_utf8_lossy(&answer[..head]).into_owned();
    (text, answer.split_off(head + 4))
}

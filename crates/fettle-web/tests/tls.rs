//! A bench open to its network, over real sockets with TLS.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use fettle_bench::{Bench, BenchSettings, Currency, Hand};
use fettle_door::{Chance, Cost, Door, Passphrase};
use fettle_web::{AppState, Clock, Limits, Network, serve_network_until};
use futures_util::{SinkExt, StreamExt};
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio_rustls::TlsConnector;
use tokio_rustls::client::TlsStream;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName};
use tokio_rustls::rustls::{ClientConfig, RootCertStore, crypto::ring};
use tokio_tungstenite::client_async;
use tokio_tungstenite::tungstenite::client::IntoClientRequest;
use tokio_tungstenite::tungstenite::{Error, Message};

const WORDS: &str = "brass shim under lamp";

struct Served {
    address: SocketAddr,
    door: Arc<Door>,
    connector: TlsConnector,
    _dir: tempfile::TempDir,
}

async fn served(limits: Limits) -> Served {
    let dir = tempfile::tempdir().unwrap();
    let settings = BenchSettings::new("Saltmere", Currency::new("EUR").unwrap());
    // The certificate is checked against the computer's own clock.
    let now = jiff::Timestamp::now();
    let bench = Bench::create(dir.path(), settings, &Hand::new("bench"), now).unwrap();
    let door = Door::of_bench(dir.path(), Chance::system()).with_cost(Cost::LEAST);
    door.add("Ines", &Passphrase::new(WORDS).unwrap(), now)
        .unwrap();
    let door = Arc::new(door);
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let network = Network::at(address, &door, now).unwrap();
    let mut roots = RootCertStore::empty();
    let certificate =
        CertificateDer::from_pem_slice(network.certificate().certificate_pem().as_bytes());
    roots.add(certificate.unwrap()).unwrap();
    let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    let state = AppState::new(Arc::new(bench), Clock::system(), "bench")
        .unwrap()
        .with_door(Arc::clone(&door))
        .with_network(network);
    tokio::spawn(serve_network_until(
        state,
        listener,
        limits,
        std::future::pending(),
    ));
    Served {
        address,
        door,
        connector: TlsConnector::from(Arc::new(config)),
        _dir: dir,
    }
}

impl Served {
    async fn connect(&self) -> TlsStream<TcpStream> {
        let stream = TcpStream::connect(self.address).await.unwrap();
        let name = ServerName::from(self.address.ip());
        self.connector.connect(name, stream).await.unwrap()
    }

    /// A whole answer to a request, whose head is given without host and end.
    async fn ask(&self, head: &str, body: &str) -> String {
        let mut stream = self.connect().await;
        let request = format!(
            "{head}\r\nhost: {}\r\nconnection: close\r\n\r\n{body}",
            self.address
        );
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut answer = Vec::new();
        // A server that closes at once may leave out the end of TLS.
        let _ = stream.read_to_end(&mut answer).await;
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// The cookie of a device that has come in.
    async fn cookie(&self) -> String {
        let body = format!("hand=Ines&passphrase={}", WORDS.replace(' ', "+"));
        let head = format!(
            "POST /enter HTTP/1.1\r\norigin: https://{}\r\ncontent-type: application/x-www-form-urlencoded\r\ncontent-length: {}",
            self.address,
            body.len()
        );
        let answer = self.ask(&head, &body).await;
        assert!(answer.starts_with("HTTP/1.1 303"), "{answer}");
        let line = answer
            .lines()
            .find(|line| line.starts_with("set-cookie: "))
            .unwrap();
        assert!(line.contains("; Secure; HttpOnly; SameSite=Lax"), "{line}");
        let pair = line.trim_start_matches("set-cookie: ");
        pair.split(';').next().unwrap().to_owned()
    }

    async fn socket(
        &self,
        cookie: Option<&str>,
    ) -> Result<tokio_tungstenite::WebSocketStream<TlsStream<TcpStream>>, Error> {
        let mut request = format!("wss://{}/shutter/live", self.address).into_client_request()?;
        let headers = request.headers_mut();
        headers.insert(
            "origin",
            format!("https://{}", self.address).parse().unwrap(),
        );
        if let Some(cookie) = cookie {
            headers.insert("cookie", cookie.parse().unwrap());
        }
        Ok(client_async(request, self.connect().await).await?.0)
    }
}

#[tokio::test]
async fn pages_are_given_over_tls_to_who_came_in() {
    let served = served(Limits::default()).await;
    let stranger = served.ask("GET /cameras HTTP/1.1", "").await;
    assert!(
        stranger.starts_with("HTTP/1.1 303") && stranger.contains("location: /enter?to=%2Fcameras"),
        "{stranger}"
    );
    let door = served.ask("GET /enter HTTP/1.1", "").await;
    assert!(door.starts_with("HTTP/1.1 200"), "{door}");
    assert!(
        !door.to_lowercase().contains("strict-transport-security"),
        "{door}"
    );
    let cookie = served.cookie().await;
    let inside = served
        .ask(&format!("GET /cameras HTTP/1.1\r\ncookie: {cookie}"), "")
        .await;
    assert!(
        inside.starts_with("HTTP/1.1 200") && inside.contains("<bdi>Ines</bdi>"),
        "{inside}"
    );
}

#[tokio::test]
async fn an_address_typed_without_https_leads_to_it() {
    let served = served(Limits::default()).await;
    let mut stream = TcpStream::connect(served.address).await.unwrap();
    let request = "GET /cameras HTTP/1.1\r\nhost: saltmere.example\r\n\r\n";
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    assert!(answer.starts_with("HTTP/1.1 307"), "{answer}");
    assert!(
        answer.contains(&format!("location: https://{}/\r\n", served.address)),
        "{answer}"
    );
}

#[tokio::test]
async fn the_live_socket_is_behind_the_same_door_and_ends_with_the_session() {
    let served = served(Limits::default()).await;
    for cookie in [None, Some("__Host-fettle=made-up")] {
        let Err(Error::Http(refused)) = served.socket(cookie).await else {
            panic!("{cookie:?} was let in");
        };
        assert_eq!(refused.status(), 401);
    }
    let cookie = served.cookie().await;
    let mut socket = served.socket(Some(&cookie)).await.unwrap();
    let begin = json!({"kind": "begin", "rate_hz": 48_000.0, "channels": 1, "fields": [["model", ""], ["speeds", "1/30"], ["limits", ""]]});
    socket.send(Message::text(begin.to_string())).await.unwrap();
    let begun = socket.next().await.unwrap().unwrap();
    assert!(begun.to_text().unwrap().contains("begun"), "{begun:?}");
    let session = served.door.sessions(jiff::Timestamp::now()).unwrap();
    served.door.end(&session[0].name).unwrap();
    let mut last = Value::Null;
    while let Some(Ok(Message::Text(text))) = socket.next().await {
        last = serde_json::from_str(text.as_str()).unwrap();
    }
    assert_eq!(last["kind"], "refused", "{last}");
    assert!(
        last["why"].as_str().unwrap().contains("session was ended"),
        "{last}"
    );
}

#[tokio::test]
async fn handshakes_that_go_nowhere_and_idle_crowds_do_not_keep_a_tablet_out() {
    let short = Limits {
        handshake: Duration::from_millis(300),
        connections: 20,
        of_one_address: 20,
        ..Limits::default()
    };
    let served = served(short).await;
    let mut silent = Vec::new();
    for n in 0..100 {
        let mut stream = TcpStream::connect(served.address).await.unwrap();
        if n % 2 == 0 {
            // The beginning of a handshake, and nothing more.
            let _ = stream.write_all(&[0x16, 3, 1, 2, 0]).await;
        }
        silent.push(stream);
    }
    let door = served.ask("GET /enter HTTP/1.1", "").await;
    assert!(door.starts_with("HTTP/1.1 200"), "{door}");
    // The last ones, which nobody sent away, are closed for being silent.
    let mut last = silent.pop().unwrap();
    let mut rest = Vec::new();
    let closed = tokio::time::timeout(Duration::from_secs(60), last.read_to_end(&mut rest)).await;
    assert!(closed.is_ok(), "a silent connection was left open");
}

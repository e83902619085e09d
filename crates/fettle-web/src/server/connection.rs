//! One connection from its beginning to its end.

use std::convert::Infallible;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::Request;
use axum::response::Response;
use http_body::{Frame, SizeHint};
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::watch;
use tokio::time::timeout;
use tokio_io_timeout::TimeoutStream;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;
use tower::Service;

use super::crowd::{AtWork, Seat};
use super::limits::Limits;
use super::patience::Patience;

/// Both ends of the connection that a request came by; each request carries it as an extension.
#[derive(Clone, Copy, Debug)]
pub struct Ends {
    /// The address that was asked.
    pub here: SocketAddr,
    /// The address that asks.
    pub there: SocketAddr,
}

/// How a handshake of TLS begins; what begins otherwise is no TLS.
const HANDSHAKE: u8 = 0x16;

/// What every connection of a listener is given.
#[derive(Clone)]
pub(super) struct Hall {
    pub(super) router: Router,
    pub(super) limits: Limits,
    /// Speaks TLS, if this listener does.
    pub(super) tls: Option<TlsAcceptor>,
    /// Turns true when the server is to end.
    pub(super) stopping: watch::Receiver<bool>,
}

/// Speaks HTTP on a fresh connection until it ends, is sent away or stalls.
pub(super) async fn attend(mut hall: Hall, stream: TcpStream, seat: Arc<Seat>) {
    let (Ok(here), Ok(there)) = (stream.local_addr(), stream.peer_addr()) else {
        return;
    };
    let ends = Ends { here, there };
    let limits = hall.limits;
    // Answers go out as they are written; without this a small one waits for the last one's receipt.
    let _ = stream.set_nodelay(true);
    let Some(tls) = hall.tls.take() else {
        speak(hall, unhurried(stream, &limits), ends, seat).await;
        return;
    };
    let handshake = timeout(limits.handshake, shake_hands(&tls, stream, &limits, here));
    let shaken = tokio::select! {
        shaken = handshake => shaken,
        () = seat.sent_away() => return,
    };
    if let Ok(Some(stream)) = shaken {
        speak(hall, stream, ends, seat).await;
    }
}

type Unhurried = Pin<Box<TimeoutStream<TcpStream>>>;

/// A stream whose other side must take something now and then.
fn unhurried(stream: TcpStream, limits: &Limits) -> Unhurried {
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(limits.stall));
    Box::pin(stream)
}

async fn shake_hands(
    tls: &TlsAcceptor,
    mut stream: TcpStream,
    limits: &Limits,
    here: SocketAddr,
) -> Option<TlsStream<Unhurried>> {
    let mut first = [0];
    stream.peek(&mut first).await.ok()?;
    if first == [HANDSHAKE] {
        return tls.accept(unhurried(stream, limits)).await.ok();
    }
    // An address typed without `https://` is asked for without TLS first.
    let mut head = [0; 4096];
    let _ = stream.read(&mut head).await;
    let answer = format!(
        "HTTP/1.1 307 Temporary Redirect\r\nlocation: https://{here}/\r\nconnection: close\r\ncontent-length: 0\r\n\r\n"
    );
    let _ = stream.write_all(answer.as_bytes()).await;
    let _ = stream.shutdown().await;
    None
}

async fn speak<S>(mut hall: Hall, stream: S, ends: Ends, seat: Arc<Seat>)
where
    S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let limits = hall.limits;
    let router = hall.router;
    let working = Arc::clone(&seat);
    let service =
        service_fn(move |request| answer(router.clone(), request, ends, limits, &working));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.header)
        .max_headers(Limits::HEADERS)
        .max_header_size(Limits::HEAD_BYTES)
        .serve_connection(TokioIo::new(stream), service)
        .with_upgrades();
    let mut connection = std::pin::pin!(connection);
    tokio::select! {
        // How it ended is the client's affair: it hung up, was too slow, or said what is no request.
        _ = connection.as_mut() => return,
        () = seat.sent_away() => return,
        _ = hall.stopping.wait_for(|stopping| *stopping) => {}
    }
    connection.as_mut().graceful_shutdown();
    let _ = connection.await;
}

fn answer(
    mut router: Router,
    request: hyper::Request<Incoming>,
    ends: Ends,
    limits: Limits,
    seat: &Arc<Seat>,
) -> impl Future<Output = Result<Response, Infallible>> + use<> {
    let work = Arc::new(seat.work());
    async move {
        let mut request: Request = request.map(|body| Body::new(Patience::with(body, &limits)));
        request.extensions_mut().insert(ends);
        request.extensions_mut().insert(Arc::clone(&work));
        let response = router.call(request).await?;
        Ok(response.map(|body| Body::new(Outgoing { body, _work: work })))
    }
}

/// An answer on its way out: the connection is at work until all of it is written.
struct Outgoing {
    body: Body,
    _work: Arc<AtWork>,
}

impl http_body::Body for Outgoing {
    type Data = Bytes;
    type Error = axum::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, axum::Error>>> {
        Pin::new(&mut self.body).poll_frame(context)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}

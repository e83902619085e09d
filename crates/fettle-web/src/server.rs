//! Running the site on a listener, within limits.

mod connection;
mod crowd;
mod limits;
mod patience;

use std::future::{Future, pending};
use std::io;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use tokio::net::TcpListener;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio_rustls::TlsAcceptor;

pub use self::connection::Ends;
use self::connection::Hall;
use self::crowd::Crowd;
pub(crate) use self::crowd::{AtWork, neighbourhood};
pub use self::limits::Limits;
use crate::door::Network;
use crate::routes::router;
use crate::state::AppState;

/// How long the listener rests when the system has nothing left to give a connection.
const REST: Duration = Duration::from_millis(200);

/// Serves the site on `listener` until the process ends.
///
/// # Errors
///
/// When the listener has no loopback address: without TLS the record is for this computer alone.
pub async fn serve(state: AppState, listener: TcpListener) -> io::Result<()> {
    serve_until(state, listener, Limits::default(), pending()).await
}

/// Serves the site on `listener` until `stop` is done; requests under way are then answered first.
///
/// # Errors
///
/// When the listener has no loopback address: without TLS the record is for this computer alone.
pub async fn serve_until(
    state: AppState,
    listener: TcpListener,
    limits: Limits,
    stop: impl Future<Output = ()> + Send,
) -> io::Result<()> {
    let address = listener.local_addr()?;
    if !address.ip().is_loopback() {
        let message = format!(
            "{address} can be reached from other computers; listen on 127.0.0.1 or [::1] instead"
        );
        return Err(io::Error::new(io::ErrorKind::AddrNotAvailable, message));
    }
    let router = router(state.with_port(address.port()));
    run(router, listener, limits, None, stop).await;
    Ok(())
}

/// Serves the site to the network over TLS until `stop` is done; everybody is asked for a session.
///
/// # Errors
///
/// When the state has no [`Network`](crate::Network), or its certificate cannot be used.
pub async fn serve_network_until(
    state: AppState,
    listener: TcpListener,
    limits: Limits,
    stop: impl Future<Output = ()> + Send,
) -> io::Result<()> {
    let Some(tls) = state.network().map(Network::tls) else {
        return Err(io::Error::other(
            "this bench is not open to its network: give it a certificate first",
        ));
    };
    let tls = TlsAcceptor::from(tls?);
    run(
        router(state.for_network()),
        listener,
        limits,
        Some(tls),
        stop,
    )
    .await;
    Ok(())
}

async fn run(
    router: Router,
    listener: TcpListener,
    limits: Limits,
    tls: Option<TlsAcceptor>,
    stop: impl Future<Output = ()> + Send,
) {
    let crowd = Arc::new(Crowd::new(&limits));
    let (stopping, told) = watch::channel(false);
    let hall = Hall {
        router,
        limits,
        tls,
        stopping: told,
    };
    let mut connections = JoinSet::new();
    let mut stop = std::pin::pin!(stop);
    loop {
        let came = tokio::select! {
            came = listener.accept() => came,
            Some(_) = connections.join_next() => continue,
            () = &mut stop => break,
        };
        match came {
            // Where all are at work a newcomer is turned away at once, which a browser tells its user.
            Ok((stream, there)) => {
                if let Some(seat) = crowd.enter(there.ip()) {
                    connections.spawn(connection::attend(hall.clone(), stream, seat));
                }
            }
            Err(error) if is_the_client_s(&error) => {}
            Err(_) => tokio::time::sleep(REST).await,
        }
    }
    drop(listener);
    // Nobody may be listening any more.
    let _ = stopping.send(true);
    while connections.join_next().await.is_some() {}
}

fn is_the_client_s(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::ConnectionAborted
            | io::ErrorKind::ConnectionRefused
            | io::ErrorKind::ConnectionReset
    )
}

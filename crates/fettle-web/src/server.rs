//! Running the site on a listener.

use std::future::{Future, pending};
use std::io;

use tokio::net::TcpListener;

use crate::routes::router;
use crate::state::AppState;

/// Serves the site on `listener` until the process ends.
///
/// # Errors
///
/// When the listener has no loopback address: the record is for this computer alone.
pub async fn serve(state: AppState, listener: TcpListener) -> io::Result<()> {
    serve_until(state, listener, pending()).await
}

/// Serves the site on `listener` until `stop` is done; requests under way are then answered first.
///
/// # Errors
///
/// When the listener has no loopback address: the record is for this computer alone.
pub async fn serve_until(
    state: AppState,
    listener: TcpListener,
    stop: impl Future<Output = ()> + Send + 'static,
) -> io::Result<()> {
    let address = listener.local_addr()?;
    if !address.ip().is_loopback() {
        let message = format!(
            "{address} can be reached from other computers; listen on 127.0.0.1 or [::1] instead"
        );
        return Err(io::Error::new(io::ErrorKind::AddrNotAvailable, message));
    }
    axum::serve(listener, router(state.with_port(address.port())))
        .with_graceful_shutdown(stop)
        .await
}

//! `fettle serve`: the pages of a bench in the browser.

use std::future::{Future, poll_fn};
use std::io::{self, Write};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::pin::pin;
use std::sync::Arc;
use std::task::Poll;
use std::time::Duration;

use fettle_bench::{Bench, Hand};
use fettle_web::{AppState, Clock, serve_until};
use tokio::sync::oneshot;

use crate::error::{CliError, reason};

/// Where the pages are unless told otherwise.
const PORT: u16 = 4780;
/// How many ports are tried from there on.
const PORTS: u16 = 20;
/// Requests under way are given so long when the program is told to stop.
const GRACE: Duration = Duration::from_secs(3);

/// Open a bench in the browser.
///
/// Prints the address and serves the pages until Ctrl-C is pressed. The pages can be reached from
/// this computer only. Everything is written as it is entered: there is nothing to save.
///
///   fettle serve --bench my-bench
///   fettle serve --bench my-bench --listen 127.0.0.1:5000
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub(crate) struct Args {
    /// The folder of the bench [default: the current folder].
    #[arg(long, value_name = "DIR")]
    bench: Option<PathBuf>,
    #[command(flatten)]
    site: Site,
}

/// How a bench is served.
#[derive(Debug, clap::Args)]
pub(crate) struct Site {
    /// Address and port to listen on, on this computer; port 0 takes any that is free
    /// [default: 127.0.0.1:4780, or the next port that is free].
    #[arg(long, value_name = "ADDR", value_parser = this_computer)]
    listen: Option<SocketAddr>,
    /// Who works at the bench: the name that stands in the journal.
    #[arg(long, value_name = "NAME", default_value = "bench", value_parser = hand)]
    hand: String,
}

/// Opens the bench and serves it until Ctrl-C.
pub(crate) fn run(
    args: &Args,
    out: &mut dyn Write,
    remarks: &mut dyn Write,
) -> Result<(), CliError> {
    let bench = Bench::open(&bench_or_here(args.bench.as_deref())?).map_err(CliError::work)?;
    args.site.serve(bench, out, remarks)
}

/// The folder that was named, else the current one when it is a bench.
pub(super) fn bench_or_here(named: Option<&Path>) -> Result<PathBuf, CliError> {
    named.map_or_else(here, |dir| Ok(dir.to_owned()))
}

/// The current folder, when it is a bench.
fn here() -> Result<PathBuf, CliError> {
    let here = Path::new(".");
    if here.join("bench.db").is_file() {
        return Ok(here.to_owned());
    }
    Err(CliError::work(
        "no bench was named and the current folder is none: name one with --bench, make one with \
         `fettle new DIR`, or look round an invented one with `fettle demo`",
    ))
}

impl Site {
    /// Prints the address of the pages on `out` and serves them until Ctrl-C.
    pub(crate) fn serve(
        &self,
        bench: Bench,
        out: &mut dyn Write,
        remarks: &mut dyn Write,
    ) -> Result<(), CliError> {
        let name = bench.settings().map_err(CliError::work)?.name;
        let state =
            AppState::new(Arc::new(bench), Clock::system(), &self.hand).map_err(CliError::work)?;
        let listener = self.listener(remarks)?;
        let address = listener
            .local_addr()
            .map_err(|error| cannot_serve(&error))?;
        listener
            .set_nonblocking(true)
            .map_err(|error| cannot_serve(&error))?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .map_err(|error| cannot_serve(&error))?;
        let announce = || {
            writeln!(out, "{name}: http://{address}/ (Ctrl-C to stop)")?;
            out.flush().map_err(CliError::from)
        };
        let served = runtime.block_on(until_stopped(state, listener, announce));
        // Work that hangs on a dead disk must not keep the program.
        runtime.shutdown_timeout(GRACE);
        served
    }

    fn listener(&self, remarks: &mut dyn Write) -> Result<TcpListener, CliError> {
        if let Some(address) = self.listen {
            return TcpListener::bind(address).map_err(|error| match error.kind() {
                io::ErrorKind::AddrInUse => CliError::work(format!(
                    "{address} is taken by another program: give another port with --listen, or port 0 for any"
                )),
                _ => CliError::work(format!("cannot listen on {address}: {}", reason(&error))),
            });
        }
        for port in PORT..PORT + PORTS {
            match TcpListener::bind((Ipv4Addr::LOCALHOST, port)) {
                Ok(listener) => {
                    if port != PORT {
                        writeln!(
                            remarks,
                            "port {PORT} is taken by another program; using {port}"
                        )?;
                    }
                    return Ok(listener);
                }
                Err(error) if error.kind() == io::ErrorKind::AddrInUse => {}
                Err(error) => return Err(cannot_serve(&error)),
            }
        }
        Err(CliError::work(format!(
            "ports {PORT} to {} are all taken: give another with --listen, or port 0 for any",
            PORT + PORTS - 1
        )))
    }
}

/// Announces the pages and serves until Ctrl-C, then lets requests under way finish for a while.
async fn until_stopped(
    state: AppState,
    listener: TcpListener,
    announce: impl FnOnce() -> Result<(), CliError>,
) -> Result<(), CliError> {
    let failed = |error| cannot_serve(&error);
    let listener = tokio::net::TcpListener::from_std(listener).map_err(failed)?;
    let mut interrupted = pin!(tokio::signal::ctrl_c());
    // Polled once before anything is announced: from then on Ctrl-C is heard.
    if let Poll::Ready(heard) = poll_fn(|it| Poll::Ready(interrupted.as_mut().poll(it))).await {
        return heard.map_err(failed);
    }
    announce()?;
    let (stop, stopped) = oneshot::channel::<()>();
    let served = serve_until(state, listener, async {
        // Either end of the channel going away means stop.
        let _ = stopped.await;
    });
    let interrupted = async {
        interrupted.await?;
        drop(stop);
        tokio::time::sleep(GRACE).await;
        Ok(())
    };
    tokio::select! {
        done = served => done.map_err(failed),
        done = interrupted => done.map_err(failed),
    }
}

fn cannot_serve(error: &io::Error) -> CliError {
    CliError::work(format!(
        "cannot serve the pages: {}; close other programs and try again",
        reason(error)
    ))
}

fn this_computer(text: &str) -> Result<SocketAddr, String> {
    let address: SocketAddr = text
        .replacen("localhost", "127.0.0.1", 1)
        .parse()
        .map_err(|_| {
            "give an address and a port, such as 127.0.0.1:4780 or [::1]:4780".to_owned()
        })?;
    // The names that the pages answer to; other loopback addresses would be refused page by page.
    let own = [
        IpAddr::V4(Ipv4Addr::LOCALHOST),
        IpAddr::V6(Ipv6Addr::LOCALHOST),
    ];
    if own.contains(&address.ip()) {
        Ok(address)
    } else {
        Err(
            "a bench is for this computer only: give 127.0.0.1, localhost or [::1] and a port"
                .to_owned(),
        )
    }
}

/// A name that can stand in the journal.
pub(crate) fn hand(text: &str) -> Result<String, String> {
    Hand::checked(text)
        .map(|hand| hand.as_str().to_owned())
        .map_err(|why| format!("the name of who works at the bench {why}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hand_is_a_name_that_the_journal_takes() {
        assert_eq!(hand(" Ines "), Ok("Ines".to_owned()));
        for bad in ["", "  ", "Ines\nTomas", "a\tb", &"x".repeat(501)] {
            assert!(hand(bad).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn only_this_computer_is_listened_on() {
        for good in ["127.0.0.1:4780", "[::1]:4780", "localhost:0"] {
            assert!(this_computer(good).is_ok(), "{good}");
        }
        for (bad, why) in [
            ("0.0.0.0:4780", "this computer only"),
            ("127.0.0.2:4780", "127.0.0.1, localhost or [::1]"),
            ("127.8.8.8:1", "127.0.0.1, localhost or [::1]"),
            ("[::]:4780", "this computer only"),
            ("192.0.2.7:4780", "this computer only"),
            ("4780", "address and a port"),
            ("localhost", "address and a port"),
        ] {
            assert!(
                this_computer(bad).is_err_and(|message| message.contains(why)),
                "{bad}"
            );
        }
    }
}

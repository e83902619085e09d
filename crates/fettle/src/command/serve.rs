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
use fettle_door::Door;
use fettle_web::{
    AppState, Clock, Limits, Network, keep_backups, read_ahead, serve_network_until, serve_until,
};
use jiff::Timestamp;
use tokio::sync::watch;

use crate::error::{CliError, reason};

/// Where the pages are unless told otherwise.
const PORT: u16 = 4780;
/// How many ports are tried from there on.
const PORTS: u16 = 20;
/// Where tablets find the pages unless told otherwise. Always the same: their addresses hold it.
const LAN_PORT: u16 = 4800;
/// Requests under way are given so long when the program is told to stop.
const GRACE: Duration = Duration::from_secs(3);

/// Open a bench in the browser.
///
/// Prints the address and serves the pages until Ctrl-C is pressed. The pages can be reached from
/// this computer only, unless --lan opens them to tablets in the same network: these speak TLS with
/// a certificate that the bench makes itself, and everybody there must come in first, by a passphrase
/// (`fettle hands add`) or by a code on the page /pair. Everything is written as it is entered: there
/// is nothing to save.
///
///   fettle serve --bench my-bench
///   fettle serve --bench my-bench --listen 127.0.0.1:5000
///   fettle serve --bench my-bench --lan
///   fettle serve --bench my-bench --lan 192.168.1.20:4800
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
    /// Open the pages to tablets in this computer's network too, over TLS, at this address and port
    /// [default: every address of this computer, port 4800].
    #[arg(long, value_name = "ADDR", num_args = 0..=1, default_missing_value = "0.0.0.0", value_parser = lan)]
    lan: Option<SocketAddr>,
    /// Who works at this computer: the name that stands in the journal. Who comes in over the network
    /// has their own.
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
        let mut state =
            AppState::new(Arc::new(bench), Clock::system(), &self.hand).map_err(CliError::work)?;
        if let Err(error) = keep_backups(&state) {
            writeln!(
                remarks,
                "no scheduled backup is made while this runs: {}",
                reason(&error)
            )?;
        }
        // Without it the first page that asks reads for itself.
        let _begun = read_ahead(&state);
        let listener = self.listener(remarks)?;
        let address = listener
            .local_addr()
            .map_err(|error| cannot_serve(&error))?;
        let opened = self.lan.map(open_to).transpose()?;
        let mut told = format!("{name}: http://{address}/ (Ctrl-C to stop)\n");
        if let Some((_, listens)) = &opened {
            let network =
                Network::at(*listens, state.door(), Timestamp::now()).map_err(CliError::work)?;
            told.push_str(&in_the_network(&network));
            remark_on(&network, state.door(), remarks)?;
            state = state.with_network(network);
        }
        listener
            .set_nonblocking(true)
            .map_err(|error| cannot_serve(&error))?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .map_err(|error| cannot_serve(&error))?;
        let announce = || {
            out.write_all(told.as_bytes())?;
            out.flush().map_err(CliError::from)
        };
        let lan = opened.map(|(listener, _)| listener);
        let served = runtime.block_on(until_stopped(state, listener, lan, announce));
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

/// Listens for tablets; which address and port it came to be.
fn open_to(address: SocketAddr) -> Result<(TcpListener, SocketAddr), CliError> {
    let told = |error: io::Error| match error.kind() {
        io::ErrorKind::AddrInUse => CliError::work(format!(
            "{address} is taken by another program: end it, or give another port with --lan ADDR:PORT"
        )),
        io::ErrorKind::AddrNotAvailable => CliError::work(format!(
            "{address} is no address of this computer: give one of its own with --lan, or none for all"
        )),
        _ => CliError::work(format!("cannot listen on {address}: {}", reason(&error))),
    };
    let listener = TcpListener::bind(address).map_err(told)?;
    listener.set_nonblocking(true).map_err(told)?;
    let listens = listener.local_addr().map_err(told)?;
    Ok((listener, listens))
}

/// Where tablets find the pages, and by what they know them.
fn in_the_network(network: &Network) -> String {
    let sites = network.sites();
    let mut told = String::new();
    for site in &sites {
        told.push_str(&format!("in its network: {site}/\n"));
    }
    if sites.is_empty() {
        told.push_str("in its network: this computer has no address there just now\n");
    }
    told.push_str("certificate, SHA-256:\n");
    let pairs: Vec<&str> = network.fingerprint().split(':').collect();
    for line in pairs.chunks(16) {
        told.push_str(&format!("  {}\n", line.join(":")));
    }
    told
}

/// What has to be known or done before a tablet comes in.
fn remark_on(network: &Network, door: &Door, remarks: &mut dyn Write) -> Result<(), CliError> {
    if network.is_new() {
        writeln!(
            remarks,
            "a certificate was made: each tablet's browser warns once that it does not know it; compare the fingerprint before going on"
        )?;
    } else if let Some(unnamed) = network.unnamed().first() {
        writeln!(
            remarks,
            "this computer's address is {unnamed} now: tablets warn once more at it, with the same fingerprint, and come in anew"
        )?;
    }
    if door.hands().map_err(CliError::work)?.is_empty() {
        writeln!(
            remarks,
            "nobody may come in from the network yet: add bench-hands on the page /hands, or with `fettle hands add NAME`"
        )?;
    }
    Ok(())
}

/// Announces the pages and serves until Ctrl-C, then lets requests under way finish for a while.
async fn until_stopped(
    state: AppState,
    listener: TcpListener,
    lan: Option<TcpListener>,
    announce: impl FnOnce() -> Result<(), CliError>,
) -> Result<(), CliError> {
    let failed = |error| cannot_serve(&error);
    let listener = tokio::net::TcpListener::from_std(listener).map_err(failed)?;
    let lan = lan.map(tokio::net::TcpListener::from_std);
    let lan = lan.transpose().map_err(failed)?;
    let mut interrupted = pin!(tokio::signal::ctrl_c());
    // Polled once before anything is announced: from then on Ctrl-C is heard.
    if let Poll::Ready(heard) = poll_fn(|it| Poll::Ready(interrupted.as_mut().poll(it))).await {
        return heard.map_err(failed);
    }
    announce()?;
    let (stop, stopped) = watch::channel(false);
    let told = |mut stopped: watch::Receiver<bool>| async move {
        // Either end of the channel going away means stop.
        let _ = stopped.wait_for(|stop| *stop).await;
    };
    let own = serve_until(
        state.clone(),
        listener,
        Limits::default(),
        told(stopped.clone()),
    );
    let network = async {
        match lan {
            Some(lan) => serve_network_until(state, lan, Limits::default(), told(stopped)).await,
            None => Ok(()),
        }
    };
    let served = async { tokio::try_join!(own, network).map(drop) };
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

fn lan(text: &str) -> Result<SocketAddr, String> {
    let text = text.replacen("localhost", "127.0.0.1", 1);
    let bare = text.trim_start_matches('[').trim_end_matches(']');
    let alone = bare
        .parse::<IpAddr>()
        .map(|ip| SocketAddr::new(ip, LAN_PORT));
    alone.or_else(|_| text.parse()).map_err(|_| {
        "give an address of this computer, such as 192.168.1.20 or 192.168.1.20:4800, or none for all".to_owned()
    })
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
    fn the_network_is_listened_on_at_an_address_of_this_computer() {
        for (text, address) in [
            ("192.0.2.7", "192.0.2.7:4800"),
            ("192.0.2.7:5000", "192.0.2.7:5000"),
            ("0.0.0.0", "0.0.0.0:4800"),
            ("2001:db8::7", "[2001:db8::7]:4800"),
            ("[2001:db8::7]", "[2001:db8::7]:4800"),
            ("[2001:db8::7]:5000", "[2001:db8::7]:5000"),
            ("localhost:0", "127.0.0.1:0"),
        ] {
            assert_eq!(
                lan(text).map(|it| it.to_string()),
                Ok(address.to_owned()),
                "{text}"
            );
        }
        for bad in [
            "",
            "4800",
            ":4800",
            "bench.example",
            "192.0.2.7:x",
            "192.0.2.256",
        ] {
            assert!(lan(bad).is_err(), "{bad}");
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

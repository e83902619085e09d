//! The program itself: a process that serves the bench, and clients on real sockets.

use std::{
    fs,
    io::{BufRead, BufReader, Read, Write},
    net::TcpStream,
    path::Path,
    process::{Child, ChildStdout, Command, Stdio},
    sync::mpsc,
    time::{Duration, Instant},
};

use crate::lots::Lots;

/// Clients that ask at once.
const TABLETS: u64 = 8;
/// Between two pages of one client: nobody turns pages faster.
const PAUSE: Duration = Duration::from_millis(250);

/// A running `fettle serve`, ended when dropped.
pub(crate) struct Served {
    child: Child,
    _output: BufReader<ChildStdout>,
    host: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

impl Served {
    /// Starts the program on any free port and waits for the address it prints.
    pub(crate) fn start(bench: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_fettle"))
            .args(["serve", "--listen", "127.0.0.1:0", "--bench"])
            .arg(bench)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut output = BufReader::new(child.stdout.take().expect("stdout is piped"));
        let mut line = String::new();
        let host = loop {
            line.clear();
            assert!(
                output.read_line(&mut line).expect("readable") > 0,
                "it ended before it served"
            );
            if let Some((_, address)) = line.split_once("http://") {
                let end = address.find(|c: char| c == '/' || c.is_whitespace());
                break address[..end.unwrap_or(address.len())].to_owned();
            }
        };
        Self {
            child,
            _output: output,
            host,
        }
    }

    /// How long one page takes over a connection of its own.
    pub(crate) fn page(&self, path: &str) -> Duration {
        page(&self.host, path)
    }

    /// Resident memory in MB (10^6 bytes) now and at its height, where the system tells it.
    pub(crate) fn memory_mb(&self) -> Option<(f64, f64)> {
        let status = fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let of = |name: &str| {
            let line = status.lines().find(|line| line.starts_with(name))?;
            let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
            Some(kib * 1024.0 / 1e6)
        };
        Some((of("VmRSS:")?, of("VmHWM:")?))
    }

    /// Clients at once, each on its own way through the pages for so long: the place of each page with what it took.
    pub(crate) fn tablets(&self, pages: &[String], lasting: Duration) -> Vec<(usize, Duration)> {
        let (tell, told) = mpsc::channel();
        std::thread::scope(|scope| {
            for tablet in 0..TABLETS {
                let tell = tell.clone();
                scope.spawn(move || {
                    let mut lots = Lots::new(tablet);
                    let until = Instant::now() + lasting;
                    while Instant::now() < until {
                        let at = lots.below(pages.len() as u64) as usize;
                        let _listened_to = tell.send((at, self.page(&pages[at])));
                        std::thread::sleep(PAUSE);
                    }
                });
            }
            drop(tell);
            told.into_iter().collect()
        })
    }
}

fn page(host: &str, path: &str) -> Duration {
    let began = Instant::now();
    let mut stream = TcpStream::connect(host).expect("it listens");
    let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).expect("answered");
    let took = began.elapsed();
    let head = String::from_utf8_lossy(&answer[..answer.len().min(40)]).into_owned();
    assert!(head.starts_with("HTTP/1.1 200"), "{path}: {head}");
    took
}

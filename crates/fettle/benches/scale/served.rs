//! Clients of the served bench on real sockets, and what the process takes.

use std::{
    io::{Read, Write},
    net::TcpStream,
    sync::mpsc,
    time::{Duration, Instant},
};

use crate::{lots::Lots, process::Served};

/// Clients that ask at once.
const TABLETS: u64 = 8;
/// Between two pages of one client: nobody turns pages faster.
const PAUSE: Duration = Duration::from_millis(250);

impl Served {
    /// How long one page takes over a connection of its own.
    pub(crate) fn page(&self, path: &str) -> Duration {
        page(&self.host, path)
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

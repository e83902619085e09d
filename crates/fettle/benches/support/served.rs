//! The program itself, serving a bench in a process of its own.

use std::{
    fs,
    io::{BufRead, BufReader},
    path::Path,
    process::{Child, ChildStdout, Command, Stdio},
};

/// A running `fettle serve`, ended when dropped.
pub(crate) struct Served {
    child: Child,
    _output: BufReader<ChildStdout>,
    pub(crate) host: String,
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
}

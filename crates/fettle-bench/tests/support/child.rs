//! This test binary started again, to be killed.

use std::{
    io::{BufRead, BufReader, Lines, Write},
    path::Path,
    process::{Child, ChildStdout, Command, Stdio},
    time::Duration,
};

/// Tells the child where to work.
const DIR: &str = "FETTLE_TEST_DIR";

/// The folder to work in, for the test that was started as a child; `None` when it is run like any other.
pub(crate) fn told_dir() -> Option<std::path::PathBuf> {
    std::env::var_os(DIR).map(Into::into)
}

/// How many rounds a kill test goes: so many, or as the soak run asks.
pub(crate) fn rounds(usual: u64) -> u64 {
    std::env::var("FETTLE_ROUNDS")
        .ok()
        .and_then(|asked| asked.parse().ok())
        .unwrap_or(usual)
}

/// Says something to the test that started this one, on a line of its own and at once.
pub(crate) fn say(what: &str) {
    let mut out = std::io::stdout().lock();
    writeln!(out, "\n{what}").unwrap();
    out.flush().unwrap();
}

/// A test of this binary run by itself in another process.
pub(crate) struct Running {
    child: Child,
    lines: Lines<BufReader<ChildStdout>>,
}

impl Running {
    pub(crate) fn start(test: &str, dir: &Path) -> Self {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", test, "--nocapture"])
            .env(DIR, dir)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        Self { child, lines }
    }

    /// What it says with this word in front, so many times; fewer when it ends before.
    pub(crate) fn says(&mut self, word: &str, times: usize) -> Vec<String> {
        self.lines
            .by_ref()
            .map_while(Result::ok)
            .filter_map(|line| Some(line.strip_prefix(word)?.trim().to_owned()))
            .take(times)
            .collect()
    }

    /// Kills it after so long, and gives what it said before it died.
    pub(crate) fn kill_after(mut self, wait: Duration, word: &str) -> Vec<String> {
        std::thread::sleep(wait);
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        self.says(word, usize::MAX)
    }
}

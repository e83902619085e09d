//! What the same queries take in SQLite's own shell.

use std::{
    fs::File,
    io::{BufRead, BufReader, Write},
    path::Path,
    process::{Child, ChildStdin, ChildStdout, Command, Stdio},
    time::{Duration, Instant},
};

/// What takes longer is not asked often.
const LONG: Duration = Duration::from_millis(200);
const DONE: &str = "--done--";
/// The first version that sorts within `json_group_array`.
const SORTS_WITHIN: (u32, u32) = (3, 44);

use crate::times::Times;

/// A running shell over the bench's database.
pub(crate) struct Shell {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
    errors: tempfile::NamedTempFile,
    sorts_within: bool,
    pub(crate) version: String,
}

impl Drop for Shell {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

impl Shell {
    /// `None` where the shell is not installed.
    pub(crate) fn over(database: &Path) -> Option<Self> {
        let version = Command::new("sqlite3").arg("--version").output().ok()?;
        let version = String::from_utf8_lossy(&version.stdout)
            .split(' ')
            .next()?
            .to_owned();
        let mut steps = version.split('.').map(|it| it.parse().unwrap_or(0));
        let sorts_within = (steps.next()?, steps.next()?) >= SORTS_WITHIN;
        let errors = tempfile::NamedTempFile::new().ok()?;
        let mut child = Command::new("sqlite3")
            .arg("-batch")
            .arg(database)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(File::create(errors.path()).ok()?)
            .spawn()
            .ok()?;
        let (input, output) = (child.stdin.take()?, BufReader::new(child.stdout.take()?));
        Some(Self {
            child,
            input,
            output,
            errors,
            sorts_within,
            version,
        })
    }

    /// How long it takes so many times, fewer where once is long.
    pub(crate) fn times(&mut self, queries: &[String], rounds: usize) -> Option<Times> {
        let first = self.time(queries)?;
        let more = if first > LONG { 2 } else { rounds };
        let times: Option<Vec<Duration>> = (0..more).map(|_| self.time(queries)).collect();
        Some(Times::of(times?.into_iter().chain([first])))
    }

    /// How long the shell takes to run these and to write what they give; `None` when it cannot.
    fn time(&mut self, queries: &[String]) -> Option<Duration> {
        let mut script = String::new();
        for query in queries {
            if self.sorts_within {
                script.push_str(query);
            } else {
                script.push_str(&query.replace(" ORDER BY id)", ")"));
            }
            script.push_str(";\n");
        }
        script.push_str(".print ");
        script.push_str(DONE);
        script.push('\n');
        let failed = self.failures();
        let began = Instant::now();
        let (input, output) = (&mut self.input, &mut self.output);
        let ended = std::thread::scope(|scope| {
            // Written beside the reading, for neither pipe holds all of it.
            let written = scope.spawn(move || input.write_all(script.as_bytes()));
            let mut line = Vec::new();
            while line.trim_ascii_end() != DONE.as_bytes() {
                line.clear();
                if output.read_until(b'\n', &mut line).ok()? == 0 {
                    return None;
                }
            }
            written.join().ok()?.ok()
        });
        let took = began.elapsed();
        ended?;
        (self.failures() == failed).then_some(took)
    }

    fn failures(&self) -> u64 {
        self.errors.path().metadata().map_or(0, |it| it.len())
    }
}

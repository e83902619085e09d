//! Running the program.

use std::ffi::OsStr;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;

/// What one run gave.
#[derive(Debug)]
pub(crate) struct Ran {
    pub(crate) status: i32,
    pub(crate) out: String,
    pub(crate) remarks: String,
}

/// Runs `fettle` in `dir` with these arguments.
pub(crate) fn fettle_in<S: AsRef<OsStr>>(dir: &Path, arguments: &[S]) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_fettle"))
        .args(arguments)
        .current_dir(dir)
        .stdin(Stdio::null())
        .output()
        .expect("the program starts");
    Ran {
        status: output.status.code().expect("it ends by itself"),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        remarks: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

/// Runs `fettle` in `dir` with this text on standard input.
pub(crate) fn fettle_told(dir: &Path, arguments: &[&str], text: &str) -> Ran {
    let mut child = Command::new(env!("CARGO_BIN_EXE_fettle"))
        .args(arguments)
        .current_dir(dir)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // A run that refuses its arguments reads nothing.
    let _ = child
        .stdin
        .take()
        .expect("it was piped")
        .write_all(text.as_bytes());
    let output = child.wait_with_output().expect("it ends");
    Ran {
        status: output.status.code().expect("it ends by itself"),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        remarks: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

/// Runs `fettle` with a standard output that nobody reads.
pub(crate) fn fettle_with_closed_output(dir: &Path, arguments: &[&str]) -> Ran {
    let mut child = Command::new(env!("CARGO_BIN_EXE_fettle"))
        .args(arguments)
        .current_dir(dir)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    Ran {
        status: output.status.code().expect("it ends by itself"),
        out: String::new(),
        remarks: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

impl Ran {
    /// The result of a run that did its work.
    #[track_caller]
    pub(crate) fn done(self) -> String {
        assert_eq!(self.status, 0, "{}", self.remarks);
        self.out
    }

    /// The one JSON object of a run that did its work.
    #[track_caller]
    pub(crate) fn json(self) -> Value {
        let out = self.done();
        let value: Value = serde_json::from_str(&out).expect("one JSON object and nothing else");
        assert!(value.is_object(), "{out}");
        value
    }

    /// The message of a run that could not do its work: nothing on standard output.
    #[track_caller]
    pub(crate) fn failed(self) -> String {
        assert_eq!(
            (self.status, self.out.as_str()),
            (1, ""),
            "{}",
            self.remarks
        );
        assert!(self.remarks.starts_with("fettle: "), "{}", self.remarks);
        assert!(!self.remarks.contains("panicked"), "{}", self.remarks);
        self.remarks
    }

    /// The message of a run with wrong arguments.
    #[track_caller]
    pub(crate) fn refused(self) -> String {
        assert_eq!(
            (self.status, self.out.as_str()),
            (2, ""),
            "{}",
            self.remarks
        );
        self.remarks
    }
}

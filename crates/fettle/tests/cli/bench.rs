//! `fettle new`, `fettle demo`, `fettle serve`.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::run::{fettle_in, fettle_with_closed_output};

/// A running `fettle serve`, ended when dropped.
struct Served {
    child: Child,
    /// The line that it printed.
    line: String,
}

impl Served {
    fn start(dir: &Path, arguments: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_fettle"))
            .arg("serve")
            .args(arguments)
            .current_dir(dir)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        Self { child, line }
    }

    fn host(&self) -> &str {
        let address = self.line.split_once("http://").unwrap().1;
        address.split('/').next().unwrap()
    }

    /// Status line and all that follows.
    fn get(&self, path: &str) -> String {
        let mut stream = TcpStream::connect(self.host()).unwrap();
        let host = self.host();
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        )
        .unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn a_bench_is_served_from_its_own_folder() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(
        dir.path(),
        &["new", "mine", "--name", "The bench at Saltmere"],
    )
    .done();
    let served = Served::start(&dir.path().join("mine"), &["--listen", "127.0.0.1:0"]);
    assert!(
        served
            .line
            .starts_with("The bench at Saltmere: http://127.0.0.1:"),
        "{}",
        served.line
    );
    let page = served.get("/");
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    assert!(page.contains("The bench at Saltmere"), "{page}");
}

#[cfg(target_os = "linux")]
#[test]
fn ctrl_c_ends_it_in_good_order() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &["new", "mine"]).done();
    let mut served = Served::start(dir.path(), &["--bench", "mine", "--listen", "127.0.0.1:0"]);
    let pid = served.child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert!(served.child.wait().unwrap().success());
}

#[test]
fn other_computers_are_refused_and_a_taken_port_is_told() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &["new", "mine"]).done();
    let message = fettle_in(
        dir.path(),
        &["serve", "--bench", "mine", "--listen", "0.0.0.0:0"],
    )
    .refused();
    assert!(message.contains("for this computer only"), "{message}");
    let message = fettle_in(
        dir.path(),
        &["serve", "--bench", "mine", "--listen", "127.0.0.2:0"],
    )
    .refused();
    assert!(message.contains("localhost or [::1]"), "{message}");
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let message = fettle_in(
        dir.path(),
        &["serve", "--bench", "mine", "--listen", &address],
    )
    .failed();
    assert!(message.contains("is taken by another program"), "{message}");
}

#[test]
fn without_a_bench_the_ways_to_one_are_told() {
    let dir = tempfile::tempdir().unwrap();
    let message = fettle_in(dir.path(), &["serve"]).failed();
    for way in ["--bench", "fettle new", "fettle demo"] {
        assert!(message.contains(way), "{message}");
    }
    let message = fettle_in(dir.path(), &["serve", "--bench", "gone"]).failed();
    assert!(message.contains("gone is not a bench"), "{message}");
}

#[test]
fn a_demo_is_never_made_over_something_else() {
    let dir = tempfile::tempdir().unwrap();
    fs::create_dir(dir.path().join("fettle-demo")).unwrap();
    let message = fettle_in(dir.path(), &["demo", "--no-serve"]).failed();
    assert!(
        message.contains("fettle-demo exists and is no demo bench"),
        "{message}"
    );
    let message = fettle_in(dir.path(), &["demo", "fettle-demo/..", "--no-serve"]).failed();
    assert!(message.contains("is no demo bench"), "{message}");
}

#[test]
fn a_demo_that_is_there_is_left_as_it_is() {
    let dir = tempfile::tempdir().unwrap();
    let demo = dir.path().join("fettle-demo");
    fettle_in(dir.path(), &["new", "fettle-demo"]).done();
    // The file by which a demo is known.
    fs::write(demo.join("demo.txt"), "").unwrap();
    let before = fs::read(demo.join("bench.db")).unwrap();
    let ran = fettle_in(dir.path(), &["demo", "--no-serve"]);
    assert!(ran.remarks.contains("delete the folder"), "{}", ran.remarks);
    assert_eq!(
        ran.done(),
        "open it with: fettle serve --bench fettle-demo\n"
    );
    assert_eq!(fs::read(demo.join("bench.db")).unwrap(), before);
}

#[test]
fn nothing_is_left_where_a_demo_could_not_be_made() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("file"), "a file").unwrap();
    let message = fettle_in(dir.path(), &["demo", "file/demo", "--no-serve"]).failed();
    assert!(message.contains("cannot make"), "{message}");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let dir = tempfile::tempdir().unwrap();
    let arguments = [
        "notes", "new", "sprat", "--maker", "Aldous", "--name", "Sprat",
    ];
    let ran = fettle_with_closed_output(dir.path(), &arguments);
    assert_eq!((ran.status, ran.remarks.as_str()), (0, ""));
}

#[test]
fn a_new_bench_is_made_and_the_way_on_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let out = fettle_in(
        dir.path(),
        &["new", "mine", "--currency", "chf", "--hourly-rate", "72.50"],
    )
    .done();
    assert_eq!(
        out,
        "made the bench in mine\nopen it with: fettle serve --bench mine\n"
    );
    assert!(dir.path().join("mine/bench.db").is_file());
}

#[test]
fn what_papers_print_of_the_bench_is_kept() {
    let dir = tempfile::tempdir().unwrap();
    let arguments = [
        "new",
        "mine",
        "--address",
        "3 Ropewalk\nSaltmere",
        "--contact",
        "bench@saltmere.example",
    ];
    fettle_in(dir.path(), &arguments).done();
    let bench = fettle_bench::Bench::open(&dir.path().join("mine")).unwrap();
    let settings = bench.settings().unwrap();
    assert_eq!(settings.address, "3 Ropewalk\nSaltmere");
    assert_eq!(settings.contact, "bench@saltmere.example");
}

#[test]
fn a_bench_is_never_made_over_another() {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &["new", "mine"]).done();
    let before = fs::read(dir.path().join("mine/bench.db")).unwrap();
    let message = fettle_in(dir.path(), &["new", "mine"]).failed();
    assert!(message.contains("already a bench"), "{message}");
    assert_eq!(fs::read(dir.path().join("mine/bench.db")).unwrap(), before);
}

#[test]
fn a_folder_that_is_a_file_is_told() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("mine"), "a file").unwrap();
    let message = fettle_in(dir.path(), &["new", "mine"]).failed();
    assert!(message.contains("mine"), "{message}");
}

#[test]
fn terms_without_meaning_are_wrong_arguments() {
    let dir = tempfile::tempdir().unwrap();
    for arguments in [
        ["new", "mine", "--currency", "euros"],
        ["new", "mine", "--hourly-rate", "free"],
        ["new", "mine", "--name", " "],
        ["new", "mine", "--name", "one\nline too many"],
        ["new", "mine", "--place", "Salt\tmere"],
        ["new", "mine", "--hand", ""],
        ["new", "mine", "--hand", "Ines\nTomas"],
    ] {
        fettle_in(dir.path(), &arguments).refused();
        assert!(!dir.path().join("mine").exists());
    }
}

#[test]
fn without_a_command_the_help_is_shown() {
    let dir = tempfile::tempdir().unwrap();
    let ran = fettle_in::<&str>(dir.path(), &[]);
    assert_eq!(ran.status, 2);
    assert!(ran.remarks.contains("fettle"), "{}", ran.remarks);
    let help = fettle_in(dir.path(), &["--help"]).done();
    for command in ["demo", "new", "serve", "shutter", "notes"] {
        assert!(help.contains(command), "{help}");
    }
}

//! `fettle hands`, and a bench that is served to its network.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::run::{Ran, fettle_in, fettle_told};

const WORDS: &str = "brass shim under lamp\n";

fn bench() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    fettle_in(dir.path(), &["new", "mine"]).done();
    dir
}

fn told(dir: &Path, rest: &[&str], text: &str) -> Ran {
    let arguments = [&["hands"], rest, &["--bench", "mine"]].concat();
    fettle_told(dir, &arguments, text)
}

#[test]
fn a_bench_hand_is_added_listed_and_removed() {
    let dir = bench();
    let dir = dir.path();
    let nobody = told(dir, &["list"], "");
    assert!(
        nobody.remarks.contains("fettle hands add NAME"),
        "{}",
        nobody.remarks
    );
    assert_eq!(nobody.done(), "");
    assert_eq!(
        told(dir, &["add", "Ines"], WORDS).done(),
        "Ines may come in\n"
    );
    let taken = told(dir, &["add", "ines"], WORDS).failed();
    assert!(taken.contains("is a bench-hand already"), "{taken}");
    let listed = told(dir, &["list", "--json"], "").json();
    assert_eq!(listed["hands"][0]["name"], "Ines");
    assert_eq!(listed["sessions"].as_array().map(Vec::len), Some(0));
    let changed = told(dir, &["passphrase", "Ines"], "copper washer over glass\r\n").done();
    assert!(changed.contains("another passphrase"), "{changed}");
    told(dir, &["remove", "Ines"], "").done();
    let gone = told(dir, &["remove", "Ines"], "").failed();
    assert!(gone.contains("no bench-hand Ines"), "{gone}");
    let gone = told(dir, &["passphrase", "Ines"], WORDS).failed();
    assert!(gone.contains("no bench-hand Ines"), "{gone}");
}

#[test]
fn a_passphrase_is_never_an_argument_and_a_weak_one_is_refused() {
    let dir = bench();
    let dir = dir.path();
    told(dir, &["add", "Ines", "brass shim under lamp"], "").refused();
    for (text, why) in [
        ("", "shorter than 15"),
        ("short\n", "shorter than 15"),
        ("aaaaaaaaaaaaaaaaaaaa\n", "same few letters"),
    ] {
        let message = told(dir, &["add", "Ines"], text).failed();
        assert!(message.contains(why), "{message}");
    }
    let message = told(dir, &["add", " \t"], WORDS).refused();
    assert!(message.contains("who works at the bench"), "{message}");
    assert!(!dir.join("mine/door").exists());
}

#[test]
fn what_is_no_bench_is_told() {
    let dir = tempfile::tempdir().unwrap();
    let message = told(dir.path(), &["list"], "").failed();
    assert!(message.contains("mine is no bench"), "{message}");
}

/// A running `fettle serve --lan`, ended when dropped.
struct Served(Child);

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn a_bench_is_opened_to_its_network_with_the_same_certificate_each_time() {
    let dir = bench();
    let start = || {
        let mut child = Command::new(env!("CARGO_BIN_EXE_fettle"))
            .args([
                "serve",
                "--bench",
                "mine",
                "--listen",
                "127.0.0.1:0",
                "--lan",
                "127.0.0.1:0",
            ])
            .current_dir(dir.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let lines: Vec<String> = lines.take(5).map(Result::unwrap).collect();
        (Served(child), lines)
    };
    let (served, first) = start();
    assert!(first[0].starts_with("mine: http://127.0.0.1:"), "{first:?}");
    let site = first[1].strip_prefix("in its network: https://").unwrap();
    let host = site.trim_end_matches('/');
    let mut stream = TcpStream::connect(host).unwrap();
    write!(stream, "GET / HTTP/1.1\r\nhost: {host}\r\n\r\n").unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert!(
        answer.contains(&format!("location: https://{host}/")),
        "{answer}"
    );
    drop(served);
    let (_served, second) = start();
    assert_eq!(first[2], "certificate, SHA-256:");
    assert_eq!(first[3].len(), 2 + 16 * 3 - 1);
    assert_eq!(first[3..], second[3..]);
}

#[test]
fn an_address_that_is_none_of_this_computer_s_is_told() {
    let dir = bench();
    let serve = |lan: &str| {
        fettle_in(
            dir.path(),
            &[
                "serve",
                "--bench",
                "mine",
                "--listen",
                "127.0.0.1:0",
                "--lan",
                lan,
            ],
        )
    };
    // Kept for documentation by RFC 5737: no computer has it.
    let message = serve("192.0.2.1:0").failed();
    assert!(
        message.contains("192.0.2.1:0 is no address of this computer"),
        "{message}"
    );
    assert!(
        serve("bench.example")
            .refused()
            .contains("such as 192.168.1.20")
    );
}

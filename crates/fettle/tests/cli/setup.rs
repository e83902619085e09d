//! What goes with the program: words for the shell, the manual, files for the desktop.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::run::fettle_in;

#[test]
fn every_shell_gets_a_script_that_knows_the_commands() {
    let here = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = fettle_in(here.path(), &["completions", shell]).done();
        for word in ["shutter", "rangefinder", "speeds", "json"] {
            assert!(script.contains(word), "{shell} does not know {word}");
        }
    }
    fettle_in(here.path(), &["completions", "tcsh"]).refused();
}

#[test]
fn the_manual_has_a_page_for_every_command() {
    let here = tempfile::tempdir().unwrap();
    let told = fettle_in(here.path(), &["man", "pages"]).done();
    let help = fettle_in(here.path(), &["--help"]).done();
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.strip_prefix("  ")?.split(' ').next())
        .filter(|word| !word.is_empty())
        .collect();
    assert!(commands.len() > 15, "{commands:?}");
    for command in commands {
        let page = here.path().join(format!("pages/fettle-{command}.1"));
        let text = fs::read_to_string(&page).expect("a page");
        assert!(text.contains(&format!("fettle {command}")), "{command}");
    }
    let nested = fs::read_to_string(here.path().join("pages/fettle-notes-check.1")).unwrap();
    assert!(nested.contains("fettle notes check"));
    let written = fs::read_dir(here.path().join("pages")).unwrap().count();
    assert!(told.starts_with(&format!("{written} pages")), "{told}");
    let alone = fettle_in(here.path(), &["man"]).done();
    assert_eq!(
        alone,
        fs::read_to_string(here.path().join("pages/fettle.1")).unwrap()
    );
}

#[test]
fn a_manual_that_cannot_be_written_is_told() {
    let here = tempfile::tempdir().unwrap();
    fs::write(here.path().join("file"), "").unwrap();
    let told = fettle_in(here.path(), &["man", "file"]).failed();
    assert!(told.contains("cannot write file"), "{told}");
}

/// The words of a key in a file of keys and values.
fn words_of(file: &str, key: &str) -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../packaging")
        .join(file);
    let text = fs::read_to_string(path).unwrap();
    let line = text
        .lines()
        .find_map(|line| line.strip_prefix(key)?.strip_prefix('='))
        .expect("the key stands in the file");
    line.split(' ').map(str::to_owned).collect()
}

/// The service's own command line, over a bench in a folder, is run until it has said where the pages are.
#[test]
fn the_service_file_starts_the_pages() {
    let home = tempfile::tempdir().unwrap();
    fettle_in(home.path(), &["new", "bench"]).done();
    let mut words = words_of("fettle.service", "ExecStart");
    assert_eq!(words.remove(0), "%h/.cargo/bin/fettle");
    let words: Vec<String> = words
        .iter()
        .map(|word| {
            word.replace("%h", home.path().to_str().unwrap())
                .replace(":4780", ":0")
        })
        .collect();
    let mut pages = Command::new(env!("CARGO_BIN_EXE_fettle"))
        .args(&words)
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = String::new();
    let mut out = std::io::BufReader::new(pages.stdout.take().unwrap());
    std::io::BufRead::read_line(&mut out, &mut first).unwrap();
    pages.kill().unwrap();
    pages.wait().unwrap();
    assert!(first.starts_with("bench: http://127.0.0.1:"), "{first}");
}

#[test]
fn the_entry_of_the_menu_opens_the_address_of_the_service() {
    let service = words_of("fettle.service", "ExecStart");
    let listen = service.iter().position(|word| word == "--listen").unwrap();
    let entry = words_of("fettle.desktop", "Exec").join(" ");
    let address = format!("http://{}/", service[listen + 1]);
    assert!(entry.contains(&address), "{entry}");
    assert!(
        entry.contains("systemctl --user start fettle.service"),
        "{entry}"
    );
}

//! Starts what the browser test needs: the program on a bench, `chromedriver`, a fresh Chromium.

use std::{
    env, fs,
    io::{BufRead, BufReader},
    path::{Path, PathBuf},
    process::{Child, ChildStdout, Command, Stdio},
};

use fantoccini::{Client, ClientBuilder, wd::Capabilities};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::json;

/// A program that runs in the background and ends with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        drop(self.0.kill());
        drop(self.0.wait());
    }
}

/// `fettle serve` on a bench.
pub struct Served {
    _program: Running,
    _output: BufReader<ChildStdout>,
    /// Where its pages are, without a slash at the end.
    pub address: String,
}

/// Runs `fettle` with these arguments to its end and gives what it printed.
pub fn fettle(arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_fettle"))
        .args(arguments)
        .output()
        .expect("the program starts");
    assert!(
        output.status.success(),
        "fettle {arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("output is UTF-8")
}

/// Serves a bench on any free port.
pub fn serve(bench: &Path) -> Served {
    let mut child = Command::new(env!("CARGO_BIN_EXE_fettle"))
        .args(["serve", "--listen", "127.0.0.1:0", "--bench"])
        .arg(bench)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut output = BufReader::new(child.stdout.take().expect("stdout is piped"));
    let program = Running(child);
    let mut line = String::new();
    let address = loop {
        line.clear();
        let read = output.read_line(&mut line).expect("its output can be read");
        assert!(read > 0, "fettle serve ended before it served");
        if let Some(at) = line.find("http://") {
            let address = line[at..]
                .split_whitespace()
                .next()
                .expect("an address follows");
            break address.trim_end_matches('/').to_owned();
        }
    };
    Served {
        _program: program,
        _output: output,
        address,
    }
}

/// The light in which pages are read.
#[derive(Clone, Copy, Debug)]
pub enum Light {
    Day,
    Dim,
}

/// A fresh Chromium under `chromedriver`.
pub struct Browser {
    _driver: Running,
    _output: BufReader<ChildStdout>,
    _profile: tempfile::TempDir,
    /// Drives it.
    pub client: Client,
}

impl Browser {
    /// Starts one with a window of this size in pixels.
    pub async fn start(width: u32, height: u32) -> Self {
        Self::start_with(width, height, &[]).await
    }

    /// The same; its sound input plays a WAV file over and over, and pages may listen without asking.
    pub async fn start_hearing(width: u32, height: u32, sound: &Path) -> Self {
        let plays = format!("--use-file-for-fake-audio-capture={}", sound.display());
        let wants = [
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            &plays,
        ];
        Self::start_with(width, height, &wants).await
    }

    /// The same, where pages are asked for the sheet for this light.
    pub async fn start_in(width: u32, height: u32, light: Light) -> Self {
        let scheme = match light {
            Light::Day => "--blink-settings=preferredColorScheme=1",
            Light::Dim => "--blink-settings=preferredColorScheme=0",
        };
        Self::start_with(width, height, &[scheme]).await
    }

    async fn start_with(width: u32, height: u32, wants: &[&str]) -> Self {
        let driver = find_program("chromedriver");
        let chromium = find_program("chromium");
        let mut child = Command::new(driver)
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("ChromeDriver starts");
        let mut output = BufReader::new(child.stdout.take().expect("stdout is piped"));
        let running = Running(child);
        let port = port_told(&mut output);

        let profile = tempfile::tempdir().expect("a temporary folder");
        let mut arguments: Vec<String> = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
        ]
        .map(str::to_owned)
        .to_vec();
        arguments.push(format!("--window-size={width},{height}"));
        arguments.push(format!("--user-data-dir={}", profile.path().display()));
        arguments.extend(wants.iter().map(|want| (*want).to_owned()));
        let mut capabilities = Capabilities::new();
        capabilities.insert(
            "goog:chromeOptions".to_owned(),
            json!({
                "binary": chromium,
                "args": arguments,
            }),
        );
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(capabilities)
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("a browser session begins");
        Self {
            _driver: running,
            _output: output,
            _profile: profile,
            client,
        }
    }

    /// Keeps a picture of the page where `FETTLE_SCREENSHOTS` names a folder.
    pub async fn picture(&self, name: &str) {
        let Some(folder) = env::var_os("FETTLE_SCREENSHOTS") else {
            return;
        };
        let picture = self
            .client
            .screenshot()
            .await
            .expect("a picture of the page");
        let path = PathBuf::from(folder).join(format!("{name}.png"));
        fs::write(path, picture).expect("the picture can be kept");
    }
}

fn find_program(name: &str) -> PathBuf {
    let path = env::var_os("PATH").unwrap_or_default();
    env::split_paths(&path)
        .map(|folder| folder.join(name))
        .find(|file| file.is_file())
        .unwrap_or_else(|| {
            panic!("the browser test needs `{name}` on the PATH; ./test says how to install it")
        })
}

/// The port that `chromedriver` chose and listens on: one chosen for it may be another's by then.
fn port_told(output: &mut impl BufRead) -> u16 {
    let mut line = String::new();
    loop {
        line.clear();
        let read = output.read_line(&mut line).expect("its output can be read");
        assert!(read > 0, "ChromeDriver ended before it listened");
        let told = line.split_once("started successfully on port ");
        let port = told.and_then(|(_, port)| port.trim().trim_end_matches('.').parse().ok());
        if let Some(port) = port {
            return port;
        }
    }
}

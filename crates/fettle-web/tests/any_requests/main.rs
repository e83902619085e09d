//! Any sequence of requests leaves a bench that is whole: none is answered with a fault, every page still draws, and the journal told
//! anew yields the same record.
//!
//! Addresses come from the list of addresses in the source, forms from the pages themselves. `FETTLE_CASES` and `FETTLE_STEPS` make it
//! longer, `FETTLE_SEED` another.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]
#![allow(clippy::print_stdout, reason = "what fails is told with its seed")]

mod dice;
mod form;
#[path = "../support/mod.rs"]
mod support;

use std::collections::{BTreeMap, BTreeSet};

use axum::{body::Body, http::Request};
use dice::Dice;
use form::{Form, Sent, forms, links};
use support::{Site, photograph, recording, site};

/// The source of every address: constants of text that begin with a slash.
const URLS: &str = include_str!("../../src/urls.rs");
const HOST: &str = "127.0.0.1:7700";
const BOUNDARY: &str = "fettle-any-boundary";
/// Pages of one shape looked at in the end: a camera's step apart looks like its next one.
const PAGES_OF_A_SHAPE: usize = 2;

fn asked(name: &str, usual: usize) -> usize {
    std::env::var(name).map_or(usual, |it| it.parse().unwrap())
}

/// Every address of the site, with places for numbers and names in braces.
fn patterns() -> Vec<&'static str> {
    let lines = URLS
        .lines()
        .filter(|line| line.trim_start().starts_with("pub(crate) const "));
    let texts = lines.filter_map(|line| line.split('"').nth(1));
    texts.filter(|text| text.starts_with('/')).collect()
}

/// A request that can be sent again.
#[derive(Clone, Debug)]
struct Asking {
    posts: bool,
    path: String,
    kind: Option<String>,
    body: Vec<u8>,
}

impl Asking {
    fn get(path: &str) -> Self {
        Self {
            posts: false,
            path: path.to_owned(),
            kind: None,
            body: Vec::new(),
        }
    }

    /// What a browser makes of a filled form.
    fn form(posts: bool, path: &str, multipart: bool, fields: &[Sent]) -> Self {
        if multipart {
            let kind = Some(format!("multipart/form-data; boundary={BOUNDARY}"));
            return Self {
                posts: true,
                path: path.to_owned(),
                kind,
                body: in_parts(fields),
            };
        }
        let pairs: Vec<String> = fields
            .iter()
            .map(|field| match field {
                Sent::Text(name, value) | Sent::File(name, value, _) => {
                    format!("{}={}", encoded(name), encoded(value))
                }
            })
            .collect();
        let pairs = pairs.join("&");
        if posts {
            let kind = Some("application/x-www-form-urlencoded".to_owned());
            Self {
                posts,
                path: path.to_owned(),
                kind,
                body: pairs.into_bytes(),
            }
        } else {
            // An address longer than any browser sends is cut off.
            let pairs: String = pairs.chars().take(6000).collect();
            Self::get(&format!(
                "{}?{pairs}",
                path.split(['?', '#']).next().unwrap()
            ))
        }
    }

    fn request(&self) -> Request<Body> {
        let builder = if self.posts {
            Request::post(&self.path)
        } else {
            Request::get(&self.path)
        };
        let mut builder = builder
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"));
        if let Some(kind) = &self.kind {
            builder = builder.header("content-type", kind);
        }
        builder.body(Body::from(self.body.clone())).unwrap()
    }
}

fn encoded(text: &str) -> String {
    let kept = |b: u8| b.is_ascii_alphanumeric();
    text.bytes()
        .map(|b| {
            if kept(b) {
                char::from(b).to_string()
            } else {
                format!("%{b:02X}")
            }
        })
        .collect()
}

fn in_parts(fields: &[Sent]) -> Vec<u8> {
    let quoted = |text: &str| text.replace('"', "%22").replace(['\r', '\n'], " ");
    let mut body = Vec::new();
    for field in fields {
        body.extend(format!("--{BOUNDARY}\r\nContent-Disposition: form-data; name=\"").as_bytes());
        match field {
            Sent::Text(name, value) => {
                body.extend(format!("{}\"\r\n\r\n{value}\r\n", quoted(name)).as_bytes());
            }
            Sent::File(name, file, bytes) => {
                let head = format!(
                    "{}\"; filename=\"{}\"\r\nContent-Type: application/octet-stream\r\n\r\n",
                    quoted(name),
                    quoted(file)
                );
                body.extend(head.as_bytes());
                body.extend(bytes);
                body.extend(b"\r\n");
            }
        }
    }
    body.extend(format!("--{BOUNDARY}--\r\n").as_bytes());
    body
}

/// An address without its numbers and without what it asks for by name, so that like pages are known.
fn shape(path: &str) -> String {
    let (path, asked) = path.split_once('?').unwrap_or((path, ""));
    let names = asked.split('&').map(|pair| pair.split('=').next().unwrap());
    let steps = path.split('/').map(|step| {
        let number = !step.is_empty() && step.bytes().all(|b| b.is_ascii_digit());
        if number { "1" } else { step }
    });
    let (steps, names): (Vec<&str>, Vec<&str>) = (steps.collect(), names.collect());
    format!("{}?{}", steps.join("/"), names.join("&"))
}

/// A visitor who does anything.
struct Visitor<'s> {
    site: &'s Site,
    dice: Dice,
    files: Vec<(&'static str, Vec<u8>)>,
    patterns: Vec<&'static str>,
    /// Addresses that pages led to.
    known: BTreeSet<String>,
    /// Forms that pages showed, by where they are sent.
    forms: BTreeMap<String, Form>,
    last: Option<Asking>,
    /// How often each status was answered.
    told: BTreeMap<u16, u32>,
}

impl<'s> Visitor<'s> {
    fn new(site: &'s Site, seed: u64) -> Self {
        let table = b"name;serial;model\nAda Wren;K 101;Corran 66\nTeo;;Sprat\n".to_vec();
        let run = b"true_ev,indicated_ev\n3,3.1\n5,5.2\n7,7.0\n9,9.1\n11,11.3\n".to_vec();
        Self {
            site,
            dice: Dice::new(seed),
            files: vec![
                ("front.png", photograph()),
                ("shots.wav", recording()),
                ("table.csv", table),
                ("run.csv", run),
                ("nothing", Vec::new()),
                ("noise.bin", (0..=255).collect()),
            ],
            patterns: patterns(),
            known: BTreeSet::from(["/".to_owned()]),
            forms: BTreeMap::new(),
            last: None,
            told: BTreeMap::new(),
        }
    }

    /// Asks, refuses a fault, and remembers what the page leads to.
    async fn ask(&mut self, asking: &Asking) -> u16 {
        let answer = self.site.ask(asking.request()).await;
        let status = answer.status.as_u16();
        assert!(status < 500, "{status} for {asking:?}:\n{}", answer.text());
        *self.told.entry(status).or_default() += 1;
        let is_page = answer
            .headers
            .get("content-type")
            .is_some_and(|it| it.as_bytes().starts_with(b"text/html"));
        if is_page {
            let page = answer.text();
            self.known.extend(links(&page));
            self.forms.extend(
                forms(&page)
                    .into_iter()
                    .map(|form| (form.action.clone(), form)),
            );
        }
        if let Some(to) = answer.headers.get("location") {
            self.known
                .insert(to.to_str().unwrap().split('#').next().unwrap().to_owned());
        }
        status
    }

    /// An address with something in each place: mostly what is there.
    fn somewhere(&mut self) -> String {
        let pattern = *self.dice.pick(&self.patterns);
        let mut path = String::new();
        for step in pattern.split('/').skip(1) {
            path.push('/');
            match step.strip_prefix('{') {
                None => path.push_str(step),
                Some(_) if self.dice.one_in(6) => path.push_str(&encoded(
                    &self.dice.typed().chars().take(40).collect::<String>(),
                )),
                Some(name) => {
                    let named = [
                        "corran-66",
                        "thumb",
                        "display",
                        "original",
                        "svg",
                        "pdf",
                        "correct",
                        "note",
                        "signs",
                        "faults.csv",
                        "quote",
                        "receipt",
                        "style.css",
                    ];
                    let number = name.starts_with("visit") || self.dice.one_in(2);
                    let place = if number {
                        (1 + self.dice.below(4)).to_string()
                    } else {
                        (*self.dice.pick(&named)).to_owned()
                    };
                    path.push_str(&place);
                }
            }
        }
        if self.dice.one_in(3) {
            let asks = [
                "open", "step", "to", "model", "from", "skip", "q", "draft", "mail", "why", "plan",
                "of", "camera", "owner", "recorded", "kind",
            ];
            let (name, value) = (*self.dice.pick(&asks), self.dice.typed());
            path.push_str(&format!(
                "?{name}={}",
                encoded(&value.chars().take(200).collect::<String>())
            ));
        }
        path
    }

    async fn step(&mut self) {
        let what = self.dice.below(20);
        let asking = match what {
            0..=3 => Asking::get(&self.somewhere()),
            4..=6 => {
                let known: Vec<&String> = self.known.iter().collect();
                Asking::get(self.dice.pick::<&String>(&known))
            }
            7..=17 => {
                let forms: Vec<&Form> = self.forms.values().collect();
                if forms.is_empty() {
                    Asking::get("/arrive")
                } else {
                    let form = (*self.dice.pick(&forms)).clone();
                    let fields = form.filled(&mut self.dice, &self.files);
                    // Now and then to where another form is sent.
                    let other = self.dice.one_in(12);
                    let action = if other {
                        self.somewhere()
                    } else {
                        form.action.clone()
                    };
                    Asking::form(
                        form.posts,
                        &action,
                        form.multipart && !self.dice.one_in(12),
                        &fields,
                    )
                }
            }
            18 => match self.last.clone() {
                // The same once more, as after a second click.
                Some(last) => last,
                None => Asking::get("/"),
            },
            _ => {
                let kinds = [
                    "application/x-www-form-urlencoded",
                    "multipart/form-data; boundary=fettle-any-boundary",
                    "multipart/form-data",
                    "application/json",
                    "text/plain",
                ];
                let mut body = in_parts(&[Sent::Text("words".to_owned(), self.dice.typed())]);
                body.truncate(self.dice.below(body.len() + 1));
                Asking {
                    posts: true,
                    path: self.somewhere(),
                    kind: Some((*self.dice.pick(&kinds)).to_owned()),
                    body,
                }
            }
        };
        self.ask(&asking).await;
        if asking.posts {
            self.last = Some(asking);
        }
    }

    /// A camera comes, so that there is something to do; then so many steps.
    async fn go(&mut self, steps: usize) {
        for path in ["/", "/arrive", "/settings", "/drawers/store", "/donors"] {
            self.ask(&Asking::get(path)).await;
        }
        self.site.arrived().await;
        for path in ["/", "/visits/1", "/cameras/1", "/owners/1"] {
            self.ask(&Asking::get(path)).await;
        }
        for _ in 0..steps {
            self.step().await;
        }
    }

    /// Every page that is led to from the first one on is there.
    async fn assert_every_page_draws(&mut self) {
        let mut seen = BTreeSet::new();
        let mut shapes: BTreeMap<String, usize> = BTreeMap::new();
        let mut queue = vec!["/".to_owned()];
        while let Some(path) = queue.pop() {
            if !seen.insert(path.clone()) {
                continue;
            }
            let of_it = shapes.entry(shape(&path)).or_default();
            *of_it += 1;
            if *of_it > PAGES_OF_A_SHAPE {
                continue;
            }
            let answer = self.site.get(&path).await;
            let status = answer.status.as_u16();
            assert!(
                matches!(status, 200 | 303),
                "{status} for {path}:\n{}",
                answer.text()
            );
            if answer
                .headers
                .get("content-type")
                .is_some_and(|it| it.as_bytes().starts_with(b"text/html"))
            {
                queue.extend(links(&answer.text()));
            }
        }
        assert!(shapes.len() > 30, "only {shapes:?}");
    }
}

fn assert_whole(site: &Site) {
    let verified = fettle_bench::verify(site.dir.path()).unwrap();
    assert!(verified.findings.is_empty(), "{:?}", verified.findings);
}

#[tokio::test]
async fn any_sequence_of_requests_leaves_a_bench_that_is_whole() {
    let (cases, steps) = (asked("FETTLE_CASES", 4), asked("FETTLE_STEPS", 150));
    let first = asked("FETTLE_SEED", 1) as u64;
    let mut told: BTreeMap<u16, u32> = BTreeMap::new();
    for seed in first..first + cases as u64 {
        println!("seed {seed}");
        let site = site();
        let mut visitor = Visitor::new(&site, seed);
        visitor.go(steps).await;
        visitor.assert_every_page_draws().await;
        for (status, times) in visitor.told {
            *told.entry(status).or_default() += times;
        }
        assert_whole(&site);
    }
    // It would prove little if all were refused.
    let (drawn, done, refused) = (told[&200], told[&303], told[&422]);
    assert!(drawn > 50 && done > 20 && refused > 20, "{told:?}");
}

#[test]
fn every_address_of_the_site_is_known() {
    let patterns = patterns();
    assert!(patterns.len() > 40, "{patterns:?}");
    assert!(patterns.contains(&"/visits/{visit}/{deed}") && patterns.contains(&"/find"));
}

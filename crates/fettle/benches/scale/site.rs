//! The real router over the bench, asked within this process.

use std::{
    collections::BTreeMap,
    path::Path,
    sync::Arc,
    time::{Duration, Instant},
};

use axum::{
    Router,
    body::{Body, to_bytes},
    http::{Request, StatusCode},
};
use fettle_bench::Bench;
use fettle_web::{AppState, Clock, router};
use jiff::ZonedDateTime;
use tokio::runtime::Runtime;
use tower::ServiceExt;

const HOST: &str = "127.0.0.1:7700";

pub(crate) struct Site {
    runtime: Runtime,
    router: Router,
    pub(crate) bench: Arc<Bench>,
}

impl Site {
    pub(crate) fn over(dir: &Path, now: &ZonedDateTime) -> Self {
        let bench = Arc::new(Bench::open(dir).expect("the bench opens"));
        let state = AppState::new(Arc::clone(&bench), Clock::fixed(now.clone()), "Ines");
        let state = state.expect("the bench has a name").with_port(7700);
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .enable_all()
            .build();
        Self {
            runtime: runtime.expect("a runtime"),
            router: router(state),
            bench,
        }
    }

    /// A page, which must be there, and what it took.
    pub(crate) fn get(&self, path: &str) -> (Duration, Vec<u8>) {
        let (status, took, body) = self.ask(path);
        assert!(status.is_success(), "{path}: {status}");
        (took, body)
    }

    /// Processor time that this process has taken so far, where the system tells it: what a page costs on a machine that does nothing
    /// else.
    pub(crate) fn worked() -> Option<Duration> {
        let mut sum = 0;
        for task in std::fs::read_dir("/proc/self/task").ok()? {
            let told = std::fs::read_to_string(task.ok()?.path().join("schedstat")).ok()?;
            sum += told.split(' ').next()?.parse::<u64>().ok()?;
        }
        Some(Duration::from_nanos(sum))
    }

    fn ask(&self, path: &str) -> (StatusCode, Duration, Vec<u8>) {
        let request = Request::get(path).header("host", HOST).body(Body::empty());
        let request = request.expect("an address");
        self.runtime.block_on(async {
            let began = Instant::now();
            let response = self
                .router
                .clone()
                .oneshot(request)
                .await
                .expect("an answer");
            let status = response.status();
            let body = to_bytes(response.into_body(), usize::MAX)
                .await
                .expect("a body");
            let took = began.elapsed();
            (status, took, body.to_vec())
        })
    }

    /// Pages that links lead to, one of each kind.
    pub(crate) fn every_kind(&self) -> BTreeMap<String, String> {
        let mut found = BTreeMap::new();
        let mut queue = vec!["/".to_owned()];
        while let Some(path) = queue.pop() {
            let kind = kind_of(&path);
            if found.contains_key(&kind) {
                continue;
            }
            // A paper is offered before all that stands on it is known.
            let (status, _, body) = self.ask(&path);
            if !status.is_success() {
                continue;
            }
            found.insert(kind, path);
            let body = String::from_utf8_lossy(&body);
            for part in body.split("href=\"").skip(1) {
                let link = part.split(['"', '#']).next().unwrap_or_default();
                if link.starts_with('/') {
                    queue.push(link.replace("&amp;", "&"));
                }
            }
        }
        found
    }
}

/// An address with every number and name of a thing blotted out.
fn kind_of(path: &str) -> String {
    let path = path.split('?').next().unwrap_or(path);
    let steps: Vec<&str> = path.split('/').collect();
    let blotted = steps.iter().enumerate().map(|(at, step)| {
        let names_one = step.bytes().any(|b| b.is_ascii_digit())
            || (at == 2 && matches!(steps[1], "models" | "assets"));
        if names_one { "*" } else { step }
    });
    blotted.collect::<Vec<_>>().join("/")
}

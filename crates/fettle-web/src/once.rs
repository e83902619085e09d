//! A form that is sent twice at once records once.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use crate::upload::Upload;

/// How long a form is remembered.
const REMEMBERED: Duration = Duration::from_secs(600);
/// Most forms remembered.
const MOST: usize = 200;

/// The forms taken lately, and where each led.
#[derive(Debug)]
pub(crate) struct Once {
    begun: SystemTime,
    drawn: AtomicU64,
    taken: Mutex<VecDeque<Taken>>,
}

#[derive(Debug)]
struct Taken {
    key: blake3::Hash,
    at: Instant,
    url: String,
}

impl Once {
    pub(crate) fn new() -> Self {
        Self {
            begun: SystemTime::now(),
            drawn: AtomicU64::new(0),
            taken: Mutex::default(),
        }
    }

    /// A token that no other drawing of a form carries.
    pub(crate) fn token(&self) -> String {
        let begun = self.begun.duration_since(SystemTime::UNIX_EPOCH);
        let begun = begun.map_or(0, |since| since.as_nanos());
        format!("{begun:x}-{}", self.drawn.fetch_add(1, Ordering::Relaxed))
    }

    /// Does the work of a form, which gives an address to go to; for a form that was taken
    /// already, that address without the work. Others wait meanwhile.
    ///
    /// # Errors
    ///
    /// Those of the work; a form whose work failed may be sent again.
    pub(crate) fn take<E>(
        &self,
        key: Option<blake3::Hash>,
        work: impl FnOnce() -> Result<String, E>,
    ) -> Result<String, E> {
        let Some(key) = key else { return work() };
        let mut taken = self.taken.lock().unwrap_or_else(PoisonError::into_inner);
        taken.retain(|form| form.at.elapsed() < REMEMBERED);
        if let Some(form) = taken.iter().find(|form| form.key == key) {
            return Ok(form.url.clone());
        }
        let url = work()?;
        if taken.len() == MOST {
            taken.pop_front();
        }
        taken.push_back(Taken {
            key,
            at: Instant::now(),
            url: url.clone(),
        });
        Ok(url)
    }
}

/// What tells a form from all others: its token and all that it holds, so that a page gone back to
/// and filled in anew counts as another. `None` when it carries no token.
pub(crate) fn key(sent: &Upload) -> Option<blake3::Hash> {
    sent.fields.some("once")?;
    let mut hasher = blake3::Hasher::new();
    let mut add = |bytes: &[u8]| {
        hasher.update(&(bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    };
    for (name, value) in sent.fields.under("") {
        add(name.as_bytes());
        add(value.as_bytes());
    }
    for file in &sent.files {
        add(&file.bytes);
    }
    Some(hasher.finalize())
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    #[test]
    fn a_form_taken_leads_where_it_led_before_and_no_more_than_most_are_remembered() {
        let once = Once::new();
        let form = |i: usize| Some(blake3::hash(&i.to_le_bytes()));
        let take = |i: usize, url: &str| {
            once.take::<Infallible>(form(i), || Ok(url.to_owned()))
                .unwrap()
        };
        assert_eq!(take(0, "/a"), "/a");
        assert_eq!(take(0, "/b"), "/a");
        for i in 1..=MOST {
            take(i, "/c");
        }
        assert_eq!(once.taken.lock().unwrap().len(), MOST);
        assert_eq!(take(0, "/d"), "/d");
    }

    #[test]
    fn a_form_whose_work_failed_is_taken_again() {
        let once = Once::new();
        let key = Some(blake3::hash(b"x"));
        assert_eq!(once.take(key, || Err("full")), Err("full"));
        let again = once.take::<&str>(key, || Ok("/a".to_owned()));
        assert_eq!(again.as_deref(), Ok("/a"));
    }

    #[test]
    fn tokens_differ() {
        let once = Once::new();
        assert_ne!(once.token(), once.token());
    }
}

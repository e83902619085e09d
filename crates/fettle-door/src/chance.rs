//! Randomness from outside, so that tests can fix it.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use crate::error::DoorError;

type Fill = dyn Fn(&mut [u8]) -> Result<(), DoorError> + Send + Sync;

/// Where tokens, codes and salts come from.
#[derive(Clone)]
pub struct Chance(Arc<Fill>);

impl Chance {
    /// The system's own source.
    #[must_use]
    pub fn system() -> Self {
        Self(Arc::new(|bytes| {
            getrandom::fill(bytes).map_err(|error| DoorError::Chance(error.to_string()))
        }))
    }

    /// The same bytes for the same seed, each time others: for tests alone.
    #[must_use]
    pub fn seeded(seed: &str) -> Self {
        let reader = blake3::Hasher::new_derive_key("fettle-door chance of tests")
            .update(seed.as_bytes())
            .finalize_xof();
        let reader = Mutex::new(reader);
        Self(Arc::new(move |bytes| {
            reader
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .fill(bytes);
            Ok(())
        }))
    }

    /// So many bytes that nobody can guess.
    pub(crate) fn bytes<const N: usize>(&self) -> Result<[u8; N], DoorError> {
        let mut bytes = [0; N];
        (self.0)(&mut bytes)?;
        Ok(bytes)
    }
}

impl fmt::Debug for Chance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Chance")
    }
}

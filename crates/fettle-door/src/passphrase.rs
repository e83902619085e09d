//! Passphrases: what is taken, how they are kept, how they are checked.

use std::sync::{Condvar, Mutex, PoisonError};

use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, PasswordHash, Version};
use unicode_normalization::UnicodeNormalization;

use crate::chance::Chance;
use crate::error::DoorError;

/// Fewest letters. NIST SP 800-63B-4, section 3.1.1.2, asks for 15 where nothing else is checked beside it.
const PASSPHRASE_FEWEST: usize = 15;
/// Most bytes, so that nobody makes the program hash a book.
const PASSPHRASE_MOST_BYTES: usize = 400;

/// How much work a guess is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cost {
    memory_kib: u32,
    passes: u32,
    lanes: u32,
}

impl Cost {
    /// The second recommendation of RFC 9106, section 4: 64 MiB, 3 passes, 4 lanes. It is above every row of what
    /// OWASP asks for at least.
    pub const RECOMMENDED: Self = Self {
        memory_kib: 64 * 1024,
        passes: 3,
        lanes: 4,
    };

    /// As little as the algorithm allows: for tests alone.
    pub const LEAST: Self = Self {
        memory_kib: Params::MIN_M_COST,
        passes: 1,
        lanes: 1,
    };

    fn argon2(self) -> Result<Argon2<'static>, DoorError> {
        Params::new(self.memory_kib, self.passes, self.lanes, None)
            .map(|params| Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
            .map_err(|_| DoorError::Passphrase("cannot be kept with these parameters"))
    }
}

/// A passphrase as the keyboard gave it, made the same on every keyboard, and wiped from what is printed.
pub struct Passphrase(String);

impl std::fmt::Debug for Passphrase {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Passphrase")
    }
}

impl Passphrase {
    /// What was typed, to be held against what is kept: letters composed (NFC, as RFC 8265 has it), spaces
    /// at its ends dropped.
    #[must_use]
    pub fn typed(text: &str) -> Self {
        Self(text.trim().nfc().collect())
    }

    /// A passphrase to keep.
    ///
    /// # Errors
    /// When it is too short, too long, too simple or holds what cannot be typed.
    pub fn new(text: &str) -> Result<Self, DoorError> {
        let passphrase = Self::typed(text);
        let refused = |why| Err(DoorError::Passphrase(why));
        let text = &passphrase.0;
        if text.chars().count() < PASSPHRASE_FEWEST {
            return refused(
                "is shorter than 15 letters: take four or five words that do not belong together",
            );
        }
        if text.len() > PASSPHRASE_MOST_BYTES {
            return refused("is longer than 400 bytes: a sentence is enough");
        }
        if text.chars().any(char::is_control) {
            return refused(
                "holds something that cannot be typed: letters, digits, signs and spaces are taken",
            );
        }
        let mut letters: Vec<char> = text.chars().collect();
        letters.sort_unstable();
        letters.dedup();
        if letters.len() < 6 {
            return refused(
                "is the same few letters again and again: take four or five words that do not belong together",
            );
        }
        Ok(passphrase)
    }
}

/// A passphrase as it is kept: `$argon2id$…`, with its salt and parameters.
pub(crate) fn keep(
    passphrase: &Passphrase,
    cost: Cost,
    chance: &Chance,
) -> Result<String, DoorError> {
    let salt: [u8; 16] = chance.bytes()?;
    let kept = cost
        .argon2()?
        .hash_password_with_salt(passphrase.0.as_bytes(), &salt);
    kept.map(|kept| kept.to_string())
        .map_err(|_| DoorError::Passphrase("cannot be kept"))
}

/// Whether this is the passphrase that is kept; the comparison takes equally long wherever they differ.
pub(crate) fn is(passphrase: &Passphrase, kept: &str) -> bool {
    if passphrase.0.len() > PASSPHRASE_MOST_BYTES {
        return false;
    }
    PasswordHash::new(kept).is_ok_and(|kept| {
        // The parameters are those that are kept with it.
        Argon2::default()
            .verify_password(passphrase.0.as_bytes(), &kept)
            .is_ok()
    })
}

/// Passphrases checked at once: each takes 64 MiB.
const CHECKED_AT_ONCE: usize = 2;
/// Checks that may wait for that.
const MAY_WAIT: usize = 8;

/// Lets only so many passphrases be checked at once, so that a crowd at the door does not eat the memory.
#[derive(Debug, Default)]
pub(crate) struct Bottleneck {
    inside_and_waiting: Mutex<(usize, usize)>,
    freed: Condvar,
}

impl Bottleneck {
    /// Does the work when its turn comes; `None` when too many wait already.
    pub(crate) fn pass<T>(&self, work: impl FnOnce() -> T) -> Option<T> {
        let mut counts = self.counts();
        if counts.1 >= MAY_WAIT {
            return None;
        }
        counts.1 += 1;
        let mut counts = self
            .freed
            .wait_while(counts, |counts| counts.0 >= CHECKED_AT_ONCE)
            .unwrap_or_else(PoisonError::into_inner);
        *counts = (counts.0 + 1, counts.1 - 1);
        drop(counts);
        let _place = Place(self);
        Some(work())
    }

    fn counts(&self) -> std::sync::MutexGuard<'_, (usize, usize)> {
        self.inside_and_waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }
}

/// Given back also when the work panics.
struct Place<'b>(&'b Bottleneck);

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.0.counts().0 -= 1;
        self.0.freed.notify_one();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Barrier;
    use std::sync::atomic::{AtomicUsize, Ordering};

    use super::*;

    #[test]
    fn a_passphrase_is_known_again_and_no_other() {
        let chance = Chance::seeded("salt");
        let kept = keep(
            &Passphrase::new("brass shim under lamp").unwrap(),
            Cost::LEAST,
            &chance,
        )
        .unwrap();
        assert!(kept.starts_with("$argon2id$v=19$"), "{kept}");
        assert!(is(&Passphrase::typed("  brass shim under lamp "), &kept));
        assert!(!is(&Passphrase::typed("brass shim under lamps"), &kept));
        assert!(!is(&Passphrase::typed(""), &kept));
        assert!(!is(
            &Passphrase::typed("brass shim under lamp"),
            "$argon2id$"
        ));
    }

    #[test]
    fn what_is_kept_carries_the_recommended_parameters() {
        let kept = keep(
            &Passphrase::typed("x"),
            Cost::RECOMMENDED,
            &Chance::seeded("a"),
        )
        .unwrap();
        assert!(
            kept.starts_with("$argon2id$v=19$m=65536,t=3,p=4$"),
            "{kept}"
        );
        assert!(is(&Passphrase::typed("x"), &kept));
    }

    #[test]
    fn two_with_the_same_passphrase_are_not_kept_alike() {
        let chance = Chance::seeded("salts");
        let one = Passphrase::new("brass shim under lamp").unwrap();
        let kept = || keep(&one, Cost::LEAST, &chance).unwrap();
        assert_ne!(kept(), kept());
    }

    #[test]
    fn a_letter_composed_or_not_is_the_same_letter() {
        let kept = keep(
            &Passphrase::new("pr\u{fc}fe die Feder").unwrap(),
            Cost::LEAST,
            &Chance::seeded("c"),
        )
        .unwrap();
        assert!(is(&Passphrase::typed("pru\u{308}fe die Feder"), &kept));
    }

    #[test]
    fn simple_passphrases_are_refused_with_a_reason() {
        for (text, why) in [
            ("", "shorter than 15"),
            ("fourteen chars", "shorter than 15"),
            ("aaaaaaaaaaaaaaaaaaaa", "same few letters"),
            ("brass shim\u{7} under lamp", "cannot be typed"),
            (&"brass shim ".repeat(50), "longer than 400"),
        ] {
            let told = Passphrase::new(text).unwrap_err().to_string();
            assert!(told.contains(why), "{text}: {told}");
        }
    }

    #[test]
    fn no_more_than_two_are_checked_at_once_and_a_crowd_is_turned_away() {
        let door = Bottleneck::default();
        let (inside, most, turned_away) = (
            AtomicUsize::new(0),
            AtomicUsize::new(0),
            AtomicUsize::new(0),
        );
        let hold = Mutex::new(());
        let held = hold.lock().unwrap();
        let begin = Barrier::new(31);
        std::thread::scope(|scope| {
            for _ in 0..30 {
                scope.spawn(|| {
                    begin.wait();
                    let passed = door.pass(|| {
                        let now = inside.fetch_add(1, Ordering::SeqCst) + 1;
                        most.fetch_max(now, Ordering::SeqCst);
                        drop(hold.lock().unwrap());
                        inside.fetch_sub(1, Ordering::SeqCst);
                    });
                    if passed.is_none() {
                        turned_away.fetch_add(1, Ordering::SeqCst);
                    }
                });
            }
            begin.wait();
            while turned_away.load(Ordering::SeqCst) < 30 - CHECKED_AT_ONCE - MAY_WAIT {
                std::thread::yield_now();
            }
            drop(held);
        });
        assert_eq!(most.load(Ordering::SeqCst), CHECKED_AT_ONCE);
        assert_eq!(turned_away.load(Ordering::SeqCst), 20);
        assert_eq!(door.pass(|| 7), Some(7));
    }
}

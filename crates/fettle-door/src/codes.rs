//! Pairing codes: short, used once, alive for a few minutes. Pure, with time and letters passed in.

use jiff::{SignedDuration, Timestamp};

/// How long a code lives.
const CODE_LIVES: SignedDuration = SignedDuration::from_mins(5);
/// Codes open at once.
const MOST: usize = 8;
/// Letters that nobody takes for another, on paper or by ear.
const LETTERS: &[u8; 31] = b"ABCDEFGHJKMNPQRSTUVWXYZ23456789";
/// Letters of a code: 31⁸ are 8.5 · 10¹¹, 39 bits.
const LENGTH: usize = 8;

/// Who had a code made: only they are shown it again.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Maker {
    /// Somebody at the bench's own computer.
    Here,
    /// Somebody who came in with this session.
    Session(String),
}

/// A code that is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PairingCode {
    /// As it is shown: two groups of four letters.
    pub code: String,
    /// Who comes in by it.
    pub hand: String,
    /// When it closes.
    pub until: Timestamp,
    /// Who had it made.
    pub(crate) maker: Maker,
}

/// The codes that are open; they are kept in memory alone, so that a restart closes them.
#[derive(Debug, Default)]
pub(crate) struct Codes(Vec<PairingCode>);

impl Codes {
    /// Opens a code for a bench-hand; one that the same maker had open is closed.
    pub(crate) fn open(
        &mut self,
        code: String,
        hand: &str,
        maker: Maker,
        now: Timestamp,
    ) -> PairingCode {
        self.close_old(now);
        self.0.retain(|open| open.maker != maker);
        if self.0.len() >= MOST {
            self.0.remove(0);
        }
        let open = PairingCode {
            code,
            hand: hand.to_owned(),
            until: now.saturating_add(CODE_LIVES).unwrap_or(Timestamp::MAX),
            maker,
        };
        self.0.push(open.clone());
        open
    }

    /// The code that this maker has open.
    pub(crate) fn of(&mut self, maker: &Maker, now: Timestamp) -> Option<PairingCode> {
        self.close_old(now);
        self.0.iter().find(|open| open.maker == *maker).cloned()
    }

    /// Uses a code up: who comes in by it.
    pub(crate) fn take(&mut self, typed: &str, now: Timestamp) -> Option<PairingCode> {
        self.close_old(now);
        // Hashes compare in the same time wherever they differ.
        let wanted = blake3::hash(plain(typed).as_bytes());
        let is_it = |open: &PairingCode| blake3::hash(plain(&open.code).as_bytes()) == wanted;
        let place = self.0.iter().position(is_it)?;
        Some(self.0.remove(place))
    }

    /// Closes the codes of a bench-hand or of a session that is gone.
    pub(crate) fn close(&mut self, gone: impl Fn(&PairingCode) -> bool) {
        self.0.retain(|open| !gone(open));
    }

    fn close_old(&mut self, now: Timestamp) {
        // One that would live longer than codes do was made before the clock was set back.
        self.0.retain(|open| {
            let left = open.until.duration_since(now);
            left.is_positive() && left <= CODE_LIVES
        });
    }
}

/// A code without what people put between and around its letters.
fn plain(typed: &str) -> String {
    typed
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .map(|letter| letter.to_ascii_uppercase())
        .take(2 * LENGTH)
        .collect()
}

/// A code out of random bytes, each letter as likely as the others; `None` when they do not suffice.
pub(crate) fn code_of(bytes: &[u8]) -> Option<String> {
    let fair = bytes.iter().map(|byte| usize::from(byte & 31));
    let letters: String = fair
        .filter_map(|place| LETTERS.get(place))
        .take(LENGTH)
        .map(|&letter| char::from(letter))
        .collect();
    let (one, other) = letters.split_at_checked(LENGTH / 2)?;
    (other.len() == LENGTH / 2).then(|| format!("{one}-{other}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(seconds: i64) -> Timestamp {
        Timestamp::from_second(1_700_000_000 + seconds).unwrap()
    }

    fn opened(codes: &mut Codes, code: &str, maker: Maker) {
        codes.open(code.to_owned(), "Ines", maker, at(0));
    }

    #[test]
    fn a_code_is_used_once_however_it_is_typed() {
        let mut codes = Codes::default();
        opened(&mut codes, "KMTR-28XW", Maker::Here);
        assert!(codes.take("KMTR28X", at(1)).is_none());
        assert_eq!(codes.take(" kmtr 28xw ", at(1)).unwrap().hand, "Ines");
        assert!(codes.take("KMTR-28XW", at(1)).is_none());
    }

    #[test]
    fn a_code_lives_five_minutes_and_a_clock_set_back_does_not_lengthen_it() {
        let mut codes = Codes::default();
        opened(&mut codes, "KMTR-28XW", Maker::Here);
        assert!(codes.of(&Maker::Here, at(299)).is_some());
        assert!(codes.take("KMTR-28XW", at(300)).is_none());
        opened(&mut codes, "KMTR-28XW", Maker::Here);
        assert!(codes.take("KMTR-28XW", at(-1)).is_none());
    }

    #[test]
    fn each_maker_has_one_code_open_and_sees_no_other() {
        let mut codes = Codes::default();
        let session = Maker::Session("a".to_owned());
        opened(&mut codes, "AAAA-AAAA", Maker::Here);
        opened(&mut codes, "BBBB-BBBB", session.clone());
        opened(&mut codes, "CCCC-CCCC", Maker::Here);
        assert!(codes.take("AAAA-AAAA", at(0)).is_none());
        assert_eq!(codes.of(&session, at(0)).unwrap().code, "BBBB-BBBB");
        assert_eq!(codes.of(&Maker::Here, at(0)).unwrap().code, "CCCC-CCCC");
        codes.close(|open| open.maker == session);
        assert!(codes.take("BBBB-BBBB", at(0)).is_none());
    }

    #[test]
    fn only_so_many_are_open() {
        let mut codes = Codes::default();
        for n in 0..50 {
            opened(
                &mut codes,
                &format!("AAAA-{n:04}"),
                Maker::Session(n.to_string()),
            );
        }
        assert_eq!(codes.0.len(), MOST);
    }

    #[test]
    fn a_code_is_made_of_letters_that_are_each_as_likely() {
        assert_eq!(code_of(&[0, 1, 2, 3, 4, 5, 6, 7]).unwrap(), "ABCD-EFGH");
        assert_eq!(
            code_of(&[31, 63, 30, 62, 94, 126, 158, 190, 222, 254]).unwrap(),
            "9999-9999"
        );
        assert_eq!(code_of(&[31; 64]), None);
        assert_eq!(code_of(&[0; 7]), None);
    }
}

//! Sessions: who came in, with what, since when. Pure, with the time passed in.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

/// A session not used for so long has ended.
const SESSION_IDLE: SignedDuration = SignedDuration::from_hours(30 * 24);
/// A session ends after so long in any case.
pub const SESSION_LONGEST: SignedDuration = SignedDuration::from_hours(365 * 24);
/// Sessions of one bench-hand; the one not seen for longest makes room.
const MOST_OF_ONE: usize = 20;

/// The sessions that were begun, as they are kept.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Sessions {
    pub(crate) sessions: Vec<KeptSession>,
}

/// A session. The token itself is with the tablet alone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct KeptSession {
    /// BLAKE3 of the token.
    pub(crate) token_hash: String,
    pub(crate) hand: String,
    /// The term of the bench-hand's passphrase when it began.
    pub(crate) term: String,
    pub(crate) device: String,
    pub(crate) since: Timestamp,
    pub(crate) seen: Timestamp,
}

impl KeptSession {
    /// What it is called where it is listed and ended; nobody comes in by it.
    pub(crate) fn name(&self) -> &str {
        self.token_hash.get(..16).unwrap_or_default()
    }

    /// Whether it stands. A clock that was set back ends none.
    pub(crate) fn stands(&self, now: Timestamp) -> bool {
        now.duration_since(self.seen) < SESSION_IDLE
            && now.duration_since(self.since) < SESSION_LONGEST
    }
}

impl Sessions {
    pub(crate) fn find(&self, token_hash: &str) -> Option<&KeptSession> {
        self.sessions
            .iter()
            .find(|session| session.token_hash == token_hash)
    }

    /// Takes a session in; those that ended go, and of a bench-hand with too many the one not seen for longest.
    pub(crate) fn begin(&mut self, session: KeptSession) {
        let now = session.since;
        self.sessions.retain(|old| old.stands(now));
        let own = |old: &&KeptSession| old.hand == session.hand;
        if self.sessions.iter().filter(own).count() >= MOST_OF_ONE {
            let stalest = self.sessions.iter().filter(own).min_by_key(|old| old.seen);
            if let Some(name) = stalest.map(|old| old.name().to_owned()) {
                self.end(&name);
            }
        }
        self.sessions.push(session);
    }

    /// Ends the session of this name.
    pub(crate) fn end(&mut self, name: &str) -> bool {
        let before = self.sessions.len();
        self.sessions.retain(|session| session.name() != name);
        self.sessions.len() < before
    }

    /// Notes when a session was used.
    pub(crate) fn saw(&mut self, token_hash: &str, now: Timestamp) {
        let used = self
            .sessions
            .iter_mut()
            .find(|session| session.token_hash == token_hash);
        if let Some(session) = used {
            session.seen = session.seen.max(now);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(hours: i64) -> Timestamp {
        Timestamp::from_second(1_700_000_000 + hours * 3600).unwrap()
    }

    fn session(token: &str, since: i64, seen: i64) -> KeptSession {
        KeptSession {
            token_hash: blake3::hash(token.as_bytes()).to_hex().to_string(),
            hand: "Ines".to_owned(),
            term: "t".to_owned(),
            device: "tablet".to_owned(),
            since: at(since),
            seen: at(seen),
        }
    }

    #[test]
    fn a_session_ends_when_it_is_not_used_and_in_any_case_after_a_year() {
        let used = session("a", 0, 0);
        assert!(used.stands(at(30 * 24 - 1)));
        assert!(!used.stands(at(30 * 24)));
        let old = session("a", 0, 365 * 24 - 5);
        assert!(old.stands(at(365 * 24 - 1)));
        assert!(!old.stands(at(365 * 24)));
        assert!(used.stands(at(-1000)));
    }

    #[test]
    fn only_so_many_are_kept_and_those_that_ended_go() {
        let mut sessions = Sessions::default();
        sessions.begin(session("gone", 0, 0));
        for n in 0..30 {
            sessions.begin(session(&n.to_string(), 1000 + n, 1000 + n));
        }
        assert_eq!(sessions.sessions.len(), MOST_OF_ONE);
        assert_eq!(sessions.sessions[0].since, at(1010));
    }

    #[test]
    fn being_seen_never_goes_back() {
        let mut sessions = Sessions::default();
        sessions.begin(session("a", 0, 0));
        let hash = sessions.sessions[0].token_hash.clone();
        sessions.saw(&hash, at(5));
        sessions.saw(&hash, at(2));
        assert_eq!(sessions.find(&hash).unwrap().seen, at(5));
    }
}

//! The door of a bench: who may come in, who is in, and how to come in.

use std::collections::HashMap;
use std::net::IpAddr;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use jiff::{SignedDuration, Timestamp};

use crate::attempts::{Attempts, Growth};
use crate::certificate::Certificate;
use crate::chance::Chance;
use crate::codes::{Codes, Maker, PairingCode, code_of};
use crate::error::DoorError;
use crate::hands::{Hands, KeptHand};
use crate::kept::{Folder, Kept};
use crate::passphrase::{self, Bottleneck, Cost, Passphrase};
use crate::sessions::{KeptSession, Sessions};

/// Wrong passphrases: three free tries, then a wait that doubles up to a quarter of an hour. All addresses together wait
/// at most half a minute, so that one of them cannot shut the others out for long.
const PASSPHRASES: (Growth, Growth) = (
    Growth {
        free: 3,
        most: SignedDuration::from_mins(15),
    },
    Growth {
        free: 20,
        most: SignedDuration::from_secs(30),
    },
);
/// Wrong pairing codes: all addresses together get less than 200 tries in the life of a code, among 31⁸.
const CODES: (Growth, Growth) = (
    Growth {
        free: 3,
        most: SignedDuration::from_mins(15),
    },
    Growth {
        free: 20,
        most: SignedDuration::from_secs(2),
    },
);
/// When a session was last used is brought to the disk so often.
const SEEN_KEPT: SignedDuration = SignedDuration::from_mins(5);
/// Letters of what a device is called.
const DEVICE_LETTERS: usize = 60;

/// The door of a bench. Its files lie in the folder `door`; they are no part of the record.
#[derive(Debug)]
pub struct Door {
    chance: Chance,
    cost: Cost,
    hands: Kept<Hands>,
    sessions: Kept<Sessions>,
    certificate: Kept<Option<Certificate>>,
    /// When sessions were used last, where the disk does not say yet.
    seen: Mutex<HashMap<String, Timestamp>>,
    passphrases: Mutex<Attempts>,
    code_tries: Mutex<Attempts>,
    codes: Mutex<Codes>,
    bottleneck: Bottleneck,
}

/// A bench-hand who may come in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BenchHand {
    /// The name that stands in the journal.
    pub name: String,
    /// When they were added.
    pub since: Timestamp,
}

/// A session, to be listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionLine {
    /// By what it is ended.
    pub name: String,
    /// Whose it is.
    pub hand: String,
    /// What the device is called.
    pub device: String,
    /// When it began.
    pub since: Timestamp,
    /// When it was used last.
    pub seen: Timestamp,
}

/// Who is in: the bench-hand of a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Insider {
    /// The name that stands in the journal.
    pub hand: String,
    /// The session's name, as in [`SessionLine`].
    pub session: String,
}

/// A session that has just begun.
#[derive(Debug)]
pub struct Entered {
    /// What the browser keeps, and shows with each request.
    pub token: String,
    /// Who is in.
    pub insider: Insider,
}

/// Why nobody came in.
#[derive(Debug)]
pub enum Refusal {
    /// Too many wrong tries; so long nothing is tried.
    Wait(SignedDuration),
    /// The name and passphrase do not belong together.
    WrongPassphrase,
    /// The code is wrong, used up or too old.
    WrongCode,
    /// Too many are being checked.
    Crowded,
    /// The door itself is at fault.
    Fault(DoorError),
}

impl From<DoorError> for Refusal {
    fn from(error: DoorError) -> Self {
        Self::Fault(error)
    }
}

impl Door {
    /// The door of the bench in this folder. Nothing is read or made yet.
    #[must_use]
    pub fn of_bench(bench: &Path, chance: Chance) -> Self {
        let folder = Folder::of_bench(bench);
        let again = "and add the bench-hands and pair the tablets anew";
        let attempts = |(each, all)| Mutex::new(Attempts::new(each, all));
        Self {
            hands: Kept::new(&folder, "hands.json", again),
            sessions: Kept::new(&folder, "sessions.json", "and pair the tablets anew"),
            certificate: Kept::new(
                &folder,
                "certificate.json",
                "and compare the new fingerprint on each tablet",
            ),
            chance,
            cost: Cost::RECOMMENDED,
            seen: Mutex::default(),
            passphrases: attempts(PASSPHRASES),
            code_tries: attempts(CODES),
            codes: Mutex::default(),
            bottleneck: Bottleneck::default(),
        }
    }

    /// The same with another cost of passphrases, for those that are set from now on.
    #[must_use]
    pub fn with_cost(self, cost: Cost) -> Self {
        Self { cost, ..self }
    }

    /// Who may come in, in the order in which they were added.
    ///
    /// # Errors
    /// When the files of the door cannot be read.
    pub fn hands(&self) -> Result<Vec<BenchHand>, DoorError> {
        let line = |hand: &KeptHand| BenchHand {
            name: hand.name.clone(),
            since: hand.since,
        };
        Ok(self.hands.read()?.hands.iter().map(line).collect())
    }

    /// Lets a bench-hand come in. The name must be one that the journal takes.
    ///
    /// # Errors
    /// When there is one of that name, or it cannot be written.
    pub fn add(
        &self,
        name: &str,
        passphrase: &Passphrase,
        now: Timestamp,
    ) -> Result<(), DoorError> {
        // Told before the work of hashing.
        if self.hands.read()?.find(name).is_some() {
            return Err(DoorError::Taken(name.to_owned()));
        }
        let hand = KeptHand {
            name: name.trim().to_owned(),
            passphrase: passphrase::keep(passphrase, self.cost, &self.chance)?,
            since: now,
            term: self.term()?,
        };
        self.hands.change(|hands| hands.add(hand))
    }

    /// Gives a bench-hand another passphrase; their sessions end.
    ///
    /// # Errors
    /// When there is none of that name, or it cannot be written.
    pub fn change_passphrase(&self, name: &str, passphrase: &Passphrase) -> Result<(), DoorError> {
        if self.hands.read()?.find(name).is_none() {
            return Err(DoorError::Unknown(name.to_owned()));
        }
        let kept = passphrase::keep(passphrase, self.cost, &self.chance)?;
        let term = self.term()?;
        self.hands.change(|hands| hands.change(name, kept, term))?;
        self.close_codes_of(name);
        Ok(())
    }

    /// Lets a bench-hand come in no more; their sessions end. What they wrote in the journal stays.
    ///
    /// # Errors
    /// When there is none of that name, or it cannot be written.
    pub fn remove(&self, name: &str) -> Result<(), DoorError> {
        self.hands.change(|hands| hands.remove(name))?;
        self.close_codes_of(name);
        Ok(())
    }

    /// Comes in by name and passphrase.
    ///
    /// # Errors
    /// Why not.
    pub fn enter(
        &self,
        name: &str,
        passphrase: &Passphrase,
        from: IpAddr,
        device: &str,
        now: Timestamp,
    ) -> Result<Entered, Refusal> {
        let hand = self.known(name, passphrase, from, now)?;
        Ok(self.begin(&hand, device, now)?)
    }

    /// Whether this is the passphrase of a bench-hand; wrong tries count as at the door.
    ///
    /// # Errors
    /// Why not.
    pub fn knows(
        &self,
        name: &str,
        passphrase: &Passphrase,
        from: IpAddr,
        now: Timestamp,
    ) -> Result<(), Refusal> {
        self.known(name, passphrase, from, now).map(drop)
    }

    fn known(
        &self,
        name: &str,
        passphrase: &Passphrase,
        from: IpAddr,
        now: Timestamp,
    ) -> Result<KeptHand, Refusal> {
        held(&self.passphrases)
            .begin(from, now)
            .map_err(Refusal::Wait)?;
        let hands = self.hands.read()?;
        let hand = hands.find(name);
        let check = || match hand {
            Some(hand) => Ok(passphrase::is(passphrase, &hand.passphrase)),
            // Somebody who is not there takes as long as somebody who is.
            None => passphrase::keep(passphrase, self.cost, &self.chance).map(|_| false),
        };
        let is_right = self.bottleneck.pass(check).ok_or(Refusal::Crowded)??;
        let hand = hand.filter(|_| is_right).ok_or(Refusal::WrongPassphrase)?;
        held(&self.passphrases).succeeded(from);
        Ok(hand.clone())
    }

    /// Comes in by a pairing code, which is used up.
    ///
    /// # Errors
    /// Why not.
    pub fn enter_by_code(
        &self,
        code: &str,
        from: IpAddr,
        device: &str,
        now: Timestamp,
    ) -> Result<Entered, Refusal> {
        held(&self.code_tries)
            .begin(from, now)
            .map_err(Refusal::Wait)?;
        let taken = held(&self.codes)
            .take(code, now)
            .ok_or(Refusal::WrongCode)?;
        let hands = self.hands.read()?;
        let hand = hands.find(&taken.hand).ok_or(Refusal::WrongCode)?;
        held(&self.code_tries).succeeded(from);
        Ok(self.begin(hand, device, now)?)
    }

    fn begin(&self, hand: &KeptHand, device: &str, now: Timestamp) -> Result<Entered, DoorError> {
        let token = BASE64_URL_SAFE_NO_PAD.encode(self.chance.bytes::<32>()?);
        let session = KeptSession {
            token_hash: hash(&token),
            hand: hand.name.clone(),
            term: hand.term.clone(),
            device: device_name(device),
            since: now,
            seen: now,
        };
        let insider = Insider {
            hand: hand.name.clone(),
            session: session.name().to_owned(),
        };
        self.sessions.change(|sessions| {
            sessions.begin(session);
            Ok(())
        })?;
        Ok(Entered { token, insider })
    }

    /// Who shows this token; `None` when the session never was, has ended or is too old.
    ///
    /// # Errors
    /// When the files of the door cannot be read; then nobody is in.
    pub fn insider(&self, token: &str, now: Timestamp) -> Result<Option<Insider>, DoorError> {
        let token_hash = hash(token);
        let sessions = self.sessions.read()?;
        let Some(session) = sessions.find(&token_hash) else {
            return Ok(None);
        };
        let session = self.lately(session.clone());
        if !session.stands(now) || !self.is_of_this_term(&session)? {
            return Ok(None);
        }
        self.saw(&session, now)?;
        Ok(Some(Insider {
            hand: session.hand.clone(),
            session: session.name().to_owned(),
        }))
    }

    /// Whether a session that was in still is, without its counting as used.
    ///
    /// # Errors
    /// When the files of the door cannot be read.
    pub fn is_still_in(&self, insider: &Insider, now: Timestamp) -> Result<bool, DoorError> {
        let standing = self.sessions(now)?;
        Ok(standing
            .iter()
            .any(|line| line.name == insider.session && line.hand == insider.hand))
    }

    /// A session ends with the passphrase and the bench-hand it began with.
    fn is_of_this_term(&self, session: &KeptSession) -> Result<bool, DoorError> {
        let hands = self.hands.read()?;
        let of_hand = hands.find(&session.hand);
        Ok(of_hand.is_some_and(|hand| hand.term == session.term))
    }

    /// A session with when it was used last, also where the disk does not say yet.
    fn lately(&self, mut session: KeptSession) -> KeptSession {
        if let Some(&seen) = held(&self.seen).get(&session.token_hash) {
            session.seen = session.seen.max(seen);
        }
        session
    }

    fn saw(&self, session: &KeptSession, now: Timestamp) -> Result<(), DoorError> {
        let mut seen = held(&self.seen);
        seen.insert(session.token_hash.clone(), now);
        drop(seen);
        let on_disk = self.sessions.read()?;
        let kept = on_disk.find(&session.token_hash).map(|kept| kept.seen);
        if kept.is_some_and(|kept| now.duration_since(kept) < SEEN_KEPT) {
            return Ok(());
        }
        // A full disk must not lock those out who are in.
        let _ = self.sessions.change(|sessions| {
            sessions.saw(&session.token_hash, now);
            Ok(())
        });
        Ok(())
    }

    /// The sessions that stand, the one used last first.
    ///
    /// # Errors
    /// When the files of the door cannot be read.
    pub fn sessions(&self, now: Timestamp) -> Result<Vec<SessionLine>, DoorError> {
        let mut lines = Vec::new();
        for session in &self.sessions.read()?.sessions {
            let session = self.lately(session.clone());
            if session.stands(now) && self.is_of_this_term(&session)? {
                lines.push(SessionLine {
                    name: session.name().to_owned(),
                    hand: session.hand.clone(),
                    device: session.device.clone(),
                    since: session.since,
                    seen: session.seen,
                });
            }
        }
        lines.sort_by_key(|line| std::cmp::Reverse(line.seen));
        Ok(lines)
    }

    /// Ends the session of this name; `false` when there is none.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn end(&self, session: &str) -> Result<bool, DoorError> {
        let ended = self.sessions.change(|sessions| Ok(sessions.end(session)))?;
        held(&self.seen).retain(|hash, _| !hash.starts_with(session));
        let maker = Maker::Session(session.to_owned());
        held(&self.codes).close(|open| open.maker == maker);
        Ok(ended)
    }

    /// Opens a pairing code by which a tablet comes in as this bench-hand.
    ///
    /// # Errors
    /// When there is no such bench-hand, or no randomness.
    pub fn open_code(
        &self,
        hand: &str,
        maker: Maker,
        now: Timestamp,
    ) -> Result<PairingCode, DoorError> {
        let hands = self.hands.read()?;
        let hand = hands
            .find(hand)
            .ok_or_else(|| DoorError::Unknown(hand.to_owned()))?;
        let code = loop {
            // One try in about 10³⁸ does not suffice.
            if let Some(code) = code_of(&self.chance.bytes::<64>()?) {
                break code;
            }
        };
        Ok(held(&self.codes).open(code, &hand.name, maker, now))
    }

    /// The code that this maker has open.
    #[must_use]
    pub fn code_of(&self, maker: &Maker, now: Timestamp) -> Option<PairingCode> {
        held(&self.codes).of(maker, now)
    }

    fn close_codes_of(&self, name: &str) {
        let name = name.trim().to_lowercase();
        held(&self.codes).close(|open| open.hand.to_lowercase() == name);
    }

    /// The certificate to show; made for these names and addresses when there is none that is good for long enough.
    /// The other value says whether it was made just now.
    ///
    /// # Errors
    /// When it cannot be read, made or written.
    pub fn certificate(
        &self,
        names: &[String],
        now: Timestamp,
    ) -> Result<(Certificate, bool), DoorError> {
        if let Some(kept) = self.certificate.read()?.as_ref()
            && kept.is_good(now)
        {
            return Ok((kept.clone(), false));
        }
        self.certificate.change(|kept| {
            // Another program may have made it meanwhile.
            if let Some(kept) = kept.as_ref().filter(|kept| kept.is_good(now)) {
                return Ok((kept.clone(), false));
            }
            let made = Certificate::make(names, now)?;
            *kept = Some(made.clone());
            Ok((made, true))
        })
    }

    fn term(&self) -> Result<String, DoorError> {
        Ok(BASE64_URL_SAFE_NO_PAD.encode(self.chance.bytes::<9>()?))
    }
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn hash(token: &str) -> String {
    blake3::hash(token.as_bytes()).to_hex().to_string()
}

/// What a device is called, fit for one line of a list.
fn device_name(typed: &str) -> String {
    let tidy: String = typed
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .chars()
        .filter(|letter| !letter.is_control())
        .take(DEVICE_LETTERS)
        .collect();
    if tidy.is_empty() {
        "tablet".to_owned()
    } else {
        tidy
    }
}

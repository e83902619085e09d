//! The bench-hands who may come in, as they are kept.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::DoorError;

/// Most bench-hands of one bench.
pub(crate) const MOST_HANDS: usize = 40;

/// Those who may come in.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Hands {
    pub(crate) hands: Vec<KeptHand>,
}

/// A bench-hand with a passphrase.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct KeptHand {
    pub(crate) name: String,
    /// The passphrase, hashed.
    pub(crate) passphrase: String,
    pub(crate) since: Timestamp,
    /// Drawn anew with each passphrase: sessions that name another have ended.
    pub(crate) term: String,
}

impl Hands {
    /// The bench-hand of this name; capitals do not matter.
    pub(crate) fn find(&self, name: &str) -> Option<&KeptHand> {
        let name = name.trim().to_lowercase();
        self.hands
            .iter()
            .find(|hand| hand.name.to_lowercase() == name)
    }

    pub(crate) fn add(&mut self, hand: KeptHand) -> Result<(), DoorError> {
        if self.find(&hand.name).is_some() {
            return Err(DoorError::Taken(hand.name));
        }
        if self.hands.len() >= MOST_HANDS {
            return Err(DoorError::TooMany(MOST_HANDS));
        }
        self.hands.push(hand);
        Ok(())
    }

    pub(crate) fn change(
        &mut self,
        name: &str,
        passphrase: String,
        term: String,
    ) -> Result<(), DoorError> {
        let place = self.place(name)?;
        if let Some(hand) = self.hands.get_mut(place) {
            hand.passphrase = passphrase;
            hand.term = term;
        }
        Ok(())
    }

    pub(crate) fn remove(&mut self, name: &str) -> Result<(), DoorError> {
        let place = self.place(name)?;
        self.hands.remove(place);
        Ok(())
    }

    fn place(&self, name: &str) -> Result<usize, DoorError> {
        let found = self.find(name).map(|found| found.name.clone());
        self.hands
            .iter()
            .position(|hand| Some(&hand.name) == found.as_ref())
            .ok_or_else(|| DoorError::Unknown(name.to_owned()))
    }
}

//! Who may come in to a bench that is open to its network.
//!
//! [`Door`] knows the bench-hands with their passphrases, the sessions that stand, the pairing codes that are open and
//! the certificate. Its files lie in the folder `door` of a bench; they are no part of the record: not in the journal,
//! not in an export, not in a backup. Time, addresses and randomness are passed in. Nothing here knows HTTP or HTML.
//!
//! - `passphrase`, `attempts`, `codes`, `sessions`, `hands`, `certificate`: rules without files or clocks;
//! - `kept`: a value in a file, whole or as it was, shared with other programs;
//! - `door`: the two together.

mod attempts;
mod certificate;
mod chance;
mod codes;
mod door;
mod error;
mod hands;
mod kept;
mod network;
mod passphrase;
mod sessions;
mod system;

pub use certificate::Certificate;
pub use chance::Chance;
pub use codes::{Maker, PairingCode};
pub use door::{BenchHand, Door, Entered, Insider, Refusal, SessionLine};
pub use error::DoorError;
pub use network::{host_names, network_addresses};
pub use passphrase::{Cost, Passphrase};
pub use sessions::SESSION_LONGEST;

//! Who may ask, who is in, and the pages by which one comes in.
//!
//! A bench is for its own computer alone ([`Gate::Own`]), where nobody has to say who they are. Opened to its
//! network ([`Gate::Network`]) it asks everybody for a session, over TLS. What makes a session, a passphrase or a
//! pairing code good is decided by the crate `fettle-door`; here it meets cookies and pages.

pub(crate) mod enter;
mod gate;
pub(crate) mod hands;
mod network;
pub(crate) mod pair;
mod small_form;
mod who;

pub(crate) use self::gate::Gate;
pub use self::network::Network;
pub(crate) use self::who::{Inside, Who, let_in};

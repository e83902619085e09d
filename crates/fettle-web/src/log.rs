//! The server's log: lines on standard error.

use std::sync::atomic::{AtomicU64, Ordering};

static COUNT: AtomicU64 = AtomicU64::new(0);

/// Writes `detail` to the log and returns the reference number under which it stands there.
pub(crate) fn fault(detail: &str) -> String {
    let reference = reference();
    #[expect(
        clippy::print_stderr,
        reason = "standard error is the log of the server"
    )]
    {
        eprintln!("fault {reference}: {detail}");
    }
    reference
}

/// Short and unlike the others of this run, so that it can be read out and searched for.
fn reference() -> String {
    let count = COUNT.fetch_add(1, Ordering::Relaxed).to_le_bytes();
    let run = std::process::id().to_le_bytes();
    let hash = blake3::hash(&[&count[..], &run[..]].concat());
    hash.to_hex()
        .as_str()
        .get(..8)
        .unwrap_or_default()
        .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn references_differ() {
        assert_ne!(fault("one"), fault("two"));
    }
}

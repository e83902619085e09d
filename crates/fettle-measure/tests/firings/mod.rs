//! Firings of given effective times, one after the other.

use fettle_measure::Seconds;
use fettle_measure::synth::Firing;

/// They begin at 0.6 s, each so many seconds of dark after the one before; and when the last dark is over.
pub(crate) fn firings(times: &[f64], dark: f64) -> (Vec<Firing>, Seconds) {
    let mut at = 0.6;
    let firing = |time: &f64| {
        let start = at;
        at += time + dark;
        Firing::new(Seconds::s(start), Seconds::s(*time))
    };
    let firings = times.iter().map(firing).collect();
    (firings, Seconds::s(at))
}

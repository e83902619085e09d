//! Networks drawn by lot for tests.

use super::network::{Chances, Network};
use crate::lots::Lots;

/// A network of so many circumstances, faults and signs.
pub(crate) fn random(
    lots: &mut Lots,
    circumstances: usize,
    faults: usize,
    signs: usize,
) -> Network {
    let mut causes = Vec::new();
    for _ in 0..circumstances {
        causes.push(Chances {
            leak: lots.between(0.05, 0.5),
            links: Vec::new(),
        });
    }
    for at in circumstances..circumstances + faults {
        let mut links = Vec::new();
        for parent in 0..at {
            let often = if parent < circumstances { 0.3 } else { 0.15 };
            if lots.next() < often {
                links.push((parent, lots.between(0.02, 0.6)));
            }
        }
        causes.push(Chances {
            leak: lots.between(0.001, 0.1),
            links,
        });
    }
    let signs = (0..signs).map(|_| {
        let mut links: Vec<(usize, f64)> = Vec::new();
        for _ in 0..=lots.below(4) {
            let cause = circumstances + lots.below(faults);
            if links.iter().all(|(other, _)| *other != cause) {
                links.push((cause, lots.between(0.1, 0.99)));
            }
        }
        Chances {
            leak: lots.between(0.0, 0.05),
            links,
        }
    });
    let signs: Vec<Chances> = signs.collect();
    let name = |kind: &str, count: usize| {
        (0..count)
            .map(|at| format!("{kind}-{at}"))
            .collect::<Vec<_>>()
    };
    let names = [name("circumstance", circumstances), name("fault", faults)].concat();
    let sign_names = name("sign", signs.len());
    Network::new(names, circumstances, causes, sign_names, signs)
}

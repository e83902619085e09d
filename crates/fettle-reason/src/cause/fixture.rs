//! Networks drawn by lot for tests.

use super::network::{Chances, Network};
use crate::lots::Draw;

/// A network of so many circumstances, faults and signs.
pub(crate) fn random(
    draw: &mut Draw,
    circumstances: usize,
    faults: usize,
    signs: usize,
) -> Network {
    let mut causes = Vec::new();
    for _ in 0..circumstances {
        causes.push(Chances {
            leak: draw.between(0.05, 0.5),
            links: Vec::new(),
        });
    }
    for at in circumstances..circumstances + faults {
        let mut links = Vec::new();
        for parent in 0..at {
            let often = if parent < circumstances { 0.3 } else { 0.15 };
            if draw.next() < often {
                links.push((parent, draw.between(0.02, 0.6)));
            }
        }
        causes.push(Chances {
            leak: draw.between(0.001, 0.1),
            links,
        });
    }
    let signs = (0..signs).map(|_| {
        let mut links: Vec<(usize, f64)> = Vec::new();
        for _ in 0..=draw.below(4) {
            let cause = circumstances + draw.below(faults);
            if links.iter().all(|(other, _)| *other != cause) {
                links.push((cause, draw.between(0.1, 0.99)));
            }
        }
        Chances {
            leak: draw.between(0.0, 0.05),
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

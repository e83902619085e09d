//! How long an answer takes: chances of all faults, the ranking of looks, the way in.
//!
//! Goals, on one core: chances of 60 faults from 100 signs and 15 findings in 20 ms, the ranking with its lookahead in 200 ms, the
//! way in among 80 parts in 20 ms.
#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a bench whose answer is wrong has no meaning"
)]

mod drawn;
#[path = "../../src/lots.rs"]
mod lots;

use drawn::Size;
use fettle_notes::{PartId, ServiceNotes};
use fettle_reason::cause::trial;
use fettle_reason::cause::{self, Diagnosis, Evidence, Network, Question};
use fettle_reason::way;
use lots::Lots;

const LARGE: Size = Size {
    removals: 60,
    circumstances: 8,
    faults: 60,
    signs: 100,
    groups: 6,
};
const MANY_PARTS: Size = Size {
    removals: 80,
    circumstances: 1,
    faults: 1,
    signs: 1,
    groups: 6,
};
const FINDINGS: usize = 15;
const SEEDS: [u64; 5] = [1, 2, 3, 4, 5];

const DEMOS: [(&str, &str); 3] = [
    (
        "sprat",
        include_str!("../../../fettle-demo/notes/sprat.toml"),
    ),
    (
        "meridian",
        include_str!("../../../fettle-demo/notes/meridian.toml"),
    ),
    (
        "corran-66",
        include_str!("../../../fettle-demo/notes/corran-66.toml"),
    ),
];

fn main() {
    divan::main();
}

fn parsed(text: &str) -> ServiceNotes {
    match fettle_notes::parse(text, None) {
        Ok((notes, _)) => notes,
        Err(problems) => panic!("the notes are not sound: {problems:?}"),
    }
}
/// A model, its network and what is known of one camera.
struct Case {
    notes: ServiceNotes,
    network: Network,
    evidence: Evidence,
}

impl Case {
    fn of(text: &str, looks: usize, seed: u64) -> Self {
        let notes = parsed(text);
        let network = Network::of(&notes);
        let camera = trial::cameras(&notes, &network, 1, seed);
        let evidence = camera
            .first()
            .expect("something shows")
            .looked_over(&network, looks, seed);
        Self {
            notes,
            network,
            evidence,
        }
    }

    fn large(seed: u64) -> Self {
        Self::of(&drawn::notes(LARGE, seed), FINDINGS - 1, seed)
    }

    fn ranked(&self) -> Diagnosis {
        let question = Question {
            notes: &self.notes,
            network: &self.network,
            evidence: &self.evidence,
            off: &[],
            full_strip: false,
            successes: &[],
            plan_depth: 0,
        };
        let diagnosis = cause::diagnose(question).expect("a camera of the network can be");
        let exact = diagnosis.evidence_probability.is_some();
        assert!(exact, "the answer is exact");
        diagnosis
    }
}

#[divan::bench(args = SEEDS)]
fn chances_of_60_faults(bencher: divan::Bencher<'_, '_>, seed: u64) {
    let case = Case::large(seed);
    assert_eq!(case.ranked().faults.len(), LARGE.faults);
    bencher.bench(|| cause::suspects(&case.network, &case.evidence).expect("these can be"));
}

#[divan::bench(args = SEEDS, sample_count = 20)]
fn ranking_among_60_faults(bencher: divan::Bencher<'_, '_>, seed: u64) {
    let case = Case::large(seed);
    bencher.bench(|| case.ranked());
}

/// With the complaint alone, and with three and eight more answers.
#[divan::bench(args = DEMOS.map(|demo| demo.0), consts = [0, 3, 8], sample_count = 20)]
fn ranking_of_a_demo<const LOOKS: usize>(bencher: divan::Bencher<'_, '_>, name: &str) {
    let demo = DEMOS.iter().find(|demo| demo.0 == name);
    let case = Case::of(demo.expect("one of the demos").1, LOOKS, 1);
    bencher.bench(|| case.ranked());
}

/// To the part drawn last and three others.
#[divan::bench(args = SEEDS)]
fn way_among_80_parts(bencher: divan::Bencher<'_, '_>, seed: u64) {
    let notes = parsed(&drawn::notes(MANY_PARTS, seed));
    let mut lots = Lots::of(seed);
    let parts: Vec<&PartId> = notes.removals.ids().collect();
    let mut wanted = vec![parts[parts.len() - 1].clone()];
    wanted.extend((0..3).map(|_| parts[lots.below(parts.len())].clone()));
    let found = way(&notes, &wanted, &[]).expect("there is a way");
    assert!(found.exact, "no better way was left unsearched");
    bencher.bench(|| way(&notes, &wanted, &[]).expect("there is a way"));
}

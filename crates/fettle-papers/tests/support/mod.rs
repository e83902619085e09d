//! Proof sheets to try the papers on.

use fettle_draw::{Trace, TracePoint};
use fettle_measure::Verdict;
use fettle_papers::{
    Exposure, InstrumentProof, Language, Limit, Measured, ProofSheet, ReadingProof, Shortfall,
    SpeedProof, TraceProof,
};
use jiff::civil::date;

use crate::heads::{bench, camera};

const DIAL: [(&str, f64); 10] = [
    ("1", 1.0),
    ("1/2", 0.5),
    ("1/4", 0.25),
    ("1/8", 0.125),
    ("1/15", 1.0 / 15.0),
    ("1/30", 1.0 / 30.0),
    ("1/60", 1.0 / 60.0),
    ("1/125", 1.0 / 125.0),
    ("1/250", 1.0 / 250.0),
    ("1/500", 1.0 / 500.0),
];

/// A camera's usual sheet: ten speeds with their traces, and three other instruments.
pub(crate) fn usual() -> ProofSheet {
    ProofSheet {
        language: Language::En,
        bench: bench(),
        visit: "57".to_owned(),
        owner: "Ottoline Marsh".to_owned(),
        camera: camera(),
        arrived: Some(date(2026, 10, 30)),
        proved: Some(date(2026, 11, 23)),
        issued: date(2026, 11, 25),
        signed_by: "Edda Quill".to_owned(),
        done: vec![
            "Shutter taken down, old grease washed out of the gear train, lubricated anew".to_owned(),
            "Wind pawl replaced by one made here".to_owned(),
            "Focusing rack cleaned, register set".to_owned(),
        ],
        speeds: DIAL.iter().enumerate().map(|(i, (marked, nominal))| speed(i, marked, *nominal)).collect(),
        traces: DIAL
            .iter()
            .enumerate()
            .map(|(i, (marked, nominal))| TraceProof {
                marked: (*marked).to_owned(),
                before: Some(trace(nominal * before_stops(i).exp2())),
                after: Some(trace(nominal * after_stops(i).exp2())),
            })
            .collect(),
        instruments: instruments(),
        not_brought_back: vec![Shortfall {
            what: "The light cell has aged: below EV 5 the meter reads low".to_owned(),
            correction: Some("in dim rooms open by half a stop more than it says".to_owned()),
        }],
        cautions: vec!["The lens was cleaned without polishing; one scratch near its rim remains".to_owned()],
        methods: vec![
            "Shutter: light through the open back on a photodiode, recorded at 48 kHz; three releases of each speed."
                .to_owned(),
            "Focus register: depth gauge against a flat on the lens seat, nine points of the frame.".to_owned(),
        ],
        remarks: vec!["The recording was coupled through a capacitor; its corner of 1.8 Hz was found and taken out".to_owned()],
    }
}

fn before_stops(i: usize) -> f64 {
    1.35 - 0.13 * i as f64
}

fn after_stops(i: usize) -> f64 {
    [0.04, -0.02, 0.06, 0.01, -0.05, 0.08, 0.03, 0.11, 0.27, 0.62][i % 10]
}

/// One speed of the dial; `i` is its place.
pub(crate) fn speed(i: usize, marked: &str, nominal_s: f64) -> SpeedProof {
    let exposure = |error_stops: f64| Exposure {
        effective_s: nominal_s * error_stops.exp2(),
        error_stops,
        uncertainty_stops: Some(0.012 + 0.006 * i as f64),
        releases: 3,
    };
    let limit = if i < 8 { 0.25 } else { 1.0 / 3.0 };
    let after = exposure(after_stops(i));
    let reach = after.uncertainty_stops.unwrap_or(0.0);
    SpeedProof {
        marked: marked.to_owned(),
        before: (i != 1).then(|| exposure(before_stops(i))),
        after: Some(after),
        limit_stops: Some(limit),
        verdict: Some(if after.error_stops.abs() + reach <= limit {
            Verdict::In
        } else if after.error_stops.abs() - reach > limit {
            Verdict::Out
        } else {
            Verdict::Undecided
        }),
    }
}

/// A leaf shutter's trace of a given effective time, with a little grain.
pub(crate) fn trace(effective_s: f64) -> Trace {
    let flank = 0.0012_f64.min(effective_s);
    let total = effective_s + flank;
    let lead = total * 0.12;
    let count = 600;
    let step = (total + 2.0 * lead) / f64::from(count);
    let points = (0..=count)
        .map(|i| {
            let t = f64::from(i) * step - lead;
            let open = (t / flank).min((total - t) / flank).clamp(0.0, 1.0);
            TracePoint {
                time_s: t + 0.25,
                openness: open + 0.006 * (f64::from(i) * 1.7).sin(),
            }
        })
        .collect();
    Trace {
        points,
        first_opening_s: Some(0.25),
        full_s: Some(0.25 + flank),
        closing_s: Some(0.25 + effective_s),
        closed_s: Some(0.25 + total),
        effective_s: Some(effective_s),
        effective_uncertainty_s: Some(effective_s * 0.011),
    }
}

fn instruments() -> Vec<InstrumentProof> {
    let measured = |value, uncertainty| {
        Some(Measured {
            value,
            uncertainty: Some(uncertainty),
        })
    };
    vec![
        InstrumentProof {
            name: "Focus register".to_owned(),
            readings: vec![
                ReadingProof {
                    name: "mean".to_owned(),
                    unit: "mm".to_owned(),
                    before: measured(74.1312, 0.0062),
                    after: measured(74.0117, 0.0058),
                    limit: Some(Limit::Within {
                        target: 74.0,
                        deviation: 0.02,
                    }),
                    verdict: Some(Verdict::In),
                },
                ReadingProof {
                    name: "tilt across the frame".to_owned(),
                    unit: "mm".to_owned(),
                    before: measured(0.0814, 0.0093),
                    after: measured(0.0243, 0.0091),
                    limit: Some(Limit::AtMost(0.03)),
                    verdict: Some(Verdict::Undecided),
                },
            ],
            charts: Vec::new(),
        },
        InstrumentProof {
            name: "Exposure meter".to_owned(),
            readings: vec![ReadingProof {
                name: "greatest error, EV 5 to EV 16".to_owned(),
                unit: "stops".to_owned(),
                before: None,
                after: measured(0.314, 0.083),
                limit: Some(Limit::Within {
                    target: 0.0,
                    deviation: 0.5,
                }),
                verdict: Some(Verdict::In),
            }],
            charts: Vec::new(),
        },
    ]
}

/// A sheet with nothing measured and nothing optional filled in.
pub(crate) fn bare() -> ProofSheet {
    ProofSheet {
        arrived: None,
        proved: None,
        signed_by: String::new(),
        done: Vec::new(),
        speeds: Vec::new(),
        traces: Vec::new(),
        instruments: Vec::new(),
        not_brought_back: Vec::new(),
        cautions: Vec::new(),
        methods: Vec::new(),
        remarks: Vec::new(),
        ..usual()
    }
}

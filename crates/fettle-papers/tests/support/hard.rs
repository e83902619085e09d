//! Proof sheets that are hard to set.

use fettle_measure::Verdict;
use fettle_papers::{
    BenchHead, CameraHead, ChartProof, Exposure, InstrumentProof, Limit, Measured, ProofSheet,
    ReadingProof, Shortfall, SpeedProof, TraceProof,
};

use crate::support::{speed, trace, usual};

/// A sheet with more of everything, and names longer than usual.
pub(crate) fn crowded() -> ProofSheet {
    let mut sheet = usual();
    sheet.bench.name =
        "The Saltmere Bench for Cameras, Shutters and Rangefinders, formerly Quill and Daughters"
            .to_owned();
    sheet.owner =
        "Wilhelmina Araminta Featherstonehaugh-Cholmondeley of Upper Lower Wallop Magna".to_owned();
    sheet.camera.model =
        "Meridian Universal Reporter Special with coupled rangefinder, second series".to_owned();
    sheet
        .camera
        .serials
        .push(("back".to_owned(), "0".repeat(120)));
    for (marked, nominal) in [("1/1000", 1e-3), ("1/2000", 5e-4)] {
        sheet.speeds.push(speed(8, marked, nominal));
        sheet.traces.push(TraceProof {
            marked: marked.to_owned(),
            before: Some(trace(nominal * 1.9)),
            after: Some(trace(nominal * 1.2)),
        });
    }
    let rangefinder = InstrumentProof {
        name: "Rangefinder".to_owned(),
        readings: (1..=9)
            .map(|n| ReadingProof {
                name: format!(
                    "residual at {n} m, in depths of focus, read against a taped distance"
                ),
                unit: "depths".to_owned(),
                before: Some(Measured {
                    value: 2.3 / f64::from(n),
                    uncertainty: Some(0.21),
                }),
                after: Some(Measured {
                    value: -0.4 / f64::from(n),
                    uncertainty: Some(0.18),
                }),
                limit: Some(Limit::Within {
                    target: 0.0,
                    deviation: 1.0,
                }),
                verdict: Some(Verdict::In),
            })
            .collect(),
        charts: vec![ChartProof {
                svg: "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400\" height=\"120\" viewBox=\"0 0 400 120\">\
                      <path d=\"M10 60H390\" stroke=\"black\"/></svg>"
                    .to_owned(),
                alt: "errors over the range".to_owned(),
            }],
    };
    sheet.instruments.push(rangefinder);
    for n in 1..=14 {
        sheet.done.push(format!("Further piece of work number {n}, told at some length so that it runs on to a second line of the sheet and shows how it hangs"));
    }
    sheet
}

/// A sheet in other scripts, one of which no bundled face has.
pub(crate) fn scripts() -> ProofSheet {
    let mut sheet = usual();
    sheet.bench.name = "Εργαστήριο Σάλτμερ".to_owned();
    sheet.owner = "青木 花子 김서연 मीरा สมชาย 𓀀".to_owned();
    sheet.done = vec![
        "Почищен затвор, смазан заново".to_owned(),
        "تنظيف الغالق".to_owned(),
        "Żółta gęś, čeština, türkçe, íslenska ð þ, tiếng Việt".to_owned(),
        "e\u{301} a\u{20e3} \u{1f4f7} \u{202e}txet".to_owned(),
    ];
    sheet
}

/// A sheet whose every text tries to be markup.
pub(crate) fn hostile() -> ProofSheet {
    let words = r##"#panic("out") $x^2$ *b* _e_ `r` <label> @ref = H // c /* c \ [ ] { } "q" 'q' #set page(width: 1pt) </svg>"##.to_owned();
    let mut sheet = usual();
    sheet.bench = BenchHead {
        name: words.clone(),
        lines: vec![words.clone()],
    };
    sheet.visit = words.clone();
    sheet.owner = words.clone();
    sheet.camera = CameraHead {
        maker: words.clone(),
        model: words.clone(),
        serials: vec![(words.clone(), words.clone())],
    };
    sheet.signed_by = words.clone();
    sheet.done = vec![words.clone()];
    sheet.speeds[0].marked = words.clone();
    sheet.traces[0].marked = words.clone();
    sheet.instruments[0].name = words.clone();
    sheet.instruments[0].readings[0].name = words.clone();
    sheet.instruments[0].readings[0].unit = words.clone();
    sheet.not_brought_back = vec![Shortfall {
        what: words.clone(),
        correction: Some(words.clone()),
    }];
    sheet.cautions = vec![words.clone()];
    sheet.methods = vec![words.clone()];
    sheet.remarks = vec![words];
    sheet
}

/// A sheet whose every figure is absurd.
pub(crate) fn absurd() -> ProofSheet {
    let figures = [
        f64::NAN,
        f64::INFINITY,
        -f64::INFINITY,
        f64::MAX,
        -f64::MIN_POSITIVE,
        0.0,
        1e-300,
    ];
    let mut sheet = usual();
    sheet.speeds = figures
        .iter()
        .map(|&x| SpeedProof {
            marked: "1/60".to_owned(),
            before: Some(Exposure {
                effective_s: x,
                error_stops: x,
                uncertainty_stops: Some(x),
                releases: 0,
            }),
            after: Some(Exposure {
                effective_s: x,
                error_stops: -x,
                uncertainty_stops: None,
                releases: 0,
            }),
            limit_stops: Some(x),
            verdict: Some(Verdict::Out),
        })
        .collect();
    sheet.instruments[0].readings = figures
        .iter()
        .map(|&x| ReadingProof {
            name: "absurd".to_owned(),
            unit: String::new(),
            before: Some(Measured {
                value: x,
                uncertainty: Some(x),
            }),
            after: Some(Measured {
                value: -x,
                uncertainty: None,
            }),
            limit: Some(Limit::Within {
                target: x,
                deviation: x,
            }),
            verdict: Some(Verdict::Undecided),
        })
        .collect();
    sheet
}

//! What holds for every drawing, and how the usual ones look.

#![expect(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a helper that cannot read a drawing has found the fault the test looks for"
)]

use std::f64::consts::TAU;

use fettle_draw::{
    CorrectionCard, Fastener, FastenerKind, Mark, NutForm, ScrewHead, Sheet, SpeedChart,
    SpeedColumn, SpeedReading, Trace, TracePoint, correction_card, fastener, meter_chart,
    rangefinder_chart, register_chart, speed_chart, trace_chart, trace_pair, verdict_mark,
};
use fettle_measure::{Verdict, meter, rangefinder, register};
use proptest::prelude::*;

/// How far a letter or a round mark may reach beyond the sheet's edge.
const EDGE: f64 = 12.0;

/// Parses a drawing and checks that every coordinate lies on its sheet.
fn check(svg: &str) {
    let document = roxmltree::Document::parse(svg).unwrap_or_else(|e| panic!("{e}\n{svg}"));
    let root = document.root_element();
    let size = |name: &str| -> f64 { root.attribute(name).unwrap().parse().unwrap() };
    let (width, height) = (size("width"), size("height"));
    assert_eq!(root.attribute("role"), Some("img"));
    assert!(root.attribute("aria-label").is_some());
    for node in root.descendants().filter(roxmltree::Node::is_element) {
        for (name, reach) in [("x", width), ("cx", width), ("y", height), ("cy", height)] {
            if let Some(value) = node.attribute(name) {
                on_sheet(value, reach, svg);
            }
        }
        if let Some(path) = node.attribute("d") {
            for pair in path.split(['M', 'L', 'Z']).filter(|p| !p.is_empty()) {
                let (x, y) = pair.split_once(' ').unwrap();
                on_sheet(x, width, svg);
                on_sheet(y, height, svg);
            }
        }
    }
}

fn on_sheet(value: &str, reach: f64, svg: &str) {
    let value: f64 = value.parse().unwrap();
    assert!(
        (-EDGE..=reach + EDGE).contains(&value),
        "{value} is not within 0..{reach}\n{svg}"
    );
}

fn trapezoid(flank_s: f64, effective_s: f64) -> Trace {
    let total = effective_s + flank_s;
    let point = |i: u32| {
        let t = (f64::from(i) / 100.0 - 0.1) * total / 0.8;
        TracePoint {
            time_s: t,
            openness: (t / flank_s).min((total - t) / flank_s).clamp(0.0, 1.0),
        }
    };
    Trace {
        points: (0..=100).map(point).collect(),
        first_opening_s: Some(0.0),
        full_s: Some(flank_s),
        closing_s: Some(effective_s),
        closed_s: Some(total),
        effective_s: Some(effective_s),
        effective_uncertainty_s: Some(effective_s * 0.011),
    }
}

fn dial() -> SpeedChart {
    let column = |marked: &str, before: Option<f64>, after: f64| SpeedColumn {
        marked: marked.to_owned(),
        limit_stops: Some(0.25),
        readings: [before, Some(after)]
            .map(|error| {
                error.map(|error_stops| SpeedReading {
                    error_stops,
                    uncertainty_stops: Some(0.06),
                })
            })
            .to_vec(),
    };
    SpeedChart {
        title: "errors of the speeds".to_owned(),
        series: vec![
            ("before".to_owned(), Mark::OpenCircle),
            ("after".to_owned(), Mark::FilledSquare),
        ],
        speeds: vec![
            column("1", Some(3.4), 0.04),
            column("1/2", None, -0.08),
            column("1/125", Some(0.61), 0.11),
            column("1/500", Some(-0.2), 0.31),
        ],
    }
}

fn screw(head: ScrewHead) -> Fastener {
    Fastener {
        kind: FastenerKind::Screw(head),
        thread: "M1.7".to_owned(),
        length_mm: Some(3.5),
        count: 3,
        left_hand: false,
    }
}

#[test]
fn a_trace_shows_its_moments_and_its_effective_time() {
    let svg = trace_chart("1/125 s", &trapezoid(0.0012, 0.0081), Sheet::Inherit);
    check(&svg);
    for words in [
        "effective 8.100 ± 0.089 ms",
        "1 first opening 0 ms",
        "2 full 1.20 ms",
        "3 closing 8.10 ms",
        "4 closed 9.30 ms",
        "openness, E/E₀",
        "ms from first opening",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    insta::assert_snapshot!(svg);
}

#[test]
fn a_pair_of_traces_shows_both_effective_times() {
    let (before, after) = (trapezoid(0.0012, 0.0121), trapezoid(0.0012, 0.0081));
    let svg = trace_pair("1/125 s", Some(&before), Some(&after), Sheet::Light);
    check(&svg);
    assert!(svg.contains("12.10 ± 0.13 ms"));
    assert!(svg.contains("8.100 ± 0.089 ms"));
    insta::assert_snapshot!(svg);
}

#[test]
fn errors_of_speeds_stand_in_their_band_and_one_beyond_the_chart_is_written() {
    let svg = speed_chart(&dial(), Sheet::Inherit);
    check(&svg);
    assert!(svg.contains(">+3.40</text>"));
    assert!(svg.contains(">1/500</text>"));
    assert!(svg.contains(">limit</text>"));
    insta::assert_snapshot!(svg);
}

#[test]
fn colours_on_a_page_are_the_pages_own() {
    let page = speed_chart(&dial(), Sheet::Inherit);
    assert!(page.contains("var(--ink, #16263d)") && page.contains("font-family=\"inherit\""));
    let paper = speed_chart(&dial(), Sheet::Light);
    assert!(!paper.contains("var("));
}

#[test]
fn verdicts_have_marks_of_their_own() {
    let marks =
        [Verdict::In, Verdict::Out, Verdict::Undecided].map(|v| verdict_mark(v, Sheet::Light));
    for mark in &marks {
        check(mark);
    }
    assert!(marks[0] != marks[1] && marks[1] != marks[2] && marks[0] != marks[2]);
}

#[test]
fn a_screw_is_drawn_to_scale_with_its_count_and_turn() {
    let svg = fastener(&screw(ScrewHead::Cheese), Sheet::Inherit);
    check(&svg);
    assert!(svg.contains("3 cheese-head screws, M1.7 × 3.5 mm"));
    assert!(svg.contains("loosens anticlockwise"));
    assert!(svg.contains("drawn 5 : 1"));
    insta::assert_snapshot!(svg);
}

#[test]
fn a_left_hand_thread_says_so() {
    let svg = fastener(
        &Fastener {
            left_hand: true,
            count: 1,
            ..screw(ScrewHead::FaceSpanner)
        },
        Sheet::Inherit,
    );
    assert!(svg.contains("1 face-spanner screw, M1.7 × 3.5 mm"));
    assert!(svg.contains("left-hand thread: loosens clockwise"));
}

#[test]
fn a_fastener_of_unknown_size_is_not_said_to_be_to_scale() {
    let svg = fastener(
        &Fastener {
            thread: String::new(),
            length_mm: None,
            ..screw(ScrewHead::Pan)
        },
        Sheet::Inherit,
    );
    check(&svg);
    assert!(svg.contains("not to scale") && !svg.contains(" : 1"));
}

#[test]
fn hostile_words_stay_words() {
    let words = "</text><script>alert(1)</script>\u{0}\u{1b}\"'&";
    check(&trace_chart(words, &trapezoid(0.001, 0.01), Sheet::Light));
    let mut chart = dial();
    chart.title = words.to_owned();
    chart.speeds[0].marked = words.to_owned();
    let svg = speed_chart(&chart, Sheet::Light);
    check(&svg);
    assert!(!svg.contains("<script"));
}

fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -10.0..10.0_f64,
        1 => any::<f64>(),
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(f64::MAX),
        1 => Just(-f64::MIN_POSITIVE),
        1 => Just(0.0),
    ]
}

fn any_trace() -> impl Strategy<Value = Trace> {
    let point =
        (any_number(), any_number()).prop_map(|(time_s, openness)| TracePoint { time_s, openness });
    let moments = proptest::array::uniform6(proptest::option::of(any_number()));
    (proptest::collection::vec(point, 0..40), moments).prop_map(
        |(
            points,
            [
                first_opening_s,
                full_s,
                closing_s,
                closed_s,
                effective_s,
                effective_uncertainty_s,
            ],
        )| Trace {
            points,
            first_opening_s,
            full_s,
            closing_s,
            closed_s,
            effective_s,
            effective_uncertainty_s,
        },
    )
}

fn any_kind() -> impl Strategy<Value = FastenerKind> {
    proptest::sample::select(vec![
        FastenerKind::Screw(ScrewHead::Cheese),
        FastenerKind::Screw(ScrewHead::Countersunk),
        FastenerKind::Screw(ScrewHead::Pan),
        FastenerKind::Screw(ScrewHead::Round),
        FastenerKind::Screw(ScrewHead::Hexagon),
        FastenerKind::Screw(ScrewHead::FaceSpanner),
        FastenerKind::Screw(ScrewHead::Headless),
        FastenerKind::Nut(NutForm::Hexagon),
        FastenerKind::Nut(NutForm::Slotted),
        FastenerKind::Nut(NutForm::FaceSpanner),
        FastenerKind::Ring,
        FastenerKind::Pin,
    ])
}

proptest! {
    #[test]
    fn any_trace_is_drawn_on_its_sheet(trace in any_trace(), label in ".{0,12}") {
        check(&trace_chart(&label, &trace, Sheet::Light));
    }

    #[test]
    fn any_pair_of_traces_is_drawn_on_its_sheet(before in any_trace(), after in any_trace()) {
        check(&trace_pair("1/60 s", Some(&before), Some(&after), Sheet::Inherit));
        check(&trace_pair("1/60 s", None, Some(&after), Sheet::Inherit));
    }

    #[test]
    fn any_errors_are_drawn_on_their_sheet(
        readings in proptest::collection::vec(
            (any_number(), proptest::option::of(any_number()), proptest::option::of(any_number())), 0..30),
    ) {
        let mut chart = dial();
        chart.speeds = readings
            .into_iter()
            .map(|(error_stops, uncertainty_stops, limit_stops)| SpeedColumn {
                marked: "1/60".to_owned(),
                limit_stops,
                readings: vec![Some(SpeedReading { error_stops, uncertainty_stops }); 2],
            })
            .collect();
        check(&speed_chart(&chart, Sheet::Light));
    }

    #[test]
    fn any_fastener_is_drawn_on_its_sheet(
        kind in any_kind(), thread in "(M[0-9]{1,3}(\\.[0-9]{1,2})?)?", length_mm in proptest::option::of(any_number()),
        count in any::<u32>(), left_hand in any::<bool>(),
    ) {
        check(&fastener(&Fastener { kind, thread, length_mm, count, left_hand }, Sheet::Light));
    }

    #[test]
    fn a_trace_moved_in_time_is_drawn_alike(shift in 0.0..40.0_f64) {
        // A power of two, so that moving it loses no digit.
        let shift = (shift * 64.0).round() / 64.0;
        let mut trace = trapezoid(0.5, 4.0);
        for (i, p) in trace.points.iter_mut().enumerate() {
            p.time_s = i as f64 / 64.0;
            p.openness = (0.5 - 0.5 * (i as f64 / 100.0 * TAU).cos()).clamp(0.0, 1.0);
        }
        trace.first_opening_s = Some(0.125);
        let mut later = trace.clone();
        for p in &mut later.points {
            p.time_s += shift;
        }
        for moment in [&mut later.first_opening_s, &mut later.full_s, &mut later.closing_s, &mut later.closed_s] {
            *moment = moment.map(|t| t + shift);
        }
        prop_assert_eq!(trace_chart("1 s", &trace, Sheet::Light), trace_chart("1 s", &later, Sheet::Light));
    }
}

#[test]
fn a_register_is_drawn_with_its_levels_and_shims() {
    let rows = b"x_mm,y_mm,reading_mm\n-16,10,44.35\n16,10,44.37\n16,-10,44.39\n-16,-10,44.36\n0,0,44.368\n";
    let mut options = register::Options::new(44.5, 0.03);
    options.shims = register::Stock::read("0.05x3,0.1x2").unwrap();
    options.seats = vec![register::Place {
        x_mm: 20.0,
        y_mm: -300.0,
    }];
    let report = register::analyse(&register::read(rows).unwrap(), &options).unwrap();
    for sheet in [Sheet::Light, Sheet::Inherit] {
        let drawn = register_chart(&report, sheet);
        check(&drawn);
        for words in [
            "\u{2212}0.132 \u{b1}",
            "\u{b1}0.03: out",
            "\u{2212}0.15<",
            "0.150 leave +0.018",
            "wants",
        ] {
            assert!(drawn.contains(words), "{words}: {drawn}");
        }
    }
}

#[test]
fn a_rangefinder_is_drawn_before_and_after_its_settings() {
    let rows = b"distance_m,extension_mm\n1,2.79\n1.5,1.86\n2,1.41\n5,0.63\ninf,0.095\n";
    let mut options = rangefinder::Options::new(50.0, 2.0, 0.03);
    options.base_mm = Some(38.0);
    let report = rangefinder::analyse(&rangefinder::read(rows).unwrap(), &options).unwrap();
    let drawn = rangefinder_chart(&report, Sheet::Light);
    check(&drawn);
    for words in [
        "as found: worst 2.00, undecided",
        "\u{221e}",
        "least the base can tell",
    ] {
        assert!(drawn.contains(words), "{words}: {drawn}");
    }
}

proptest! {
    #[test]
    fn no_register_leaves_its_sheet(
        rows in prop::collection::vec((-300.0..300.0_f64, -300.0..300.0_f64, 30.0..60.0_f64), 3..9),
        seat in (-300.0..300.0_f64, -300.0..300.0_f64),
        frame in (4.0..300.0_f64, 4.0..300.0_f64),
    ) {
        let run: Vec<_> = rows
            .iter()
            .map(|(x_mm, y_mm, reading_mm)| register::Reading { line: 2, x_mm: *x_mm, y_mm: *y_mm, reading_mm: *reading_mm })
            .collect();
        let mut options = register::Options::new(44.5, 0.03);
        options.seats = vec![register::Place { x_mm: seat.0, y_mm: seat.1 }];
        options.frame_mm = frame;
        if let Ok(report) = register::analyse(&run, &options) {
            check(&register_chart(&report, Sheet::Light));
        }
    }

    #[test]
    fn no_rangefinder_leaves_its_sheet(
        rows in prop::collection::vec((0.3..50.0_f64, -3.0..3.0_f64), 2..9),
        limit in 0.01..100.0_f64,
    ) {
        let run: Vec<_> = rows
            .iter()
            .map(|(distance_m, off)| rangefinder::Reading { line: 2, distance_m: *distance_m, extension_mm: 2.5 / distance_m + off, vertical_arcmin: None })
            .collect();
        let mut options = rangefinder::Options::new(50.0, 2.0, 0.03);
        options.limit_depths = limit;
        if let Ok(report) = rangefinder::analyse(&run, &options) {
            check(&rangefinder_chart(&report, Sheet::Light));
        }
    }
}

/// Readings of an aged cell with one stray, to a tenth.
fn aged_meter() -> meter::Report {
    let readings: Vec<meter::Reading> = [5, -4, 2, 8, -6, 1, -3, 4, 0, -5, 3, 2, -2, 5, 1]
        .into_iter()
        .enumerate()
        .map(|(i, scatter)| {
            let true_ev = 3.0 + i as f64;
            let bend = -0.4 * (true_ev - 12.4).max(0.0);
            let stray = if i == 4 { -1.2 } else { 0.0 };
            let error = 0.3 + f64::from(scatter) / 100.0 + bend + stray;
            meter::Reading {
                line: i + 2,
                true_ev,
                indicated_ev: ((true_ev + error) * 10.0).round() / 10.0,
                resolution_stops: None,
            }
        })
        .collect();
    let options = meter::Options::default().with_click(1.0 / 3.0).unwrap();
    meter::analyse(&readings, &options).unwrap()
}

#[test]
fn a_meter_is_drawn_with_its_knee_its_stray_and_its_shift() {
    for sheet in [Sheet::Light, Sheet::Inherit] {
        let drawn = meter_chart(&aged_meter(), sheet);
        check(&drawn);
        for words in [
            "knee 12.",
            "left out",
            "after the shift of +",
            "inside the limit after the shift",
            "limit \u{b1} 0.5",
        ] {
            assert!(drawn.contains(words), "{words}: {drawn}");
        }
    }
}

#[test]
fn a_correction_card_has_the_size_of_a_visiting_card_and_every_row() {
    let report = aged_meter();
    let card = CorrectionCard::of_meter(&report, "meter correction", "Aldous Sprat 204");
    let drawn = correction_card(&card, Sheet::Light);
    check(&drawn);
    // 85 by 54 mm at 96 pixels an inch.
    assert!(
        drawn.contains("width=\"321.26\" height=\"204.09\""),
        "{drawn}"
    );
    for row in &report.card {
        let figure = format!(">{:.0}</text>", row.indicated_ev);
        assert!(drawn.contains(&figure), "{figure}: {drawn}");
    }
    assert!(drawn.contains("two pieces, knee at 12."), "{drawn}");
}

proptest! {
    #[test]
    fn no_meter_leaves_its_sheet(
        rows in prop::collection::vec((-15.0..35.0_f64, -6.0..6.0_f64), 2..30),
        limit in 0.01..10.0_f64,
        half in any::<bool>(),
        camera in ".{0,80}",
    ) {
        let run: Vec<_> = rows
            .iter()
            .map(|(true_ev, error)| meter::Reading { line: 2, true_ev: *true_ev, indicated_ev: true_ev + error, resolution_stops: None })
            .collect();
        let step = if half { meter::CardStep::Half } else { meter::CardStep::Whole };
        let options = meter::Options::default().with_limit(limit).unwrap().with_card_step(step);
        let report = meter::analyse(&run, &options).unwrap();
        check(&meter_chart(&report, Sheet::Light));
        check(&correction_card(&CorrectionCard::of_meter(&report, "meter correction", &camera), Sheet::Light));
    }
}

//! The fan of a drawer: what stands on it, and that nothing breaks it.

#![expect(
    clippy::unwrap_used,
    reason = "a helper that cannot read a drawing has found the fault the test looks for"
)]

use fettle_draw::{Sheet, StockFan, StockFanPoint, stock_fan};
use proptest::prelude::*;

fn drawer(years: f64) -> StockFan {
    let point = |n: u32| {
        let share = f64::from(n) / 24.0;
        let left = |pace: f64| (8.0 - pace * share).max(0.0).floor();
        StockFanPoint {
            year: 2031.3 + years * share,
            p10: left(14.0),
            p25: left(10.0),
            p50: left(7.5),
            p75: left(5.0),
            p90: left(3.0),
        }
    };
    StockFan {
        title: "winding rack".to_owned(),
        points: (0..=24).map(point).collect(),
        until: Some((2031.3 + 0.6 * years, 0.83)),
        runs_out: [Some(2031.3 + 0.5 * years), Some(2031.3 + 0.9 * years), None],
    }
}

/// The words on the drawing.
fn words(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap();
    let texts = document.descendants().filter(|n| n.has_tag_name("text"));
    texts.filter_map(|n| n.text().map(str::to_owned)).collect()
}

#[test]
fn the_axes_the_date_asked_for_and_the_run_out_are_told_in_words() {
    let words = words(&stock_fan(&drawer(8.0), Sheet::Light));
    for word in [
        "pieces left",
        "0",
        "8",
        "2033",
        "2039",
        "lasts until here: 83 %",
        "runs out",
        "eight times in ten",
    ] {
        assert!(words.iter().any(|it| it == word), "{word}: {words:?}");
    }
}

#[test]
fn a_short_time_is_lettered_in_months() {
    let words = words(&stock_fan(&drawer(0.8), Sheet::Light));
    assert!(words.iter().any(|it| it == "2031-07"), "{words:?}");
}

#[test]
fn a_drawer_that_outlasts_the_sheet_says_later() {
    let fan = StockFan {
        runs_out: [None; 3],
        ..drawer(8.0)
    };
    let words = words(&stock_fan(&fan, Sheet::Light));
    assert!(words.iter().any(|it| it == "later →"), "{words:?}");
}

proptest! {
    #[test]
    fn no_figures_break_the_drawing(
        values in prop::collection::vec(prop::num::f64::ANY, 6..60),
        title in ".{0,40}",
    ) {
        let mut fan = drawer(values[0]);
        fan.title = title;
        fan.until = Some((values[1], values[2]));
        fan.runs_out = [Some(values[3]), Some(values[4]), Some(values[5])];
        for part in values.chunks_exact(6) {
            fan.points.push(StockFanPoint { year: part[0], p10: part[1], p25: part[2], p50: part[3], p75: part[4], p90: part[5] });
        }
        let svg = stock_fan(&fan, Sheet::Inherit);
        prop_assert!(roxmltree::Document::parse(&svg).is_ok());
        prop_assert!(!svg.contains("NaN") && !svg.contains("inf\""), "{}", svg);
        prop_assert!(svg.len() < 200_000);
    }
}

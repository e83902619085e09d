//! What can be set, where the meter can be trusted then, and what is left for the card.

use super::curve::{Curve, Estimate};

/// Where the answer rises by less than this part of the light's rise, the answer tells no light.
const LEAST_RISE: f64 = 0.1;
/// Rows that fall on a range's end count as inside it.
const SLACK: f64 = 1e-9;

/// The shift, in stops of indicated EV, that makes the worst of some errors least: minus the mid-range, rounded to the click. Of two
/// that are alike the smaller.
///
/// With a click the best multiple is the nearest, for the worst error grows evenly to both sides of the best shift.
#[must_use]
pub fn best_shift(errors_stops: &[f64], click_stops: Option<f64>) -> f64 {
    let Some((least, most)) = ends(errors_stops) else {
        return 0.0;
    };
    let shift = -f64::midpoint(least, most);
    match click_stops {
        Some(click) if click > 0.0 => {
            // A tie goes towards zero; what rounding errors of the sum make of it must not decide.
            let clicks = shift.abs() / click;
            (clicks - SLACK).round().max(0.0) * click * shift.signum()
        }
        _ => shift,
    }
}

/// The greatest of some errors after a shift, without sign.
pub(super) fn worst(errors_stops: &[f64], shift: f64) -> f64 {
    errors_stops
        .iter()
        .map(|e| (e + shift).abs())
        .fold(0.0, f64::max)
}

fn ends(values: &[f64]) -> Option<(f64, f64)> {
    let least = values.iter().copied().reduce(f64::min)?;
    let most = values.iter().copied().reduce(f64::max)?;
    Some((least, most))
}

/// The longest unbroken stretch of light within a range where the shifted curve lies inside the limit.
pub(super) fn usable(
    curve: &Curve,
    range: (f64, f64),
    shift: f64,
    limit: f64,
) -> Option<(f64, f64)> {
    let mut borders = Vec::new();
    for (from, to, [c0, c1, c2]) in curve.pieces(range.0, range.1) {
        let crossings = [limit, -limit]
            .into_iter()
            .flat_map(|level| roots(c0 + shift - level, c1, c2))
            .map(|x| x + curve.centre)
            .filter(|v| (from..=to).contains(v));
        borders.extend(crossings);
        borders.extend([from, to]);
    }
    longest(borders, |v| (curve.value(v) + shift).abs() <= limit + SLACK)
}

/// The longest stretch of light within a range where the answer rises with the light.
pub(super) fn rising(curve: &Curve, range: (f64, f64)) -> Option<(f64, f64)> {
    let mut borders = Vec::new();
    let pieces = curve.pieces(range.0, range.1);
    for (from, to, [_, c1, c2]) in &pieces {
        let turns = roots(1.0 + c1 - LEAST_RISE, 2.0 * c2, 0.0)
            .into_iter()
            .map(|x| x + curve.centre)
            .filter(|v| (from..=to).contains(&v));
        borders.extend(turns);
        borders.extend([*from, *to]);
    }
    longest(borders, |v| rise(&pieces, curve.centre, v) >= LEAST_RISE)
}

/// How far the answer rises for one EV of light.
fn rise(pieces: &[(f64, f64, [f64; 3])], centre: f64, v: f64) -> f64 {
    pieces
        .iter()
        .find(|(from, to, _)| (*from..=*to).contains(&v))
        .map_or(0.0, |(_, _, [_, c1, c2])| {
            1.0 + c1 + 2.0 * c2 * (v - centre)
        })
}

/// The longest run of stretches between borders whose middles are inside.
fn longest(mut borders: Vec<f64>, inside: impl Fn(f64) -> bool) -> Option<(f64, f64)> {
    borders.sort_by(f64::total_cmp);
    borders.dedup_by(|a, b| (*a - *b).abs() < SLACK);
    if let [only] = borders[..] {
        return inside(only).then_some((only, only));
    }
    let mut best: Option<(f64, f64)> = None;
    let mut open: Option<f64> = None;
    for pair in borders.windows(2) {
        if inside(f64::midpoint(pair[0], pair[1])) {
            let from = *open.get_or_insert(pair[0]);
            if best.is_none_or(|(a, b)| pair[1] - from > b - a + SLACK) {
                best = Some((from, pair[1]));
            }
        } else {
            open = None;
        }
    }
    best
}

/// Real roots of `c0 + c1 x + c2 x²`; none for a constant.
fn roots(c0: f64, c1: f64, c2: f64) -> Vec<f64> {
    let root = (c1 * c1 - 4.0 * c2 * c0).sqrt();
    if !root.is_finite() {
        return Vec::new();
    }
    // The form that does not take nearly equal numbers from each other.
    let q = -0.5 * (c1 + root.copysign(c1));
    [q / c2, c0 / q]
        .into_iter()
        .filter(|x| x.is_finite())
        .collect()
}

/// A row of the card: what the meter shows after the shift, and the exposure to add to that.
pub(super) struct Row {
    pub(super) indicated_ev: f64,
    pub(super) add: Estimate,
}

/// The rows for every multiple of `step` that the meter shows over a rising stretch of light.
///
/// With the light found by the curve turned round, its uncertainty is the curve's over the answer's rise.
pub(super) fn card(curve: &Curve, stretch: (f64, f64), shift: f64, step: f64) -> Vec<Row> {
    let shown = |v: f64| v + curve.value(v) + shift;
    let pieces = curve.pieces(stretch.0, stretch.1);
    let first = ((shown(stretch.0) - SLACK) / step).ceil() as i64;
    let last = ((shown(stretch.1) + SLACK) / step).floor() as i64;
    (first..=last)
        .map(|k| {
            let indicated_ev = k as f64 * step;
            let (mut low, mut high) = stretch;
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if shown(middle) < indicated_ev {
                    low = middle;
                } else {
                    high = middle;
                }
            }
            let true_ev = f64::midpoint(low, high);
            let rise = rise(&pieces, curve.centre, true_ev).max(LEAST_RISE);
            Row {
                indicated_ev,
                add: Estimate {
                    value: indicated_ev - true_ev,
                    u: curve.at(true_ev).u.map(|u| u / rise),
                },
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::curve::{Family, Points};
    use super::*;

    fn curve(family: Family, error: impl Fn(f64) -> f64) -> Curve {
        let true_ev: Vec<f64> = (0..=24).map(|i| 4.0 + f64::from(i) / 2.0).collect();
        let points = Points {
            error: true_ev.iter().map(|v| error(*v)).collect(),
            step: vec![0.1; true_ev.len()],
            true_ev,
        };
        Curve::new(&points, family).unwrap()
    }

    /// The longest stretch inside by stepping through the range.
    fn stepped(range: (f64, f64), inside: impl Fn(f64) -> bool) -> f64 {
        const STEPS: u32 = 20_000;
        let (mut best, mut run) = (0_u32, 0_u32);
        for i in 0..STEPS {
            let v = range.0 + (range.1 - range.0) * (f64::from(i) + 0.5) / f64::from(STEPS);
            run = if inside(v) { run + 1 } else { 0 };
            best = best.max(run);
        }
        f64::from(best) * (range.1 - range.0) / f64::from(STEPS)
    }

    #[test]
    fn ties_between_clicks_go_towards_zero() {
        for (errors, click, want) in [
            (&[0.5][..], Some(1.0), 0.0),
            (&[-1.5], Some(1.0), 1.0),
            (&[], Some(1.0), 0.0),
            (&[0.1, 0.5], None, -0.3),
        ] {
            assert!(
                (best_shift(errors, click) - want).abs() < 1e-12,
                "{errors:?}"
            );
        }
    }

    #[test]
    fn a_card_ends_where_the_answer_no_longer_rises() {
        let flat = curve(Family::Knee, |v| -(v - 12.0).max(0.0));
        let stretch = rising(&flat, (4.0, 16.0)).unwrap();
        assert!((stretch.1 - 12.0).abs() < 1e-6, "{stretch:?}");
        let rows = card(&flat, stretch, 0.0, 1.0);
        let shown: Vec<f64> = rows.iter().map(|r| r.indicated_ev).collect();
        assert_eq!(shown, [4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0]);
        assert!(rows.iter().all(|r| r.add.value.abs() < 1e-6));
    }

    #[test]
    fn a_card_leads_back_to_the_light() {
        for family in [Family::Parabola, Family::Knee] {
            let curve = curve(family, |v| 0.3 - 0.02 * v - 0.3 * (v - 12.0).max(0.0));
            let stretch = rising(&curve, (4.0, 16.0)).unwrap();
            for row in card(&curve, stretch, 0.25, 0.5) {
                let light = row.indicated_ev - row.add.value;
                assert!((light + curve.value(light) + 0.25 - row.indicated_ev).abs() < 1e-9);
            }
        }
    }

    proptest! {
        #[test]
        fn no_shift_leaves_less(
            errors in prop::collection::vec(-3.0..3.0_f64, 1..20),
            click in prop::option::of(0.05..1.0_f64),
        ) {
            let shift = best_shift(&errors, click);
            let got = worst(&errors, shift);
            let step = click.unwrap_or(1e-3);
            let reach = (4.0 / step).ceil() as i32;
            let brute = (-reach..=reach)
                .map(|k| worst(&errors, f64::from(k) * step))
                .fold(f64::INFINITY, f64::min);
            prop_assert!(got <= brute + 1e-9, "{got} {brute}");
            prop_assert!(got >= brute - if click.is_some() { 1e-9 } else { step }, "{got} {brute}");
            if let Some(click) = click {
                let clicks = shift / click;
                prop_assert!((clicks - clicks.round()).abs() < 1e-6);
            }
        }

        #[test]
        fn the_usable_stretch_is_the_longest(
            c in prop::array::uniform3(-1.0..1.0_f64),
            knee in 6.0..14.0_f64,
            kneed in any::<bool>(),
            limit in 0.05..0.8_f64,
        ) {
            let error = |v: f64| {
                let x = v - 10.0;
                let bend = if kneed { c[2] * (v - knee).max(0.0) } else { 0.05 * c[2] * x * x };
                0.5 * c[0] + 0.1 * c[1] * x + bend
            };
            let curve = curve(if kneed { Family::Knee } else { Family::Parabola }, error);
            let brute = stepped((4.0, 16.0), |v| curve.value(v).abs() <= limit);
            let got = usable(&curve, (4.0, 16.0), 0.0, limit).map_or(0.0, |(a, b)| b - a);
            prop_assert!((got - brute).abs() < 2e-3, "{got} {brute}");
            let brute = stepped((4.0, 16.0), |v| {
                (curve.value(v + 1e-6) - curve.value(v - 1e-6)) / 2e-6 + 1.0 >= LEAST_RISE
            });
            let got = rising(&curve, (4.0, 16.0)).map_or(0.0, |(a, b)| b - a);
            prop_assert!((got - brute).abs() < 2e-3, "{got} {brute}");
        }
    }
}

//! How long the instruments take for a run as a mechanic reads it, from its rows to the report.

use fettle_measure::{rangefinder, register};

const DEPTHS: &[u8] = b"x_mm,y_mm,reading_mm
-16,10,44.351\n0,10,44.348\n16,10,44.369\n-16,0,44.352\n0,0,44.364
16,0,44.371\n-16,-10,44.361\n0,-10,44.372\n16,-10,44.384\n";
const MEETINGS: &[u8] = b"distance_m,extension_mm
1,2.79\n1.2,2.31\n1.5,1.86\n2,1.41\n3,0.965\n5,0.63\n10,0.36\ninf,0.095\n";

fn main() {
    divan::main();
}

/// The register, with four seats that share a scarce drawer.
#[divan::bench]
fn register_with_seats() -> f64 {
    let mut options = register::Options::new(44.5, 0.03);
    options.shims = register::Stock::read("0.05x3,0.1x2,0.0254x5,0.3x1").unwrap_or_default();
    options.seats = [(-22.0, 16.0), (22.0, 16.0), (22.0, -16.0), (-22.0, -16.0)]
        .map(|(x_mm, y_mm)| register::Place { x_mm, y_mm })
        .to_vec();
    let readings = register::read(DEPTHS).unwrap_or_default();
    let report = register::analyse(&readings, &options);
    report.map_or(f64::NAN, |report| report.left_mm)
}

/// One packing of 4.9987 mm from 30 odd thicknesses, 40 of each.
#[divan::bench]
fn shims_from_a_full_drawer(bencher: divan::Bencher<'_, '_>) {
    let shims: Vec<register::Shim> = (0..30)
        .map(|i| register::Shim {
            thickness_mm: f64::from(20 + 7 * i) / 1000.0,
            count: 40,
        })
        .collect();
    let stock = register::Stock::new(&shims).unwrap_or_default();
    bencher.bench(|| stock.nearest(4.9987).len());
}

/// The rangefinder with its base and both adjusters.
#[divan::bench]
fn rangefinder_with_adjusters() -> f64 {
    let mut options = rangefinder::Options::new(50.0, 2.0, 0.03);
    options.base_mm = Some(38.0);
    options.adjusters = [(0.4, 0.01), (-0.1, 0.08)]
        .map(
            |(infinity_mm_per_turn, rate_per_turn)| rangefinder::Adjuster {
                name: "screw".to_owned(),
                infinity_mm_per_turn,
                rate_per_turn,
            },
        )
        .to_vec();
    let readings = rangefinder::read(MEETINGS).unwrap_or_default();
    let report = rangefinder::analyse(&readings, &options);
    report.map_or(f64::NAN, |report| report.left_in_depths)
}

//! Meters that never were, read with noise and rounding: for tests and benches.
#![allow(
    dead_code,
    reason = "every user of these cells needs another part of them"
)]

use fettle_measure::meter::{self, Model, Options, Reading};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A meter with the error that it has, without noise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cell {
    pub(crate) name: &'static str,
    /// Stops at 9.5 EV.
    pub(crate) offset: f64,
    /// Stops for one EV.
    pub(crate) slope: f64,
    /// Stops for one EV squared.
    pub(crate) curvature: f64,
    /// Where and by how much the slope changes.
    pub(crate) knee: Option<(f64, f64)>,
}

pub(crate) const CELLS: [Cell; 4] = [
    Cell::new("plain", 0.0, 0.0, None),
    Cell::new("sloped", -0.07, 0.0, None),
    Cell::new("curved", 0.03, -0.015, None),
    Cell::new("kneed", 0.02, 0.0, Some((11.4, -0.35))),
];

impl Cell {
    const fn new(name: &'static str, slope: f64, curvature: f64, knee: Option<(f64, f64)>) -> Self {
        Self {
            name,
            offset: 0.3,
            slope,
            curvature,
            knee,
        }
    }

    /// The error at a light.
    pub(crate) fn error(&self, true_ev: f64) -> f64 {
        let x = true_ev - 9.5;
        let bend = self
            .knee
            .map_or(0.0, |(at, bend)| bend * (true_ev - at).max(0.0));
        self.offset + self.slope * x + self.curvature * x * x + bend
    }
}

/// How a run is read.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Manner {
    /// Lights from 4 to 15 EV, evenly.
    pub(crate) readings: u32,
    /// Standard deviation of a reading, in stops.
    pub(crate) noise: f64,
    /// Step to which it is rounded, in stops.
    pub(crate) step: f64,
}

/// As a mechanic reads a needle between marks.
pub(crate) const MANNER: Manner = Manner {
    readings: 12,
    noise: 0.08,
    step: 0.1,
};

/// As an instrument with figures is read.
pub(crate) const FINE: Manner = Manner {
    readings: 12,
    noise: 0.04,
    step: 0.05,
};

/// Seeded draws.
pub(crate) struct Lots(ChaCha8Rng);

impl Lots {
    pub(crate) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Evenly from 0 to 1.
    pub(crate) fn even(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Normal with standard deviation 1.
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even().ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.even()).cos()
    }
}

impl Manner {
    /// Reads a cell.
    pub(crate) fn read(&self, cell: &Cell, lots: &mut Lots) -> Vec<Reading> {
        (0..self.readings)
            .map(|i| {
                let true_ev = 4.0 + 11.0 * f64::from(i) / f64::from(self.readings - 1);
                let answer = true_ev + cell.error(true_ev) + self.noise * lots.normal();
                Reading {
                    line: i as usize + 2,
                    true_ev,
                    indicated_ev: (answer / self.step).round() * self.step,
                    resolution_stops: Some(self.step),
                }
            })
            .collect()
    }
}

/// How often intervals held.
#[derive(Default)]
pub(crate) struct Tally {
    pub(crate) held: u32,
    pub(crate) of: u32,
}

impl Tally {
    /// What is not told holds nothing and misses nothing.
    fn count(&mut self, value: Option<f64>, u: Option<f64>, truth: f64) {
        if let (Some(value), Some(u)) = (value, u) {
            self.of += 1;
            self.held += u32::from((value - truth).abs() <= u);
        }
    }

    pub(crate) fn rate(&self) -> f64 {
        f64::from(self.held) / f64::from(self.of)
    }
}

/// The light at which a cell, shifted, shows a value.
fn light_at(cell: &Cell, shift: f64, indicated_ev: f64) -> f64 {
    let (mut low, mut high) = (0.0, 25.0);
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if middle + cell.error(middle) + shift < indicated_ev {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// How often each figure's interval held over simulated runs of a cell.
pub(crate) fn coverage(
    cell: &Cell,
    manner: &Manner,
    runs: u32,
    seed: u64,
) -> [(&'static str, Tally); 6] {
    let mut lots = Lots::new(seed);
    let mut tallies: [Tally; 6] = Default::default();
    let [offset, slope, curvature, knee, beyond, card] = &mut tallies;
    for _ in 0..runs {
        // Another offset each time, so that no run is favoured by where its zero lies between two marks.
        let cell = Cell {
            offset: cell.offset + lots.even(),
            ..*cell
        };
        let readings = manner.read(&cell, &mut lots);
        let Ok(report) = meter::analyse(&readings, &Options::default()) else {
            continue;
        };
        let centre = report.centre_ev;
        offset.count(
            Some(report.offset_stops),
            report.offset_stops_u,
            cell.error(centre),
        );
        for row in &report.card {
            let truth = row.indicated_ev - light_at(&cell, report.shift_stops, row.indicated_ev);
            card.count(Some(row.add_stops), row.add_stops_u, truth);
        }
        let slope_below = (report.slope_stops_per_ev, report.slope_stops_per_ev_u);
        match cell.knee {
            None => {
                let truth = cell.slope + 2.0 * cell.curvature * (centre - 9.5);
                slope.count(slope_below.0, slope_below.1, truth);
                curvature.count(report.curvature, report.curvature_u, cell.curvature);
            }
            // Where no knee was told the pieces' slopes were not either.
            Some(_) if report.model != Model::Knee => {}
            Some((at, bend)) => {
                slope.count(slope_below.0, slope_below.1, cell.slope);
                knee.count(report.knee_ev, report.knee_ev_u, at);
                beyond.count(
                    report.slope_beyond_stops_per_ev,
                    report.slope_beyond_stops_per_ev_u,
                    cell.slope + bend,
                );
            }
        }
    }
    let names = [
        "offset",
        "slope",
        "curvature",
        "knee",
        "slope beyond",
        "card",
    ];
    let mut tallies = tallies.into_iter();
    names.map(|name| (name, tallies.next().unwrap_or_default()))
}

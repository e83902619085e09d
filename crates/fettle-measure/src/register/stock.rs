//! Shims in the drawer, and which of them come nearest a wanted packing.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

/// Thicknesses a shim can have.
const THICKNESS_MM: std::ops::RangeInclusive<f64> = 0.001..=5.0;
/// Kinds of shim a stock may hold, and pieces of one kind.
const MOST_KINDS: usize = 40;
const MOST_PIECES: u32 = 1000;
/// Thicknesses and packings are whole nanometres: no gauge tells less, and sums of them are exact.
const NM_PER_MM: f64 = 1e6;
/// Packings beyond this are no matter of shims.
pub(crate) const MOST_PACKING_MM: f64 = 5.0;
/// Places of the table, thicknesses times kinds, that a search may take: beyond it thicknesses this odd are refused.
const MOST_PLACES: u64 = 2_000_000;

/// Shims of one thickness.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shim {
    /// Their thickness.
    pub thickness_mm: f64,
    /// How many there are.
    pub count: u32,
}

/// The shims at hand, thickest first, each thickness once.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize)]
#[serde(try_from = "Vec<Shim>", into = "Vec<Shim>")]
pub struct Stock {
    kinds: Vec<Kind>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Kind {
    nm: u64,
    count: u32,
}

/// A stock that cannot be searched.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StockError {
    /// A piece that is no shim.
    #[error("`{0}` is no shim: write thickness in mm and number, such as 0.05x3")]
    Written(String),
    /// A thickness outside its range.
    #[error("a shim of {0} mm cannot be: give 0.001 to 5 mm")]
    Thickness(String),
    /// Too many kinds or pieces.
    #[error("too many shims: at most {MOST_KINDS} thicknesses of {MOST_PIECES} pieces")]
    TooMany,
    /// Thicknesses with so many decimals that the search would not end.
    #[error("shims of so many odd thicknesses cannot be searched: write them to 0.001 mm")]
    TooFine,
}

impl Stock {
    /// A stock of shims; the same thickness may stand more than once.
    ///
    /// # Errors
    /// [`StockError`] for a thickness outside 0.001 to 5 mm, too many of them, or thicknesses too odd to be searched.
    pub fn new(shims: &[Shim]) -> Result<Self, StockError> {
        let mut kinds: Vec<Kind> = Vec::new();
        for shim in shims.iter().filter(|s| s.count > 0) {
            if !THICKNESS_MM.contains(&shim.thickness_mm) {
                return Err(StockError::Thickness(shim.thickness_mm.to_string()));
            }
            let nm = to_nm(shim.thickness_mm);
            match kinds.iter_mut().find(|k| k.nm == nm) {
                Some(kind) => kind.count = kind.count.saturating_add(shim.count),
                None => kinds.push(Kind {
                    nm,
                    count: shim.count,
                }),
            }
        }
        if kinds.len() > MOST_KINDS || kinds.iter().any(|k| k.count > MOST_PIECES) {
            return Err(StockError::TooMany);
        }
        kinds.sort_by_key(|k| std::cmp::Reverse(k.nm));
        let stock = Self { kinds };
        if stock.places(to_nm(MOST_PACKING_MM)) > MOST_PLACES {
            return Err(StockError::TooFine);
        }
        Ok(stock)
    }

    /// Reads `0.05x3,0.1x2`: thickness in mm, `x` and how many; without `x` it is one piece. Empty: nothing in the drawer.
    ///
    /// # Errors
    /// [`StockError`] that names the piece.
    pub fn read(words: &str) -> Result<Self, StockError> {
        let mut shims = Vec::new();
        for word in words.split(',').map(str::trim).filter(|w| !w.is_empty()) {
            let refuse = || StockError::Written(word.to_owned());
            let (thickness, count) = match word.split_once(['x', 'X', '×']) {
                Some((thickness, count)) => (thickness, count.trim().parse::<u32>()),
                None => (word, Ok(1)),
            };
            let thickness: f64 = thickness.trim().parse().map_err(|_| refuse())?;
            let count = count.ok().filter(|n| *n > 0).ok_or_else(refuse)?;
            shims.push(Shim {
                thickness_mm: thickness,
                count,
            });
        }
        Self::new(&shims)
    }

    /// Nothing in the drawer.
    #[must_use]
    pub const fn none() -> Self {
        Self { kinds: Vec::new() }
    }

    /// The shims, thickest first.
    #[must_use]
    pub fn shims(&self) -> Vec<Shim> {
        let shim = |k: &Kind| Shim {
            thickness_mm: to_mm(k.nm),
            count: k.count,
        };
        self.kinds.iter().map(shim).collect()
    }

    /// Whether nothing is at hand.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.kinds.is_empty()
    }

    /// The pieces that together come nearest `wanted_mm`, thickest first: over and under count alike, fewest pieces among equals, and of two
    /// such packings the thinner. Nothing for a packing that is not positive or that no piece improves; at most 5 mm are sought.
    ///
    /// Exact: a table over all sums below twice the wanted packing holds the fewest pieces for each, built kind by kind with a sliding
    /// minimum (the bounded knapsack; Kellerer, Pferschy & Pisinger, Knapsack Problems, 2004, 7.2.2), on whole nanometres over their
    /// greatest common divisor.
    #[must_use]
    pub fn nearest(&self, wanted_mm: f64) -> Vec<f64> {
        if wanted_mm.is_nan() || wanted_mm <= 0.0 {
            return Vec::new();
        }
        let wanted = to_nm(wanted_mm.min(MOST_PACKING_MM));
        let unit = self.unit();
        if unit == 0 {
            return Vec::new();
        }
        let places = self.reach(wanted) / unit;
        let Some(tables) = self.fewest(places as usize, unit) else {
            return Vec::new();
        };
        let Some(last) = tables.last() else {
            return Vec::new();
        };
        let best = last
            .iter()
            .enumerate()
            .filter(|(_, pieces)| **pieces < NONE)
            .min_by_key(|(place, pieces)| {
                let sum = *place as u64 * unit;
                (sum.abs_diff(wanted), **pieces, sum)
            });
        best.map_or_else(Vec::new, |(place, _)| self.taken(&tables, place, unit))
    }

    /// Thicknesses in nanometres, thickest first, and how many there are.
    pub(super) fn pieces(&self) -> Vec<(u64, u32)> {
        self.kinds.iter().map(|k| (k.nm, k.count)).collect()
    }

    /// What is left when `taken_mm` are gone; `None` when there are not so many.
    pub(super) fn without(&self, taken_mm: &[f64]) -> Option<Self> {
        let mut left = self.clone();
        for taken in taken_mm {
            let nm = to_nm(*taken);
            let kind = left.kinds.iter_mut().find(|k| k.nm == nm && k.count > 0)?;
            kind.count -= 1;
        }
        left.kinds.retain(|k| k.count > 0);
        Some(left)
    }

    /// The greatest common divisor of the thicknesses; 0 for an empty stock.
    fn unit(&self) -> u64 {
        self.kinds.iter().fold(0, |unit, kind| gcd(unit, kind.nm))
    }

    /// The largest sum that can be nearest to `wanted`: one piece over it is enough, and more than twice it is farther off than nothing.
    fn reach(&self, wanted: u64) -> u64 {
        let thickest = self.kinds.first().map_or(0, |k| k.nm);
        let all: u64 = self.kinds.iter().map(|k| k.nm * u64::from(k.count)).sum();
        (wanted + thickest).min(2 * wanted).min(all)
    }

    fn places(&self, wanted: u64) -> u64 {
        let unit = self.unit().max(1);
        (self.reach(wanted) / unit + 1) * self.kinds.len() as u64
    }

    /// For no kind, the first kind, the first two and so on: the fewest pieces for each sum up to `places`.
    fn fewest(&self, places: usize, unit: u64) -> Option<Vec<Vec<u32>>> {
        let mut none = vec![NONE; places + 1];
        *none.first_mut()? = 0;
        let mut tables = vec![none];
        for kind in &self.kinds {
            let step = (kind.nm / unit) as usize;
            let before = tables.last()?;
            let mut after = vec![NONE; places + 1];
            for first in 0..step.min(places + 1) {
                fewest_along(before, &mut after, first, step, kind.count);
            }
            tables.push(after);
        }
        Some(tables)
    }

    /// Reads the pieces of a sum back from the tables.
    fn taken(&self, tables: &[Vec<u32>], place: usize, unit: u64) -> Vec<f64> {
        let mut taken = Vec::new();
        let mut place = place;
        for (kind, pair) in self.kinds.iter().zip(tables.windows(2)).rev() {
            let [before, after] = pair else { continue };
            let step = (kind.nm / unit) as usize;
            let pieces = after.get(place).copied().unwrap_or(NONE);
            // The most of the thin ones that still give the fewest pieces: any choice would do, this one is always the same.
            let fits = |n: &u32| {
                let rest = place.checked_sub(*n as usize * step);
                rest.and_then(|r| before.get(r))
                    .is_some_and(|b| *b < NONE && b + n == pieces)
            };
            let used = (0..=kind.count.min(pieces)).rev().find(fits).unwrap_or(0);
            place -= used as usize * step;
            taken.extend((0..used).map(|_| to_mm(kind.nm)));
        }
        taken.reverse();
        taken
    }
}

/// More pieces than any packing has: the sum cannot be made.
const NONE: u32 = u32::MAX / 2;

/// Fewest pieces along the sums `first`, `first + step`, ...: each is the least of the last `count + 1` sums before it plus the steps between.
fn fewest_along(before: &[u32], after: &mut [u32], first: usize, step: usize, count: u32) {
    let mut window: VecDeque<(u32, u32)> = VecDeque::new();
    let sums = before
        .iter()
        .zip(after.iter_mut())
        .skip(first)
        .step_by(step);
    for (n, (before, after)) in (0_u32..).zip(sums) {
        if *before < NONE {
            // Counted back to the first sum, so that entries of the window compare as they stand; less than `NONE` either way.
            let level = before + (NONE - n);
            while window.back().is_some_and(|(_, l)| *l > level) {
                window.pop_back();
            }
            window.push_back((n, level));
        }
        while window.front().is_some_and(|(m, _)| m + count < n) {
            window.pop_front();
        }
        if let Some((_, level)) = window.front() {
            *after = level + n - NONE;
        }
    }
}

const fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

pub(super) fn to_nm(mm: f64) -> u64 {
    (mm * NM_PER_MM).round() as u64
}

pub(super) fn to_mm(nm: u64) -> f64 {
    nm as f64 / NM_PER_MM
}

impl TryFrom<Vec<Shim>> for Stock {
    type Error = StockError;
    fn try_from(shims: Vec<Shim>) -> Result<Self, StockError> {
        Self::new(&shims)
    }
}

impl From<Stock> for Vec<Shim> {
    fn from(stock: Stock) -> Self {
        stock.shims()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every selection of pieces: miss in nanometres, number of pieces, sum, the least of them.
    fn by_trying_all(stock: &Stock, wanted_mm: f64) -> (u64, u32, u64) {
        let wanted = to_nm(wanted_mm);
        let mut sums = vec![(0_u64, 0_u32)];
        for kind in &stock.kinds {
            sums = sums
                .iter()
                .flat_map(|(sum, n)| {
                    (0..=kind.count).map(move |c| (sum + u64::from(c) * kind.nm, n + c))
                })
                .collect();
        }
        sums.iter()
            .map(|(sum, n)| (sum.abs_diff(wanted), *n, *sum))
            .min()
            .unwrap()
    }

    fn as_judged(taken: &[f64], wanted_mm: f64) -> (u64, u32, u64) {
        let sum: u64 = taken.iter().map(|t| to_nm(*t)).sum();
        (sum.abs_diff(to_nm(wanted_mm)), taken.len() as u32, sum)
    }

    #[test]
    fn a_written_stock_is_read() {
        let stock = Stock::read("0.05x3, 0.1×2,0.05").unwrap();
        assert_eq!(
            stock.shims(),
            [
                Shim {
                    thickness_mm: 0.1,
                    count: 2
                },
                Shim {
                    thickness_mm: 0.05,
                    count: 4
                }
            ]
        );
        assert!(Stock::read("").unwrap().is_empty());
        for wrong in [
            "0.05x",
            "x3",
            "0.05x-1",
            "thin",
            "0.05x0",
            "nan",
            "-0.1x2",
            "7x1",
            "0.05x3;0.1x2",
        ] {
            assert!(Stock::read(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn fewest_pieces_are_taken_and_over_and_under_count_alike() {
        let stock = Stock::read("0.05x6,0.1x1,0.2x1").unwrap();
        assert_eq!(stock.nearest(0.2), [0.2]);
        assert_eq!(stock.nearest(0.3), [0.2, 0.1]);
        assert_eq!(stock.nearest(0.16), [0.1, 0.05]);
        // 0.1 and 0.15 miss by the same: one piece is fewer than two.
        assert_eq!(stock.nearest(0.125), [0.1]);
        assert!(stock.nearest(0.0).is_empty());
        assert!(stock.nearest(-0.2).is_empty());
        assert!(stock.nearest(f64::NAN).is_empty());
        assert!(
            stock.nearest(0.02).is_empty(),
            "nothing is nearer than 0.05"
        );
        assert_eq!(stock.nearest(90.0).len(), 8, "the whole drawer");
        assert!(Stock::default().nearest(0.3).is_empty());
    }

    #[test]
    fn a_drawer_full_of_odd_shims_is_searched_whole() {
        let words: Vec<String> = (0..30).map(|i| format!("{}x40", 20 + 7 * i)).collect();
        let shims: Vec<Shim> = words
            .iter()
            .filter_map(|w| w.split_once('x'))
            .map(|(t, n)| Shim {
                thickness_mm: t.parse::<f64>().unwrap() / 1000.0,
                count: n.parse().unwrap(),
            })
            .collect();
        let stock = Stock::new(&shims).unwrap();
        let taken = stock.nearest(4.9987);
        let sum: u64 = taken.iter().map(|t| to_nm(*t)).sum();
        assert!(sum.abs_diff(4_999_000) < 1, "{sum}");
        // 22 of the thickest, 0.223 mm, do not reach it; all leave 6 µm over sevens and 4999 leaves 1, so it must be 27.
        assert_eq!(taken.len(), 27);
    }

    #[test]
    fn a_stock_that_cannot_be_searched_is_refused() {
        let fine: Vec<Shim> = (0..40)
            .map(|i| Shim {
                thickness_mm: 0.010_001 + f64::from(i) * 0.000_013,
                count: 1000,
            })
            .collect();
        assert_eq!(Stock::new(&fine), Err(StockError::TooFine));
        let many = [Shim {
            thickness_mm: 0.1,
            count: 1001,
        }];
        assert_eq!(Stock::new(&many), Err(StockError::TooMany));
    }

    proptest! {
        #[test]
        fn no_selection_of_pieces_is_better(
            kinds in prop::collection::vec((1_u32..60, 0_u32..4), 0..6),
            fine in prop::bool::ANY,
            wanted_um in 0_u32..900,
        ) {
            let shims: Vec<Shim> = kinds
                .iter()
                .map(|(t, count)| Shim {
                    thickness_mm: f64::from(*t) * if fine { 0.005_08 } else { 0.01 },
                    count: *count,
                })
                .collect();
            let stock = Stock::new(&shims).unwrap();
            let wanted = f64::from(wanted_um) / 1000.0;
            prop_assert_eq!(as_judged(&stock.nearest(wanted), wanted), by_trying_all(&stock, wanted));
            for shim in stock.shims() {
                let used = stock.nearest(wanted).iter().filter(|t| to_nm(**t) == to_nm(shim.thickness_mm)).count();
                prop_assert!(used <= shim.count as usize);
            }
        }
    }
}

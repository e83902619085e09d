//! Packing for each seat of the lens, from one drawer.

use super::stock::{to_mm, to_nm};
use super::{Options, Plane, SeatShims, Stock};

/// Choices looked at before the best found so far is taken; a drawer of a few thicknesses and four seats needs some thousands.
const MOST_CHOICES: u32 = 60_000;

/// The packing that each seat wants, and the shims for it.
///
/// Each seat takes what comes nearest where the drawer holds enough. Otherwise the shares are sought that leave the worst seat best, with the fewest
/// pieces among equals, by branch and bound: exact unless the drawer is so full and scarce at once that the search is cut short.
pub(super) fn serve(plane: &Plane, options: &Options) -> Vec<SeatShims> {
    let wanted: Vec<f64> = options
        .seats
        .iter()
        .map(|seat| options.target_mm - plane.at(seat.x_mm, seat.y_mm))
        .collect();
    let taken = share(&options.shims, &wanted);
    options
        .seats
        .iter()
        .zip(&wanted)
        .zip(taken)
        .map(|((seat, wanted), shims)| SeatShims {
            x_mm: seat.x_mm,
            y_mm: seat.y_mm,
            shim_mm: *wanted,
            shim_mm_u: plane.at_u(seat.x_mm, seat.y_mm),
            left_mm: shims.iter().sum::<f64>() - wanted,
            shims,
        })
        .collect()
}

/// The shims for each wanted packing.
fn share(stock: &Stock, wanted: &[f64]) -> Vec<Vec<f64>> {
    let freely: Vec<Vec<f64>> = wanted.iter().map(|w| stock.nearest(*w)).collect();
    let all: Vec<f64> = freely.iter().flatten().copied().collect();
    if stock.without(&all).is_some() {
        return freely;
    }
    // The most wanting first: it has the fewest ways to be served.
    let mut order: Vec<(usize, f64)> = wanted.iter().copied().enumerate().collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut search = Search {
        wanted: order.iter().map(|(_, mm)| to_nm(mm.max(0.0))).collect(),
        left: stock.pieces(),
        taken: vec![Vec::new(); order.len()],
        best: in_turn(stock, &order),
        judged: (0, 0),
        choices: 0,
    };
    search.judged = search.judge();
    search.seat(0, (0, 0));
    let mut shared = vec![Vec::new(); wanted.len()];
    for ((seat, _), shims) in order.iter().zip(search.best) {
        if let Some(place) = shared.get_mut(*seat) {
            *place = shims.iter().map(|nm| to_mm(*nm)).collect();
        }
    }
    shared
}

/// What each seat takes when the seats are served one after another.
fn in_turn(stock: &Stock, order: &[(usize, f64)]) -> Vec<Vec<u64>> {
    let mut left = stock.clone();
    let serve = |(_, wanted): &(usize, f64)| {
        let shims = left.nearest(*wanted);
        left = left.without(&shims).unwrap_or_default();
        shims.iter().map(|mm| to_nm(*mm)).collect()
    };
    order.iter().map(serve).collect()
}

/// Seats served from one drawer; thicknesses in nanometres.
struct Search {
    wanted: Vec<u64>,
    /// Thicknesses, thickest first, with how many are left.
    left: Vec<(u64, u32)>,
    taken: Vec<Vec<u64>>,
    best: Vec<Vec<u64>>,
    /// The worst miss and the pieces of the best.
    judged: (u64, usize),
    choices: u32,
}

impl Search {
    fn judge(&self) -> (u64, usize) {
        let misses = self.best.iter().zip(&self.wanted);
        let worst = misses.map(|(shims, wanted)| shims.iter().sum::<u64>().abs_diff(*wanted));
        (
            worst.max().unwrap_or(0),
            self.best.iter().map(Vec::len).sum(),
        )
    }

    /// Serves the seats from `seat` on in every way that can still be better than the best.
    fn seat(&mut self, seat: usize, so_far: (u64, usize)) {
        if so_far >= self.judged {
            return;
        }
        if seat == self.wanted.len() {
            (self.best, self.judged) = (self.taken.clone(), so_far);
        } else {
            self.kind(seat, 0, 0, so_far);
        }
    }

    /// Adds every number of pieces of the thicknesses from `kind` on to what lies at `seat`.
    fn kind(&mut self, seat: usize, kind: usize, sum: u64, so_far: (u64, usize)) {
        self.choices += 1;
        let wanted = self.wanted.get(seat).copied().unwrap_or(0);
        let miss = sum.abs_diff(wanted).max(so_far.0);
        if self.choices > MOST_CHOICES || (sum > wanted && (miss, so_far.1) > self.judged) {
            return;
        }
        let rest: u64 = self
            .left
            .iter()
            .skip(kind)
            .map(|(nm, n)| nm * u64::from(*n))
            .sum();
        if sum + rest + self.judged.0 < wanted {
            return;
        }
        let Some((nm, count)) = self.left.get(kind).copied() else {
            self.seat(seat + 1, (miss, so_far.1));
            return;
        };
        let most = ((wanted + self.judged.0).saturating_sub(sum) / nm).min(u64::from(count)) as u32;
        for used in (0..=most).rev() {
            self.put(seat, kind, nm, used, count);
            let more = (so_far.0, so_far.1 + used as usize);
            self.kind(seat, kind + 1, sum + nm * u64::from(used), more);
            self.take_back(seat, kind, used, count);
        }
    }

    fn put(&mut self, seat: usize, kind: usize, nm: u64, used: u32, count: u32) {
        if let (Some(left), Some(taken)) = (self.left.get_mut(kind), self.taken.get_mut(seat)) {
            left.1 = count - used;
            taken.extend((0..used).map(|_| nm));
        }
    }

    fn take_back(&mut self, seat: usize, kind: usize, used: u32, count: u32) {
        if let (Some(left), Some(taken)) = (self.left.get_mut(kind), self.taken.get_mut(seat)) {
            left.1 = count;
            taken.truncate(taken.len() - used as usize);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Worst miss and pieces of the best shares, by giving every piece to every seat or to none.
    fn by_trying_all(
        pieces: &[u64],
        sums: &mut [u64],
        used: usize,
        wanted: &[u64],
    ) -> (u64, usize) {
        let Some((first, others)) = pieces.split_first() else {
            let misses = sums.iter().zip(wanted).map(|(s, w)| s.abs_diff(*w));
            return (misses.max().unwrap(), used);
        };
        let mut best = by_trying_all(others, sums, used, wanted);
        for seat in 0..sums.len() {
            sums[seat] += first;
            best = best.min(by_trying_all(others, sums, used + 1, wanted));
            sums[seat] -= first;
        }
        best
    }

    proptest! {
        #[test]
        fn no_other_shares_leave_the_worst_seat_better(
            thicknesses in prop::collection::vec(1_u64..30, 1..7),
            wanted in prop::collection::vec(0_u64..400, 3),
        ) {
            let pieces: Vec<u64> = thicknesses.iter().map(|t| t * 10_000).collect();
            let words: Vec<String> = pieces.iter().map(|nm| format!("{}", to_mm(*nm))).collect();
            let stock = Stock::read(&words.join(",")).unwrap();
            let wanted_nm: Vec<u64> = wanted.iter().map(|w| w * 1000).collect();
            let wanted_mm: Vec<f64> = wanted_nm.iter().map(|w| to_mm(*w)).collect();
            let shared = share(&stock, &wanted_mm);
            let all: Vec<f64> = shared.iter().flatten().copied().collect();
            prop_assert!(stock.without(&all).is_some(), "{:?} from {:?}", shared, words);
            let misses = shared.iter().zip(&wanted_nm)
                .map(|(shims, w)| shims.iter().map(|mm| to_nm(*mm)).sum::<u64>().abs_diff(*w));
            let (worst, _) = by_trying_all(&pieces, &mut [0; 3], 0, &wanted_nm);
            // Where each seat can take what suits it best, it does, though the worst alone would bear fewer pieces.
            prop_assert_eq!(misses.max().unwrap(), worst);
        }
    }
}

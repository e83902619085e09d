//! The order in which variables are summed out.
//!
//! Finding the cheapest is hard; greedy orders are good and those with a little chance in them better still (Fishelson & Geiger,
//! Bioinformatics 18 S1 (2002) 189): several are tried without multiplying anything, and the cheapest is kept.

use super::eliminate::{Gathered, Tangled, WIDEST};
use super::tape::Var;
use crate::lots::Lots;

/// How much trouble is taken over an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Care {
    /// For a sum that is run once or twice.
    Little,
    /// For a sum that is run some hundred times.
    Much,
}

/// Orders tried with much care.
const TRIES: usize = 8;
/// A variable may come before another though it costs so many times as much, by lot.
const NOISE: f64 = 3.0;
/// Multiplications of one run below which no better order is looked for.
const CHEAP: u64 = 5000;

/// Tables by their scopes alone.
#[derive(Debug, Clone)]
struct Scopes<'g> {
    causes: usize,
    gathered: &'g [Gathered],
    tables: Vec<Option<Vec<Var>>>,
    /// The tables that hold each variable.
    held_by: Vec<Vec<usize>>,
    /// Causes that must wait until everything about them is gathered.
    waits: Vec<bool>,
    /// Marks of variables that a scope holds; a variable is marked when it bears the present stamp.
    marks: Vec<u32>,
    stamp: u32,
}

/// What it takes to sum one variable out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Price {
    width: usize,
    cost: u64,
}

/// An order of `left`, the variables over all `tables`.
///
/// # Errors
/// When every order found asks for too wide a table.
pub(super) fn order(
    causes: usize,
    gathered: &[Gathered],
    tables: &[Vec<Var>],
    left: &[Var],
    care: Care,
) -> Result<Vec<Var>, Tangled> {
    let all = causes + gathered.len();
    let mut scopes = Scopes {
        causes,
        gathered,
        tables: tables.iter().cloned().map(Some).collect(),
        held_by: vec![Vec::new(); all],
        waits: vec![false; causes],
        marks: vec![0; all],
        stamp: 0,
    };
    for (at, scope) in tables.iter().enumerate() {
        for var in scope {
            scopes.held_by[*var as usize].push(at);
        }
    }
    for what in gathered {
        if let Gathered::Cause(at) = what {
            scopes.waits[*at] = true;
        }
    }
    let narrow = scopes
        .clone()
        .greedy(left, u64::MAX, |price| price.width as f64);
    let cheap = |least| {
        scopes
            .clone()
            .greedy(left, least, |price| price.cost as f64)
    };
    let mut best = narrow;
    let better = |best: &Option<(u64, Vec<Var>)>| best.as_ref().map_or(u64::MAX, |best| best.0);
    best = cheap(better(&best)).or(best);
    let mut lots = Lots::of(left.len() as u64);
    let tries = match care {
        Care::Little => 0,
        Care::Much => TRIES,
    };
    for _ in 0..tries {
        let least = better(&best);
        if least < CHEAP {
            break;
        }
        let noisy = scopes.clone().greedy(left, least, |price| {
            price.cost as f64 * NOISE.powf(lots.next())
        });
        best = noisy.or(best);
    }
    best.map(|best| best.1).ok_or(Tangled)
}

impl Scopes<'_> {
    /// The variable of least score next, until none is left; `None` when that is not cheaper than `least`.
    fn greedy(
        mut self,
        left: &[Var],
        least: u64,
        mut score: impl FnMut(Price) -> f64,
    ) -> Option<(u64, Vec<Var>)> {
        let mut left: Vec<(Var, f64)> = left.iter().map(|var| (*var, f64::NAN)).collect();
        let mut order = Vec::with_capacity(left.len());
        let mut total = 0;
        while !left.is_empty() {
            for (var, known) in &mut left {
                if known.is_nan() && !self.must_wait(*var) {
                    *known = score(self.price(*var));
                }
            }
            let ready = left.iter().enumerate().filter(|(_, one)| !one.1.is_nan());
            let (place, _) = ready.min_by(|a, b| a.1.1.total_cmp(&b.1.1))?;
            let (var, _) = left.swap_remove(place);
            let price = self.price(var);
            total += price.cost;
            if price.width > WIDEST || total >= least {
                return None;
            }
            let scope = self.take(var);
            for (var, known) in &mut left {
                if scope.contains(var) {
                    *known = f64::NAN;
                }
            }
            order.push(var);
        }
        Some((total, order))
    }

    fn must_wait(&self, var: Var) -> bool {
        self.waits.get(var as usize).copied().unwrap_or(false)
    }

    /// Multiplications of joining all tables that hold a variable, the smallest first.
    fn price(&mut self, var: Var) -> Price {
        let mut sizes: Vec<(usize, usize)> = Vec::new();
        for table in &self.held_by[var as usize] {
            if let Some(scope) = &self.tables[*table] {
                sizes.push((scope.len(), *table));
            }
        }
        sizes.sort_unstable();
        self.stamp += 1;
        let mut price = Price { width: 0, cost: 0 };
        for (_, table) in sizes {
            let first = price.width == 0;
            let mut shared = 0;
            for other in self.tables[table].iter().flatten() {
                let mark = &mut self.marks[*other as usize];
                if *mark != self.stamp {
                    *mark = self.stamp;
                    price.width += 1;
                } else if *other as usize >= self.causes {
                    shared += 1;
                }
            }
            if !first {
                price.cost += 1_u64 << (price.width + shared).min(62);
            }
        }
        price
    }

    /// Takes a variable out; the scope of what is left of its tables.
    fn take(&mut self, var: Var) -> Vec<Var> {
        let mut scope: Vec<Var> = Vec::new();
        for table in std::mem::take(&mut self.held_by[var as usize]) {
            for other in self.tables[table].take().unwrap_or_default() {
                if other != var && !scope.contains(&other) {
                    scope.push(other);
                }
            }
        }
        let gathered = (var as usize).checked_sub(self.causes);
        if let Some(Gathered::Cause(at)) = gathered.map(|at| self.gathered[at]) {
            self.waits[at] = false;
            if !scope.contains(&(at as Var)) {
                scope.push(at as Var);
            }
        }
        for other in &scope {
            let held_by = &mut self.held_by[*other as usize];
            held_by.retain(|table| self.tables[*table].is_some());
            held_by.push(self.tables.len());
        }
        self.tables.push(Some(scope.clone()));
        scope
    }
}

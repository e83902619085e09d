//! Sums of products over yes-or-no variables, run forwards for the sum and backwards for every marginal.
//!
//! A table's index has one bit for each variable of its scope. Two tables join by multiplication; where both hold a
//! *gathering* variable (the OR of contributions so far), its two values are joined by OR: nothing is ever subtracted, so that
//! improbable evidence keeps its digits (Zhang & Poole, JAIR 5 (1996) 301). Derivatives by the inputs are the marginals
//! (Darwiche, JACM 50 (2003) 280).

/// A variable of the tables.
pub(crate) type Var = u32;

/// The scope of a table; its place in the arena.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    pub(crate) scope: Vec<Var>,
    at: usize,
}

impl Table {
    fn len(&self) -> usize {
        1 << self.scope.len()
    }
}

#[derive(Debug, Clone)]
enum Step {
    /// The product of two tables.
    Join {
        a: usize,
        b: usize,
        out: usize,
        spread: Spread,
    },
    /// Sum over a variable.
    Sum { a: usize, out: usize, bit: usize },
    /// Keep only where a variable says yes.
    Yes { a: usize, out: usize, bit: usize },
}

/// How the combined index of a join falls apart into the indices of both tables and of what they make; looked up in two halves,
/// for the bits of each are bits of the combined index.
#[derive(Debug, Clone)]
struct Spread {
    bits: u32,
    low: Vec<[u32; 3]>,
    high: Vec<[u32; 3]>,
}

const LOW_BITS: u32 = 8;

impl Spread {
    fn of(places: &[[u32; 3]]) -> Self {
        let gather = |places: &[[u32; 3]]| {
            (0..1_usize << places.len())
                .map(|k| {
                    let mut all = [0; 3];
                    for (bit, place) in places.iter().enumerate() {
                        if k >> bit & 1 == 1 {
                            for (one, mask) in all.iter_mut().zip(place) {
                                *one |= mask;
                            }
                        }
                    }
                    all
                })
                .collect()
        };
        let cut = places.len().min(LOW_BITS as usize);
        Self {
            bits: places.len() as u32,
            low: gather(&places[..cut]),
            high: gather(&places[cut..]),
        }
    }

    fn each(&self, mut act: impl FnMut(usize, usize, usize)) {
        for high in &self.high {
            for low in &self.low {
                act(
                    (high[0] | low[0]) as usize,
                    (high[1] | low[1]) as usize,
                    (high[2] | low[2]) as usize,
                );
            }
        }
    }
}

/// A computation over tables.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tape {
    tables: Vec<Table>,
    steps: Vec<Step>,
    /// Values of the input tables, zero elsewhere.
    values: Vec<f64>,
    /// Steps of multiplication that one run takes.
    pub(crate) cost: u64,
}

impl Tape {
    /// An input.
    pub(crate) fn input(&mut self, scope: Vec<Var>, values: &[f64]) -> usize {
        let table = self.table(scope);
        let at = self.tables[table].at;
        self.values[at..at + values.len()].copy_from_slice(values);
        table
    }

    fn table(&mut self, scope: Vec<Var>) -> usize {
        let table = Table {
            scope,
            at: self.values.len(),
        };
        self.values.resize(table.at + table.len(), 0.0);
        self.tables.push(table);
        self.tables.len() - 1
    }

    pub(crate) fn scope(&self, table: usize) -> &[Var] {
        &self.tables[table].scope
    }

    /// The product of two tables; shared variables for which `gathers` holds are joined by OR.
    pub(crate) fn join(&mut self, a: usize, b: usize, gathers: impl Fn(Var) -> bool) -> usize {
        self.product(a, b, None, gathers)
    }

    /// The same, summed over a variable that is not gathered, without writing the product down.
    pub(crate) fn join_over(
        &mut self,
        a: usize,
        b: usize,
        over: Var,
        gathers: impl Fn(Var) -> bool,
    ) -> usize {
        self.product(a, b, Some(over), gathers)
    }

    fn product(
        &mut self,
        a: usize,
        b: usize,
        over: Option<Var>,
        gathers: impl Fn(Var) -> bool,
    ) -> usize {
        let (left, right) = (self.tables[a].scope.clone(), self.tables[b].scope.clone());
        let mut scope = left.clone();
        scope.extend(right.iter().filter(|var| !left.contains(var)));
        let kept: Vec<Var> = scope
            .iter()
            .copied()
            .filter(|var| Some(*var) != over)
            .collect();
        let mut places = Vec::with_capacity(scope.len() + 2);
        for var in &scope {
            let mask = |at: Option<usize>| at.map_or(0, |at| 1_u32 << at);
            let in_a = mask(left.iter().position(|other| other == var));
            let in_b = mask(right.iter().position(|other| other == var));
            let out = mask(kept.iter().position(|other| other == var));
            if in_a != 0 && in_b != 0 && gathers(*var) {
                places.push([in_a, 0, out]);
                places.push([0, in_b, out]);
            } else {
                places.push([in_a, in_b, out]);
            }
        }
        let out = self.table(kept);
        let spread = Spread::of(&places);
        self.cost += 1 << spread.bits;
        self.steps.push(Step::Join { a, b, out, spread });
        out
    }

    /// The sum over a variable.
    pub(crate) fn sum(&mut self, a: usize, var: Var) -> usize {
        let (out, bit) = self.without(a, var);
        self.steps.push(Step::Sum { a, out, bit });
        out
    }

    /// The part where a variable says yes.
    pub(crate) fn yes(&mut self, a: usize, var: Var) -> usize {
        let (out, bit) = self.without(a, var);
        self.steps.push(Step::Yes { a, out, bit });
        out
    }

    fn without(&mut self, a: usize, var: Var) -> (usize, usize) {
        let mut scope = self.tables[a].scope.clone();
        let bit = scope.iter().position(|other| *other == var).unwrap_or(0);
        scope.remove(bit);
        (self.table(scope), bit)
    }

    /// Calls a table's variable by another name from here on.
    pub(crate) fn rename(&mut self, table: usize, from: Var, to: Var) {
        for var in &mut self.tables[table].scope {
            if *var == from {
                *var = to;
            }
        }
    }

    /// The tables made of some inputs, these among them.
    pub(crate) fn built_on(&self, inputs: impl IntoIterator<Item = usize>) -> Vec<bool> {
        let mut built = vec![false; self.tables.len()];
        for input in inputs {
            built[input] = true;
        }
        for step in &self.steps {
            let (a, out) = step.tables();
            built[out] |= built[a] || step.other().is_some_and(|b| built[b]);
        }
        built
    }

    /// Fills `work` with the values of all tables.
    pub(crate) fn forwards(&self, work: &mut Vec<f64>) {
        work.clear();
        work.extend_from_slice(&self.values);
        for step in &self.steps {
            self.run(step, work);
        }
    }

    /// The same with `factors` multiplying the yes of inputs over one variable, from `whole`, the values without them: only what
    /// they touch is reckoned again.
    pub(crate) fn again(&self, whole: &[f64], work: &mut Vec<f64>, factors: &[(usize, f64)]) {
        work.clear();
        work.extend_from_slice(whole);
        for (input, factor) in factors {
            work[self.tables[*input].at + 1] *= factor;
        }
        let touched = self.built_on(factors.iter().map(|(input, _)| *input));
        for step in &self.steps {
            let (_, out) = step.tables();
            if touched[out] {
                let out = &self.tables[out];
                work[out.at..out.at + out.len()].fill(0.0);
                self.run(step, work);
            }
        }
    }

    fn run(&self, step: &Step, work: &mut [f64]) {
        let (a, out) = step.tables();
        let (a, out) = (self.tables[a].at, &self.tables[out]);
        match step {
            Step::Join { b, spread, .. } => {
                let b = self.tables[*b].at;
                spread.each(|i, j, k| work[out.at + k] += work[a + i] * work[b + j]);
            }
            Step::Sum { bit, .. } => {
                for k in 0..out.len() {
                    let no = a + spread_past(k, *bit);
                    work[out.at + k] = work[no] + work[no + (1 << bit)];
                }
            }
            Step::Yes { bit, .. } => {
                for k in 0..out.len() {
                    work[out.at + k] = work[a + spread_past(k, *bit) + (1 << bit)];
                }
            }
        }
    }

    /// Fills `slopes` with the derivatives of the last table's one value by the values of every table that is asked for (all of
    /// them when `asked` is empty), after `forwards` has filled `work`.
    pub(crate) fn backwards(&self, work: &[f64], slopes: &mut Vec<f64>, asked: &[bool]) {
        let asked = |table: usize| asked.get(table).copied().unwrap_or(true);
        slopes.clear();
        slopes.resize(self.values.len(), 0.0);
        if let Some(last) = self.tables.last() {
            slopes[last.at] = 1.0;
        }
        for step in self.steps.iter().rev() {
            let (from, out) = step.tables();
            if !asked(out) {
                continue;
            }
            let (a, out) = (self.tables[from].at, &self.tables[out]);
            match step {
                Step::Join {
                    b: with, spread, ..
                } => {
                    let b = self.tables[*with].at;
                    match (asked(from), asked(*with)) {
                        (true, true) => spread.each(|i, j, k| {
                            let slope = slopes[out.at + k];
                            slopes[a + i] += slope * work[b + j];
                            slopes[b + j] += slope * work[a + i];
                        }),
                        (true, false) => spread.each(|i, j, k| {
                            slopes[a + i] += slopes[out.at + k] * work[b + j];
                        }),
                        (false, true) => spread.each(|i, j, k| {
                            slopes[b + j] += slopes[out.at + k] * work[a + i];
                        }),
                        (false, false) => {}
                    }
                }
                Step::Sum { bit, .. } => {
                    for k in 0..out.len() {
                        let no = a + spread_past(k, *bit);
                        slopes[no] += slopes[out.at + k];
                        slopes[no + (1 << bit)] += slopes[out.at + k];
                    }
                }
                Step::Yes { bit, .. } => {
                    for k in 0..out.len() {
                        slopes[a + spread_past(k, *bit) + (1 << bit)] += slopes[out.at + k];
                    }
                }
            }
        }
    }

    /// The one value that everything comes to.
    pub(crate) fn value(&self, work: &[f64]) -> f64 {
        self.tables.last().map_or(1.0, |last| work[last.at])
    }

    /// What one of an input's values weighs in the sum, given `backwards`' slopes.
    pub(crate) fn weight_of(
        &self,
        input: usize,
        index: usize,
        work: &[f64],
        slopes: &[f64],
    ) -> f64 {
        let at = self.tables[input].at + index;
        work[at] * slopes[at]
    }
}

impl Step {
    /// The table that it begins with and the one that it makes.
    const fn tables(&self) -> (usize, usize) {
        match self {
            Self::Join { a, out, .. } | Self::Sum { a, out, .. } | Self::Yes { a, out, .. } => {
                (*a, *out)
            }
        }
    }

    /// The other table that a join takes.
    const fn other(&self) -> Option<usize> {
        match self {
            Self::Join { b, .. } => Some(*b),
            Self::Sum { .. } | Self::Yes { .. } => None,
        }
    }
}

/// An index with a zero put in at `bit`.
const fn spread_past(index: usize, bit: usize) -> usize {
    let low = index & ((1 << bit) - 1);
    ((index >> bit) << (bit + 1)) | low
}

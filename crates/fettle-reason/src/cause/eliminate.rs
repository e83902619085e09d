//! From network and evidence to a tape.

use super::evidence::Evidence;
use super::network::{CauseAt, Chances, Network};
use super::order::{Care, order};
use super::tape::{Tape, Var};

/// Multiplications of one run beyond which exact work is given up: some tens of milliseconds.
pub(crate) const TOO_TANGLED: u64 = 1 << 22;
/// No table may have more variables than this.
pub(super) const WIDEST: usize = 20;

/// Everything that the exact sum needs.
#[derive(Debug, Clone)]
pub(crate) struct Elimination {
    pub(crate) tape: Tape,
    /// The input over each unknown cause alone; `None` for known causes and those that the question does not reach.
    pub(crate) alone: Vec<Option<usize>>,
    /// Which tables bear on an unknown cause alone: only their slopes are asked for.
    pub(crate) bears: Vec<bool>,
    /// The inputs over gathering variables, in the order in which they were made.
    pub(crate) pieces: Vec<usize>,
}

/// A sum over unknown causes that is too large for exact work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Tangled;

/// What a gathering variable stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Gathered {
    /// Something that is known to be there.
    There,
    /// A cause that is not known.
    Cause(CauseAt),
}

pub(super) struct Sum<'n> {
    network: &'n Network,
    evidence: &'n Evidence,
    pub(super) unary: Vec<[f64; 2]>,
    pub(super) constant: f64,
    /// What each gathering variable stands for; their numbers begin after the causes'.
    gathered: Vec<Gathered>,
    /// Tables over a gathering variable and, but for its leak, one cause.
    pub(super) pieces: Vec<(Vec<Var>, Vec<f64>)>,
}

impl Elimination {
    /// The sum over all unknown causes that `wanted` or the evidence reaches.
    pub(crate) fn of(
        network: &Network,
        evidence: &Evidence,
        wanted: impl IntoIterator<Item = CauseAt>,
        care: Care,
    ) -> Result<Self, Tangled> {
        let reached = reached(network, evidence, wanted);
        let mut sum = Sum::empty(network, evidence);
        for at in (0..network.causes.len()).filter(|at| reached[*at]) {
            match evidence.causes[at] {
                Some(there) => sum.observed(&network.causes[at], there),
                None => sum.unknown(at),
            }
        }
        for (sign, chances) in network.signs.iter().enumerate() {
            if let Some(there) = evidence.signs[sign] {
                sum.observed(&chances.without(&evidence.cured_before[sign]), there);
            }
        }
        sum.eliminate(&reached, care, &mut None)
    }
}

/// The causes from which the evidence or what is wanted comes, and these themselves: no other matters (barren nodes, Shachter,
/// Operations Research 34 (1986) 871).
pub(super) fn reached(
    network: &Network,
    evidence: &Evidence,
    wanted: impl IntoIterator<Item = CauseAt>,
) -> Vec<bool> {
    let mut reached = vec![false; network.causes.len()];
    let mut open: Vec<CauseAt> = wanted.into_iter().collect();
    open.extend((0..network.causes.len()).filter(|at| evidence.causes[*at].is_some()));
    for (sign, known) in network.signs.iter().zip(&evidence.signs) {
        if known.is_some() {
            open.extend(sign.links.iter().map(|(cause, _)| *cause));
        }
    }
    while let Some(at) = open.pop() {
        if !std::mem::replace(&mut reached[at], true) {
            open.extend(network.causes[at].links.iter().map(|(cause, _)| *cause));
        }
    }
    reached
}

/// Everything about `cause` gathered in `var` is in `table`: from here on it is an ordinary variable.
fn settled(tape: &mut Tape, table: usize, var: Var, cause: Var) -> usize {
    if !tape.scope(table).contains(&cause) {
        tape.rename(table, var, cause);
        return table;
    }
    let same = tape.input(vec![var, cause], &[1.0, 0.0, 0.0, 1.0]);
    tape.join_over(table, same, var, |_| false)
}

impl<'n> Sum<'n> {
    pub(super) fn empty(network: &'n Network, evidence: &'n Evidence) -> Self {
        Self {
            network,
            evidence,
            unary: vec![[1.0, 1.0]; network.causes.len()],
            constant: 1.0,
            gathered: Vec::new(),
            pieces: Vec::new(),
        }
    }

    /// Links from causes that are not known, and the leak with those that are known to be there.
    fn open(&self, chances: &Chances) -> (f64, Vec<(CauseAt, f64)>) {
        let absent = chances.absent(|cause| self.evidence.causes[cause] == Some(true));
        let links = chances.links.iter().copied();
        let open =
            links.filter(|(cause, chance)| self.evidence.causes[*cause].is_none() && *chance > 0.0);
        (absent, open.collect())
    }

    /// A sign or cause whose answer is known.
    fn observed(&mut self, chances: &Chances, there: bool) {
        let (absent, open) = self.open(chances);
        match (there, &open[..]) {
            (true, []) => self.constant *= 1.0 - absent,
            (true, [(cause, chance)]) => {
                self.unary[*cause][0] *= 1.0 - absent;
                self.unary[*cause][1] *= 1.0 - absent * (1.0 - chance);
            }
            (true, _) => self.gather(Gathered::There, absent, &open),
            (false, _) => {
                self.constant *= absent;
                for (cause, chance) in open {
                    self.unary[cause][1] *= 1.0 - chance;
                }
            }
        }
    }

    /// A cause that is not known.
    fn unknown(&mut self, at: CauseAt) {
        let (absent, open) = self.open(&self.network.causes[at]);
        if open.is_empty() {
            self.unary[at][0] *= absent;
            self.unary[at][1] *= 1.0 - absent;
        } else {
            self.gather(Gathered::Cause(at), absent, &open);
        }
    }

    fn gather(&mut self, what: Gathered, absent: f64, open: &[(CauseAt, f64)]) {
        let var = self.gathering(what);
        self.pieces.push((vec![var], vec![absent, 1.0 - absent]));
        for (cause, chance) in open {
            self.pieces.push((
                vec![*cause as Var, var],
                vec![1.0, 1.0 - chance, 0.0, *chance],
            ));
        }
    }

    /// A new gathering variable.
    pub(super) fn gathering(&mut self, what: Gathered) -> Var {
        self.gathered.push(what);
        (self.network.causes.len() + self.gathered.len() - 1) as Var
    }

    /// Lays out the sum in the order `kept`, which is found and put there where there is none yet.
    pub(super) fn eliminate(
        self,
        reached: &[bool],
        care: Care,
        kept: &mut Option<Vec<Var>>,
    ) -> Result<Elimination, Tangled> {
        let causes = self.network.causes.len();
        let mut tape = Tape::default();
        let mut alone = vec![None; causes];
        let mut live: Vec<usize> = vec![tape.input(Vec::new(), &[self.constant])];
        for at in 0..causes {
            if reached[at] && self.evidence.causes[at].is_none() {
                let input = tape.input(vec![at as Var], &self.unary[at]);
                alone[at] = Some(input);
                live.push(input);
            }
        }
        let pieces: Vec<usize> = self
            .pieces
            .iter()
            .map(|(scope, values)| tape.input(scope.clone(), values))
            .collect();
        live.extend(&pieces);
        let mut left: Vec<Var> = (0..causes)
            .filter(|at| alone[*at].is_some())
            .map(|at| at as Var)
            .collect();
        left.extend((causes..causes + self.gathered.len()).map(|at| at as Var));
        let scopes: Vec<Vec<Var>> = live.iter().map(|at| tape.scope(*at).to_vec()).collect();
        let in_order = match kept {
            Some(found) => found,
            None => kept.insert(order(causes, &self.gathered, &scopes, &left, care)?),
        };
        for var in in_order.iter().copied() {
            let (mut with, without): (Vec<usize>, Vec<usize>) = live
                .iter()
                .partition(|table| tape.scope(**table).contains(&var));
            live = without;
            if tape.cost > TOO_TANGLED {
                return Err(Tangled);
            }
            with.sort_by_key(|table| tape.scope(*table).len());
            let Some((last, others)) = with.split_last() else {
                continue;
            };
            let gathers = |var: Var| var as usize >= causes;
            let mut joined = None;
            for table in others {
                joined = Some(joined.map_or(*table, |joined| tape.join(joined, *table, gathers)));
            }
            let gathered = (var as usize)
                .checked_sub(causes)
                .map(|at| self.gathered[at]);
            let whole =
                |tape: &mut Tape| joined.map_or(*last, |joined| tape.join(joined, *last, gathers));
            live.push(match (gathered, joined) {
                (None, Some(joined)) => tape.join_over(joined, *last, var, gathers),
                (None, None) => tape.sum(*last, var),
                (Some(Gathered::There), _) => {
                    let whole = whole(&mut tape);
                    tape.yes(whole, var)
                }
                (Some(Gathered::Cause(at)), _) => {
                    let whole = whole(&mut tape);
                    settled(&mut tape, whole, var, at as Var)
                }
            });
        }
        let mut tables = live.into_iter();
        if let Some(mut whole) = tables.next() {
            for table in tables {
                whole = tape.join(whole, table, |_| false);
            }
        }
        Ok(Elimination {
            bears: tape.built_on(alone.iter().flatten().copied()),
            tape,
            alone,
            pieces,
        })
    }
}

//! How often each figure of the network brought its node on, in one camera.

use super::eliminate::{Gathered, Sum, Tangled, reached};
use super::evidence::Evidence;
use super::network::{CauseAt, Chances, Network, SignAt};
use super::order::Care;
use super::tape::Var;

/// One figure of the network: the leak (0) or a link (from 1) of a cause or a sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Figure {
    Cause(CauseAt, usize),
    Sign(SignAt, usize),
}

/// Expected counts in one camera: the figure, how often it brought its node on, how often it did not though its cause was there.
///
/// Nodes that the evidence does not reach are left out: they say nothing about their figures.
#[derive(Debug)]
pub(crate) struct Traced {
    pub(crate) counts: Vec<(Figure, f64, f64)>,
}

/// Where a figure's counts are found when the sum has been run.
enum Place {
    /// In an input over gathering variables, at its no and yes.
    Piece(usize, [usize; 2]),
    /// In the presence of a cause of something that is not there.
    Silent(CauseAt),
    /// It surely did not.
    Never,
}

impl Traced {
    /// `Ok(None)` when the evidence cannot be. The order of the sum hangs on the links and on what is known, not on the chances:
    /// `kept` holds it from one reckoning of a camera to the next.
    pub(crate) fn of(
        network: &Network,
        evidence: &Evidence,
        kept: &mut Option<Vec<Var>>,
    ) -> Result<Option<Self>, Tangled> {
        let reached = reached(network, evidence, []);
        let mut trace = Trace {
            sum: Sum::empty(network, evidence),
            evidence,
            places: Vec::new(),
        };
        for at in (0..network.causes.len()).filter(|at| reached[*at]) {
            let what = match evidence.causes[at] {
                Some(true) => Some(Gathered::There),
                Some(false) => None,
                None => Some(Gathered::Cause(at)),
            };
            trace.node(&network.causes[at], what, &[], |link| {
                Figure::Cause(at, link)
            });
        }
        for (at, sign) in network.signs.iter().enumerate() {
            if let Some(there) = evidence.signs[at] {
                let what = there.then_some(Gathered::There);
                trace.node(sign, what, &evidence.cured_before[at], |link| {
                    Figure::Sign(at, link)
                });
            }
        }
        let Trace { sum, places, .. } = trace;
        let elimination = sum.eliminate(&reached, Care::Little, kept)?;
        let (tape, mut work, mut slopes) = (&elimination.tape, Vec::new(), Vec::new());
        tape.forwards(&mut work);
        tape.backwards(&work, &mut slopes, &[]);
        let total = tape.value(&work);
        if total.is_nan() || total <= 0.0 {
            return Ok(None);
        }
        let part =
            |input: usize, index: usize| tape.weight_of(input, index, &work, &slopes) / total;
        let count = |(figure, place): (Figure, Place)| {
            let (yes, no) = match place {
                Place::Piece(piece, [no, yes]) => {
                    let input = elimination.pieces[piece];
                    (part(input, yes), part(input, no))
                }
                Place::Silent(cause) => (
                    0.0,
                    elimination.alone[cause].map_or(0.0, |input| part(input, 1)),
                ),
                Place::Never => (0.0, 1.0),
            };
            (figure, yes, no)
        };
        Ok(Some(Self {
            counts: places.into_iter().map(count).collect(),
        }))
    }
}

struct Trace<'n> {
    sum: Sum<'n>,
    evidence: &'n Evidence,
    places: Vec<(Figure, Place)>,
}

impl Trace<'_> {
    /// A cause or sign: `what` is gathered in it, `None` when it is not there.
    fn node(
        &mut self,
        chances: &Chances,
        what: Option<Gathered>,
        cured: &[CauseAt],
        figure: impl Fn(usize) -> Figure,
    ) {
        let var = what.map(|what| self.sum.gathering(what));
        match var {
            Some(var) => self.piece(
                figure(0),
                vec![var],
                vec![1.0 - chances.leak, chances.leak],
                [0, 1],
            ),
            None => {
                self.sum.constant *= 1.0 - chances.leak;
                self.places.push((figure(0), Place::Never));
            }
        }
        for (link, (cause, chance)) in chances.links.iter().enumerate() {
            let figure = figure(link + 1);
            if cured.contains(cause) {
                continue;
            }
            match (self.evidence.causes[*cause], var) {
                (Some(false), _) => {}
                (Some(true), Some(var)) => {
                    self.piece(figure, vec![var], vec![1.0 - chance, *chance], [0, 1]);
                }
                (Some(true), None) => {
                    self.sum.constant *= 1.0 - chance;
                    self.places.push((figure, Place::Never));
                }
                (None, Some(var)) => {
                    let scope = vec![u32::try_from(*cause).unwrap_or(u32::MAX), var];
                    self.piece(figure, scope, vec![1.0, 1.0 - chance, 0.0, *chance], [1, 3]);
                }
                (None, None) => {
                    self.sum.unary[*cause][1] *= 1.0 - chance;
                    self.places.push((figure, Place::Silent(*cause)));
                }
            }
        }
    }

    fn piece(&mut self, figure: Figure, scope: Vec<u32>, values: Vec<f64>, ends: [usize; 2]) {
        self.places
            .push((figure, Place::Piece(self.sum.pieces.len(), ends)));
        self.sum.pieces.push((scope, values));
    }
}

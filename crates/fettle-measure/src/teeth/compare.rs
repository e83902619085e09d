//! Two photographs of teeth against each other: before and after, or an old part and a new one.

use serde::{Deserialize, Serialize};

use super::{Kind, Report, Tooth, Verdict};

/// One tooth in both photographs. Differences are the newer less the older; `None` where one of them is missing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToothChange {
    /// In the older photograph.
    pub old_n: u32,
    /// In the newer one.
    pub new_n: u32,
    /// Loss on the worse flank.
    pub flank_mm: Option<f64>,
    /// Its uncertainty.
    pub flank_u_mm: Option<f64>,
    /// Loss of height.
    pub tip_loss_mm: Option<f64>,
    /// Its uncertainty.
    pub tip_loss_u_mm: Option<f64>,
    /// Lean.
    pub bend_mm: Option<f64>,
    /// Its uncertainty.
    pub bend_u_mm: Option<f64>,
    /// State in the older photograph.
    pub old_verdict: Verdict,
    /// State in the newer one.
    pub new_verdict: Verdict,
}

/// What changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// By how many teeth the newer photograph's count is ahead.
    pub turned_teeth: u32,
    /// Whether the teeth themselves tell so: a gear without marks can be turned in any way.
    pub is_turn_sure: bool,
    /// Pitch, newer less older.
    pub pitch_mm: f64,
    /// Its uncertainty.
    pub pitch_u_mm: f64,
    /// Height of the sound teeth, newer less older.
    pub depth_mm: f64,
    /// The teeth in the older photograph's order.
    pub teeth: Vec<ToothChange>,
}

/// Lays two reports of like parts over each other; `None` when their kinds or counts differ.
///
/// A gear is turned so that the deviations of its teeth agree best; a rack is not moved.
#[must_use]
pub fn compare(old: &Report, new: &Report) -> Option<Comparison> {
    let count = old.teeth.len();
    if old.options.kind != new.options.kind || count != new.teeth.len() || count == 0 {
        return None;
    }
    let mut costs: Vec<(f64, usize)> = match old.options.kind {
        Kind::Rack => vec![(0.0, 0)],
        Kind::Gear => (0..count).map(|by| (apart(old, new, by), by)).collect(),
    };
    costs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let (least, by) = costs.first().copied()?;
    // What noise alone adds is about one a figure.
    let is_turn_sure = costs.get(1).is_none_or(|(next, _)| next - least > 9.0);
    let teeth = (0..count)
        .filter_map(|i| Some(change(old.teeth.get(i)?, new.teeth.get((i + by) % count)?)))
        .collect();
    Some(Comparison {
        turned_teeth: by as u32,
        is_turn_sure,
        pitch_mm: new.pitch_mm - old.pitch_mm,
        pitch_u_mm: new.pitch_u_mm.hypot(old.pitch_u_mm),
        depth_mm: new.depth_mm - old.depth_mm,
        teeth,
    })
}

/// Sum of squared differences over their uncertainties with the newer turned on, each capped.
fn apart(old: &Report, new: &Report, by: usize) -> f64 {
    const CAP: f64 = 25.0;
    let count = old.teeth.len();
    let ahead = new.teeth.iter().cycle().skip(by).take(count);
    old.teeth
        .iter()
        .zip(ahead)
        .map(|(a, b)| {
            let is_gone = |t: &Tooth| t.verdict == Verdict::Missing;
            if is_gone(a) != is_gone(b) {
                return CAP;
            }
            figures(a)
                .iter()
                .zip(figures(b))
                .filter_map(|(a, b)| {
                    let ((a, ua), (b, ub)) = (a.as_ref().copied()?, b?);
                    Some((4.0 * (a - b).powi(2) / (ua * ua + ub * ub).max(1e-12)).min(CAP))
                })
                .sum()
        })
        .sum()
}

fn figures(tooth: &Tooth) -> [Option<(f64, f64)>; 4] {
    [
        tooth.flank_mm.zip(tooth.flank_u_mm),
        tooth.tip_loss_mm.zip(tooth.tip_loss_u_mm),
        tooth.pitch_error_mm.zip(tooth.pitch_error_u_mm),
        tooth.bend_mm.zip(tooth.bend_u_mm),
    ]
}

fn change(old: &Tooth, new: &Tooth) -> ToothChange {
    let less = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| b - a);
    let both = |a: Option<f64>, b: Option<f64>| a.zip(b).map(|(a, b)| a.hypot(b));
    ToothChange {
        old_n: old.n,
        new_n: new.n,
        flank_mm: less(old.flank_mm, new.flank_mm),
        flank_u_mm: both(old.flank_u_mm, new.flank_u_mm),
        tip_loss_mm: less(old.tip_loss_mm, new.tip_loss_mm),
        tip_loss_u_mm: both(old.tip_loss_u_mm, new.tip_loss_u_mm),
        bend_mm: less(old.bend_mm, new.bend_mm),
        bend_u_mm: both(old.bend_u_mm, new.bend_u_mm),
        old_verdict: old.verdict,
        new_verdict: new.verdict,
    }
}

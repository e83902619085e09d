//! The curtains' and the flash's figures mark by mark, for focal-plane shutters the frame's.

use super::{Curtain, Flash, Options, Position, Report, Shot, focal};
use crate::{Marked, Millimetres, Seconds, Stops};

/// A figure over several releases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean<T> {
    /// The mean.
    pub mean: T,
    /// Its expanded uncertainty, k = 2; `None` where no release gives one.
    pub uncertainty: Option<T>,
}

/// What the curtains did at one mark, over the releases that count.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameAtMark {
    /// The mark.
    pub marked: Marked,
    /// How many releases count.
    pub releases: u32,
    /// The mean effective time at each sensor that tells one, in the order of `x_mm`.
    pub positions: Vec<Position>,
    /// The first curtain's travel over the gate.
    pub first_travel: Option<Mean<Seconds>>,
    /// The second curtain's.
    pub second_travel: Option<Mean<Seconds>>,
    /// The far edge against the near; `None` where the slit closed before it.
    pub evenness: Option<Mean<Stops>>,
    /// In how many releases the slit closed within the gate.
    pub capped: u32,
    /// From where on, at the earliest.
    pub capped_from_mm: Option<Millimetres>,
}

/// How the flash was in step at one mark, over the releases that count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlashAtMark {
    /// The mark.
    pub marked: Marked,
    /// How many releases count.
    pub releases: u32,
    /// In how many of them the contact closed.
    pub closed: u32,
    /// In how many the shutter, or the whole gate, was fully open at one moment.
    pub fully_open: u32,
    /// From the contact to fully open; negative when the contact closes after it.
    pub delay: Option<Mean<Seconds>>,
    /// From the contact to the end of fully open.
    pub open_after: Option<Mean<Seconds>>,
}

/// Curtains mark by mark, slowest first; struck releases count in none.
#[must_use]
pub fn frames_by_mark(report: &Report) -> Vec<FrameAtMark> {
    let of = |marked: Marked| {
        let curtains: Vec<&Curtain> = counted(report, marked)
            .filter_map(|n| report.curtains.iter().find(|it| it.n == n))
            .collect();
        let capped: Vec<&&Curtain> = curtains.iter().filter(|it| it.capped).collect();
        let from = capped.iter().filter_map(|it| it.capped_from_mm);
        let first = curtains
            .iter()
            .map(|it| (it.first_travel_s, it.first_travel_u_s));
        let second = curtains
            .iter()
            .map(|it| (it.second_travel_s, it.second_travel_u_s));
        let even = curtains
            .iter()
            .map(|it| (it.evenness_stops, it.evenness_u_stops));
        (!curtains.is_empty()).then(|| FrameAtMark {
            marked,
            releases: count(curtains.len()),
            positions: positions(&curtains),
            first_travel: mean(first.map(seconds)).map(in_seconds),
            second_travel: mean(second.map(seconds)).map(in_seconds),
            evenness: mean(even.map(stops)).map(|it| Mean {
                mean: Stops::of(it.mean),
                uncertainty: it.uncertainty.map(Stops::of),
            }),
            capped: count(capped.len()),
            capped_from_mm: from.min_by(|a, b| a.to_mm().total_cmp(&b.to_mm())),
        })
    };
    marks(report).into_iter().filter_map(of).collect()
}

/// Flash mark by mark, slowest first; struck releases count in none.
#[must_use]
pub fn flash_by_mark(report: &Report) -> Vec<FlashAtMark> {
    let of = |marked: Marked| {
        let flash: Vec<&Flash> = counted(report, marked)
            .filter_map(|n| report.flash.iter().find(|it| it.n == n))
            .collect();
        let delays = flash.iter().map(|it| (it.delay_s, it.uncertainty_s));
        let afters = flash.iter().map(|it| (it.open_after_s, it.uncertainty_s));
        let how_many = |is: fn(&Flash) -> bool| count(flash.iter().filter(|it| is(it)).count());
        (!flash.is_empty()).then(|| FlashAtMark {
            marked,
            releases: count(flash.len()),
            closed: how_many(|it| it.contact_s.is_some()),
            fully_open: how_many(|it| it.fully_open == Some(true)),
            delay: mean(delays.map(seconds)).map(in_seconds),
            open_after: mean(afters.map(seconds)).map(in_seconds),
        })
    };
    marks(report).into_iter().filter_map(of).collect()
}

/// The shots of the sensor nearest the gate's centre, of each release; every shot of a leaf shutter.
#[must_use]
pub fn at_centre<'r>(report: &'r Report, options: &Options) -> Vec<&'r Shot> {
    let gate = options.gate_mm.map_or(focal::GATE_MM, Millimetres::to_mm);
    let off = |shot: &&Shot| {
        let x = shot.x_mm.map_or(0.0, Millimetres::to_mm);
        ((x - 0.5 * gate).abs(), x)
    };
    let nearest = report.shots.iter().min_by(|a, b| {
        let (a, b) = (off(a), off(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    let centre = nearest.and_then(|shot| shot.x_mm);
    let is_there = |shot: &&'r Shot| shot.x_mm == centre;
    report.shots.iter().filter(is_there).collect()
}

fn marks(report: &Report) -> Vec<Marked> {
    let mut marks: Vec<Marked> = report.shots.iter().filter_map(|it| it.marked).collect();
    marks.sort_unstable_by(|a, b| b.cmp(a));
    marks.dedup();
    marks
}

/// The releases of a mark that count.
fn counted(report: &Report, marked: Marked) -> impl Iterator<Item = u32> {
    let of_mark = |shot: &&Shot| shot.marked == Some(marked) && !shot.struck;
    let mut numbers: Vec<u32> = report
        .shots
        .iter()
        .filter(of_mark)
        .map(|it| it.release)
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers.into_iter()
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

fn positions(curtains: &[&Curtain]) -> Vec<Position> {
    let mut places: Vec<Millimetres> = Vec::new();
    for position in curtains.iter().flat_map(|it| &it.positions) {
        if !places.contains(&position.x_mm) {
            places.push(position.x_mm);
        }
    }
    places.sort_by(|a, b| a.to_mm().total_cmp(&b.to_mm()));
    let at = |x_mm: Millimetres| {
        let here = curtains
            .iter()
            .flat_map(|it| &it.positions)
            .filter(|it| it.x_mm == x_mm);
        let times = here.map(|it| (it.effective_s.map(Seconds::to_s), None));
        Position {
            x_mm,
            effective_s: mean(times).map(|it| Seconds::s(it.mean)),
        }
    };
    places.into_iter().map(at).collect()
}

fn seconds((value, u): (Option<Seconds>, Option<Seconds>)) -> (Option<f64>, Option<f64>) {
    (value.map(Seconds::to_s), u.map(Seconds::to_s))
}

fn stops((value, u): (Option<Stops>, Option<Stops>)) -> (Option<f64>, Option<f64>) {
    (value.map(Stops::to_stops), u.map(Stops::to_stops))
}

fn in_seconds(it: Mean<f64>) -> Mean<Seconds> {
    Mean {
        mean: Seconds::s(it.mean),
        uncertainty: it.uncertainty.map(Seconds::s),
    }
}

/// The mean of what there is. Its uncertainty joins the releases' own, which they share, with their
/// scatter (JCGM 100:2008, 5.1.2).
fn mean(values: impl Iterator<Item = (Option<f64>, Option<f64>)>) -> Option<Mean<f64>> {
    let there: Vec<(f64, Option<f64>)> = values.filter_map(|(it, u)| Some((it?, u))).collect();
    let n = there.len() as f64;
    if there.is_empty() {
        return None;
    }
    let mean = there.iter().map(|it| it.0).sum::<f64>() / n;
    let squares: f64 = there.iter().map(|it| (it.0 - mean).powi(2)).sum();
    let scatter = if n > 1.0 {
        2.0 * (squares / (n - 1.0) / n).sqrt()
    } else {
        0.0
    };
    let own: Option<Vec<f64>> = there.iter().map(|it| it.1).collect();
    let own = own.map(|own| own.iter().sum::<f64>() / n);
    Some(Mean {
        mean,
        uncertainty: own.map(|own| own.hypot(scatter)),
    })
}

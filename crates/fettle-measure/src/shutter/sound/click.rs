//! Clicks: sudden, short, above the floor and above what rang just before.

use super::band::{Bands, SHORT, mean, quantile};

/// A click's short mean stands above the floor by this factor (9 dB) ...
const OVER_FLOOR: f64 = 8.0;
/// ... and above the loudest of the time before it by this (7 dB).
const OVER_BEFORE: f64 = 5.0;
/// The time before: longer than one cycle of a voice, so that its pulses are no clicks.
const BEFORE_S: f64 = 12e-3;
/// Half of its energy is there within this time: a voice swells more slowly.
const ATTACK_S: f64 = 2.5e-3;
/// And it falls by 10 dB within this time.
const DECAY_S: f64 = 24e-3;
const DECAY: f64 = 0.1;
/// No second click is looked for within this time.
const DEAF_S: f64 = 3e-3;
/// More energy below than above, by this factor, is a knock or a thump, not a camera's metal.
const THUD: f64 = 4.0;
/// A weaker click this soon after another may be its echo ...
const ECHO_WITHIN_S: f64 = 80e-3;
/// ... if it is weaker by so many decibels and so much alike.
const ECHO_DB: f64 = 4.0;
const ECHO_ALIKE: f64 = 0.75;
/// Five clicks or more this near one another are a train: an escapement, or a rattle.
const TRAIN_GAP_S: f64 = 60e-3;
const TRAIN: usize = 5;
/// A click so many decibels above the train's median stands out of it.
const OUT_OF_TRAIN_DB: f64 = 5.0;
/// Below the loud clicks by more than this, a click is faint: a tick of the escapement, mostly. It
/// is not read as a part of a release, but may be one, and leaves a time untold ...
pub(super) const FAINT_DB: f64 = 14.0;
/// ... unless it is fainter than the parts of one camera are.
const FAINTEST_DB: f64 = 22.0;

/// One click.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Click {
    /// Onset in seconds.
    pub(super) at: f64,
    /// Loudest short mean, decibels against full scale.
    pub(super) level_db: f64,
    /// The same above the floor.
    pub(super) contrast_db: f64,
    /// Whether it sounds like a knock rather than metal.
    pub(super) thud: bool,
    /// Standard uncertainty of the onset in seconds.
    pub(super) onset_u: f64,
}

/// What was heard.
#[derive(Clone, Debug, Default)]
pub(super) struct Heard {
    /// Clicks in the order of time.
    pub(super) clicks: Vec<Click>,
    /// Trains of ticks between clicks that stand out of them: from, to in seconds.
    pub(super) trains: Vec<(f64, f64)>,
    /// Onsets of faint clicks.
    pub(super) faint: Vec<f64>,
    /// Rattles and voices: from, to in seconds.
    pub(super) rattles: Vec<(f64, f64)>,
}

/// Finds the clicks.
pub(super) fn find(bands: &Bands<'_>) -> Heard {
    let onsets = onsets(bands);
    let onsets = without_echoes(bands, &onsets);
    let mut heard = Heard::default();
    split_trains(&onsets, &mut heard);
    let metal = heard.clicks.iter().filter(|it| !it.thud);
    let loud = quantile(metal.map(|it| it.level_db).collect(), 0.8);
    let faint = |it: &Click| !it.thud && it.level_db < loud - FAINT_DB;
    let counts = heard
        .clicks
        .iter()
        .filter(|it| faint(it) && it.level_db > loud - FAINTEST_DB);
    heard.faint = counts.map(|it| it.at).collect();
    heard.clicks.retain(|it| !faint(it));
    heard
}

fn onsets(bands: &Bands<'_>) -> Vec<Click> {
    let before = bands.steps(BEFORE_S);
    let (attack, decay) = (bands.steps(ATTACK_S), bands.steps(DECAY_S));
    let short: Vec<f64> = (0..bands.high.len()).map(|n| bands.short(n)).collect();
    let mut clicks = Vec::new();
    let mut n = SHORT;
    while n + SHORT < short.len() {
        let floor = bands.floor_at(n);
        let rises = |n: usize| {
            let until = n.saturating_sub(SHORT);
            let earlier = &short[until.saturating_sub(before)..=until];
            let loudest = earlier.iter().fold(floor, |most, value| most.max(*value));
            short[n] >= OVER_BEFORE * loudest
        };
        if short[n] < OVER_FLOOR * floor || !rises(n) {
            n += 1;
            continue;
        }
        let soon = (n + 2 * attack).min(short.len());
        let peak = short[n..soon]
            .iter()
            .fold(0.0_f64, |most, value| most.max(*value));
        let risen = short[n..soon].iter().position(|value| *value > 0.5 * peak);
        let after = &short[(n + attack).min(soon)..(n + decay).min(short.len())];
        let falls = after.iter().any(|value| *value < DECAY * peak);
        if falls && risen.is_some_and(|steps| steps <= attack) {
            clicks.push(click(bands, n, peak, floor));
        }
        n += bands.steps(DEAF_S).max(SHORT);
    }
    clicks
}

fn click(bands: &Bands<'_>, first: usize, peak: f64, floor: f64) -> Click {
    let step = bands.step_s();
    let from = (first as f64 * step - 4e-3).max(0.0);
    let to = (first + SHORT) as f64 * step + 2e-3;
    let begin = (from * bands.rate) as usize;
    let x = bands.filtered(begin, (to * bands.rate) as usize);
    let place = pick(&x).map_or(first as f64 * step, |place| {
        (begin + place) as f64 / bands.rate
    });
    let long = bands.steps(20e-3);
    let band = |band: &[f32]| {
        let earlier = mean(&band[first.saturating_sub(long)..first.saturating_sub(1)]);
        (mean(&band[first..(first + long).min(band.len())]) - earlier).max(0.0)
    };
    let (low, high) = (band(&bands.low), band(&bands.high));
    // The attack of a click hides in noise the longer the nearer the noise comes to it.
    let contrast = peak / floor;
    Click {
        at: place,
        level_db: 10.0 * peak.max(1e-30).log10(),
        contrast_db: 10.0 * contrast.max(1e-30).log10(),
        thud: low > THUD * high,
        onset_u: 0.08e-3 + 1.5e-3 / contrast.sqrt(),
    }
}

/// Where a stretch changes from noise to signal: the split into two Gaussian stretches that the
/// Akaike information criterion prefers, `AIC(k) = k ln var(x[..k]) + (n - k - 1) ln var(x[k..])`
/// (Maeda 1985). `None` for a stretch too short or without any change.
fn pick(x: &[f64]) -> Option<usize> {
    const MARGIN: usize = 8;
    let total: f64 = x.iter().map(|value| value * value).sum();
    if x.len() < 4 * MARGIN || total <= 0.0 {
        return None;
    }
    let least = 1e-12 * total / x.len() as f64;
    let mut sum = 0.0;
    let mut best = (f64::MAX, None);
    for (k, value) in x.iter().enumerate() {
        if k >= MARGIN && k + MARGIN < x.len() {
            let rest = (x.len() - k) as f64;
            let (before, after) = (sum / k as f64, (total - sum) / rest);
            let aic = k as f64 * before.max(least).ln() + (rest - 1.0) * after.max(least).ln();
            if aic < best.0 {
                best = (aic, Some(k));
            }
        }
        sum += value * value;
    }
    best.1
}

/// Leaves out what is a weaker copy of a click just before it.
fn without_echoes(bands: &Bands<'_>, clicks: &[Click]) -> Vec<Click> {
    let wave = |click: &Click, before: f64, after: f64| {
        let from = ((click.at - before).max(0.0) * bands.rate) as usize;
        bands.filtered(from, ((click.at + after) * bands.rate) as usize)
    };
    let is_echo = |n: usize, click: &Click| {
        let near = |it: &&Click| click.at - it.at < ECHO_WITHIN_S;
        clicks[..n].iter().rev().take_while(near).any(|earlier| {
            click.level_db < earlier.level_db - ECHO_DB
                && alike(&wave(earlier, 0.2e-3, 4e-3), &wave(click, 1e-3, 5e-3)) > ECHO_ALIKE
        })
    };
    let kept = clicks
        .iter()
        .enumerate()
        .filter(|(n, click)| !is_echo(*n, click));
    kept.map(|(_, click)| *click).collect()
}

/// The greatest normalised correlation of `pattern` within `x`, either sign.
fn alike(pattern: &[f64], x: &[f64]) -> f64 {
    let own: f64 = pattern.iter().map(|value| value * value).sum();
    x.windows(pattern.len().max(1))
        .map(|window| {
            let (mut both, mut other) = (0.0, 0.0);
            for (a, b) in pattern.iter().zip(window) {
                both += a * b;
                other += b * b;
            }
            both.abs() / (own * other).max(1e-300).sqrt()
        })
        .fold(0.0, f64::max)
}

/// Takes trains of ticks out, keeping the clicks that stand out of them.
fn split_trains(onsets: &[Click], heard: &mut Heard) {
    let runs = onsets.chunk_by(|a, b| b.at - a.at < TRAIN_GAP_S);
    for run in runs {
        if run.len() < TRAIN {
            heard.clicks.extend_from_slice(run);
            continue;
        }
        let usual = quantile(run.iter().map(|it| it.level_db).collect(), 0.5);
        let out = |it: &&Click| it.level_db > usual + OUT_OF_TRAIN_DB;
        let standing: Vec<Click> = run.iter().filter(out).copied().collect();
        let ends = (run[0].at, run[run.len() - 1].at);
        if standing.is_empty() || standing.len() > TRAIN {
            heard.rattles.push(ends);
        } else {
            heard.trains.push(ends);
            heard.clicks.extend(standing);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_picker_finds_where_the_variance_changes() {
        let wave = |n: usize| (n as f64 * 2.4).sin() * (n as f64 * 0.71).cos();
        let x: Vec<f64> = (0..300)
            .map(|n| if n < 180 { 0.01 * wave(n) } else { wave(n) })
            .collect();
        let place = pick(&x).unwrap();
        assert!((178..=182).contains(&place), "{place}");
        assert_eq!(pick(&[0.0; 100]), None);
        assert_eq!(pick(&[1.0; 5]), None);
    }

    #[test]
    fn a_copy_is_alike_and_another_tone_is_not() {
        let tone = |hz: f64, n: usize| (n as f64 * hz).sin() * (-(n as f64) / 40.0).exp();
        let a: Vec<f64> = (0..150).map(|n| tone(0.8, n)).collect();
        let mut later = vec![0.0; 20];
        later.extend(a.iter().map(|value| -0.3 * value));
        assert!((alike(&a, &later) - 1.0).abs() < 1e-9);
        let b: Vec<f64> = (0..200).map(|n| tone(0.33, n)).collect();
        assert!(alike(&a, &b) < 0.5);
        assert!(alike(&[], &b).abs() < 1e-12);
    }

    fn row(levels_db: &[f64], gap_s: f64) -> Heard {
        let onsets: Vec<Click> = (1_u32..)
            .zip(levels_db)
            .map(|(n, level_db)| Click {
                at: gap_s * f64::from(n),
                level_db: *level_db,
                contrast_db: 30.0,
                thud: false,
                onset_u: 1e-4,
            })
            .collect();
        let mut heard = Heard::default();
        split_trains(&onsets, &mut heard);
        heard
    }

    #[test]
    fn the_clicks_at_the_ends_of_an_escapement_are_kept_and_its_ticks_are_not() {
        let heard = row(
            &[-8.0, -26.0, -25.0, -27.0, -26.0, -25.5, -26.0, -9.0],
            0.02,
        );
        let kept: Vec<f64> = heard.clicks.iter().map(|it| it.level_db).collect();
        assert_eq!(kept, [-8.0, -9.0]);
        assert_eq!(heard.trains.len(), 1);
        let (from, to) = heard.trains[0];
        assert!((from - 0.02).abs() < 1e-12 && (to - 0.16).abs() < 1e-12);
        assert!(heard.rattles.is_empty());
    }

    #[test]
    fn ticks_of_which_none_stands_out_are_a_rattle() {
        let heard = row(&[-20.0, -21.0, -20.5, -19.0, -20.0, -21.0], 0.03);
        assert!(heard.clicks.is_empty() && heard.trains.is_empty());
        assert_eq!(heard.rattles.len(), 1);
    }

    #[test]
    fn few_clicks_or_clicks_far_apart_are_no_train() {
        for (count, gap_s) in [(4, 0.02), (9, 0.07)] {
            let heard = row(&vec![-10.0; count], gap_s);
            assert_eq!(heard.clicks.len(), count);
            assert!(heard.trains.is_empty() && heard.rattles.is_empty());
        }
    }
}

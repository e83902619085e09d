//! When the curtains pass a sensor, read from the light of one shot.
//!
//! Only sums over the light are used, none of its form: a sensor of width `w` sees a ramp of `w/v` as
//! the first curtain passes and `t1 = ∫(1 - E/E0)` up to where it stands open is the mean moment of
//! passing, for any sensor whose two halves are alike. A slit narrower than the sensor shows
//! no such place: there `t2 - t1 = ∫E/E0` and `(t1 + t2)/2` is the centroid of the light. A linear lag
//! moves all of these alike.

use crate::shutter::channel::{Channel, Raw};
use crate::shutter::{edges, expose};

/// What the samples' spacing leaves of a moment, in samples.
const SAMPLING: f64 = 0.02;
/// How well it is known where a tail moves the light's centroid, as a part of that.
const TAIL_MOVES: f64 = 0.3;

/// The mean moments at which the curtains pass a sensor, in samples of the recording.
#[derive(Clone, Copy, Debug)]
pub(super) struct Passage {
    pub(super) first: f64,
    pub(super) second: f64,
    /// How one standard uncertainty moves both: two ways, independent of each other.
    pub(super) ways: [(f64, f64); 2],
    /// Whether both moments come from one event, by its centroid.
    pub(super) joint: bool,
    /// From 10 to 90 % as the first and the second curtain pass, where the shot shows it.
    pub(super) ramps: Option<(f64, f64)>,
}

impl Passage {
    /// `e0` is the fully open level with its variance, `dark` the standard uncertainty of the
    /// effective time that the dark level brings, in samples.
    pub(super) fn of(
        channel: &Channel<'_>,
        raw: &Raw,
        (level, variance): (f64, f64),
        dark: f64,
    ) -> Option<Self> {
        let noise = channel.signal.noise / level;
        let regions = &raw.local.regions;
        let signal = &channel.signal;
        let main = expose::before_bounce(raw.light.last(), level, signal.noise, signal.dt);
        let area = main.iter().sum::<f64>() / level;
        let scale = variance.sqrt() / level;
        // A tail lets all the light pass later, on the mean, by what it adds to a time.
        let share = (raw.peak / level).clamp(0.0, 1.0);
        let (late, tail) = channel.tail_at(share);
        let (late, tail) = (late / signal.dt, tail / signal.dt);
        let passage = if regions.has_plateau() {
            let first = &raw.light.first;
            let opening = first.iter().sum::<f64>() / level;
            let of = |length: usize| {
                let white = noise * (length as f64).sqrt();
                let part = length as f64 / (first.len() + main.len()) as f64;
                white.hypot(dark * part).hypot(SAMPLING)
            };
            let high = channel.signal.noise;
            let rise = edges::rise(first, level, high).map(|it| it.ramp());
            let fall = edges::fall(main, level, high).map(|it| it.ramp());
            Self {
                first: regions.open as f64 - opening,
                second: regions.second as f64 + area - late,
                ways: [
                    (of(first.len()).hypot(scale * opening), 0.0),
                    (0.0, of(main.len()).hypot(scale * area).hypot(tail)),
                ],
                joint: false,
                ramps: rise.zip(fall),
            }
        } else {
            let moment: f64 = main
                .iter()
                .enumerate()
                .map(|(i, light)| (i as f64 + 0.5) * light)
                .sum::<f64>()
                / level;
            let seen = moment / area;
            // What falls late comes after the slit.
            let falls = channel.tail.map_or(0.0, |tail| tail.closing / signal.dt);
            let open = area - late;
            let middle = seen - late / open * (0.5 * area + falls);
            let lever: f64 = (0..main.len())
                .map(|i| (i as f64 + 0.5 - middle).powi(2))
                .sum();
            let white = noise * (main.len() as f64).sqrt();
            let apart = white.hypot(dark).hypot(scale * area).hypot(SAMPLING);
            let apart = apart.hypot(tail);
            let off_centre = 0.5 * main.len() as f64 - middle;
            let moved = (noise * lever.sqrt()).hypot(dark * off_centre) / area;
            let moved = moved.hypot(SAMPLING).hypot(TAIL_MOVES * (seen - middle));
            let middle = regions.first as f64 + middle;
            Self {
                first: middle - 0.5 * open,
                second: middle + 0.5 * open,
                ways: [(-0.5 * apart, 0.5 * apart), (moved, moved)],
                joint: true,
                ramps: None,
            }
        };
        let sound = passage.open() > 0.0 && passage.first.is_finite() && passage.second.is_finite();
        sound.then_some(passage)
    }

    /// Samples from uncovering to covering.
    pub(super) fn open(&self) -> f64 {
        self.second - self.first
    }
}

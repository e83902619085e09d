//! What in a camera makes a sound, and when.

use super::voice::{Mixer, Voice};
use super::{Room, SoundFiring, ratio};
use crate::synth::Gauss;
use crate::{Decibels, Seconds};

/// Shutters slower than this run an escapement between opening and closing.
const ESCAPEMENT_FROM_S: f64 = 1.0 / 40.0;
/// A burst is followed until it has died away.
const BURST_S: f64 = 0.06;

/// How a camera sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SoundKind {
    /// A leaf shutter: opening and closing.
    Leaf,
    /// Curtains without a mirror: each curtain's arrival.
    Curtains,
    /// Curtains behind a mirror, which goes up before and comes down after.
    Mirror,
}

/// What makes a sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SoundOf {
    /// The mirror arrives at the top.
    MirrorUp,
    /// The blades or the first curtain.
    Opening,
    /// The blades or the second curtain.
    Closing,
    /// The mirror comes down.
    MirrorDown,
    /// The shutter is cocked.
    Cocking,
    /// Something knocks on the bench.
    Knock,
}

/// A camera heard.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundCamera {
    /// What moves in it.
    pub kind: SoundKind,
    /// Blades' travel, or what the curtains' travels differ by: each click stands somewhere within
    /// it, evenly likely, from half before to half after the moment of half the light.
    pub travel: Seconds,
    /// The escapement's ticks against the opening click; `None` for a silent one.
    pub escapement: Option<Decibels>,
    /// Mirror at the top to opening.
    pub mirror_up: Seconds,
    /// Closing to mirror down.
    pub mirror_down: Seconds,
    /// Cocking before each release; `None` when it is not heard.
    pub cocking: Option<Seconds>,
    /// Standard deviation of each click's level.
    pub level_spread: Decibels,
    /// The closing click against the opening click.
    pub closing_level: Decibels,
}

impl Default for SoundCamera {
    fn default() -> Self {
        Self {
            kind: SoundKind::Leaf,
            travel: Seconds::ms(3.0),
            escapement: Some(Decibels::db(-18.0)),
            mirror_up: Seconds::ms(60.0),
            mirror_down: Seconds::ms(40.0),
            cocking: None,
            level_spread: Decibels::db(1.5),
            closing_level: Decibels::db(0.0),
        }
    }
}

impl SoundCamera {
    /// Adds the clicks of releases and the room's knocks; each one's onset and what made it.
    pub(super) fn sounds(
        &self,
        firings: &[SoundFiring],
        room: &Room,
        samples: &mut [f64],
        gauss: &mut Gauss,
    ) -> Vec<(Seconds, SoundOf)> {
        let metal = |gauss: &mut Gauss| Voice::new(gauss, 1.0e3, 1.2e4, [1e-3, 8e-3]);
        let [opening, closing, up, down, cocking, tick] = [(); 6].map(|()| metal(gauss));
        let wood = Voice::new(gauss, 150.0, 900.0, [8e-3, 4e-2]);
        let hard = metal(gauss);
        let mut clicks = Vec::new();
        let rate = room.sample_rate.to_hz();
        let mut mixer = Mixer {
            samples,
            rate,
            gauss,
        };
        for firing in firings {
            let travel = self.travel.to_s();
            let mut shift = || travel * (mixer.gauss.uniform() - 0.5);
            let open = firing.at.to_s() + shift();
            let close = firing.at.to_s() + firing.lasting.to_s() + shift();
            let mut events = vec![
                (open, SoundOf::Opening, &opening, 0.0),
                (
                    close,
                    SoundOf::Closing,
                    &closing,
                    self.closing_level.to_db(),
                ),
            ];
            if self.kind == SoundKind::Mirror {
                let wobble = 1.0 + 0.02 * mixer.gauss.normal();
                events.push((
                    open - wobble * self.mirror_up.to_s(),
                    SoundOf::MirrorUp,
                    &up,
                    3.0,
                ));
                let after = close + wobble * self.mirror_down.to_s();
                events.push((after, SoundOf::MirrorDown, &down, 2.0));
            }
            if let Some(before) = self.cocking {
                events.push((open - before.to_s(), SoundOf::Cocking, &cocking, -4.0));
            }
            for (at, of, voice, level) in events {
                let level = level + self.level_spread.to_db() * mixer.gauss.normal();
                mixer.burst(voice, at, ratio(Decibels::db(level)), room, BURST_S);
                clicks.push((Seconds::s(at), of));
            }
            if let Some(level) = self.escapement
                && firing.lasting.to_s() > ESCAPEMENT_FROM_S
            {
                let beat = 1.0 / (30.0 + 60.0 * mixer.gauss.uniform());
                let mut at = open + 6e-3 + 0.5 * beat;
                while at < close - 2e-3 {
                    let tick_level = level.to_db() + 1.5 * mixer.gauss.normal();
                    let voice = tick.again(mixer.gauss);
                    mixer.dry(&voice, at, ratio(Decibels::db(tick_level)), 0.02);
                    at += beat * (1.0 + 0.06 * mixer.gauss.normal());
                }
            }
        }
        for (at, level) in &room.knocks {
            let level = ratio(*level);
            if room.hard_knocks {
                mixer.burst(&hard, at.to_s(), level, room, BURST_S);
            } else {
                mixer.burst(&wood, at.to_s(), level, room, 4.0 * BURST_S);
                mixer.burst(&hard, at.to_s(), 0.12 * level, room, BURST_S);
            }
            clicks.push((*at, SoundOf::Knock));
        }
        clicks.sort_by(|a, b| a.0.to_s().total_cmp(&b.0.to_s()));
        clicks
    }
}

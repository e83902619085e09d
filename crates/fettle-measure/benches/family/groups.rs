//! The groups of the family.

use super::case::Case;
use super::draw::Draw;
use super::{chain, flash, focal, hard, leaf, refused, sound};

/// What a group's errors are held to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Held {
    /// 95 % within the strict limit.
    Strict,
    /// As part of the whole family.
    Whole,
    /// By the stated uncertainty alone: the recording itself does not hold the time any nearer.
    Stated,
    /// By sound: by the stated uncertainty, apart from what is measured by light; untold times are
    /// counted and not held against it.
    Heard,
}

pub(crate) struct Group {
    pub(crate) name: &'static str,
    pub(crate) held: Held,
    /// Whether hardly any finding may be false: nothing is wrong with these recordings.
    pub(crate) clean: bool,
    pub(crate) make: fn(&mut Draw) -> Case,
}

const fn group(name: &'static str, held: Held, make: fn(&mut Draw) -> Case) -> Group {
    Group {
        name,
        held,
        clean: false,
        make,
    }
}

pub(crate) const GROUPS: &[Group] = &[
    Group {
        clean: true,
        ..group("clean", Held::Strict, leaf::clean)
    },
    group("coupled", Held::Strict, leaf::coupled),
    group("two poles", Held::Strict, leaf::two_poles),
    group("noisy", Held::Whole, leaf::noisy),
    group("hum", Held::Strict, leaf::hum),
    group("drift", Held::Whole, leaf::drift),
    group("flicker", Held::Whole, leaf::flicker),
    group("mains lamp", Held::Whole, leaf::mains_lamp),
    group("short flicker", Held::Whole, leaf::short_flicker),
    group("clipped", Held::Stated, leaf::clipped),
    group("railed", Held::Stated, leaf::railed),
    group("lag", Held::Whole, leaf::lag),
    group("uneven blades", Held::Whole, leaf::uneven_blades),
    group("other edges", Held::Whole, leaf::other_edges),
    group("round edges", Held::Stated, leaf::round_edges),
    group("bounce", Held::Whole, leaf::bounce),
    group("same channels", Held::Whole, leaf::same_channels),
    group("low rate", Held::Whole, leaf::low_rate),
    group("resolutions", Held::Whole, leaf::resolutions),
    group("inverted", Held::Whole, leaf::inverted),
    group("clock stated", Held::Whole, leaf::clock_stated),
    group("clock unstated", Held::Whole, leaf::clock_unstated),
    group("session", Held::Strict, leaf::session),
    group("never open", Held::Whole, leaf::never_open),
    group("single shot", Held::Whole, leaf::single_shot),
    group("cut off", Held::Whole, leaf::cut_off),
    group("everything", Held::Whole, leaf::everything),
    group("high corner", Held::Whole, hard::high_corner),
    group("first fast", Held::Whole, hard::first_fast),
    group("strong hum", Held::Whole, hard::strong_hum),
    group("few shots", Held::Whole, hard::few_shots),
    group("shots a stop off", Held::Whole, hard::a_stop_off),
    group("table", Held::Whole, hard::table),
    group("tail", Held::Stated, chain::tail),
    group("mixed tail", Held::Stated, chain::mixed_tail),
    group("overdriven", Held::Stated, chain::overdriven),
    group("clicks", Held::Whole, chain::clicks),
    group("pulsed lamp", Held::Whole, chain::pulsed_lamp),
    group("dimmed lamp", Held::Whole, chain::dimmed_lamp),
    group("lossy", Held::Stated, chain::lossy),
    group("gain control", Held::Whole, chain::gain_control),
    group("noise gate", Held::Whole, chain::noise_gate),
    Group {
        clean: true,
        ..group("focal clean", Held::Strict, focal::clean)
    },
    group("focal coupled", Held::Strict, focal::coupled),
    group("focal hum", Held::Strict, focal::hum),
    group("wide sensor", Held::Strict, focal::wide_sensor),
    group("single sensor", Held::Strict, focal::single_sensor),
    group("two sensors", Held::Strict, focal::two_sensors),
    group("many sensors", Held::Strict, focal::many_sensors),
    group("capped", Held::Strict, focal::capped),
    group("focal bounce", Held::Strict, focal::bounce),
    group("focal tail", Held::Stated, focal::tailed),
    group("focal noise", Held::Whole, focal::noise),
    group("own lags", Held::Strict, focal::own_lags),
    group("focal all", Held::Whole, focal::everything),
    group("focal flash", Held::Strict, focal::flash),
    group("leaf flash", Held::Whole, flash::leaf),
    group("sound leaf", Held::Heard, sound::leaf),
    group("sound slow", Held::Heard, sound::slow),
    group("sound fast", Held::Heard, sound::fast),
    group("sound lever", Held::Heard, sound::lever),
    group("sound single", Held::Heard, sound::one_release),
    group("sound noisy", Held::Heard, sound::noisy),
    group("sound echoes", Held::Heard, sound::echoes),
    group("sound close", Held::Heard, sound::close),
    group("sound curtains", Held::Heard, sound::curtains),
    group("sound mirror", Held::Heard, sound::mirror),
    group("sound knocks", Held::Heard, sound::knocks),
    group("sound metal", Held::Heard, sound::hard_knocks),
    group("sound speech", Held::Heard, sound::speech),
    group("silence", Held::Whole, refused::silence),
    group("steady light", Held::Whole, refused::steady),
    group("noise only", Held::Whole, refused::noise),
    group("hum only", Held::Whole, refused::hum),
    group("speech", Held::Whole, refused::speech),
    group("music", Held::Whole, refused::music),
    group("thuds", Held::Whole, refused::thuds),
    group("bare clicks", Held::Whole, refused::bare_clicks),
    group("waved light", Held::Whole, refused::waved),
    group("empty room", Held::Whole, refused::room),
    group("text", Held::Whole, refused::text),
    group("header only", Held::Whole, refused::header),
];

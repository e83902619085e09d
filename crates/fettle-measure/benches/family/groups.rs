//! The groups of the family.

use super::case::Case;
use super::draw::Draw;
use super::{chain, leaf, refused};

/// What a group's errors are held to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Held {
    /// 95 % within the strict limit.
    Strict,
    /// As part of the whole family.
    Whole,
    /// By the stated uncertainty alone: the recording itself does not hold the time any nearer.
    Stated,
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
        name: "clean",
        held: Held::Strict,
        clean: true,
        make: leaf::clean,
    },
    group("coupled", Held::Strict, leaf::coupled),
    group("two poles", Held::Strict, leaf::two_poles),
    group("noisy", Held::Whole, leaf::noisy),
    group("hum", Held::Strict, leaf::hum),
    group("drift", Held::Whole, leaf::drift),
    group("flicker", Held::Whole, leaf::flicker),
    group("clipped", Held::Stated, leaf::clipped),
    group("lag", Held::Whole, leaf::lag),
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
    group("tail", Held::Stated, chain::tail),
    group("overdriven", Held::Stated, chain::overdriven),
    group("clicks", Held::Whole, chain::clicks),
    group("pulsed lamp", Held::Whole, chain::pulsed_lamp),
    group("lossy", Held::Stated, chain::lossy),
    group("gain control", Held::Whole, chain::gain_control),
    group("noise gate", Held::Whole, chain::noise_gate),
    group("silence", Held::Whole, refused::silence),
    group("steady light", Held::Whole, refused::steady),
    group("noise only", Held::Whole, refused::noise),
    group("hum only", Held::Whole, refused::hum),
    group("speech", Held::Whole, refused::speech),
    group("text", Held::Whole, refused::text),
    group("header only", Held::Whole, refused::header),
];

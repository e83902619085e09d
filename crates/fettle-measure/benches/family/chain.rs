//! Leaf shutters before chains that are driven too hard, disturbed, or do as they like.

use fettle_measure::synth::{Click, Codec, Flicker, GainControl, Overdrive, Swing, Tail};
use fettle_measure::{Hertz, Seconds};

use super::case::{Case, Wanted};
use super::draw::Draw;
use super::leaf::Plan;

pub(crate) fn tail(draw: &mut Draw) -> Case {
    tailed(draw, |_| 1.0)
}

/// A tail of which a part of the output alone is made, as where a slow current is mixed with a prompt one.
pub(crate) fn mixed_tail(draw: &mut Draw) -> Case {
    tailed(draw, mixed)
}

/// The part of an output that falls late, of a mixture.
pub(crate) fn mixed(draw: &mut Draw) -> f64 {
    draw.log_between(0.05, 0.6)
}

/// A tail of a closing time between two, in milliseconds.
pub(crate) fn drawn(
    draw: &mut Draw,
    (shortest, longest): (f64, f64),
    share: fn(&mut Draw) -> f64,
) -> Tail {
    Tail {
        delay: Seconds::ms(draw.pick(&[0.0, 0.05, 0.2])),
        closing: Seconds::ms(draw.log_between(shortest, longest)),
        follows: draw.chance(0.5),
        share: share(draw),
    }
}

fn tailed(draw: &mut Draw, share: fn(&mut Draw) -> f64) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.chain.tail = Some(drawn(draw, (0.15, 1.5), share));
    let mut case = plan.case(draw);
    case.findings.allow("tail");
    case
}

pub(crate) fn overdriven(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    let much = draw.between(0.5, 3.0);
    plan.chain.overdrive = Some(draw.pick(&[
        Overdrive::Compressed(much),
        Overdrive::Rounded(much),
        Overdrive::Saturated(1.0 / (1.0 + much)),
    ]));
    let mut case = plan.case(draw);
    case.findings.allow("overdriven");
    case
}

/// The mechanism's clicks, picked up beside the light.
pub(crate) fn clicks(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    let mut at = draw.between(0.05, 1.0);
    while at < 40.0 {
        plan.chain.clicks.push(Click {
            at: Seconds::s(at),
            lasting: Seconds::ms(draw.log_between(0.02, 0.2)),
            height: draw.between(-0.5, 0.5),
        });
        at += draw.between(0.4, 3.0);
    }
    let mut case = plan.case(draw);
    case.findings.allow("clicks");
    case
}

/// A lamp of light-emitting diodes that is switched.
pub(crate) fn pulsed_lamp(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    let on: f64 = draw.between(0.3, 0.9);
    plan.chain.flicker = Some(Flicker {
        hz: Hertz::hz(draw.log_between(1_000.0, 20_000.0)),
        wanders: Hertz::hz(0.0),
        depth: (1.0 - on) / on,
        form: Swing::Pulses(on),
    });
    // The recorder's level is set by the brightest light.
    plan.chain.gain *= on;
    plan.case(draw)
}

/// A lamp dimmed by switching between two levels, slowly enough to be seen.
pub(crate) fn dimmed_lamp(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.7) {
        plan.couple(draw);
    }
    let on: f64 = draw.between(0.1, 0.9);
    let hz = draw.log_between(200.0, 30_000.0);
    // Switched off for long, a lamp hides what the blades do meanwhile.
    let swing = if hz < 4_000.0 {
        draw.between(0.03, 0.3)
    } else {
        draw.between(0.1, 1.0)
    };
    let depth = swing * (1.0 - on) / on;
    plan.chain.flicker = Some(Flicker {
        hz: Hertz::hz(hz),
        wanders: Hertz::hz(0.0),
        depth,
        form: Swing::Pulses(on),
    });
    plan.chain.gain /= 1.0 + depth;
    plan.case(draw)
}

/// Through a codec that keeps what the ear notices; the file itself does not say so.
pub(crate) fn lossy(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.chain.codec = Some(Codec {
        limit: Hertz::hz(draw.pick(&[11_000.0, 16_000.0, 19_000.0])),
        coarseness: draw.between(0.02, 0.15),
    });
    let mut case = plan.case(draw);
    case.findings.allow("lossy");
    case
}

pub(crate) fn gain_control(draw: &mut Draw) -> Case {
    let strength = draw.between(0.3, 1.0);
    controlled(draw, strength, None)
}

/// Noise suppression: what is quiet is muted.
pub(crate) fn noise_gate(draw: &mut Draw) -> Case {
    let gate = draw.between(0.02, 0.2);
    controlled(draw, 0.0, Some(gate))
}

fn controlled(draw: &mut Draw, strength: f64, gate: Option<f64>) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.chain.gain_control = Some(GainControl {
        attack: Seconds::ms(draw.log_between(2.0, 30.0)),
        release: Seconds::ms(draw.log_between(100.0, 800.0)),
        strength,
        gate,
    });
    let mut case = plan.case(draw);
    case.wanted = Wanted::Refused;
    case
}

//! Leaf shutters whose flanks are hard to find or to pair, and sessions whose marks are hard to tell.

use std::fmt::Write;

use fettle_measure::{Hertz, Seconds};

use super::case::{Case, Source};
use super::draw::Draw;
use super::leaf::Plan;

const SLOW: [u32; 4] = [1, 2, 4, 8];
const FAST: [u32; 6] = [15, 30, 60, 125, 250, 500];

/// Few shots, slow and fast in any order, with slow blades before a coupling that forgets fast.
pub(crate) fn high_corner(draw: &mut Draw) -> Case {
    let plan = forgetful(draw);
    plan.case(draw)
}

/// The same, beginning with a shot that never opens fully.
pub(crate) fn first_fast(draw: &mut Draw) -> Case {
    let mut plan = forgetful(draw);
    plan.shutter.opening = Seconds::ms(draw.between(2.2, 4.5));
    plan.shutter.closing = plan.shutter.opening * draw.between(0.8, 1.3);
    plan.marks.insert(0, draw.pick(&[250, 500]));
    plan.case(draw)
}

fn forgetful(draw: &mut Draw) -> Plan {
    let mut plan = Plan::new(draw);
    plan.chain.coupling = Some(Hertz::hz(draw.log_between(2.0, 20.0)));
    if draw.chance(0.4) {
        plan.chain.second_pole = Some(Hertz::hz(draw.log_between(1.0, 20.0)));
    }
    plan.shutter.opening = Seconds::ms(draw.log_between(0.7, 4.5));
    plan.shutter.closing = plan.shutter.opening * draw.between(0.8, 1.3);
    // One at least is slow enough to show the fully open level.
    plan.marks = vec![draw.pick(&SLOW), draw.pick(&FAST)];
    for _ in 0..draw.whole(5) {
        let mark = if draw.chance(0.5) {
            draw.pick(&SLOW)
        } else {
            draw.pick(&FAST)
        };
        plan.marks.push(mark);
    }
    draw.shuffle(&mut plan.marks);
    plan
}

/// Hum of 5 to 20 % of the light.
pub(crate) fn strong_hum(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.hum(draw, 0.05, 0.2);
    plan.chain.gain = draw.between(0.2, 0.5);
    plan.shutter.opening = Seconds::ms(draw.log_between(0.7, 4.0));
    plan.shutter.closing = plan.shutter.opening * draw.between(0.8, 1.3);
    plan.case(draw)
}

/// One to five shots of a dial that is nearly on time.
pub(crate) fn few_shots(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.common = draw.between(-0.3, 0.3);
    plan.marks = (0..1 + draw.whole(5))
        .map(|_| {
            if draw.chance(0.4) {
                draw.pick(&SLOW)
            } else {
                draw.pick(&FAST)
            }
        })
        .collect();
    plan.case(draw)
}

/// Most of the dial, a stop long or short, with marks left out.
pub(crate) fn a_stop_off(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.common = draw.pick(&[-1.0, 1.0]) * draw.between(0.85, 1.15);
    let left_out: Vec<u32> = (0..2)
        .map(|_| {
            if draw.chance(0.4) {
                draw.pick(&SLOW)
            } else {
                draw.pick(&FAST)
            }
        })
        .collect();
    plan.marks.retain(|mark| !left_out.contains(mark));
    plan.case(draw)
}

/// A logger's table in volts, rounded or not, whose time begins before or at nothing and the first
/// shot soon after.
pub(crate) fn table(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.4) {
        plan.couple(draw);
    }
    let rate = draw.pick(&[20_000.0, 25_000.0, 50_000.0]);
    plan.chain.sample_rate = Hertz::hz(rate);
    plan.chain.bits = None;
    plan.lead = (0.02, 0.4);
    plan.pause = (0.3, 0.7);
    plan.marks = (0..2 + draw.whole(4)).map(|_| draw.pick(&FAST)).collect();
    let made = plan.record(draw);
    let volts = draw.between(0.5, 5.0);
    let step = draw
        .chance(0.6)
        .then(|| 2.4 * volts / draw.pick(&[8.0_f64, 10.0, 12.0, 16.0]).exp2());
    let first = if draw.chance(0.4) {
        -draw.between(0.05, 0.5)
    } else {
        0.0
    };
    let mut text = "time_s,volts\n".to_owned();
    for (n, sample) in made.take.samples.iter().enumerate() {
        let value = f64::from(*sample) * volts;
        let value = step.map_or(value, |step| (value / step).round() * step);
        let time = first + n as f64 / rate;
        if writeln!(text, "{time:.9},{value:.7}").is_err() {
            break;
        }
    }
    let mut case = plan.case_of(vec![made]);
    for shot in &mut case.shots {
        "made.csv".clone_into(&mut shot.recording);
    }
    case.findings.allow("noise");
    case.sources = vec![Source::File {
        name: "made.csv".to_owned(),
        bytes: text.into_bytes(),
    }];
    case
}

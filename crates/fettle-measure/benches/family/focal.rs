//! Focal-plane shutters: sensors along the gate, curtains that run unlike, contacts of a flash.

use fettle_measure::shutter::{Kind, Options};
use fettle_measure::synth::{
    Chain, Contact, CurtainBounce, CurtainRun, FocalPlane, FocalScene, FocalTruth, Hum, Release,
    Sensor, Tail,
};
use fettle_measure::{Decibels, Hertz, Millimetres, Seconds};

use super::case::{Asked, Case, Findings, Source, TrueRelease, TrueShot, Wanted};
use super::chain;
use super::draw::Draw;
use super::leaf::marked;

const DIAL: [u32; 11] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500, 1000];
const NAME: &str = "made.wav";
/// So little light may be left untold: a sensor behind a slit that is about to close.
const LEAST_S: f64 = 2e-4;

/// What a group is about.
struct Setup {
    sensors: &'static [u8],
    /// Least and most width of a sensor, in millimetres.
    width: (f64, f64),
    coupled: bool,
    snr: (f64, f64),
    hum: bool,
    /// Whether each sensor has a lag of its own.
    own_lags: bool,
    /// The second curtain's travel against the first's, least and most.
    uneven: (f64, f64),
    bounces: f64,
    /// Whether the sensors' output falls late.
    tailed: bool,
    flash: bool,
}

const PLAIN: Setup = Setup {
    sensors: &[3],
    width: (0.5, 4.0),
    coupled: true,
    snr: (45.0, 60.0),
    hum: false,
    own_lags: false,
    uneven: (0.985, 1.03),
    bounces: 0.0,
    tailed: false,
    flash: false,
};

fn sensors(setup: &Setup, draw: &mut Draw, gate: f64) -> Vec<Sensor> {
    let rate = draw.pick(&[44_100.0, 48_000.0, 96_000.0, 192_000.0]);
    let bits = draw.pick(&[16, 24]);
    let corner = draw.log_between(0.5, 20.0);
    let lag = draw.between(0.0, 0.05);
    let snr = draw.between(setup.snr.0, setup.snr.1);
    let mains = draw.pick(&[50.0, 60.0]) + draw.between(-0.03, 0.03);
    let count = draw.pick(setup.sensors);
    let end = draw.between(0.04, 0.12) * gate;
    let tail = setup.tailed.then(|| tail(draw));
    (0..count)
        .map(|i| {
            let part = if count == 1 {
                0.5
            } else {
                f64::from(i) / f64::from(count - 1)
            };
            let width = draw.between(setup.width.0, setup.width.1);
            let x = end + part * (gate - 2.0 * end) + draw.between(-0.02, 0.02) * gate;
            let hum = draw.between(0.002, 0.03);
            Sensor {
                x: Millimetres::mm(x.clamp(0.5 * width, gate - 0.5 * width)),
                width: Millimetres::mm(width),
                round: draw.chance(0.4),
                chain: Chain {
                    sample_rate: Hertz::hz(rate),
                    bits: Some(bits),
                    gain: draw.between(0.2, 0.7),
                    inverted: draw.chance(0.5),
                    offset: draw.between(-0.05, 0.05),
                    coupling: setup
                        .coupled
                        .then(|| Hertz::hz(corner * draw.between(0.98, 1.02))),
                    snr: Some(Decibels::db(snr + draw.between(-2.0, 2.0))),
                    lag: Seconds::ms(if setup.own_lags {
                        draw.between(0.0, 0.03)
                    } else {
                        lag
                    }),
                    hum: setup.hum.then(|| Hum {
                        hz: Hertz::hz(mains),
                        wanders: Hertz::hz(0.02),
                        amplitudes: vec![hum, 0.4 * hum, 0.5 * hum],
                    }),
                    tail: tail.map(|tail| Tail {
                        closing: tail.closing * draw.between(0.9, 1.1),
                        ..tail
                    }),
                    ..Chain::default()
                },
            }
        })
        .collect()
}

/// Of the whole output or a part of it.
fn tail(draw: &mut Draw) -> Tail {
    chain::drawn(draw, (0.05, 1.0), |draw| {
        if draw.chance(0.5) {
            1.0
        } else {
            chain::mixed(draw)
        }
    })
}

/// A run over the gate in `travel` milliseconds that begins with `part` of the mean speed.
fn run(gate: f64, travel: f64, part: f64) -> CurtainRun {
    let speed = part * gate / travel;
    CurtainRun {
        mm_per_ms: speed,
        mm_per_ms2: 2.0 * (gate - speed * travel) / (travel * travel),
    }
}

fn case(setup: &Setup, draw: &mut Draw) -> Case {
    let gate = draw.pick(&[24.0, 36.0]);
    let sensors = sensors(setup, draw, gate);
    let usual = gate / 36.0 * draw.between(8.0, 18.0);
    let part = draw.between(0.6, 1.0);
    let uneven = draw.between(setup.uneven.0, setup.uneven.1);
    let common = draw.between(-0.3, 0.5);
    let lead = draw.pick(&[-0.3, 0.4, 16.0, 19.0]);
    let marks = draw.marks(&DIAL);
    let mut at = draw.between(0.5, 1.0);
    let mut releases = Vec::new();
    for mark in &marks {
        let error = common + draw.between(-0.06, 0.06);
        let effective = error.exp2() / f64::from(*mark);
        let travel = usual * draw.between(0.99, 1.01);
        let first = run(gate, travel, part);
        let second = run(gate, travel * uneven * draw.between(0.995, 1.005), part);
        let middle = Millimetres::mm(0.5 * gate);
        let times = first.seconds_to(middle).zip(second.seconds_to(middle));
        let slit = times.map_or(effective, |(first, second)| effective + first - second);
        let contact = setup.flash.then(|| Contact {
            at: Seconds::ms(travel + draw.between(-0.1, 0.1) - lead),
            chatter: draw.pick(&[0, 0, 2]),
            ..Contact::default()
        });
        releases.push(Release {
            at: Seconds::s(at),
            slit: Seconds::s(slit.max(2e-4)),
            first,
            second,
            bounce: draw.chance(setup.bounces).then(|| CurtainBounce {
                depth: Millimetres::mm(draw.between(2.5, 7.0)),
                lasting: Seconds::ms(draw.between(1.5, 4.0)),
            }),
            contact,
        });
        at += effective + draw.between(0.9, 2.2);
    }
    let contact = sensors.first().filter(|_| setup.flash).map(|sensor| Chain {
        lag: Seconds::s(0.0),
        ..sensor.chain.clone()
    });
    let scene = FocalScene {
        shutter: FocalPlane {
            gate: Millimetres::mm(gate),
            overrun: Millimetres::mm(1.5),
        },
        releases,
        sensors,
        contact,
        lasting: Seconds::s(at),
        seed: draw.seed(),
    };
    let reversed = draw.chance(0.3);
    let take = scene.record();
    let truth = take.truth.clone();
    Case {
        sources: take
            .into_recording(NAME)
            .map_or_else(|_| Vec::new(), |it| vec![Source::Made(it)]),
        options: options(&scene, reversed),
        shots: shots(&truth, &marks),
        releases: truth
            .iter()
            .map(|it| release(&scene, it, reversed))
            .collect(),
        wanted: Wanted::Measured,
        findings: findings(setup, &scene, &truth, &marks, common),
    }
}

/// Places are given from the gate's other edge where `reversed`.
fn options(scene: &FocalScene, reversed: bool) -> Options {
    let gate = scene.shutter.gate;
    let place = |it: &Sensor| if reversed { gate - it.x } else { it.x };
    Options {
        kind: Kind::FocalPlane,
        speeds: DIAL.iter().filter_map(|mark| marked(*mark)).collect(),
        clock_ppm: Some(0.0),
        sensors_mm: scene.sensors.iter().map(place).collect(),
        gate_mm: Some(gate),
        flash_channel: scene
            .contact
            .is_some()
            .then_some(scene.sensors.len() as u16 + 1),
        ..Options::default()
    }
}

fn shots(truth: &[FocalTruth], marks: &[u32]) -> Vec<TrueShot> {
    let mut shots = Vec::new();
    for (release, (truth, mark)) in truth.iter().zip(marks).enumerate() {
        let seen = truth.uncovered.iter().zip(&truth.effective);
        shots.extend(
            (1..)
                .zip(seen)
                .map(|(channel, (start, effective))| TrueShot {
                    recording: NAME.to_owned(),
                    channel,
                    start: *start,
                    effective: *effective,
                    total: None,
                    mark: marked(*mark),
                    asked: if effective.to_s() < LEAST_S {
                        Asked::Nothing
                    } else {
                        Asked::Told
                    },
                    stopped: Vec::new(),
                    release,
                }),
        );
    }
    shots
}

fn release(scene: &FocalScene, truth: &FocalTruth, reversed: bool) -> TrueRelease {
    if scene.sensors.len() < 2 {
        return TrueRelease::default();
    }
    let gate = scene.shutter.gate;
    let from = truth
        .capped_from
        .map(|it| if reversed { gate - it } else { it });
    TrueRelease {
        travels: vec![truth.first_travel, truth.second_travel],
        evenness: truth.evenness,
        capped_from: from,
        flash: truth.flash.map(|it| it.fully_open.then_some(it.delay)),
    }
}

fn findings(
    setup: &Setup,
    scene: &FocalScene,
    truth: &[FocalTruth],
    marks: &[u32],
    common: f64,
) -> Findings {
    let mut findings = Findings::default();
    findings.allow("offset");
    findings.allow("noise");
    findings.allow("low-rate");
    findings.allow(if common > 0.0 { "all-slow" } else { "all-fast" });
    if setup.coupled {
        findings.want("ac-coupled");
    }
    if scene.sensors.iter().any(|it| it.chain.inverted) {
        findings.want("inverted");
    }
    if setup.hum {
        findings.want("hum");
    }
    if setup.bounces > 0.0 {
        findings.allow("bounce");
    }
    if setup.tailed {
        findings.allow("tail");
    }
    if DIAL.iter().any(|mark| !marks.contains(mark)) {
        findings.allow("missing");
    }
    // Worth a word from half the tolerance on, an eighth of a stop where none is given.
    let evenness = truth.iter().filter_map(|it| it.evenness);
    if evenness.map(|it| it.to_stops().abs()).fold(0.0, f64::max) > 0.1 {
        findings.allow("uneven");
    }
    if truth.iter().any(|it| it.capped_from.is_some()) {
        findings.allow("capping");
    }
    findings
}

pub(crate) fn clean(draw: &mut Draw) -> Case {
    let setup = Setup {
        coupled: false,
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn coupled(draw: &mut Draw) -> Case {
    case(&PLAIN, draw)
}

pub(crate) fn hum(draw: &mut Draw) -> Case {
    case(&Setup { hum: true, ..PLAIN }, draw)
}

/// Sensors that the fast marks' slit is narrower than.
pub(crate) fn wide_sensor(draw: &mut Draw) -> Case {
    let setup = Setup {
        width: (2.5, 4.0),
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn single_sensor(draw: &mut Draw) -> Case {
    let setup = Setup {
        sensors: &[1],
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn two_sensors(draw: &mut Draw) -> Case {
    let setup = Setup {
        sensors: &[2],
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn many_sensors(draw: &mut Draw) -> Case {
    let setup = Setup {
        sensors: &[4, 5, 6, 7, 8],
        width: (0.5, 2.0),
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn capped(draw: &mut Draw) -> Case {
    let setup = Setup {
        uneven: (0.7, 0.9),
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn bounce(draw: &mut Draw) -> Case {
    let setup = Setup {
        bounces: 0.5,
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn tailed(draw: &mut Draw) -> Case {
    let setup = Setup {
        tailed: true,
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn noise(draw: &mut Draw) -> Case {
    let setup = Setup {
        snr: (34.0, 45.0),
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn own_lags(draw: &mut Draw) -> Case {
    let setup = Setup {
        own_lags: true,
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn everything(draw: &mut Draw) -> Case {
    let setup = Setup {
        sensors: &[1, 2, 3, 3, 4, 8],
        hum: true,
        own_lags: true,
        bounces: 0.5,
        ..PLAIN
    };
    case(&setup, draw)
}

pub(crate) fn flash(draw: &mut Draw) -> Case {
    let setup = Setup {
        flash: true,
        ..PLAIN
    };
    case(&setup, draw)
}

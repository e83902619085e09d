//! Cameras by sound: leaf shutters, curtains and mirrors in rooms with all that is heard beside.

use fettle_measure::shutter::{Kind, Options, Sense};
use fettle_measure::synth::{Hum, Room, SoundCamera, SoundFiring, SoundKind, SoundScene};
use fettle_measure::{Decibels, Hertz, Seconds};

use super::case::{Asked, Case, Findings, Source, TrueShot, Wanted};
use super::draw::Draw;
use super::leaf::marked;

const DIAL: [u32; 10] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500];
const NAME: &str = "made.wav";
/// Above about 1/30 the clicks run together.
const SLOW_S: f64 = 1.0 / 30.0;

fn level(draw: &mut Draw, low: f64, high: f64) -> Decibels {
    Decibels::db(draw.between(low, high))
}

fn camera(kind: SoundKind, draw: &mut Draw) -> SoundCamera {
    let travel = match kind {
        SoundKind::Leaf => draw.between(1.5, 5.0),
        _ => draw.between(2.0, 6.5),
    };
    let silent = draw.chance(0.3);
    SoundCamera {
        kind,
        travel: Seconds::ms(travel),
        escapement: (!silent).then(|| level(draw, -30.0, -10.0)),
        mirror_up: Seconds::ms(draw.between(25.0, 110.0)),
        mirror_down: Seconds::ms(draw.between(20.0, 90.0)),
        cocking: None,
        level_spread: level(draw, 0.5, 3.0),
        closing_level: level(draw, -8.0, 6.0),
    }
}

pub(crate) fn room(draw: &mut Draw) -> Room {
    let mut room = Room {
        sample_rate: Hertz::hz(draw.pick(&[44_100.0, 48_000.0, 96_000.0, 22_050.0])),
        bits: draw.pick(&[Some(16), Some(24), None]),
        gain: draw.between(0.05, 0.6),
        noise: level(draw, -65.0, -40.0),
        rumble: draw.chance(0.7).then(|| level(draw, -50.0, -25.0)),
        hum: draw.chance(0.5).then(|| Hum {
            hz: Hertz::hz(50.0),
            wanders: Hertz::hz(0.0),
            amplitudes: vec![draw.between(0.0, 0.1), 0.02, 0.02],
        }),
        echoes: Vec::new(),
        reverberation: Some((
            level(draw, -45.0, -26.0),
            Seconds::s(draw.between(0.15, 0.6)),
        )),
        ..Room::default()
    };
    let count = draw.whole(4);
    echo(&mut room, draw, count, 25.0, 0.0);
    room
}

/// Single echoes up to `longest` milliseconds, each at least `least` of what it repeats.
fn echo(room: &mut Room, draw: &mut Draw, count: usize, longest: f64, least: f64) {
    for _ in 0..count {
        let delay = draw.between(1.0, longest);
        let spread = 1.0 / (1.0 + 0.343 * delay / draw.between(0.3, 1.0));
        let factor = spread.max(least * draw.between(0.2, 1.0)).min(0.6);
        let sign = draw.pick(&[-1.0, 1.0]);
        room.echoes.push((Seconds::ms(delay), sign * factor));
    }
}

/// A camera to be fired, and the room it is heard in.
struct Plan {
    camera: SoundCamera,
    room: Room,
    marks: Vec<u32>,
    /// Rest between releases, least and most.
    rest: (f64, f64),
}

impl Plan {
    fn new(kind: SoundKind, draw: &mut Draw) -> Self {
        let camera = camera(kind, draw);
        let room = room(draw);
        let mut marks = Vec::new();
        for mark in DIAL {
            marks.extend(std::iter::repeat_n(mark, (draw.next() * 2.4) as usize));
        }
        if marks.is_empty() {
            marks.push(2);
        }
        if draw.chance(0.3) {
            marks.reverse();
        }
        Self {
            camera,
            room,
            marks,
            rest: (1.3, 3.0),
        }
    }

    fn only(&mut self, keep: impl Fn(u32) -> bool, else_mark: u32) {
        self.marks.retain(|mark| keep(*mark));
        if self.marks.is_empty() {
            self.marks.push(else_mark);
        }
    }

    fn scene(
        mut self,
        draw: &mut Draw,
        disturb: impl Fn(&mut Room, f64, &[SoundFiring], &mut Draw),
    ) -> Case {
        let common = draw.between(-0.5, 0.7);
        let mut at = draw.between(0.5, 1.5);
        let mut firings = Vec::new();
        for mark in &self.marks {
            let error = common + draw.between(-0.08, 0.08);
            let lasting = error.exp2() / f64::from(*mark);
            firings.push(SoundFiring {
                at: Seconds::s(at),
                lasting: Seconds::s(lasting),
            });
            at += lasting + draw.between(self.rest.0, self.rest.1);
        }
        disturb(&mut self.room, at, &firings, draw);
        let shots = firings.iter().zip(&self.marks).enumerate();
        let shots = shots.map(|(release, (firing, mark))| TrueShot {
            recording: NAME.to_owned(),
            channel: 1,
            start: firing.at,
            effective: firing.lasting,
            total: None,
            mark: marked(*mark),
            asked: if firing.lasting.to_s() > SLOW_S {
                Asked::Told
            } else {
                Asked::Free
            },
            stopped: Vec::new(),
            release,
        });
        let shots = shots.collect();
        let mut findings = Findings::default();
        for kind in ["noise", "clicks", "clipped", "all-slow", "all-fast"] {
            findings.allow(kind);
        }
        let kind = match self.camera.kind {
            SoundKind::Leaf => Kind::Leaf,
            _ => Kind::FocalPlane,
        };
        let scene = SoundScene {
            camera: self.camera,
            firings,
            room: self.room,
            lasting: Seconds::s(at),
            seed: draw.seed(),
        };
        let recording = scene.record().into_recording(NAME);
        Case {
            sources: recording.map_or_else(|_| Vec::new(), |it| vec![Source::Made(it)]),
            options: options(kind),
            shots,
            releases: Vec::new(),
            wanted: Wanted::Measured,
            findings,
        }
    }

    fn case(self, draw: &mut Draw) -> Case {
        self.scene(draw, |_, _, _, _| ())
    }
}

fn options(kind: Kind) -> Options {
    Options {
        sense: Sense::Sound,
        kind,
        speeds: DIAL.iter().filter_map(|mark| marked(*mark)).collect(),
        clock_ppm: Some(0.0),
        ..Options::default()
    }
}

pub(crate) fn leaf(draw: &mut Draw) -> Case {
    Plan::new(SoundKind::Leaf, draw).case(draw)
}

pub(crate) fn slow(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    plan.only(|mark| mark <= 15, 2);
    plan.case(draw)
}

/// Nothing that could be told.
pub(crate) fn fast(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    plan.only(|mark| mark >= 60, 125);
    plan.case(draw)
}

/// The lever's click before each release.
pub(crate) fn lever(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    plan.camera.cocking = Some(Seconds::s(draw.between(0.15, 1.4)));
    if draw.chance(0.5) {
        plan.only(|mark| mark >= 60, 500);
    }
    plan.case(draw)
}

pub(crate) fn one_release(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    plan.marks = vec![draw.pick(&DIAL)];
    plan.rest = (2.0, 3.0);
    plan.case(draw)
}

pub(crate) fn noisy(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    plan.room.noise = level(draw, -45.0, -20.0);
    plan.case(draw)
}

pub(crate) fn echoes(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    echo(&mut plan.room, draw, 8, 70.0, 0.3);
    plan.case(draw)
}

pub(crate) fn close(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Leaf, draw);
    plan.rest = (0.7, 1.3);
    plan.case(draw)
}

pub(crate) fn curtains(draw: &mut Draw) -> Case {
    Plan::new(SoundKind::Curtains, draw).case(draw)
}

pub(crate) fn mirror(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(SoundKind::Mirror, draw);
    match draw.whole(4) {
        0 => plan.only(|mark| mark <= 4, 1),
        1 => plan.only(|mark| mark >= 30, 60),
        2 => plan.marks = vec![draw.pick(&DIAL)],
        _ => {}
    }
    plan.case(draw)
}

/// Something knocks, as metallic as the camera where `hard`.
fn knocked(draw: &mut Draw, hard: bool) -> Case {
    let plan = Plan::new(SoundKind::Leaf, draw);
    plan.scene(draw, |room, lasting, firings, draw| {
        for _ in 0..=draw.whole(4) {
            let within = firings.get(draw.whole(firings.len()));
            let at = match within.filter(|_| draw.chance(0.4)) {
                Some(firing) => firing.at.to_s() + firing.lasting.to_s() * draw.next(),
                None => draw.between(0.1, lasting),
            };
            room.knocks.push((Seconds::s(at), level(draw, -12.0, 8.0)));
        }
        room.hard_knocks = hard;
    })
}

pub(crate) fn knocks(draw: &mut Draw) -> Case {
    knocked(draw, false)
}

pub(crate) fn hard_knocks(draw: &mut Draw) -> Case {
    knocked(draw, true)
}

pub(crate) fn speech(draw: &mut Draw) -> Case {
    let plan = Plan::new(SoundKind::Leaf, draw);
    plan.scene(draw, |room, lasting, _, draw| {
        let from = draw.between(0.0, 0.6 * lasting);
        let to = from + 0.3 * lasting;
        let loud = level(draw, -45.0, -22.0);
        room.speech.push((Seconds::s(from), Seconds::s(to), loud));
    })
}

/// The case asked of as a recording of sound.
pub(crate) fn by_sound(case: Case) -> Case {
    Case {
        options: options(Kind::Leaf),
        ..case
    }
}

/// A room without a camera.
pub(crate) fn empty(room: Room, lasting: f64, draw: &mut Draw) -> Case {
    let scene = SoundScene {
        camera: SoundCamera::default(),
        firings: Vec::new(),
        room,
        lasting: Seconds::s(lasting),
        seed: draw.seed(),
    };
    let none = Source::File {
        name: NAME.to_owned(),
        bytes: Vec::new(),
    };
    let recording = scene.record().into_recording(NAME);
    by_sound(Case::refused(recording.map_or(none, Source::Made)))
}

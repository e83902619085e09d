//! Leaf shutters before a light sensor: sound recordings with every distortion singly and together.

use fettle_measure::shutter::Options;
use fettle_measure::synth::{
    Bounce, Chain, Firing, Flicker, Hum, LeafShutter, Leaves, Scene, Swing, Take,
};
use fettle_measure::{Decibels, Hertz, Marked, Seconds};

use super::case::{Asked, Case, Findings, Source, TrueShot, Wanted};
use super::draw::Draw;
use super::wave::{self, Form};

const DIAL: [u32; 10] = [1, 2, 4, 8, 15, 30, 60, 125, 250, 500];
const FULLY_OPEN_F: f64 = 3.5;
const STOPS_F: [f64; 5] = [4.0, 5.6, 8.0, 11.0, 16.0];
/// Borders from which a finding is worth a word, as the instrument's documentation states them.
const NOISY_DB: f64 = 46.0;
const OFFSET: f64 = 0.02;
const DRIFT: f64 = 0.01;
const HUM: f64 = 1e-3;
const LEAST_SAMPLES: f64 = 20.0;

/// A camera before the sensor, to be fired.
pub(crate) struct Plan {
    pub(crate) shutter: LeafShutter,
    pub(crate) chain: Chain,
    pub(crate) marks: Vec<u32>,
    /// What all speeds are off by, in stops, and each for itself.
    pub(crate) common: f64,
    scatter: f64,
    bounces: f64,
    /// Dark before the first shot and between shots, least and most.
    pub(crate) lead: (f64, f64),
    pub(crate) pause: (f64, f64),
    clock_ppm: Option<f64>,
    cut: Option<Cut>,
    seed: u64,
}

#[derive(Clone, Copy)]
enum Cut {
    First,
    Last,
}

/// A recording made, with the marks fired.
pub(crate) struct Made {
    pub(crate) take: Take,
    marks: Vec<u32>,
    chain: Chain,
    cut: Option<Cut>,
}

impl Plan {
    pub(crate) fn new(draw: &mut Draw) -> Self {
        let chain = Chain {
            sample_rate: Hertz::hz(draw.pick(&[44_100.0, 48_000.0, 96_000.0])),
            bits: Some(draw.pick(&[16, 24])),
            gain: draw.between(0.2, 0.7),
            inverted: draw.chance(0.5),
            offset: draw.between(-0.05, 0.05),
            snr: Some(Decibels::db(draw.between(45.0, 60.0))),
            lag: Seconds::ms(draw.between(0.0, 0.05)),
            ..Chain::default()
        };
        let shutter = LeafShutter {
            blades: draw.pick(&[3, 5, 10]),
            opening: Seconds::ms(draw.between(0.7, 1.6)),
            closing: Seconds::ms(draw.between(0.8, 1.9)),
            run_up: draw.between(0.0, 0.8),
            power: 1.0,
            leaves: Leaves::Polygon,
        };
        let marks = draw.marks(&DIAL);
        Self {
            shutter,
            chain,
            marks,
            common: draw.between(-0.3, 0.5),
            scatter: 0.06,
            bounces: 0.0,
            lead: (0.5, 1.0),
            pause: (0.9, 2.2),
            clock_ppm: Some(0.0),
            cut: None,
            seed: draw.seed(),
        }
    }

    pub(crate) fn couple(&mut self, draw: &mut Draw) {
        self.chain.coupling = Some(Hertz::hz(draw.log_between(0.5, 20.0)));
    }

    pub(crate) fn hum(&mut self, draw: &mut Draw, low: f64, high: f64) {
        let amplitude = draw.between(low, high);
        self.chain.hum = Some(Hum {
            hz: Hertz::hz(draw.pick(&[50.0, 60.0]) + draw.between(-0.03, 0.03)),
            wanders: Hertz::hz(0.02),
            amplitudes: [1.0, 0.4, 0.5, 0.0, 0.2]
                .map(|part| part * amplitude)
                .to_vec(),
        });
    }

    fn snr(&mut self, draw: &mut Draw, low: f64, high: f64) {
        self.chain.snr = Some(Decibels::db(draw.between(low, high)));
    }

    pub(crate) fn record(&self, draw: &mut Draw) -> Made {
        let mut at = draw.between(self.lead.0, self.lead.1);
        let mut firings = Vec::new();
        for (index, mark) in self.marks.iter().enumerate() {
            let error = self.common + draw.between(-self.scatter, self.scatter);
            let effective = error.exp2() / f64::from(*mark);
            if index == 0 && matches!(self.cut, Some(Cut::First)) {
                // The recording begins in the middle of it.
                at = -0.5 * effective;
            }
            let bounce = draw.chance(self.bounces).then(|| Bounce {
                after: Seconds::ms(draw.between(1.0, 4.0)),
                lasting: Seconds::ms(draw.between(0.8, 2.0)),
                height: draw.between(0.06, 0.4),
            });
            firings.push(Firing {
                at: Seconds::s(at),
                effective: Seconds::s(effective),
                bounce,
            });
            at += effective + draw.between(self.pause.0, self.pause.1);
        }
        if let (Some(Cut::Last), Some(last)) = (self.cut, firings.last()) {
            at = last.at.to_s() + 0.5 * last.effective.to_s();
        }
        let scene = Scene {
            shutter: self.shutter,
            firings,
            chain: self.chain.clone(),
            lasting: Seconds::s(at),
            seed: self.seed,
        };
        Made {
            take: scene.record(),
            marks: self.marks.clone(),
            chain: self.chain.clone(),
            cut: self.cut,
        }
    }

    fn options(&self) -> Options {
        Options {
            speeds: DIAL.iter().filter_map(|mark| marked(*mark)).collect(),
            clock_ppm: self.clock_ppm,
            fully_open_f: Some(FULLY_OPEN_F),
            stops_f: STOPS_F.to_vec(),
            ..Options::default()
        }
    }

    /// What is true of the dial.
    fn dial(&self, made: &[Made], findings: &mut Findings) {
        if self.common > 0.0 {
            findings.allow("all-slow");
        } else {
            findings.allow("all-fast");
        }
        if self.bounces > 0.0 {
            findings.allow("bounce");
        }
        let all = made.iter().flat_map(|it| &it.marks);
        let shot: Vec<&u32> = all.collect();
        if DIAL.iter().any(|mark| !shot.contains(&mark)) {
            findings.allow("missing");
        }
    }

    /// What is to be found of this chain and this dial.
    fn findings(&self, made: &[Made]) -> Findings {
        let chain = &self.chain;
        let mut findings = Findings::default();
        if chain.coupling.is_some() {
            findings.want("ac-coupled");
        }
        if chain.inverted {
            findings.want("inverted");
        }
        let dark = (chain.offset.abs() + 0.5 * chain.gain * chain.drift) / chain.gain;
        if chain.coupling.is_none() && chain.drift == 0.0 {
            findings.about("offset", dark, OFFSET);
        } else if dark > 0.8 * OFFSET || chain.coupling.is_some() {
            // The long-run mean of a coupled signal depends on where the shots lie.
            findings.allow("offset");
        }
        if chain.drift > 0.5 * DRIFT {
            findings.allow("drift");
        }
        if let Some(hum) = &chain.hum {
            let most = hum
                .amplitudes
                .iter()
                .fold(0.0_f64, |most, it| most.max(*it));
            findings.about("hum", most, HUM);
        }
        if let Some(flicker) = chain.flicker {
            findings.about("flicker", flicker.depth, 0.01);
        }
        if let Some(snr) = chain.snr {
            let rounding = chain.bits.map_or(0.0, |bits| {
                (1.0 - f64::from(bits)).exp2() / 12.0_f64.sqrt() / chain.gain
            });
            let noise = 10_f64.powf(-snr.to_db() / 20.0).hypot(rounding);
            findings.about("noise", noise, 10_f64.powf(-NOISY_DB / 20.0));
        }
        if chain.gain + chain.offset.abs() > 1.0 || chain.rail.is_some() {
            findings.want("clipped");
        }
        let shortest = made
            .iter()
            .flat_map(|it| &it.take.truth)
            .map(|truth| truth.effective.to_s() * chain.sample_rate.to_hz())
            .fold(f64::MAX, f64::min);
        findings.about("low-rate", 1.0 / shortest, 1.0 / LEAST_SAMPLES);
        self.dial(made, &mut findings);
        findings
    }

    pub(crate) fn case(self, draw: &mut Draw) -> Case {
        let made = self.record(draw);
        self.case_of(vec![made])
    }

    pub(crate) fn case_of(self, made: Vec<Made>) -> Case {
        let findings = self.findings(&made);
        let options = self.options();
        let mut shots = Vec::new();
        let mut sources = Vec::new();
        for (n, it) in made.into_iter().enumerate() {
            let name = format!("made-{}.wav", n + 1);
            shots.extend(it.shots(&name, shots.len()));
            if let Ok(recording) = it.take.into_recording(&name) {
                sources.push(Source::Made(recording));
            }
        }
        Case {
            sources,
            options,
            shots,
            releases: Vec::new(),
            wanted: Wanted::Measured,
            findings,
        }
    }
}

impl Made {
    /// `from` counts the releases before.
    fn shots(&self, name: &str, from: usize) -> Vec<TrueShot> {
        let last = self.marks.len() - 1;
        let fast = 1.0 + self.chain.clock_ppm * 1e-6;
        let of =
            |(index, (truth, mark)): (usize, (&fettle_measure::synth::Truth, &u32))| TrueShot {
                recording: name.to_owned(),
                channel: 1,
                start: truth.start * fast,
                effective: truth.effective,
                total: Some(truth.total),
                mark: marked(*mark),
                asked: match self.cut {
                    Some(Cut::First) if index == 0 => Asked::Nothing,
                    Some(Cut::Last) if index == last => Asked::Nothing,
                    _ => Asked::Told,
                },
                release: from + index,
                stopped: STOPS_F
                    .iter()
                    .map(|f| truth.effective_at(FULLY_OPEN_F, *f))
                    .collect(),
            };
        let shots = self.take.truth.iter().zip(&self.marks).enumerate();
        shots.map(of).collect()
    }
}

pub(crate) fn marked(denominator: u32) -> Option<Marked> {
    Marked::fraction(1, denominator)
}

pub(crate) fn clean(draw: &mut Draw) -> Case {
    Plan::new(draw).case(draw)
}

pub(crate) fn coupled(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.case(draw)
}

pub(crate) fn two_poles(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.chain.second_pole = Some(Hertz::hz(draw.log_between(0.5, 20.0)));
    plan.case(draw)
}

pub(crate) fn noisy(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.snr(draw, 30.0, 45.0);
    plan.case(draw)
}

pub(crate) fn hum(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.hum(draw, 0.005, 0.04);
    plan.case(draw)
}

pub(crate) fn drift(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.chain.drift = draw.between(0.0, 0.05);
    plan.case(draw)
}

pub(crate) fn flicker(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.chain.flicker = Some(Flicker {
        hz: Hertz::hz(draw.pick(&[100.0, 120.0]) + draw.between(-0.06, 0.06)),
        wanders: Hertz::hz(0.04),
        depth: draw.between(0.005, 0.05),
        form: Swing::default(),
    });
    plan.case(draw)
}

/// A lamp on the mains that swings much, and not as a pure wave.
pub(crate) fn mains_lamp(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.7) {
        plan.couple(draw);
    }
    plan.chain.flicker = Some(mains(draw));
    plan.case(draw)
}

/// The same with speeds alone that are open for a few swings at most.
pub(crate) fn short_flicker(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.7) {
        plan.couple(draw);
    }
    plan.chain.flicker = Some(mains(draw));
    plan.marks.retain(|mark| *mark >= 30);
    plan.marks.extend([60, 30]);
    plan.case(draw)
}

fn mains(draw: &mut Draw) -> Flicker {
    Flicker {
        hz: Hertz::hz(draw.pick(&[100.0, 120.0]) + draw.between(-0.06, 0.06)),
        wanders: Hertz::hz(0.04),
        depth: draw.log_between(0.01, 0.3),
        form: Swing::Mains([draw.between(0.0, 0.3), draw.between(0.0, 0.1)]),
    }
}

pub(crate) fn clipped(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.chain.gain = draw.between(1.02, 1.3) - plan.chain.offset.abs();
    plan.case(draw)
}

/// A sensor's amplifier that ends at a rail, below the recorder's range.
pub(crate) fn railed(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.chain.rail = Some(draw.between(0.5, 0.98));
    plan.case(draw)
}

pub(crate) fn lag(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.chain.lag = Seconds::ms(draw.log_between(0.05, 0.5));
    plan.case(draw)
}

/// Blades whose drive pushes unevenly, so that no even gathering of speed explains them.
pub(crate) fn uneven_blades(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.shutter.run_up = 0.0;
    plan.shutter.power = draw.between(1.1, 1.9);
    plan.case(draw)
}

/// Blades of other edges than straight ones.
pub(crate) fn other_edges(draw: &mut Draw) -> Case {
    with_edges(draw, &[Leaves::Even, Leaves::Smooth])
}

/// Blades that leave a round hole, whose flanks end in a corner as those below a rail do.
pub(crate) fn round_edges(draw: &mut Draw) -> Case {
    with_edges(draw, &[Leaves::Round])
}

fn with_edges(draw: &mut Draw, edges: &[Leaves]) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.shutter.leaves = draw.pick(edges);
    plan.case(draw)
}

pub(crate) fn bounce(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.bounces = 0.5;
    let mut case = plan.case(draw);
    for shot in &mut case.shots {
        shot.stopped.clear();
    }
    case
}

pub(crate) fn same_channels(draw: &mut Draw) -> Case {
    let plan = Plan::new(draw);
    let made = plan.record(draw);
    let (rate, samples) = (plan.chain.sample_rate.to_hz(), made.take.samples.clone());
    let form = Form::Whole(plan.chain.bits.map_or(16, u16::from));
    let mut case = plan.case_of(vec![made]);
    case.findings.want("same-channels");
    case.sources = vec![wave::file("made-1.wav", rate, form, &[&samples, &samples])];
    case
}

pub(crate) fn low_rate(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.chain.sample_rate = Hertz::hz(draw.pick(&[8_000.0, 11_025.0, 16_000.0, 22_050.0]));
    plan.case(draw)
}

/// Integers of 8, 24 and 32 bits and floats, written to a WAV file and read back.
pub(crate) fn resolutions(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    let (form, bits) = draw.pick(&[
        (Form::Whole(8), Some(8)),
        (Form::Whole(24), Some(24)),
        (Form::Whole(32), Some(32)),
        (Form::Float, None),
    ]);
    plan.chain.bits = bits;
    let made = plan.record(draw);
    let (rate, samples) = (plan.chain.sample_rate.to_hz(), made.take.samples.clone());
    let mut case = plan.case_of(vec![made]);
    case.sources = vec![wave::file("made-1.wav", rate, form, &[&samples])];
    case
}

pub(crate) fn inverted(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.chain.inverted = true;
    plan.case(draw)
}

pub(crate) fn clock_stated(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.chain.clock_ppm = draw.between(-500.0, 500.0);
    plan.clock_ppm = Some(plan.chain.clock_ppm);
    plan.case(draw)
}

pub(crate) fn clock_unstated(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.chain.clock_ppm = draw.between(-200.0, 200.0);
    plan.clock_ppm = None;
    plan.case(draw)
}

/// Several files, the dial in any order, marks repeated and missing, every speed off by up to a stop.
pub(crate) fn session(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.common = draw.between(-1.0, 1.0);
    draw.shuffle(&mut plan.marks);
    let marks = plan.marks.clone();
    let files = 1 + draw.whole(3);
    let each = marks.len().div_ceil(files);
    let made = marks
        .chunks(each)
        .map(|marks| {
            plan.marks = marks.to_vec();
            plan.seed = draw.seed();
            plan.record(draw)
        })
        .collect();
    plan.marks = marks;
    plan.case_of(made)
}

/// A top speed that never opens the blades fully.
pub(crate) fn never_open(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    plan.shutter.opening = Seconds::ms(draw.between(2.0, 3.5));
    plan.shutter.closing = Seconds::ms(draw.between(2.2, 4.0));
    if !plan.marks.contains(&500) {
        plan.marks.push(500);
    }
    if !plan.marks.contains(&30) {
        plan.marks.insert(0, 30);
    }
    plan.case(draw)
}

pub(crate) fn single_shot(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.marks = vec![draw.pick(&DIAL[..9])];
    plan.case(draw)
}

/// The recording begins or ends within a shot.
pub(crate) fn cut_off(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    if draw.chance(0.5) {
        plan.cut = Some(Cut::First);
        plan.marks.insert(0, draw.pick(&DIAL[..4]));
    } else {
        plan.cut = Some(Cut::Last);
        plan.marks.push(draw.pick(&DIAL[..4]));
    }
    plan.case(draw)
}

pub(crate) fn everything(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    plan.couple(draw);
    plan.hum(draw, 0.005, 0.04);
    plan.snr(draw, 30.0, 60.0);
    plan.chain.drift = draw.between(0.0, 0.05);
    plan.chain.lag = Seconds::ms(draw.between(0.0, 0.2));
    plan.chain.clock_ppm = draw.between(-200.0, 200.0);
    plan.clock_ppm = Some(plan.chain.clock_ppm);
    plan.bounces = 0.2;
    if draw.chance(0.5) {
        plan.chain.flicker = Some(Flicker {
            hz: Hertz::hz(draw.pick(&[100.0, 120.0])),
            wanders: Hertz::hz(0.04),
            depth: draw.between(0.002, 0.02),
            form: Swing::default(),
        });
    }
    if draw.chance(0.3) {
        plan.chain.second_pole = Some(Hertz::hz(draw.log_between(0.5, 20.0)));
    }
    draw.shuffle(&mut plan.marks);
    let mut case = plan.case(draw);
    for shot in &mut case.shots {
        shot.stopped.clear();
    }
    case
}

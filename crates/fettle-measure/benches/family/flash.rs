//! A flash contact beside a leaf shutter.

use fettle_measure::Seconds;
use fettle_measure::synth::{Chain, Contact, record_contacts};

use super::case::{Case, Source, TrueRelease};
use super::draw::Draw;
use super::leaf::Plan;
use super::wave::{self, Form};

/// Fully open, as the instrument's documentation has it.
const FULL: f64 = 0.98;

/// X contacts close about when the blades are open, M contacts well before.
pub(crate) fn leaf(draw: &mut Draw) -> Case {
    let mut plan = Plan::new(draw);
    if draw.chance(0.5) {
        plan.couple(draw);
    }
    let made = plan.record(draw);
    let ahead = if draw.chance(0.3) {
        (12e-3, 20e-3)
    } else {
        (-1e-3, 1.5e-3)
    };
    let (mut contacts, mut releases) = (Vec::new(), Vec::new());
    for truth in &made.take.truth {
        let lead = Seconds::s(draw.between(ahead.0, ahead.1));
        let open = truth.open_beyond(FULL).map(|it| it.0);
        contacts.push(Contact {
            at: open.unwrap_or(truth.start) - lead,
            chatter: draw.pick(&[0, 0, 2]),
            ..Contact::default()
        });
        releases.push(TrueRelease {
            flash: Some(open.map(|_| lead)),
            ..TrueRelease::default()
        });
    }
    let chain = Chain {
        gain: draw.between(0.1, 0.6),
        inverted: draw.chance(0.5),
        lag: Seconds::s(0.0),
        ..plan.chain.clone()
    };
    let rate = chain.sample_rate.to_hz();
    let light = made.take.samples.clone();
    let lasting = Seconds::s(light.len() as f64 / rate);
    let closings = record_contacts(&chain, lasting, draw.seed(), &contacts);
    let form = Form::Whole(chain.bits.map_or(16, u16::from));
    let before = draw.chance(0.5);
    let channels: [&[f32]; 2] = if before {
        [&closings, &light]
    } else {
        [&light, &closings]
    };
    let file: Source = wave::file("made-1.wav", rate, form, &channels);
    let mut case = plan.case_of(vec![made]);
    case.sources = vec![file];
    case.options.flash_channel = Some(if before { 1 } else { 2 });
    if before {
        for shot in &mut case.shots {
            shot.channel = 2;
        }
    }
    case.releases = releases;
    case
}

//! A check of the measuring chain in words.

use fettle_measure::shutter::{ChannelCheck, ProvedMark};
use fettle_measure::{Hertz, Verdict};

/// What would lessen one part of an uncertainty, by the part's name in the budget; `None` for a part that nothing
/// within reach would.
#[must_use]
pub fn what_helps(part: &str) -> Option<&'static str> {
    Some(match part {
        "noise" => "more light on the sensor, or a higher level at the input",
        "dark level" => "less hum and stray light: short screened leads, the sensor shaded",
        "coupling" => "an input with a lower corner, or a logger that passes steady light",
        "fully open level" => "a steadier lamp, and slow speeds in the same session",
        "flicker" => "a lamp on direct current",
        "tail" | "overdrive" => "less light: the sensor is driven to its end",
        "clicks" => "the sensor's leads kept clear of the camera",
        "clipping" => "a lower level at the input",
        "coding" => "recording as WAV or FLAC",
        "clock" => "the recorder's clock held against a time signal, and its error given",
        "quantisation" => "24 bits, or a higher level at the input",
        _ => return None,
    })
}

/// What one channel shows of its chain: a name and a sentence each, in the order of the chain.
#[must_use]
pub fn chain_in_words(channel: &ChannelCheck) -> Vec<(&'static str, String)> {
    let mut facts = vec![(
        "Light held",
        format!(
            "{} times, {:.1} s in all{}",
            channel.held,
            channel.lit_s.to_s(),
            channel
                .light_of_full_scale
                .map(|part| format!(", at {:.0} % of the recorder's range", 100.0 * part))
                .unwrap_or_default()
        ),
    )];
    let within = match channel.light {
        Verdict::In => "within the 5 % that ISO 516 asks",
        _ => "more than the 5 % that ISO 516 asks",
    };
    facts.push((
        "Steadiness of the light",
        format!(
            "{:.1} % from least to greatest, {within}",
            100.0 * channel.light_range
        ),
    ));
    facts.push((
        "Flicker of the lamp",
        match channel.flicker {
            Some(it) => format!("{:.1} % at {:.1} Hz", 100.0 * it.depth, it.hz.to_hz()),
            None => "none found".to_owned(),
        },
    ));
    facts.push((
        "Noise",
        format!(
            "{:.2} % of the light covered, {:.2} % lit (rms): {:.0} dB",
            100.0 * channel.dark_noise,
            100.0 * channel.lit_noise,
            channel.snr_db.to_db()
        ),
    ));
    facts.push((
        "Hum",
        match channel.hum {
            Some(it) => format!(
                "{:.2} % of the light at {:.2} Hz",
                100.0 * it.ratio,
                it.hz.to_hz()
            ),
            None => "none found".to_owned(),
        },
    ));
    facts.push((
        "Drift of the dark level",
        format!("{:.2} % of the light", 100.0 * channel.drift),
    ));
    facts.push(("Steady light", coupling(channel)));
    facts.push((
        "Fastest edges",
        format!(
            "uncovered in {:.1} ms, covered in {:.1} ms (10 to 90 %): the chain's own time constant is at most {:.1} ms, \
             its bandwidth at least {}",
            channel.opening_s.to_ms(),
            channel.closing_s.to_ms(),
            channel.lag_at_most_s.to_ms(),
            frequency(channel.bandwidth_at_least_hz)
        ),
    ));
    facts
}

fn coupling(channel: &ChannelCheck) -> String {
    let coupling = &channel.coupling;
    let corners: Vec<String> = coupling
        .corners_hz
        .iter()
        .map(|corner| format!("{:.2}", corner.to_hz()))
        .collect();
    match (coupling.poles, coupling.rel_u, coupling.hidden_hz) {
        (0, _, Some(hidden)) => format!(
            "passes, as far as can be seen; a corner up to {} could hide",
            frequency(hidden)
        ),
        (0, _, None) => "passes".to_owned(),
        (_, rel_u, _) => format!(
            "does not pass: corner at {} Hz{}; undone by calculation",
            corners.join(" and "),
            rel_u
                .map(|u| format!(", known to {:.2} %", 100.0 * u))
                .unwrap_or_default()
        ),
    }
}

/// What ISO 516 asks of the bandwidth for a mark, and whether the chain has it.
#[must_use]
pub fn bandwidth_in_words(mark: &ProvedMark) -> String {
    let needs = frequency(mark.needs_hz);
    match mark.upper {
        Verdict::In => format!("{needs}: shown"),
        Verdict::Out => format!("{needs}: not at this rate"),
        Verdict::Undecided => format!("{needs}: not shown"),
    }
}

fn frequency(hertz: Hertz) -> String {
    let hertz = hertz.to_hz();
    if hertz >= 1000.0 {
        format!("{:.1} kHz", hertz / 1000.0)
    } else if hertz >= 10.0 {
        format!("{hertz:.0} Hz")
    } else {
        format!("{hertz:.2} Hz")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fettle_measure::shutter::Budget;

    #[test]
    fn every_part_of_the_chain_s_budget_has_a_remedy() {
        for (part, _) in Budget::default().parts() {
            // How a sound travels is no part of a chain of light.
            assert!(
                what_helps(part).is_some() || part == "blades' travel",
                "{part}"
            );
        }
    }

    #[test]
    fn frequencies_are_written_in_the_unit_that_suits_them() {
        for (hertz, want) in [(0.251, "0.25 Hz"), (28.7, "29 Hz"), (12_500.0, "12.5 kHz")] {
            assert_eq!(frequency(Hertz::hz(hertz)), want);
        }
    }
}

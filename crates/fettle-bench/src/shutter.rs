//! Between the shutter instrument and the record: the notes' dial as options, a report as a reading.

use fettle_measure::{
    Marked, Millimetres, Seconds, Series, Stops, Verdict as Decided,
    shutter::{Finding, FindingKind, Kind, Limits, LostAs, Options, Report, Speed},
};
use fettle_notes::{DialSeries, ServiceNotes, ShutterKind, ShutterLimit};

use serde::{Deserialize, Serialize};

use crate::{
    change::{ReadingRow, ReadingTaken},
    error::BenchError,
    ids::{RecordingId, VisitId},
    words::{Instrument, Phase, Verdict},
};

/// How a recording of this model is to be read: kind of shutter as the service notes give it, dial, meaning of the marks,
/// limits, sensors' places, gate and f-numbers as this limit of theirs does; what they do not give, or all of the dial where there is no limit, stays as
/// [`Options::default`] has it.
#[must_use]
pub fn shutter_options(notes: &ServiceNotes, limit: Option<&ShutterLimit>) -> Options {
    let mut options = Options {
        kind: match notes.model.shutter {
            ShutterKind::Leaf => Kind::Leaf,
            ShutterKind::FocalPlane => Kind::FocalPlane,
        },
        ..Options::default()
    };
    let Some(limit) = limit else {
        return options;
    };
    options.series = match limit.series {
        DialSeries::Marked => Series::Marked,
        DialSeries::Geometric => Series::Geometric,
    };
    options.sensors_mm = limit
        .sensors_mm
        .iter()
        .copied()
        .map(Millimetres::mm)
        .collect();
    options.gate_mm = limit.gate_mm.map(Millimetres::mm);
    options.fully_open_f = limit.fully_open_f;
    if limit.fully_open_f.is_some() {
        options.stops_f.clone_from(&limit.stops_f);
    }
    options.limits = Limits::none();
    for dial in &limit.marks {
        // A mark beyond what an exposure can be is left to the mechanic.
        let Some(mark) = Marked::fraction(dial.numerator(), dial.denominator()) else {
            continue;
        };
        options.speeds.push(mark);
        if let Some(stops) = limit.tolerance_stops(*dial) {
            options.limits = options.limits.with_mark(mark, Stops::of(stops));
        }
    }
    options
}

/// What a reading of exposure times keeps as its detail: the report, and how the recording was read, so that
/// it can be read again with a mark corrected.
#[derive(Serialize)]
struct Detail<'a> {
    #[serde(flatten)]
    report: &'a Report,
    read_as: &'a Options,
}

/// The reading that keeps a report made with `options`: one row a speed, the findings in words, the whole report
/// and the options as detail.
///
/// # Errors
/// [`BenchError::Report`] when the report cannot be written down whole.
pub fn shutter_reading(
    visit: VisitId,
    phase: Phase,
    report: &Report,
    options: &Options,
    limit_id: Option<&str>,
    recording: Option<RecordingId>,
) -> Result<ReadingTaken, BenchError> {
    let detail = Detail {
        report,
        read_as: options,
    };
    let detail = serde_json::to_value(detail).map_err(unreadable)?;
    Ok(ReadingTaken {
        visit,
        phase,
        instrument: Instrument::Shutter,
        limit_id: limit_id.map(str::to_owned),
        rows: report.speeds.iter().map(row).collect(),
        findings: remarks_in_words(report),
        recording,
        method: method(report),
        detail: Some(detail),
    })
}

/// The whole report kept with a reading of exposure times; `None` when the reading came without one.
///
/// # Errors
/// [`BenchError::Report`] when there is one that this program cannot read.
pub fn shutter_report(reading: &ReadingTaken) -> Result<Option<Report>, BenchError> {
    match &reading.detail {
        Some(detail) if reading.instrument == Instrument::Shutter => {
            Report::deserialize(detail).map(Some).map_err(unreadable)
        }
        _ => Ok(None),
    }
}

/// How the recording of a reading of exposure times was read; `None` where the reading does not say.
#[must_use]
pub fn shutter_read_as(reading: &ReadingTaken) -> Option<Options> {
    Options::deserialize(reading.detail.as_ref()?.get("read_as")?).ok()
}

/// What a person should know of a report beside its figures: its findings, and what the marks' verdicts do not show.
#[must_use]
pub fn remarks_in_words(report: &Report) -> Vec<String> {
    let findings = report.findings.iter().map(finding_in_words);
    findings
        .chain(guessed_in_words(&report.speeds))
        .chain(unsure_in_words(&report.speeds))
        .chain(single_in_words(&report.speeds))
        .collect()
}

/// What is said where the dial is not known.
fn guessed_in_words(speeds: &[Speed]) -> Option<String> {
    let guessed = speeds.iter().any(|speed| speed.guessed);
    guessed.then(|| {
        "the dial was not given: each time is held against the nearest mark of the common dial"
            .to_owned()
    })
}

/// What is said where shots may have been at other marks: a verdict that stays open does not say why.
fn unsure_in_words(speeds: &[Speed]) -> Option<String> {
    let marks = listed(speeds.iter().filter(|speed| speed.unsure))?;
    Some(format!(
        "it is not sure that the shots at {marks} were fired there, so no verdict is given: say at which mark they were"
    ))
}

/// What is said of single shots: their uncertainty is the chain's alone and looks better than that of several.
fn single_in_words(speeds: &[Speed]) -> Option<String> {
    let marks = listed(speeds.iter().filter(|speed| speed.shots == 1))?;
    Some(format!(
        "one shot alone counts at {marks}: how well it repeats is not known; fire three or more"
    ))
}

/// `1 s`, `1 s and 1/4 s`, `1 s, 1/4 s and 1/60 s`; `None` without any.
fn listed<'a>(speeds: impl Iterator<Item = &'a Speed>) -> Option<String> {
    let marks: Vec<String> = speeds.map(|speed| format!("{} s", speed.marked)).collect();
    let (last, others) = marks.split_last()?;
    Some(match others {
        [] => last.clone(),
        others => format!("{} and {last}", others.join(", ")),
    })
}

#[expect(
    clippy::needless_pass_by_value,
    reason = "used as a function in `map_err`"
)]
fn unreadable(error: serde_json::Error) -> BenchError {
    BenchError::Report {
        why: error.to_string(),
    }
}

fn row(speed: &Speed) -> ReadingRow {
    let finite = |value: f64| value.is_finite().then_some(value);
    ReadingRow {
        name: speed.marked.to_string(),
        unit: "s".to_owned(),
        nominal: finite(speed.nominal_s.to_s()),
        value: finite(speed.mean_s.to_s()),
        error: finite(speed.error_stops.to_stops()),
        error_unit: "stops".to_owned(),
        uncertainty: finite(speed.uncertainty_stops.to_stops()),
        limit: speed.limit_stops.map(Stops::to_stops).and_then(finite),
        verdict: speed.verdict.map(|verdict| match verdict {
            Decided::In => Verdict::In,
            Decided::Out => Verdict::Out,
            Decided::Undecided => Verdict::Undecided,
        }),
    }
}

fn method(report: &Report) -> String {
    let shots = report.shots.len();
    let rate = report.recording.sample_rate_hz.to_hz();
    let plural = if shots == 1 { "" } else { "s" };
    let sensed = if report.clicks.is_empty() {
        "of light"
    } else {
        "by sound"
    };
    format!("{shots} shot{plural} {sensed} at {rate} samples a second")
}

fn lost_in_words(lost_as: LostAs, lasts: Seconds) -> String {
    let ms = lasts.to_ms();
    match lost_as {
        LostAs::Zeros => format!("zeros stand there for {ms:.1} ms"),
        LostAs::Repeated => format!("what came before stands there once more for {ms:.1} ms"),
        LostAs::Cut => "the signal jumps as no shutter makes it".to_owned(),
        LostAs::Told => format!("somewhere within {ms:.0} ms: the recorder fell behind its clock"),
    }
}

/// A finding as a person reads it: what was noticed, where, and what it means for the times.
#[must_use]
pub fn finding_in_words(finding: &Finding) -> String {
    let mut place = finding.recording.clone().unwrap_or_default();
    if let Some(channel) = finding.channel {
        let join = if place.is_empty() { "" } else { ", " };
        place.push_str(&format!("{join}channel {channel}"));
    }
    let join = if place.is_empty() { "" } else { ": " };
    format!("{place}{join}{}", kind_in_words(&finding.what))
}

fn kind_in_words(kind: &FindingKind) -> String {
    use FindingKind as F;
    match kind {
        F::AcCoupled { corner_hz, poles } => {
            let hz = corner_hz.to_hz();
            let twice = if *poles > 1 { ", two poles" } else { "" };
            format!("the input does not pass steady light (corner {hz:.2} Hz{twice}); undone")
        }
        F::Inverted => "more light gives less voltage; turned round".to_owned(),
        F::Offset { level } => {
            let sign = if *level < 0.0 { "\u{2212}" } else { "" };
            format!("the dark level is {sign}{:.3}, not 0; taken off", level.abs())
        }
        F::Drift { ratio } => {
            format!(
                "the dark level wanders by {:.1} % of the light",
                100.0 * ratio
            )
        }
        F::Hum { hz, ratio } => format!(
            "hum at {:.0} Hz, {:.1} % of the light; taken off",
            hz.to_hz(),
            100.0 * ratio
        ),
        F::Flicker { hz, depth } => format!(
            "the lamp flickers at {:.0} Hz by {:.1} %; use a lamp on direct current",
            hz.to_hz(),
            100.0 * depth
        ),
        F::Noise { snr_db } => format!("noise {:.0} dB below the signal", snr_db.to_db()),
        F::Clipped => "the light reaches the end of the range, the recorder's or the sensor's; turn the level down, or use less light".to_owned(),
        F::Tail { closing_s } => format!(
            "the sensor closes slowly (time constant {:.2} ms); use less light",
            closing_s.to_ms()
        ),
        F::Overdriven => "the sensor is driven beyond its range; use less light".to_owned(),
        F::GainControl => {
            "the level was changed while recording; switch automatic gain off and record again"
                .to_owned()
        }
        F::SameChannels => "two channels carry the same signal".to_owned(),
        F::Lossy => "the recording went through a lossy codec; record as WAV".to_owned(),
        F::LowRate => "too few samples a second for the fastest mark".to_owned(),
        F::Clicks => "clicks that are none of the shutter's; not counted".to_owned(),
        F::DeadChannel => "no signal on it; left out".to_owned(),
        F::NotFinite { samples } => {
            format!("{samples} samples are not numbers; the shots they touch are left out")
        }
        F::LostSamples {
            at_s,
            lasts_s,
            lost_as,
        } => format!(
            "samples were lost at {:.3} s, {}; the shots they touch are left out: close other programs \
             and record again",
            at_s.to_s(),
            lost_in_words(*lost_as, *lasts_s)
        ),
        F::HeaderRepaired => {
            "the header's lengths were wrong and were worked out from the file's size".to_owned()
        }
        F::UnevenTime => "the times are not evenly spaced; resampled".to_owned(),
        F::SlowFirst {
            marked,
            stops,
            uncertainty_stops,
        } => format!(
            "the first shot at {marked} s is {} slower than those that follow",
            in_stops(*stops, *uncertainty_stops)
        ),
        F::Alike {
            marks: [slow, fast],
            stops,
            uncertainty_stops,
        } => {
            let apart =
                stops.map(|stops| format!(", {} apart", in_stops(stops, *uncertainty_stops)));
            format!(
                "{slow} s and {fast} s give the same time{}",
                apart.unwrap_or_default()
            )
        }
        F::Missing { marked } => format!("no shot at {marked} s"),
        F::AllSlow {
            stops,
            uncertainty_stops,
            ..
        } => format!(
            "all speeds are long alike, by {}",
            in_stops(*stops, Some(*uncertainty_stops))
        ),
        F::AllFast {
            stops,
            uncertainty_stops,
            ..
        } => format!(
            "all speeds are short alike, by {}",
            in_stops(stops.abs(), Some(*uncertainty_stops))
        ),
        F::SlowEnd {
            marks,
            stops,
            uncertainty_stops,
        } => format!(
            "the slow speeds, {}, are {} longer than the rest of the dial",
            these(marks),
            in_stops(*stops, Some(*uncertainty_stops))
        ),
        F::TopSpeed {
            marks,
            stops,
            uncertainty_stops,
        } => format!(
            "{} alone {} {} longer than the rest of the dial",
            these(marks),
            if marks.len() == 1 { "is" } else { "are" },
            in_stops(*stops, Some(*uncertainty_stops))
        ),
        F::Scatter {
            marked,
            stops,
            uncertainty_stops,
        } => {
            let stops = stops.to_stops();
            let least = stops - uncertainty_stops.to_stops();
            format!("the shots at {marked} s scatter by ± {stops:.2} stops, at least ± {least:.2}")
        }
        F::Uneven {
            marks,
            stops,
            uncertainty_stops,
        } => format!(
            "the frame is uneven at {}: the {} end gets {} more",
            these(marks),
            if stops.to_stops() > 0.0 {
                "far"
            } else {
                "near"
            },
            in_stops(stops.abs(), Some(*uncertainty_stops))
        ),
        F::Capping {
            marks,
            capped_from_mm,
        } => {
            let from = capped_from_mm
                .map(|from| format!(", from {:.1} mm on", from.to_mm()))
                .unwrap_or_default();
            let at = if marks.is_empty() { "" } else { " at " };
            format!("the slit closes within the frame{at}{}{from}", these(marks))
        }
        F::Bounce { marks, shots } => {
            let plural = if *shots == 1 { "" } else { "s" };
            format!(
                "the shutter opens a second time at {}, in {shots} shot{plural}",
                these(marks)
            )
        }
    }
}

/// A figure in stops with its expanded uncertainty, where it has one.
fn in_stops(stops: Stops, uncertainty: Option<Stops>) -> String {
    let stops = stops.to_stops();
    match uncertainty.map(Stops::to_stops) {
        Some(uncertainty) => format!("{stops:.2} ± {uncertainty:.2} stops"),
        None => format!("{stops:.2} stops"),
    }
}

/// Marks as they are read out: `1 s`, `1 s and 1/2 s`, `1 s to 1/8 s`.
fn these(marks: &[Marked]) -> String {
    match marks {
        [] => String::new(),
        [only] => format!("{only} s"),
        [slow, fast] => format!("{slow} s and {fast} s"),
        [slow, .., fast] => format!("{slow} s to {fast} s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fettle_measure::{Hertz, Seconds};

    #[test]
    fn each_limit_of_the_notes_is_read_with_its_own_dial() {
        let revised = fettle_notes::Date::new(2026, 3, 14).unwrap();
        let id = fettle_notes::ModelId::new("corran-66").unwrap();
        let mut text = fettle_notes::template(&id, "Aldous", "Corran 66", revised);
        for (limit, low, top) in [
            ("early", "\"1/25\"", "\"1/100\""),
            ("late", "\"1/30\"", "\"1/500\""),
        ] {
            text.push_str(&format!(
                "\n[limit.{limit}-dial]\nkind = \"shutter\"\nname = \"times, {limit}\"\nmarks = [{low}, {top}]\nseries = \"marked\"\n\
                 tolerances = [{{ to = {top}, stops = 0.25 }}]\n"
            ));
        }
        let (notes, _) = fettle_notes::parse(&text, None).unwrap();
        for (limit, marks) in [
            ("early-dial", ["1/25", "1/100"]),
            ("late-dial", ["1/30", "1/500"]),
        ] {
            let Some(fettle_notes::Limit::Shutter(limit)) = notes.limit(limit) else {
                panic!("{limit} is no limit on exposure times");
            };
            let options = shutter_options(&notes, Some(limit));
            assert_eq!(options.speeds, marks.map(|mark| mark.parse().unwrap()));
        }
        let none = shutter_options(&notes, None);
        assert_eq!((none.speeds, none.limits), (Vec::new(), Limits::default()));
    }

    #[test]
    fn a_finding_says_where_and_what() {
        let hum = FindingKind::Hum {
            hz: Hertz::hz(50.0),
            ratio: 0.012,
        };
        let found = Finding::of_recording(hum, "a.wav", Some(2));
        assert_eq!(
            finding_in_words(&found),
            "a.wav, channel 2: hum at 50 Hz, 1.2 % of the light; taken off"
        );
        let missing = FindingKind::Missing {
            marked: "1/250".parse().unwrap(),
        };
        assert_eq!(
            finding_in_words(&Finding::of_session(missing)),
            "no shot at 1/250 s"
        );
    }

    #[test]
    fn patterns_over_the_dial_are_told_with_their_figures() {
        let mark = |text: &str| text.parse::<Marked>().unwrap();
        let say = |what| finding_in_words(&Finding::of_session(what));
        let (stops, uncertainty_stops) = (Stops::of(0.4), Stops::of(0.03));
        assert_eq!(
            say(FindingKind::SlowEnd {
                marks: ["1", "1/2", "1/4"].map(mark).to_vec(),
                stops,
                uncertainty_stops,
            }),
            "the slow speeds, 1 s to 1/4 s, are 0.40 ± 0.03 stops longer than the rest of the dial"
        );
        assert_eq!(
            say(FindingKind::TopSpeed {
                marks: vec![mark("1/500")],
                stops,
                uncertainty_stops,
            }),
            "1/500 s alone is 0.40 ± 0.03 stops longer than the rest of the dial"
        );
        assert_eq!(
            say(FindingKind::AllFast {
                marks: Vec::new(),
                stops: Stops::of(-0.4),
                uncertainty_stops,
            }),
            "all speeds are short alike, by 0.40 ± 0.03 stops"
        );
        assert_eq!(
            say(FindingKind::SlowFirst {
                marked: mark("1/30"),
                stops,
                uncertainty_stops: None,
            }),
            "the first shot at 1/30 s is 0.40 stops slower than those that follow"
        );
        assert_eq!(
            say(FindingKind::Capping {
                marks: ["1/500", "1/1000"].map(mark).to_vec(),
                capped_from_mm: None,
            }),
            "the slit closes within the frame at 1/500 s and 1/1000 s"
        );
    }

    #[test]
    fn a_doubted_mark_and_a_single_shot_are_remarked_on() {
        let (sure, single) = (speed("1/60", 3), speed("1/125", 1));
        let doubted = ["1", "1/2", "1/4"].map(|mark| Speed {
            unsure: true,
            ..speed(mark, 2)
        });
        assert_eq!(unsure_in_words(std::slice::from_ref(&sure)), None);
        assert_eq!(single_in_words(&doubted), None);
        assert_eq!(guessed_in_words(&doubted), None);
        let guessed = Speed {
            guessed: true,
            ..speed("1/60", 3)
        };
        assert!(guessed_in_words(&[guessed]).is_some());
        let doubt = unsure_in_words(&doubted).unwrap();
        assert!(
            doubt.contains("the shots at 1 s, 1/2 s and 1/4 s were"),
            "{doubt}"
        );
        let alone = single_in_words(&[sure, single]).unwrap();
        assert!(
            alone.starts_with("one shot alone counts at 1/125 s:"),
            "{alone}"
        );
    }

    #[test]
    fn a_stored_report_that_cannot_be_read_is_told() {
        let mut reading = ReadingTaken {
            visit: VisitId::new(1),
            phase: Phase::Before,
            instrument: Instrument::Shutter,
            limit_id: None,
            rows: Vec::new(),
            findings: Vec::new(),
            recording: None,
            method: String::new(),
            detail: None,
        };
        assert!(shutter_report(&reading).unwrap().is_none());
        reading.detail = Some(serde_json::json!({ "shots": "many" }));
        let error = shutter_report(&reading).unwrap_err();
        assert!(
            error.to_string().contains("measure the recording again"),
            "{error}"
        );
    }

    /// Shots at a mark that are 10 ms long, which is out for 8 ms.
    fn speed(marked: &str, shots: u32) -> Speed {
        Speed {
            marked: marked.parse().unwrap(),
            nominal_s: Seconds::ms(8.0),
            shots,
            mean_s: Seconds::ms(10.0),
            spread_s: None,
            error_stops: Stops::of(0.32),
            uncertainty_stops: Stops::of(0.02),
            limit_stops: Some(Stops::of(0.25)),
            verdict: Some(Decided::Out),
            budget: fettle_measure::shutter::MeanBudget::default(),
            guessed: false,
            unsure: false,
        }
    }

    #[test]
    fn a_speed_becomes_a_row_with_its_unit_and_verdict() {
        let row = row(&speed("1/125", 3));
        assert_eq!(
            (
                row.name.as_str(),
                row.unit.as_str(),
                row.error_unit.as_str()
            ),
            ("1/125", "s", "stops")
        );
        assert_eq!((row.nominal, row.value), (Some(0.008), Some(0.010)));
        assert_eq!(
            (row.error, row.uncertainty, row.limit),
            (Some(0.32), Some(0.02), Some(0.25))
        );
        assert_eq!(row.verdict, Some(Verdict::Out));
    }
}

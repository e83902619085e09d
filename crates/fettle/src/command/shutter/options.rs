//! The arguments that say what was recorded, and the options they make.

use std::io::Write;
use std::path::PathBuf;

use clap::ValueEnum;
use fettle_bench::shutter_options;
use fettle_measure::shutter::{Kind, Limits, Options, Sense, ShutterError};
use fettle_measure::{Marked, Millimetres, Series};

use crate::error::CliError;
use crate::notes_file;

/// What was recorded and how it is to be judged.
#[derive(Debug, clap::Args)]
pub(super) struct Session {
    /// How the shutter is built [default: as the service notes say, else leaf].
    #[arg(long, value_enum)]
    kind: Option<KindArg>,
    /// What the recording senses.
    #[arg(long, value_enum, default_value_t = SenseArg::Light)]
    sense: SenseArg,
    /// The marks of the dial, in any order: 1,1/2,1/5 ... Without them the nearest common mark is guessed.
    #[arg(long, value_delimiter = ',', value_name = "MARKS")]
    speeds: Vec<Marked>,
    /// What a mark means: the time engraved, or the power of two behind it (1/60 means 1/64)
    /// [default: as the service notes say, else marked].
    #[arg(long, value_enum)]
    series: Option<SeriesArg>,
    /// How far a speed may be off in stops: one number for all, 1/500=0.4 for one mark, `bench` for
    /// the bench's rule (a quarter stop to 1/125, a third above), `none`; joined by commas
    /// [default: as the service notes say, else bench].
    #[arg(long, value_name = "STOPS")]
    limit_stops: Option<Limits>,
    /// The f-number at which the sensor saw the whole opening of a leaf shutter.
    #[arg(long, value_name = "F", value_parser = f_number)]
    fully_open_f: Option<f64>,
    /// The f-numbers to give effective times for; needs --fully-open-f.
    #[arg(long, value_delimiter = ',', value_name = "F", value_parser = f_number)]
    stops_f: Vec<f64>,
    /// By how many parts per million the recorder's clock runs fast [default: not known, ±200].
    #[arg(long, value_name = "PPM", allow_negative_numbers = true, value_parser = clock_ppm)]
    clock_ppm: Option<f64>,
    /// The channels to read, counted from 1 [default: all].
    #[arg(long, value_delimiter = ',', value_name = "N", value_parser = clap::value_parser!(u16).range(1..=8))]
    channels: Vec<u16>,
    /// Where each sensor stands along the gate of a focal-plane shutter, in mm from one edge of the
    /// gate, one for each channel in order, the flash contact's left out [default: as the service
    /// notes say, else one sensor in the middle].
    #[arg(long, value_delimiter = ',', value_name = "MM", allow_negative_numbers = true, value_parser = place_mm)]
    sensors_mm: Vec<f64>,
    /// The width of the gate along the curtains' travel [default: as the service notes say, else 36].
    #[arg(long, value_name = "MM", value_parser = gate_mm)]
    gate_mm: Option<f64>,
    /// The channel of the flash contact, counted from 1.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=8))]
    flash_channel: Option<u16>,
    /// Service notes to take the dial, its meaning, the limits and the f-numbers from; what is given
    /// here counts more.
    #[arg(long, value_name = "NOTES")]
    notes: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum KindArg {
    /// Blades that open from the centre.
    Leaf,
    /// Two curtains before the film.
    FocalPlane,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum SenseArg {
    /// A light sensor behind the shutter.
    Light,
    /// A microphone near the camera: slow speeds only, and only where one pair of clicks alone can
    /// be opening and closing.
    Sound,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum SeriesArg {
    /// The time engraved.
    Marked,
    /// The power of two behind it.
    Geometric,
}

impl Session {
    /// The options: from the service notes, then what was given beside them. Doubts about the notes
    /// go to `remarks`.
    pub(super) fn to_options(&self, remarks: &mut dyn Write) -> Result<Options, CliError> {
        let mut options = match &self.notes {
            Some(path) => {
                let notes = notes_file::usable(path, remarks)?;
                let limit = notes.shutter_limit().map(|(_, limit)| limit);
                shutter_options(&notes, limit)
            }
            None => Options::default(),
        };
        if let Some(kind) = self.kind {
            options.kind = match kind {
                KindArg::Leaf => Kind::Leaf,
                KindArg::FocalPlane => Kind::FocalPlane,
            };
        }
        options.sense = match self.sense {
            SenseArg::Light => Sense::Light,
            SenseArg::Sound => Sense::Sound,
        };
        if let Some(series) = self.series {
            options.series = match series {
                SeriesArg::Marked => Series::Marked,
                SeriesArg::Geometric => Series::Geometric,
            };
        }
        if !self.speeds.is_empty() {
            options.speeds.clone_from(&self.speeds);
        }
        if let Some(limits) = &self.limit_stops {
            options.limits = limits.clone();
        }
        if self.fully_open_f.is_some() {
            options.fully_open_f = self.fully_open_f;
        }
        if !self.stops_f.is_empty() {
            options.stops_f.clone_from(&self.stops_f);
        }
        if !options.stops_f.is_empty() && options.fully_open_f.is_none() {
            return Err(CliError::Arguments(
                "--stops-f needs --fully-open-f: say at which f-number the sensor saw the whole opening"
                    .to_owned(),
            ));
        }
        options.clock_ppm = self.clock_ppm;
        options.channels.clone_from(&self.channels);
        options.flash_channel = self.flash_channel;
        if !self.sensors_mm.is_empty() {
            let places = self.sensors_mm.iter().copied();
            options.sensors_mm = places.map(Millimetres::mm).collect();
        }
        if let Some(gate) = self.gate_mm {
            options.gate_mm = Some(Millimetres::mm(gate));
        }
        Ok(options)
    }
}

/// An option without meaning is a wrong argument; anything else is work that could not be done.
pub(super) fn told(error: &ShutterError) -> CliError {
    match error {
        ShutterError::Option { .. } => CliError::Arguments(error.to_string()),
        _ => CliError::work(error),
    }
}

fn f_number(text: &str) -> Result<f64, String> {
    within(
        text,
        0.5,
        1000.0,
        "an f-number lies between 0.5 and 1000, such as 3.5",
    )
}

fn clock_ppm(text: &str) -> Result<f64, String> {
    within(
        text,
        -10_000.0,
        10_000.0,
        "a clock's error lies between -10000 and 10000 parts per million",
    )
}

fn place_mm(text: &str) -> Result<f64, String> {
    within(
        text,
        -20.0,
        140.0,
        "a sensor stands along the gate, from one of its edges, such as 18",
    )
}

fn gate_mm(text: &str) -> Result<f64, String> {
    within(text, 5.0, 120.0, "a gate is 5 to 120 mm wide, such as 36")
}

fn within(text: &str, least: f64, most: f64, rule: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if (least..=most).contains(&value) => Ok(value),
        _ => Err(rule.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{Args, FromArgMatches};

    fn session(arguments: &[&str]) -> Session {
        let command = Session::augment_args(clap::Command::new("shutter").no_binary_name(true));
        let matches = command.try_get_matches_from(arguments).unwrap();
        Session::from_arg_matches(&matches).unwrap()
    }

    fn options(arguments: &[&str]) -> Result<Options, CliError> {
        session(arguments).to_options(&mut Vec::new())
    }

    #[test]
    fn nothing_given_is_a_leaf_shutter_with_an_unknown_dial() {
        assert_eq!(options(&[]).unwrap(), Options::default());
    }

    #[test]
    fn every_argument_reaches_its_option() {
        let got = options(&[
            "--kind",
            "focal-plane",
            "--sense",
            "sound",
            "--speeds",
            "1/60,1",
            "--series",
            "geometric",
            "--limit-stops",
            "0.5",
            "--fully-open-f",
            "3.5",
            "--stops-f",
            "5.6,8",
            "--clock-ppm",
            "-40",
            "--channels",
            "1,3",
            "--flash-channel",
            "2",
            "--sensors-mm",
            "4.5,20",
            "--gate-mm",
            "24",
        ])
        .unwrap();
        let mark = |text: &str| text.parse::<Marked>().unwrap();
        assert_eq!(got.kind, Kind::FocalPlane);
        assert_eq!(got.sense, Sense::Sound);
        assert_eq!(got.speeds, [mark("1/60"), mark("1")]);
        assert_eq!(got.series, Series::Geometric);
        assert_eq!(got.limits, "0.5".parse().unwrap());
        assert_eq!((got.fully_open_f, got.stops_f), (Some(3.5), vec![5.6, 8.0]));
        assert_eq!(
            (got.clock_ppm, got.channels, got.flash_channel),
            (Some(-40.0), vec![1, 3], Some(2))
        );
        let mm = Millimetres::mm;
        assert_eq!(
            (got.sensors_mm, got.gate_mm),
            (vec![mm(4.5), mm(20.0)], Some(mm(24.0)))
        );
    }

    #[test]
    fn stops_without_the_full_opening_are_wrong_arguments() {
        let error = options(&["--stops-f", "8"]).unwrap_err();
        assert!(matches!(error, CliError::Arguments(text) if text.contains("--fully-open-f")));
    }
}

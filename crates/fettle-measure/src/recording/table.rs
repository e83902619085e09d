//! Tables: time in seconds, then one column of volts for each channel.

use std::io::{BufRead, BufReader, Read};

use super::intake::MOST_SAMPLES;
use super::{Form, MOST_CHANNELS, Recording, RecordingError, Steps};
use crate::Hertz;

/// Lines of titles that a logger may write before the numbers.
const MOST_TITLES: usize = 100;
/// Bytes of one line.
const LONGEST_LINE: u64 = 1 << 16;
/// Fewer rows than this are no recording.
const LEAST_ROWS: usize = 16;
/// Values that are looked at for a converter's steps, at most, and how many levels must show them.
const LOOKED_AT: usize = 200_000;
const LEAST_LEVELS: usize = 4;
/// A gap between neighbouring values is a whole number of steps within this part of one, as far as it is so many ...
const WHOLE_WITHIN: f64 = 0.05;
const MOST_STEPS: f64 = 12.0;
/// ... and steps are told where single values are held so many times finer.
const EXACTLY: f64 = 64.0;
/// Greatest departure from even time, as a part of the step.
const EVEN_WITHIN: f64 = 0.01;
/// Resampling may at most multiply the rows by this.
const MOST_GROWTH: f64 = 4.0;

struct Rows {
    times: Vec<f64>,
    channels: Vec<Vec<f32>>,
}

pub(super) fn read<R: Read>(
    name: &str,
    source: R,
    most_held: usize,
) -> Result<Recording, RecordingError> {
    let rows = rows(name, source)?;
    let count = rows.times.len();
    if count < LEAST_ROWS {
        return Err(RecordingError::new(
            name,
            format!("row {count}"),
            format!("{count} rows of numbers are no recording"),
            format!("export at least {LEAST_ROWS} rows of time in seconds and volts"),
        ));
    }
    let first = rows.times[0];
    let step = (rows.times[count - 1] - first) / (count - 1) as f64;
    let is_even =
        |(i, time): (usize, &f64)| (time - first - i as f64 * step).abs() <= EVEN_WITHIN * step;
    let steps_even = |pair: &[f64]| (pair[1] - pair[0] - step).abs() <= EVEN_WITHIN * step;
    let even = rows.times.windows(2).all(steps_even) || rows.times.iter().enumerate().all(is_even);
    // Values between the rows are no steps of the converter.
    let steps = if even {
        Steps::Seen(rows.channels.iter().map(|it| seen_step(it)).collect())
    } else {
        Steps::Unknown
    };
    let (sample_rate, channels) = if even {
        (Hertz::hz(1.0 / step), rows.channels)
    } else {
        resampled(name, &rows)?
    };
    let form = Form {
        sample_rate,
        channels: channels.len(),
        bits: None,
    };
    let mut intake = form.intake(name, most_held)?;
    intake.push(&channels);
    let mut recording = form.recording(name, intake.finish());
    recording.uneven_time = !even;
    recording.steps = steps;
    Ok(recording)
}

fn rows<R: Read>(name: &str, source: R) -> Result<Rows, RecordingError> {
    let mut source = BufReader::new(source);
    let mut rows = Rows {
        times: Vec::new(),
        channels: Vec::new(),
    };
    let mut line = Vec::new();
    let mut layout = None;
    let mut number = 0;
    loop {
        line.clear();
        let read = source
            .by_ref()
            .take(LONGEST_LINE)
            .read_until(b'\n', &mut line);
        let refuse = |place: String, reason: String, remedy: &str| {
            Err(RecordingError::new(name, place, reason, remedy))
        };
        number += 1;
        let place = format!("line {number}");
        match read {
            Ok(0) => break,
            Ok(_) => {}
            Err(error) => {
                return refuse(
                    place,
                    format!("it cannot be read ({})", super::error::in_words(&error)),
                    "check the disk",
                );
            }
        }
        if line.len() as u64 == LONGEST_LINE {
            return refuse(
                place,
                "the line is too long".to_owned(),
                "export one row a line",
            );
        }
        let text = String::from_utf8_lossy(&line);
        let text = text.trim_start_matches('\u{feff}').trim();
        if text.is_empty() {
            continue;
        }
        let Some(known) = layout else {
            layout = Layout::of(text);
            match layout {
                Some(found) => found.push(name, number, text, &mut rows)?,
                None if number > MOST_TITLES => break,
                None => {}
            }
            continue;
        };
        known.push(name, number, text, &mut rows)?;
    }
    if layout.is_none() {
        return Err(RecordingError::new(
            name,
            "line 1",
            "it is text with no row of numbers, so neither sound nor a table",
            "give a WAV file, or a table of time in seconds and volts",
        ));
    }
    Ok(rows)
}

/// How a row is written.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Layout {
    separator: char,
    decimal_comma: bool,
    columns: usize,
}

impl Layout {
    /// The layout under which a line is a row of numbers; `None` for a title.
    fn of(line: &str) -> Option<Self> {
        [(';', true), ('\t', true), (',', false), (' ', false)]
            .into_iter()
            .find_map(|(separator, decimal_comma)| {
                let layout = Self {
                    separator,
                    decimal_comma,
                    columns: 0,
                };
                let cells: Option<Vec<f64>> =
                    layout.cells(line).map(|cell| layout.number(cell)).collect();
                let columns = cells?.len();
                (columns >= 2).then_some(Self { columns, ..layout })
            })
    }

    fn cells(self, line: &str) -> impl Iterator<Item = &str> {
        let trailing = line.strip_suffix(self.separator).unwrap_or(line);
        trailing
            .split(self.separator)
            .map(|cell| cell.trim().trim_matches('"'))
    }

    fn number(self, cell: &str) -> Option<f64> {
        let number: f64 = if self.decimal_comma && cell.contains(',') {
            cell.replace(',', ".").parse().ok()?
        } else {
            cell.parse().ok()?
        };
        (number.is_finite() && number.abs() <= f64::from(f32::MAX)).then_some(number)
    }

    fn push(
        self,
        name: &str,
        number: usize,
        line: &str,
        rows: &mut Rows,
    ) -> Result<(), RecordingError> {
        let refuse = |place: String, reason: String, remedy: &str| {
            Err(RecordingError::new(name, place, reason, remedy))
        };
        if self.columns - 1 > MOST_CHANNELS {
            let reason = format!("{} channels cannot be read", self.columns - 1);
            return refuse(
                format!("line {number}"),
                reason,
                "export time and one to eight channels",
            );
        }
        if rows.channels.is_empty() {
            rows.channels = vec![Vec::new(); self.columns - 1];
        }
        if rows.times.len() >= MOST_SAMPLES / self.columns {
            let reason = "there are too many rows".to_owned();
            return refuse(
                format!("line {number}"),
                reason,
                "cut the recording into shorter ones",
            );
        }
        let mut count = 0;
        for (column, cell) in self.cells(line).enumerate() {
            let place = format!("line {number}, column {}", column + 1);
            let Some(value) = self.number(cell) else {
                let cell: String = cell.chars().take(40).collect();
                return refuse(
                    place,
                    format!("`{cell}` is not a number"),
                    "correct the cell",
                );
            };
            if column == 0 {
                if rows.times.last().is_some_and(|last| value <= *last) {
                    let reason = format!("time does not go on: {cell} s");
                    return refuse(place, reason, "export the rows in the order of time");
                }
                rows.times.push(value);
            } else if let Some(channel) = rows.channels.get_mut(column - 1) {
                channel.push(value as f32);
            }
            count += 1;
        }
        if count == self.columns {
            return Ok(());
        }
        let reason = format!("{count} columns where there were {}", self.columns);
        refuse(
            format!("line {number}"),
            reason,
            "export the same columns in every row",
        )
    }
}

/// The step of a converter whose values lie on an even grid, as far as they are written and held exactly.
fn seen_step(values: &[f32]) -> Option<f64> {
    let some = values.iter().step_by(values.len() / LOOKED_AT + 1);
    let mut distinct: Vec<f64> = some.copied().map(f64::from).collect();
    distinct.sort_unstable_by(f64::total_cmp);
    distinct.dedup();
    let (first, last) = (*distinct.first()?, *distinct.last()?);
    let gaps = distinct.windows(2).map(|pair| pair[1] - pair[0]);
    let least = gaps.clone().fold(f64::INFINITY, f64::min);
    let exactly = f64::from(f32::EPSILON) * first.abs().max(last.abs());
    let single: Vec<f64> = gaps.clone().filter(|gap| *gap < 1.5 * least).collect();
    let step = single.iter().sum::<f64>() / single.len() as f64;
    // Noise that no converter rounded leaves gaps of every size.
    let is_whole = |gap: f64| {
        let steps = gap / step;
        steps > MOST_STEPS || (steps - steps.round()).abs() < WHOLE_WITHIN
    };
    let on_grid = distinct.len() >= LEAST_LEVELS && least > EXACTLY * exactly;
    (on_grid && step.is_finite() && gaps.clone().all(is_whole)).then_some(step)
}

/// Straight lines between the rows, at the median step.
fn resampled(name: &str, rows: &Rows) -> Result<(Hertz, Vec<Vec<f32>>), RecordingError> {
    let mut steps: Vec<f64> = rows
        .times
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .collect();
    let middle = steps.len() / 2;
    let (_, step, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
    let (first, last) = (rows.times[0], rows.times[rows.times.len() - 1]);
    let wanted = ((last - first) / *step).floor() + 1.0;
    if wanted > MOST_GROWTH * rows.times.len() as f64 {
        return Err(RecordingError::new(
            name,
            "column 1",
            "the times have gaps far longer than the usual step",
            "export an unbroken recording",
        ));
    }
    let mut channels = vec![Vec::with_capacity(wanted as usize); rows.channels.len()];
    let mut at = 0;
    for i in 0..wanted as usize {
        let time = first + i as f64 * *step;
        while at + 2 < rows.times.len() && rows.times[at + 1] < time {
            at += 1;
        }
        let part =
            ((time - rows.times[at]) / (rows.times[at + 1] - rows.times[at])).clamp(0.0, 1.0);
        for (channel, values) in channels.iter_mut().zip(&rows.channels) {
            let (low, high) = (f64::from(values[at]), f64::from(values[at + 1]));
            channel.push((low + part * (high - low)) as f32);
        }
    }
    Ok((Hertz::hz(1.0 / *step), channels))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn opened(text: &str) -> Result<Recording, RecordingError> {
        read("a.csv", text.as_bytes(), usize::MAX)
    }

    fn channel(recording: &Recording) -> Vec<f32> {
        recording.values(0, 0..usize::MAX).collect()
    }

    #[test]
    fn a_converters_steps_are_seen_through_the_digits_written_and_noise_has_none() {
        let mut gauss = crate::synth::Gauss::new(8);
        let volts: Vec<f64> = (0..4000)
            .map(|n| if n < 2000 { 0.1 } else { 1.3 } + 0.04 * gauss.normal())
            .collect();
        let step = 2.4 * 1.7 / 256.0;
        let rounded: Vec<f64> = volts.iter().map(|it| (it / step).round() * step).collect();
        let rows = (0..).zip(rounded.iter().zip(&volts));
        let text: String = rows
            .map(|(n, (a, b))| format!("{:.6},{a:.5},{b:.7}\n", f64::from(n) * 1e-4))
            .collect();
        let recording = opened(&text).unwrap();
        let seen = recording.step(0).unwrap();
        assert!((seen / step - 1.0).abs() < 1e-3, "{seen} {step}");
        assert_eq!(recording.step(1), None);
    }

    fn table(separator: &str, decimal: &str, end: &str) -> String {
        let row = |i: i32| {
            let time = format!("{:.5}", f64::from(i) * 1e-4).replace('.', decimal);
            let volts = format!("{:.2}", f64::from(i) / 100.0).replace('.', decimal);
            format!("{time}{separator}{volts}{separator}-{volts}{end}")
        };
        (0..20).map(row).collect()
    }

    #[test]
    fn every_way_of_writing_gives_the_same_samples() {
        let want = opened(&table(",", ".", "\n")).unwrap();
        assert_eq!(want.channel_count(), 2);
        assert!((want.sample_rate().to_hz() - 10_000.0).abs() < 1e-6);
        assert!((channel(&want)[7] - 0.07).abs() < 1e-7);
        for (separator, decimal, end) in [
            (";", ",", "\r\n"),
            (";", ".", "\n"),
            ("\t", ",", "\n"),
            (", ", ".", "\n\n"),
        ] {
            let text = table(separator, decimal, end);
            assert_eq!(opened(&text).unwrap(), want, "{separator}{decimal}");
            let titled = format!("\u{feff}time_s{separator}volts\n{text}");
            assert_eq!(opened(&titled).unwrap(), want);
        }
    }

    #[test]
    fn a_wrong_cell_is_named_by_line_and_column() {
        for (cell, reason) in [
            ("x", "`x` is not a number"),
            ("nan", "`nan` is not a number"),
        ] {
            let text = format!("{}0.5,{cell},0\n", table(",", ".", "\n"));
            let error = opened(&text).unwrap_err().to_string();
            assert!(error.starts_with("a.csv: line 21, column 2: "), "{error}");
            assert!(error.contains(reason), "{error}");
        }
    }

    #[test]
    fn time_must_go_on() {
        let text = format!("{}0.0005,1,1\n", table(",", ".", "\n"));
        let error = opened(&text).unwrap_err().to_string();
        assert!(
            error.contains("line 21, column 1: time does not go on"),
            "{error}"
        );
    }

    #[test]
    fn uneven_time_is_resampled_and_said() {
        let row = |i: i32| {
            let time = f64::from(i) * 1e-3 + if i % 2 == 0 { 0.0 } else { 3e-4 };
            format!("{time:.5},{:.5}\n", 2.0 * time)
        };
        let text: String = (0..100).map(row).collect();
        let recording = opened(&text).unwrap();
        assert!(recording.is_time_uneven());
        let step = 1.0 / recording.sample_rate().to_hz();
        for (i, volts) in channel(&recording).iter().enumerate() {
            assert!((f64::from(*volts) - 2.0 * i as f64 * step).abs() < 1e-5);
        }
    }

    #[test]
    fn a_few_rows_are_no_recording() {
        let error = opened("0,1\n1,2\n").unwrap_err().to_string();
        assert!(
            error.contains("2 rows of numbers are no recording"),
            "{error}"
        );
    }
}

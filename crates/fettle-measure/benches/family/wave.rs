//! WAV files of the recordings made, so that the reader is tried too.

use std::io::Cursor;

use super::case::Source;

/// How samples are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Whole(u16),
    Float,
}

/// A WAV file of channels that are equally long; what cannot be written becomes an empty file.
pub(crate) fn file(name: &str, rate: f64, form: Form, channels: &[&[f32]]) -> Source {
    let name = name.to_owned();
    let bytes = bytes(rate, form, channels).unwrap_or_default();
    Source::File { name, bytes }
}

fn bytes(rate: f64, form: Form, channels: &[&[f32]]) -> Result<Vec<u8>, hound::Error> {
    let (bits, sample_format) = match form {
        Form::Whole(bits) => (bits, hound::SampleFormat::Int),
        Form::Float => (32, hound::SampleFormat::Float),
    };
    let spec = hound::WavSpec {
        channels: channels.len() as u16,
        sample_rate: rate as u32,
        bits_per_sample: bits,
        sample_format,
    };
    let mut written = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut written, spec)?;
    let steps = f64::from(bits - 1).exp2();
    let length = channels.iter().map(|it| it.len()).min().unwrap_or(0);
    for n in 0..length {
        for channel in channels {
            match form {
                Form::Whole(_) => {
                    let whole = (f64::from(channel[n]) * steps).round();
                    writer.write_sample(whole.clamp(-steps, steps - 1.0) as i32)?;
                }
                Form::Float => writer.write_sample(channel[n])?,
            }
        }
    }
    writer.finalize()?;
    Ok(written.into_inner())
}

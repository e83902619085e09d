//! What the page and the program say to each other over the socket.

use serde::{Deserialize, Serialize};

/// What the page says. Samples come as binary messages: the number of the first frame as eight bytes,
/// then frames of 32-bit floats, all little-endian.
#[derive(Debug, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(crate) enum Asked {
    /// Begin: how the samples come, and the form that names the dial.
    Begin {
        rate_hz: f64,
        channels: usize,
        fields: Vec<(String, String)>,
    },
    /// Strike the shot that starts there, or take the stroke back.
    Strike { start_s: f64, struck: bool },
    /// The shots to come are fired at this mark; none leaves it to be recognised.
    Firing { mark: Option<String> },
    /// Samples are missing between two frames, which their numbers do not show.
    Lost { from: u64, to: u64 },
    /// No more samples come.
    Finish,
}

/// What the program says.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(crate) enum Told {
    /// It listens.
    Begun {
        token: String,
        /// The marks that can be told, slowest first.
        marks: Vec<String>,
        html: Html,
    },
    /// How loud it is, in words, and what is wrong with it.
    Level { words: String, wrong: String },
    /// The session has changed.
    State {
        html: Html,
        /// A shot heard for the first time: the tone for it, and a sentence.
        #[serde(skip_serializing_if = "Option::is_none")]
        fresh: Option<Fresh>,
        /// Where the last shot starts, and whether it is struck.
        last: Option<(f64, bool)>,
    },
    /// All is written; the form may be sent.
    Finished,
    /// It cannot go on.
    Refused { why: String },
}

/// Parts of the page, drawn.
#[derive(Debug, Serialize)]
pub(crate) struct Html {
    pub(crate) latest: String,
    pub(crate) dial: String,
    pub(crate) shots: String,
}

/// A shot heard for the first time.
#[derive(Debug, Serialize)]
pub(crate) struct Fresh {
    /// `good`, `unclear` or `out`.
    pub(crate) tone: &'static str,
    pub(crate) sentence: String,
}

impl Told {
    pub(crate) fn to_json(&self) -> String {
        serde_json::to_string(self)
            .unwrap_or_else(|_| "{\"kind\":\"refused\",\"why\":\"\"}".to_owned())
    }
}

/// The samples of a binary message: number of the first frame, and the frames.
pub(crate) fn block(bytes: &[u8]) -> Option<(u64, Vec<f32>)> {
    let (first, frames) = bytes.split_first_chunk::<8>()?;
    let (samples, rest) = frames.as_chunks::<4>();
    rest.is_empty().then(|| {
        let samples = samples.iter().map(|sample| f32::from_le_bytes(*sample));
        (u64::from_le_bytes(*first), samples.collect())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_is_a_number_and_whole_samples() {
        let mut bytes = 7_u64.to_le_bytes().to_vec();
        bytes.extend(0.5_f32.to_le_bytes());
        assert_eq!(block(&bytes), Some((7, vec![0.5])));
        assert_eq!(block(&bytes[..11]), None);
        assert_eq!(block(&bytes[..7]), None);
    }

    #[test]
    fn what_the_page_says_is_read() {
        let firing: Asked = serde_json::from_str(r#"{"kind":"firing","mark":null}"#).unwrap();
        assert!(matches!(firing, Asked::Firing { mark: None }));
        assert!(serde_json::from_str::<Asked>(r#"{"kind":"other"}"#).is_err());
    }
}

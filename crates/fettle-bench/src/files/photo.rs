//! Photographs kept: how they are refused, in the bench's words.

use fettle_measure::photograph::PhotographError;

use crate::error::BenchError;

impl From<PhotographError> for BenchError {
    fn from(error: PhotographError) -> Self {
        match error {
            PhotographError::TooLarge { size, most } => Self::TooLarge {
                what: "photograph",
                size,
                most,
            },
            other => Self::NotAPhoto(other),
        }
    }
}

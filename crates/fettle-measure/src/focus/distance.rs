//! Distances in JSON, where a number cannot be infinite: a far subject is the word `inf`, as in a run of readings.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

#[derive(Serialize, Deserialize)]
#[serde(untagged)]
enum Written {
    Number(f64),
    Word(Far),
}

#[derive(Serialize, Deserialize)]
enum Far {
    #[serde(rename = "inf")]
    Inf,
}

impl From<f64> for Written {
    fn from(value: f64) -> Self {
        if value == f64::INFINITY {
            Self::Word(Far::Inf)
        } else {
            Self::Number(value)
        }
    }
}

impl From<Written> for f64 {
    fn from(written: Written) -> Self {
        match written {
            Written::Number(value) => value,
            Written::Word(Far::Inf) => Self::INFINITY,
        }
    }
}

pub(crate) fn serialize<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    Written::from(*value).serialize(serializer)
}

pub(crate) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<f64, D::Error> {
    Written::deserialize(deserializer).map(f64::from)
}

/// The same where there may be no distance: `null`.
pub(crate) mod maybe {
    use super::{Deserialize, Deserializer, Serialize, Serializer, Written};

    pub(crate) fn serialize<S: Serializer>(
        value: &Option<f64>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        value.map(Written::from).serialize(serializer)
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<f64>, D::Error> {
        Ok(Option::<Written>::deserialize(deserializer)?.map(f64::from))
    }
}

#[cfg(test)]
mod tests {
    #[derive(Debug, PartialEq, serde::Serialize, serde::Deserialize)]
    struct Row {
        #[serde(with = "super")]
        distance_m: f64,
        #[serde(with = "super::maybe")]
        sharp_at_m: Option<f64>,
    }

    #[test]
    fn a_far_subject_is_written_as_in_a_run_of_readings() {
        for (row, json) in [
            (
                Row {
                    distance_m: f64::INFINITY,
                    sharp_at_m: None,
                },
                r#"{"distance_m":"inf","sharp_at_m":null}"#,
            ),
            (
                Row {
                    distance_m: 1.5,
                    sharp_at_m: Some(f64::INFINITY),
                },
                r#"{"distance_m":1.5,"sharp_at_m":"inf"}"#,
            ),
        ] {
            assert_eq!(serde_json::to_string(&row).unwrap(), json);
            assert_eq!(serde_json::from_str::<Row>(json).unwrap(), row);
        }
        assert!(serde_json::from_str::<Row>(r#"{"distance_m":"far","sharp_at_m":null}"#).is_err());
    }
}

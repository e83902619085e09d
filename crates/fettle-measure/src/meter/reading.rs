//! Readings of a meter against known light, and how they are read from a table.

use serde::{Deserialize, Serialize};

use super::{Response, light};
use crate::run::{Column, Problem, RunError, Table};

/// Exposure values that any light a meter meets can have, at ISO 100: starlight to the sun's disc.
const EV_LEAST: f64 = -15.0;
const EV_MOST: f64 = 35.0;

const COLUMNS: [Column; 6] = [
    Column::new("true_ev", "EV", EV_LEAST, EV_MOST).or_none(),
    Column::new("luminance_cd_m2", "cd/m²", 1e-6, 1e10).or_none(),
    Column::new("illuminance_lx", "lx", 1e-5, 1e11).or_none(),
    Column::new("indicated_ev", "EV", EV_LEAST, EV_MOST).or_none(),
    Column::new("current_ua", "µA", 1e-6, 1e6).or_none(),
    Column::new("resolution_stops", "stops", 1e-6, 4.0).or_empty(),
];
/// Where the columns stand in [`COLUMNS`].
const TRUTHS: std::ops::Range<usize> = 0..3;
const INDICATIONS: std::ops::Range<usize> = 3..5;
const RESOLUTION: usize = 5;

/// One reading of a meter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Line of the file it was read from, from 1.
    pub line: usize,
    /// The light as it is, as exposure value at ISO 100.
    pub true_ev: f64,
    /// What the meter says, at the same film speed.
    pub indicated_ev: f64,
    /// How finely it was read, in stops; `None` when it is as all others.
    pub resolution_stops: Option<f64>,
}

/// What turns light and currents of a table into exposure values.
#[derive(Clone, Debug, PartialEq)]
pub struct Aids {
    /// Constant of reflected light for `luminance_cd_m2` (ISO 2720).
    pub k: f64,
    /// Constant of incident light for `illuminance_lx` (ISO 2720).
    pub c: f64,
    /// The cell's response for `current_ua`.
    pub response: Option<Response>,
}

impl Default for Aids {
    /// The constants in most use, and no cell.
    fn default() -> Self {
        Self {
            k: light::K,
            c: light::C_FLAT,
            response: None,
        }
    }
}

/// Reads `true_ev,indicated_ev` from a table, see [`read_with`].
///
/// # Errors
/// As [`read_with`].
pub fn read(bytes: &[u8]) -> Result<Vec<Reading>, RunError> {
    read_with(bytes, &Aids::default())
}

/// Reads a run from a table.
///
/// The light stands in one of the columns `true_ev`, `luminance_cd_m2` and `illuminance_lx`, the meter's answer in `indicated_ev` or
/// as the cell's current in `current_ua`. A column `resolution_stops` may tell how finely each was read.
///
/// # Errors
/// Whatever is wrong with the table, none or several of the columns for one thing, a current without a response to read it by
/// or beyond its table, constants that are none.
pub fn read_with(bytes: &[u8], aids: &Aids) -> Result<Vec<Reading>, RunError> {
    let table = Table::read(bytes, &COLUMNS)?;
    let truth = the_one(&table, TRUTHS)?;
    let indication = the_one(&table, INDICATIONS)?;
    let mut readings = Vec::with_capacity(table.rows().len());
    let mut problems = Vec::new();
    for row in table.rows() {
        let ev = |column: usize| -> Result<f64, &'static str> {
            let value = row.get(column).ok_or("no value: write one")?;
            let ev = match column {
                1 => light::ev_of_luminance(value, aids.k)
                    .ok_or("K is no constant: write 10.6 to 13.4"),
                2 => light::ev_of_illuminance(value, aids.c)
                    .ok_or("C is no constant: write 240 to 540"),
                4 => match &aids.response {
                    None => Err("a current tells no EV without the cell's response: give that too"),
                    Some(response) => response.ev_of(value).ok_or(
                        "lies beyond the cell's table: leave it out, or give a longer table",
                    ),
                },
                _ => Ok(value),
            }?;
            if (EV_LEAST..=EV_MOST).contains(&ev) {
                Ok(ev)
            } else {
                Err("is no light that a meter meets: check the figure and its unit")
            }
        };
        let mut told = |column: usize| {
            ev(column)
                .map_err(|message| {
                    problems.push(Problem {
                        line: Some(row.line()),
                        column: Some(COLUMNS[column].name().to_owned()),
                        message: message.to_owned(),
                    });
                })
                .ok()
        };
        if let (Some(true_ev), Some(indicated_ev)) = (told(truth), told(indication)) {
            readings.push(Reading {
                line: row.line(),
                true_ev,
                indicated_ev,
                resolution_stops: row.get(RESOLUTION),
            });
        }
    }
    RunError::none_of(problems)?;
    Ok(readings)
}

/// The one column of several that stands in the table.
fn the_one(table: &Table, among: std::ops::Range<usize>) -> Result<usize, RunError> {
    let names: Vec<String> = COLUMNS[among.clone()]
        .iter()
        .map(|c| format!("`{}`", c.name()))
        .collect();
    let mut there = among.filter(|column| table.has(*column));
    match (there.next(), there.next()) {
        (Some(one), None) => Ok(one),
        (None, _) => Err(RunError::whole(format!(
            "the column {} is missing: add it{} with a value in every row",
            names[0],
            if names.len() > 1 {
                format!(", or {},", names[1..].join(" or "))
            } else {
                String::new()
            }
        ))),
        (Some(_), Some(_)) => Err(RunError::whole(format!(
            "{} say the same thing: leave all but one out",
            names.join(", ")
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn light_and_current_are_read_as_exposure_values() {
        let aids = Aids {
            response: Some(Response::log_linear(10.0, 16.0, 1.0).unwrap()),
            ..Aids::default()
        };
        let text = b"luminance_cd_m2;current_ua;resolution_stops\n0,125;16\n4096;32,0;0,5\n";
        let readings = read_with(text, &aids).unwrap();
        let evs: Vec<_> = readings
            .iter()
            .map(|r| (r.line, r.true_ev, r.indicated_ev))
            .collect();
        assert_eq!(evs, [(2, 0.0, 10.0), (3, 15.0, 11.0)]);
        assert_eq!(readings[1].resolution_stops, Some(0.5));
        let readings = read_with(b"illuminance_lx,indicated_ev\n2.5,1\n", &aids).unwrap();
        assert_eq!((readings[0].true_ev, readings[0].indicated_ev), (0.0, 1.0));
    }

    #[test]
    fn what_is_wrong_is_named_with_its_place() {
        let said = |text: &str| read(text.as_bytes()).unwrap_err().to_string();
        assert!(said("true_ev\n5\n").contains("the column `indicated_ev` is missing"));
        assert!(said("indicated_ev,x\n5,1\n").contains("the column `true_ev` is missing"));
        assert!(
            said("true_ev,luminance_cd_m2,indicated_ev\n5,4,5\n").contains("leave all but one out")
        );
        assert!(
            said("true_ev,current_ua\n5,4\n")
                .starts_with("line 2, column `current_ua`: a current tells")
        );
        assert!(
            said("true_ev,indicated_ev\n5,5\n900,6\n")
                .starts_with("line 3, column `true_ev`: 900 EV")
        );
        assert!(
            said("true_ev,indicated_ev\n5,five\n").starts_with("line 2, column `indicated_ev`")
        );
        assert!(said("true_ev,indicated_ev\n5,inf\n").starts_with("line 2, column `indicated_ev`"));
        assert!(said("luminance_cd_m2,indicated_ev\n-2,5\n").contains("-2 cd/m² cannot be right"));
        let table = Aids {
            response: Some(Response::table(&[(5.0, 1.0), (6.0, 2.0)]).unwrap()),
            ..Aids::default()
        };
        let beyond = read_with(b"true_ev,current_ua\n5,4\n", &table).unwrap_err();
        assert!(beyond.to_string().contains("lies beyond the cell's table"));
        let no_constant = Aids {
            k: f64::NAN,
            ..Aids::default()
        };
        assert!(read_with(b"luminance_cd_m2,indicated_ev\n2,5\n", &no_constant).is_err());
    }
}

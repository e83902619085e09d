//! A part to have made: files for the shop, and its sheet.
//!
//! All in millimetres and true to size. Curves that a format has no word for are within a micrometre; equal input gives equal bytes, and no file holds
//! a time or a place.

mod dxf;
mod office;
pub(crate) mod scene;
mod sheet;
mod spline;
mod step;
mod svg;
mod views;

use fettle_measure::gear::part::{Form, Part};

pub use dxf::dxf;
pub use sheet::{Corner, SHEET_MM, data, sheet};
pub use step::step;
pub use svg::svg;

/// How far a curve may be off where a format has none of its kind, its last written digit included.
const OFF_MM: f64 = 0.9e-3;

/// What the part is, in a line.
#[must_use]
pub fn name(part: &Part) -> String {
    let of = &part.options;
    let form = match of.form {
        Form::Rack => "rack",
        Form::Gear => "gear",
    };
    format!(
        "{form}, {} teeth, module {} mm, {} mm thick",
        of.teeth, of.module_mm, part.thickness_mm
    )
}

/// A number with as many decimals as say something.
pub(crate) fn decimal(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    match text {
        "-0" | "" => "0".to_owned(),
        _ => text.to_owned(),
    }
}

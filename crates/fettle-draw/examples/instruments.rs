//! Writes the charts of the instruments, to be looked at: `instruments FOLDER`.

use std::fs;
use std::path::PathBuf;

use fettle_draw::{Sheet, rangefinder_chart, register_chart};
use fettle_measure::{rangefinder, register};

const DEPTHS: &[u8] = b"x_mm,y_mm,reading_mm\n-16,10,44.351\n0,10,44.348\n16,10,44.369\n-16,0,44.352\n0,0,44.364\n16,0,44.371\n-16,-10,44.361\n0,-10,44.372\n16,-10,44.384\n";
const MEETINGS: &[u8] = b"distance_m,extension_mm\n1,2.79\n1.2,2.31\n1.5,1.86\n2,1.41\n3,0.965\n5,0.63\n10,0.36\ninf,0.095\n";

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("which folder?")?);
    let mut options = register::Options::new(44.5, 0.03);
    options.shims = register::Stock::read("0.05x3,0.1x2")?;
    let report = register::analyse(&register::read(DEPTHS)?, &options)?;
    fs::write(
        folder.join("register.svg"),
        register_chart(&report, Sheet::Light),
    )?;
    options.seats = [(-22.0, 16.0), (22.0, 16.0), (22.0, -16.0), (-22.0, -16.0)]
        .map(|(x_mm, y_mm)| register::Place { x_mm, y_mm })
        .to_vec();
    let report = register::analyse(&register::read(DEPTHS)?, &options)?;
    fs::write(
        folder.join("seats.svg"),
        register_chart(&report, Sheet::Light),
    )?;

    let mut options = rangefinder::Options::new(50.0, 2.0, 0.03);
    options.base_mm = Some(38.0);
    options.magnification = 0.7;
    let report = rangefinder::analyse(&rangefinder::read(MEETINGS)?, &options)?;
    fs::write(
        folder.join("rangefinder.svg"),
        rangefinder_chart(&report, Sheet::Light),
    )?;
    Ok(())
}

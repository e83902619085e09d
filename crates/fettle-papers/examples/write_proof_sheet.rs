//! Writes sample proof sheets into a folder, to be looked at: `write_proof_sheet FOLDER`.

#[path = "../tests/support/hard.rs"]
mod hard;
#[path = "../tests/support/mod.rs"]
mod support;

use std::path::PathBuf;

use fettle_papers::{PaperSize, proof_sheet};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("which folder?")?);
    let sheets = [
        ("usual", support::usual()),
        ("bare", support::bare()),
        ("crowded", hard::crowded()),
        ("scripts", hard::scripts()),
        ("hostile", hard::hostile()),
        ("absurd", hard::absurd()),
    ];
    for (name, sheet) in sheets {
        for (size_name, size) in [("a4", PaperSize::A4), ("letter", PaperSize::Letter)] {
            let pdf = proof_sheet(&sheet, size)?;
            std::fs::write(folder.join(format!("{name}-{size_name}.pdf")), &pdf.bytes)?;
        }
    }
    Ok(())
}

//! Writes a sample of every paper into a folder, to be looked at: `write_papers FOLDER`.

#[path = "../tests/support/goods.rs"]
mod goods;
#[path = "../tests/support/hard.rs"]
mod hard;
#[path = "../tests/support/heads.rs"]
mod heads;
#[path = "../tests/support/owner.rs"]
mod owner;
#[path = "../tests/support/mod.rs"]
mod support;

use std::path::PathBuf;

use fettle_papers::{
    Language, PaperError, PaperSize, Pdf, ProofSheet, arrival_receipt, bill, contents_declaration,
    findings_report, packing_list, proof_sheet, quote_paper,
};

type Made = (&'static str, Result<Pdf, PaperError>);

fn all(language: Language, size: PaperSize) -> Vec<Made> {
    let proof = |sheet: ProofSheet| proof_sheet(&ProofSheet { language, ..sheet }, size);
    vec![
        ("proof-usual", proof(support::usual())),
        ("proof-bare", proof(support::bare())),
        ("proof-crowded", proof(hard::crowded())),
        ("proof-scripts", proof(hard::scripts())),
        ("proof-hostile", proof(hard::hostile())),
        ("proof-absurd", proof(hard::absurd())),
        ("receipt", arrival_receipt(&owner::receipt(language), size)),
        ("quote", quote_paper(&owner::quote(language), size)),
        ("quote-extra", quote_paper(&owner::extra(language), size)),
        ("report", findings_report(&goods::report(language, 4), size)),
        (
            "report-60",
            findings_report(&goods::report(language, 60), size),
        ),
        ("bill", bill(&goods::bill(language), size)),
        ("credit", bill(&goods::credit(language), size)),
        ("packing", packing_list(&goods::packing(language), size)),
        (
            "declaration",
            contents_declaration(&goods::declaration(language), size),
        ),
    ]
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).ok_or("which folder?")?);
    for language in Language::ALL {
        for (size_name, size) in [("a4", PaperSize::A4), ("letter", PaperSize::Letter)] {
            for (name, made) in all(language, size) {
                let file = format!("{name}-{}-{size_name}.pdf", language.code());
                std::fs::write(folder.join(file), &made?.bytes)?;
            }
        }
    }
    Ok(())
}

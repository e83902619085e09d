//! The proof sheet as a file.

mod support;

use fettle_papers::{PaperSize, proof_sheet};

#[test]
fn equal_sheets_give_equal_bytes() {
    let first = proof_sheet(&support::usual(), PaperSize::A4).unwrap();
    let again = proof_sheet(&support::usual(), PaperSize::A4).unwrap();
    assert_eq!(first, again);
    assert_eq!(first.warnings, []);
}

#[test]
fn the_file_declares_pdf_a_2b_and_carries_its_colour_profile() {
    let pdf = proof_sheet(&support::usual(), PaperSize::Letter).unwrap();
    let text = String::from_utf8_lossy(&pdf.bytes);
    assert!(text.starts_with("%PDF-1.7"));
    assert!(text.contains("<pdfaid:part>2</pdfaid:part>"));
    assert!(text.contains("<pdfaid:conformance>B</pdfaid:conformance>"));
    assert!(text.contains("/GTS_PDFA1"));
}

#[test]
fn a_sheet_without_readings_is_one_page() {
    let pdf = proof_sheet(&support::bare(), PaperSize::A4).unwrap();
    assert_eq!(pdf.pages, 1);
    assert_eq!(pdf.warnings, []);
}

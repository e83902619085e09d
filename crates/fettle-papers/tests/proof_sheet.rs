//! The proof sheet as a file.

#[path = "support/hard.rs"]
mod hard;
#[path = "support/heads.rs"]
mod heads;
mod support;

use fettle_papers::{PaperSize, PaperWarning, ProofSheet, proof_sheet};
use proptest::prelude::*;

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
fn every_sheet_can_be_made_on_both_sizes() {
    let sheets: [fn() -> ProofSheet; 4] =
        [hard::crowded, hard::scripts, hard::hostile, hard::absurd];
    for sheet in sheets {
        for size in [PaperSize::A4, PaperSize::Letter] {
            let pdf = proof_sheet(&sheet(), size).unwrap();
            assert!((1..=6).contains(&pdf.pages), "{} pages", pdf.pages);
        }
    }
}

#[test]
fn characters_no_face_has_are_told_and_do_not_stop_the_sheet() {
    let mut sheet = support::usual();
    sheet.owner = "𓀀𓀁".to_owned();
    let pdf = proof_sheet(&sheet, PaperSize::A4).unwrap();
    assert_eq!(pdf.warnings, [PaperWarning::Illegible("𓀀𓀁".to_owned())]);
}

#[test]
fn markup_in_a_text_is_only_text() {
    let pdf = proof_sheet(&hard::hostile(), PaperSize::A4).unwrap();
    assert_eq!(pdf.warnings, []);
}

#[test]
fn another_visit_is_another_file() {
    let mut other = support::usual();
    other.visit = "58".to_owned();
    let first = proof_sheet(&support::usual(), PaperSize::A4).unwrap();
    let second = proof_sheet(&other, PaperSize::A4).unwrap();
    assert_ne!(first.bytes, second.bytes);
}

#[test]
fn a_usual_camera_fits_on_two_pages() {
    assert_eq!(
        proof_sheet(&support::usual(), PaperSize::A4).unwrap().pages,
        2
    );
}

#[test]
fn a_sheet_without_readings_is_one_page() {
    let pdf = proof_sheet(&support::bare(), PaperSize::A4).unwrap();
    assert_eq!(pdf.pages, 1);
    assert_eq!(pdf.warnings, []);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_text_stops_a_sheet(owner in any::<String>(), work in "\\PC{0,60}", mark in "\\PC{0,9}") {
        let mut sheet = support::usual();
        sheet.owner = owner;
        sheet.done = vec![work];
        sheet.speeds[0].marked = mark.clone();
        sheet.traces.truncate(1);
        sheet.traces[0].marked = mark;
        let pdf = proof_sheet(&sheet, PaperSize::A4);
        prop_assert!(pdf.is_ok(), "{pdf:?}");
    }
}

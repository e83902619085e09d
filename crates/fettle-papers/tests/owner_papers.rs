//! The papers between bench and owner as files.

#[path = "support/goods.rs"]
mod goods;
#[path = "support/heads.rs"]
mod heads;
#[path = "support/owner.rs"]
mod owner;

use fettle_papers::{
    Language, PaperSize, PaperWarning, Pdf, QuoteAlternative, arrival_receipt, bill,
    contents_declaration, findings_report, packing_list, quote_paper,
};

const SIZES: [PaperSize; 2] = [PaperSize::A4, PaperSize::Letter];

fn assert_sound(pdf: &Pdf, again: &Pdf, pages: std::ops::RangeInclusive<usize>) {
    assert_eq!(pdf, again, "equal contents give equal bytes");
    assert_eq!(pdf.warnings, []);
    assert!(pages.contains(&pdf.pages), "{} pages", pdf.pages);
    let text = String::from_utf8_lossy(&pdf.bytes);
    assert!(text.contains("<pdfaid:part>2</pdfaid:part>"));
    assert!(text.contains("<pdfaid:conformance>B</pdfaid:conformance>"));
}

#[test]
fn every_paper_is_made_in_every_language_on_both_sizes() {
    for language in Language::ALL {
        for size in SIZES {
            let receipt = owner::receipt(language);
            let made = || arrival_receipt(&receipt, size).unwrap();
            assert_sound(&made(), &made(), 2..=2);
            let quote = owner::quote(language);
            let made = || quote_paper(&quote, size).unwrap();
            assert_sound(&made(), &made(), 1..=2);
            let extra = owner::extra(language);
            let made = || quote_paper(&extra, size).unwrap();
            assert_sound(&made(), &made(), 1..=1);
            let report = goods::report(language, 4);
            let made = || findings_report(&report, size).unwrap();
            assert_sound(&made(), &made(), 2..=3);
            for paper in [goods::bill(language), goods::credit(language)] {
                let made = || bill(&paper, size).unwrap();
                assert_sound(&made(), &made(), 1..=1);
            }
            let list = goods::packing(language);
            let made = || packing_list(&list, size).unwrap();
            assert_sound(&made(), &made(), 1..=1);
            let declaration = goods::declaration(language);
            let made = || contents_declaration(&declaration, size).unwrap();
            assert_sound(&made(), &made(), 1..=1);
        }
    }
}

#[test]
fn a_receipt_with_nothing_on_it_is_one_page() {
    let mut receipt = owner::receipt(Language::En);
    receipt.came_with.clear();
    receipt.condition.clear();
    receipt.owners_words.clear();
    receipt.wanted.clear();
    receipt.declared = None;
    receipt.photographs.clear();
    receipt.terms.clear();
    assert_eq!(arrival_receipt(&receipt, PaperSize::A4).unwrap().pages, 1);
}

#[test]
fn a_photograph_that_cannot_be_read_is_told_and_does_not_stop_the_receipt() {
    let mut receipt = owner::receipt(Language::En);
    receipt.photographs[1].bytes.truncate(200);
    let pdf = arrival_receipt(&receipt, PaperSize::A4).unwrap();
    let caption = receipt.photographs[1].caption.clone();
    assert_eq!(pdf.warnings, [PaperWarning::Photograph(caption)]);
}

#[test]
fn a_quote_bears_no_lines_and_many_alternatives() {
    let mut quote = owner::quote(Language::De);
    quote.alternatives = vec![QuoteAlternative::default()];
    quote.found.clear();
    assert_eq!(quote_paper(&quote, PaperSize::A4).unwrap().pages, 1);
    quote.alternatives = Vec::new();
    assert_eq!(quote_paper(&quote, PaperSize::A4).unwrap().pages, 1);
    quote.alternatives = (0..8)
        .flat_map(|_| owner::quote(Language::De).alternatives)
        .collect();
    assert!(quote_paper(&quote, PaperSize::Letter).unwrap().pages < 9);
}

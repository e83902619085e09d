//! The papers between bench and owner as files.

#[path = "support/filled.rs"]
mod filled;
#[path = "support/goods.rs"]
mod goods;
#[path = "support/heads.rs"]
mod heads;
#[path = "support/owner.rs"]
mod owner;

use proptest::prelude::*;

use fettle_papers::{
    LabelGrid, LabelLayout, Language, PaperSize, PaperWarning, Pdf, QuoteAlternative,
    arrival_receipt, bill, contents_declaration, findings_report, labels, packing_list,
    quote_paper,
};

/// Small enough to be drawn at once; the benches have photographs as pages show them.
const SIDE: u32 = 400;
const SIZES: [PaperSize; 2] = [PaperSize::A4, PaperSize::Letter];

const LAYOUTS: [LabelLayout; 3] = [
    LabelLayout::Sheet {
        grid: None,
        taken: 0,
    },
    LabelLayout::Sheet {
        grid: Some(LabelGrid {
            columns: 2,
            rows: 8,
            left_mm: 4.0,
            top_mm: 13.0,
            width_mm: 99.0,
            height_mm: 33.0,
            gap_x_mm: 2.5,
            gap_y_mm: 0.0,
        }),
        taken: 5,
    },
    LabelLayout::Single {
        width_mm: 60.0,
        height_mm: 30.0,
    },
];

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
            let receipt = owner::receipt(language, SIDE);
            let made = || arrival_receipt(&receipt, size).unwrap();
            assert_sound(&made(), &made(), 2..=2);
            let quote = owner::quote(language);
            let made = || quote_paper(&quote, size).unwrap();
            assert_sound(&made(), &made(), 1..=2);
            let extra = owner::extra(language);
            let made = || quote_paper(&extra, size).unwrap();
            assert_sound(&made(), &made(), 1..=1);
            let report = goods::report(language, 4, SIDE);
            let made = || findings_report(&report, size).unwrap();
            assert_sound(&made(), &made(), 2..=3);
            for paper in [goods::bill(language), goods::credit(language)] {
                let made = || bill(&paper, size).unwrap();
                assert_sound(&made(), &made(), 1..=1);
            }
            let list = goods::packing(language);
            let made = || packing_list(&list, size).unwrap();
            assert_sound(&made(), &made(), 1..=1);
            for layout in LAYOUTS {
                let tags = goods::labels(language, layout);
                let made = || labels(&tags, size).unwrap();
                let pages = if matches!(layout, LabelLayout::Single { .. }) {
                    5
                } else {
                    1
                };
                assert_sound(&made(), &made(), pages..=pages);
            }
            let declaration = goods::declaration(language);
            let made = || contents_declaration(&declaration, size).unwrap();
            assert_sound(&made(), &made(), 1..=1);
        }
    }
}

#[test]
fn a_receipt_with_nothing_on_it_is_one_page() {
    let mut receipt = owner::receipt(Language::En, SIDE);
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
    let mut receipt = owner::receipt(Language::En, SIDE);
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

#[test]
fn a_code_that_holds_too_much_is_told_and_left_out() {
    let mut tags = goods::labels(Language::En, LAYOUTS[0]);
    let long = "x".repeat(4000);
    tags.labels.truncate(1);
    if let fettle_papers::Label::Camera { code, .. } = &mut tags.labels[0] {
        code.clone_from(&long);
    }
    let pdf = labels(&tags, PaperSize::A4).unwrap();
    assert_eq!(pdf.warnings, [PaperWarning::Code(long)]);
}

#[test]
fn no_labels_are_an_empty_page_and_many_run_over_sheets() {
    let mut tags = goods::labels(Language::En, LAYOUTS[0]);
    let few = tags.labels.clone();
    tags.labels = few.iter().cycle().take(43).cloned().collect();
    assert_eq!(labels(&tags, PaperSize::A4).unwrap().pages, 3);
    tags.labels.clear();
    assert_eq!(labels(&tags, PaperSize::A4).unwrap().pages, 1);
}

#[test]
fn every_paper_bears_hard_texts_in_every_place() {
    for (kind, text) in filled::HARD {
        for (size, language) in SIZES.into_iter().zip(Language::ALL) {
            for (paper, made) in filled::papers(text, language, size) {
                let pdf = made.unwrap_or_else(|error| panic!("{paper} with {kind}: {error}"));
                assert!(
                    (1..=6).contains(&pdf.pages),
                    "{paper} with {kind}: {} pages",
                    pdf.pages
                );
                let illegible = pdf
                    .warnings
                    .iter()
                    .any(|it| matches!(it, PaperWarning::Illegible(_)));
                let lacking = matches!(kind, "unknown" | "marks");
                assert_eq!(
                    illegible, lacking,
                    "{paper} with {kind}: {:?}",
                    pdf.warnings
                );
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn no_text_stops_a_paper(text in any::<String>()) {
        for (paper, made) in filled::papers(&text, Language::De, PaperSize::A4) {
            prop_assert!(made.is_ok(), "{paper}: {made:?}");
        }
    }
}

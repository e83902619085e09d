//! How long each paper takes. The goal is less than a second each, a report with 60 photographs from a tablet included.

#[path = "../tests/support/goods.rs"]
mod goods;
#[path = "../tests/support/heads.rs"]
mod heads;
#[path = "../tests/support/owner.rs"]
mod owner;

use std::sync::atomic::{AtomicU32, Ordering};

use divan::Bencher;
use fettle_papers::{
    FindingsReport, LabelLayout, Language, PaperError, PaperSize, Pdf, arrival_receipt, bill,
    contents_declaration, findings_report, labels, packing_list, quote_paper,
};

/// The longer side of a photograph in pixels, as a page shows it.
const AS_SHOWN: u32 = 1600;

fn main() {
    divan::main();
}

/// A paper that differs from the last, as papers do at a bench, so that nothing is remembered.
fn visit() -> String {
    static VISITS: AtomicU32 = AtomicU32::new(100);
    VISITS.fetch_add(1, Ordering::Relaxed).to_string()
}

fn made(pdf: Result<Pdf, PaperError>) -> usize {
    let pages = pdf.map_or(0, |pdf| pdf.pages);
    assert!(pages > 0, "the paper could not be made");
    pages
}

#[divan::bench(sample_count = 10)]
fn receipt_with_three_photographs(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut receipt = owner::receipt(Language::En, AS_SHOWN);
            receipt.visit = visit();
            receipt
        })
        .bench_values(|it| made(arrival_receipt(&it, PaperSize::A4)));
}

#[divan::bench(sample_count = 10)]
fn quote_of_three_alternatives(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut quote = owner::quote(Language::De);
            quote.visit = visit();
            quote
        })
        .bench_values(|it| made(quote_paper(&it, PaperSize::A4)));
}

#[divan::bench(sample_count = 10)]
fn quote_for_extra_work(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut quote = owner::extra(Language::En);
            quote.visit = visit();
            quote
        })
        .bench_values(|it| made(quote_paper(&it, PaperSize::Letter)));
}

/// The photographs as a page shows them: 1600 pixels wide.
#[divan::bench(sample_count = 10, args = [4, 60])]
fn report_with_photographs(bencher: Bencher<'_, '_>, photographs: u32) {
    let report = goods::report(Language::En, photographs, AS_SHOWN);
    bencher
        .with_inputs(|| FindingsReport {
            visit: visit(),
            ..report.clone()
        })
        .bench_values(|it| made(findings_report(&it, PaperSize::A4)));
}

#[divan::bench(sample_count = 10)]
fn bill_of_six_lines(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut bill = goods::bill(Language::De);
            bill.number = visit();
            bill
        })
        .bench_values(|it| made(bill(&it, PaperSize::A4)));
}

#[divan::bench(sample_count = 10)]
fn credit_note(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut credit = goods::credit(Language::En);
            credit.number = visit();
            credit
        })
        .bench_values(|it| made(bill(&it, PaperSize::Letter)));
}

#[divan::bench(sample_count = 10)]
fn packing_list_of_two_cameras(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut list = goods::packing(Language::En);
            list.tracking = visit();
            list
        })
        .bench_values(|it| made(packing_list(&it, PaperSize::A4)));
}

#[divan::bench(sample_count = 10)]
fn declaration_of_three_contents(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| {
            let mut declaration = goods::declaration(Language::En);
            declaration.reference = visit();
            declaration
        })
        .bench_values(|it| made(contents_declaration(&it, PaperSize::A4)));
}

/// Two hundred labels on plain paper.
#[divan::bench(sample_count = 10)]
fn two_hundred_labels(bencher: Bencher<'_, '_>) {
    let layout = LabelLayout::Sheet {
        grid: None,
        taken: 0,
    };
    bencher
        .with_inputs(|| {
            let mut tags = goods::labels(Language::En, layout);
            let few = tags.labels.clone();
            tags.labels = few.iter().cycle().take(200).cloned().collect();
            tags.bench = visit();
            tags
        })
        .bench_values(|it| made(labels(&it, PaperSize::A4)));
}

//! The sheet of a part to be made as a file.

use fettle_papers::{PartSheet, part_sheet};

fn sheet() -> PartSheet {
    PartSheet {
        title: "Gear of 14 teeth, module 0.4".to_owned(),
        bench: "The bench at Saltmere".to_owned(),
        issued: jiff::civil::date(2026, 11, 27),
        svg: "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"210mm\" height=\"297mm\" viewBox=\"0 0 210 297\">\
              <path d=\"M10 10h190v277h-190z\" fill=\"none\" stroke=\"#000\"/></svg>"
            .to_owned(),
        width_mm: 210.0,
        height_mm: 297.0,
    }
}

#[test]
fn the_page_is_as_large_as_the_drawing() {
    let pdf = part_sheet(&sheet()).unwrap();
    assert_eq!(pdf, part_sheet(&sheet()).unwrap());
    assert_eq!((pdf.pages, pdf.warnings.len()), (1, 0));
    let text = String::from_utf8_lossy(&pdf.bytes);
    assert!(text.contains("<pdfaid:part>2</pdfaid:part>"));
    // 210 and 297 mm in points of 1/72 inch.
    assert!(
        text.contains("595.27") && text.contains("841.8"),
        "media box"
    );
}

#[test]
fn what_is_no_drawing_is_refused() {
    let broken = PartSheet {
        svg: "no drawing".to_owned(),
        ..sheet()
    };
    assert!(part_sheet(&broken).is_err());
}

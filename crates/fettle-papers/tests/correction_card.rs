//! The paper with the correction card as a file.

use fettle_papers::{BenchHead, CameraHead, CorrectionCard, Language, PaperSize, correction_card};

fn card() -> CorrectionCard {
    CorrectionCard {
        language: Language::En,
        bench: BenchHead {
            name: "The bench at Saltmere".to_owned(),
            lines: vec!["3 Ropewalk".to_owned()],
        },
        visit: "57".to_owned(),
        camera: CameraHead {
            maker: "Aldous".to_owned(),
            model: "Sprat".to_owned(),
            serials: vec![("body".to_owned(), "20417".to_owned())],
        },
        issued: jiff::civil::date(2026, 11, 25),
        card_svg: "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"85mm\" height=\"54mm\" viewBox=\"0 0 85 54\">\
                   <text x=\"5\" y=\"10\" font-size=\"4\">EV 9: +1/3</text></svg>"
            .to_owned(),
        width_mm: 85.0,
        remarks: vec!["Below EV 5 the needle does not move.".to_owned()],
    }
}

#[test]
fn both_cards_stand_on_one_page_and_equal_cards_give_equal_bytes() {
    for size in [PaperSize::A4, PaperSize::Letter] {
        let first = correction_card(&card(), size).unwrap();
        assert_eq!(first, correction_card(&card(), size).unwrap());
        assert_eq!((first.pages, first.warnings.len()), (1, 0));
        let text = String::from_utf8_lossy(&first.bytes);
        assert!(text.contains("<pdfaid:part>2</pdfaid:part>"));
    }
}

#[test]
fn a_card_that_is_no_drawing_is_refused() {
    let broken = CorrectionCard {
        card_svg: "no drawing".to_owned(),
        ..card()
    };
    assert!(correction_card(&broken, PaperSize::A4).is_err());
}

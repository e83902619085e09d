//! Papers between bench and owner, to try the papers on.

use std::io::Cursor;

use fettle_papers::{
    AgreedQuote, Amount, ArrivalReceipt, Language, OwnerHead, PartGrade, Photograph,
    QuoteAlternative, QuoteKind, QuoteLine, QuotePaper, TaxLine,
};
use image::{ImageFormat, Rgb, RgbImage};
use jiff::civil::date;

use crate::heads::{bench, camera};

pub(crate) fn owner() -> OwnerHead {
    OwnerHead {
        name: "Ottoline Marsh".to_owned(),
        lines: vec!["8 Quay Lane".to_owned(), "Nether Saltmere".to_owned()],
    }
}

fn texts(of: &[&str]) -> Vec<String> {
    of.iter().map(|&it| it.to_owned()).collect()
}

/// A photograph of nothing, three to four and upright at every third seed: bands of grey that the seed changes.
pub(crate) fn photograph(seed: u32, side: u32, caption: &str) -> Photograph {
    let (width, height) = if seed % 3 == 2 {
        (side * 3 / 4, side)
    } else {
        (side, side * 3 / 4)
    };
    let picture = RgbImage::from_fn(width, height, |x, y| {
        let round = (x.abs_diff(width / 2).pow(2) + y.abs_diff(height / 2).pow(2)).isqrt();
        let tone = (round * 3 / 2 + seed * 37) % 200 + 40;
        Rgb([tone as u8, (tone * 9 / 10) as u8, (tone * 8 / 10) as u8])
    });
    let mut bytes = Cursor::new(Vec::new());
    let written = picture.write_to(&mut bytes, ImageFormat::Jpeg);
    assert!(written.is_ok(), "{written:?}");
    Photograph {
        bytes: bytes.into_inner(),
        caption: caption.to_owned(),
    }
}

pub(crate) fn receipt(language: Language, side: u32) -> ArrivalReceipt {
    ArrivalReceipt {
        language,
        bench: bench(),
        visit: "57".to_owned(),
        owner: owner(),
        camera: camera(),
        arrived: date(2026, 10, 30),
        issued: date(2026, 10, 30),
        came_with: texts(&[
            "lens 80 mm",
            "leather case, strap torn",
            "front cap",
            "film spool",
        ]),
        condition: texts(&[
            "Leatherette lifting at the back door. Brassed edges, a dent at the lower left corner of the hood.",
            "Taking lens: slight haze, one cleaning mark.",
        ]),
        owners_words: texts(&[
            "It has sat in a drawer since my aunt died. The slow speeds stick and the frames overlap.",
        ]),
        wanted: texts(&["To take it on a journey in spring."]),
        declared: Some(Amount {
            amount: "1200.00".to_owned(),
            currency: "EUR".to_owned(),
        }),
        photographs: vec![
            photograph(1, side, "Front, with the case"),
            photograph(2, side, "The hood’s lower left corner"),
            photograph(3, side, "The back door open"),
        ],
        terms: texts(&[
            "Cameras not fetched within a year of being ready are sold for the cost of storage.",
        ]),
    }
}

fn work(words: &str, likely: u32, nine: u32, amount: &str) -> QuoteLine {
    QuoteLine {
        words: words.to_owned(),
        minutes_likely: Some(likely),
        minutes_nine_in_ten: Some(nine),
        amount: Some(amount.to_owned()),
        ..QuoteLine::default()
    }
}

fn part(words: &str, quantity: u32, grade: PartGrade, amount: Option<&str>) -> QuoteLine {
    QuoteLine {
        words: words.to_owned(),
        quantity: Some(quantity),
        grade: Some(grade),
        amount: amount.map(str::to_owned),
        ..QuoteLine::default()
    }
}

fn vat(net: &str, tax: &str) -> Vec<TaxLine> {
    vec![TaxLine {
        percent: "19".to_owned(),
        net: net.to_owned(),
        tax: tax.to_owned(),
    }]
}

pub(crate) fn quote(language: Language) -> QuotePaper {
    let way = work("The way in and back", 55, 80, "55.00");
    let train = work(
        "Wash the old grease out of the gear train and lubricate it",
        70,
        115,
        "70.00",
    );
    let pawl = work("Replace the wind pawl", 25, 45, "25.00");
    let new_pawl = part("wind pawl", 1, PartGrade::Made, Some("38.50"));
    let screws = part("screw of the lens board", 4, PartGrade::Salvaged, None);
    QuotePaper {
        language,
        bench: bench(),
        visit: "57".to_owned(),
        owner: owner(),
        camera: camera(),
        issued: date(2026, 11, 3),
        valid_until: Some(date(2026, 12, 3)),
        currency: "EUR".to_owned(),
        tax_name: if language == Language::De {
            "MwSt."
        } else {
            "VAT"
        }
        .to_owned(),
        hourly_rate: Some("60.00".to_owned()),
        found: texts(&[
            "Grease in the shutter’s gear train has hardened; the slow speeds hang.",
            "The wind pawl has sheared, so that frames overlap. It was forced against the stiff train.",
        ]),
        alternatives: vec![
            QuoteAlternative {
                kind: QuoteKind::Repair,
                lines: vec![way.clone(), train.clone(), pawl.clone(), new_pawl.clone()],
                net: "188.50".to_owned(),
                taxes: vat("188.50", "35.82"),
                total: "224.32".to_owned(),
                deposit: Some("60.00".to_owned()),
                minutes_likely: Some(150),
                minutes_nine_in_ten: Some(205),
                guarantee_days: Some(180),
                note: String::new(),
            },
            QuoteAlternative {
                kind: QuoteKind::Overhaul,
                lines: vec![
                    way,
                    train,
                    pawl,
                    work(
                        "Clean the focusing rack and set the register",
                        60,
                        90,
                        "60.00",
                    ),
                    work("Clean lenses and finder", 40, 60, "40.00"),
                    new_pawl,
                    screws,
                ],
                net: "288.50".to_owned(),
                taxes: vat("288.50", "54.82"),
                total: "343.32".to_owned(),
                deposit: Some("100.00".to_owned()),
                minutes_likely: Some(250),
                minutes_nine_in_ten: Some(325),
                guarantee_days: Some(365),
                note: "The leatherette is glued down again as far as it bears it.".to_owned(),
            },
            QuoteAlternative {
                kind: QuoteKind::ReturnUnrepaired,
                lines: vec![QuoteLine {
                    words: "Looking it over".to_owned(),
                    amount: Some("30.00".to_owned()),
                    ..QuoteLine::default()
                }],
                net: "30.00".to_owned(),
                taxes: vat("30.00", "5.70"),
                total: "35.70".to_owned(),
                ..QuoteAlternative::default()
            },
        ],
        extra_to: None,
        answer_to: texts(&[
            "bench@saltmere.example",
            "The Saltmere Bench, 3 Ropewalk Stairs, Saltmere",
        ]),
        notes: Vec::new(),
    }
}

/// Work found later, beside what was agreed.
pub(crate) fn extra(language: Language) -> QuotePaper {
    QuotePaper {
        issued: date(2026, 11, 14),
        valid_until: None,
        found: texts(&[
            "A tooth of the second wheel is worn to a point; it will let go within a few years.",
        ]),
        alternatives: vec![QuoteAlternative {
            kind: QuoteKind::Extra,
            lines: vec![
                work("Replace the second wheel", 30, 50, "30.00"),
                part("second wheel", 1, PartGrade::Original, Some("45.00")),
            ],
            net: "75.00".to_owned(),
            taxes: vat("75.00", "14.25"),
            total: "89.25".to_owned(),
            minutes_likely: Some(30),
            minutes_nine_in_ten: Some(50),
            ..QuoteAlternative::default()
        }],
        extra_to: Some(AgreedQuote {
            kind: QuoteKind::Repair,
            on: date(2026, 11, 5),
            total: "224.32".to_owned(),
            together: Some("313.57".to_owned()),
        }),
        ..quote(language)
    }
}

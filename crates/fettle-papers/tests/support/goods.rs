//! Reports, bills and what goes with a parcel, to try the papers on.

use fettle_papers::{
    BillKind, BillPaper, BillPaperLine, ContentsDeclaration, DeclaredContent, DeclaredParty,
    FaultIs, FaultTold, FindingsReport, Label, LabelLayout, Labels, Language, PackedCamera,
    PackedItem, PackingList, PaidLine, PartGrade, PartTold, SendingCategory, Shortfall, SignLooked,
    SignSeen, TaxLine,
};
use jiff::civil::date;

use crate::heads::{bench, camera};
use crate::owner::{owner, photograph};

fn texts(of: &[&str]) -> Vec<String> {
    of.iter().map(|&it| it.to_owned()).collect()
}

pub(crate) fn report(language: Language, photographs: u32, side: u32) -> FindingsReport {
    let sign = |words: &str, seen, note: &str| SignLooked {
        words: words.to_owned(),
        seen,
        note: note.to_owned(),
    };
    let fault = |words: &str, is, because_of: Option<usize>, note: &str| FaultTold {
        words: words.to_owned(),
        is,
        suspected: because_of.is_none(),
        because_of,
        note: note.to_owned(),
    };
    FindingsReport {
        language,
        bench: bench(),
        visit: "57".to_owned(),
        owner: owner(),
        camera: camera(),
        arrived: date(2026, 10, 30),
        issued: date(2026, 11, 25),
        signed_by: "Edda Quill".to_owned(),
        owners_words: texts(&["The slow speeds stick and the frames overlap."]),
        wanted: texts(&["To take it on a journey in spring."]),
        signs: vec![
            sign(
                "slow speeds hang",
                SignSeen::Yes,
                "1 s took 2.5 s at first, 1.4 s after ten releases",
            ),
            sign("frames overlap", SignSeen::Yes, "by 3 mm"),
            sign("wind knob goes heavily", SignSeen::Yes, ""),
            sign("light leaks at the back door", SignSeen::No, ""),
            sign("haze in the viewing lens", SignSeen::No, ""),
            sign("flash contact fires", SignSeen::NotLooked, ""),
        ],
        faults: vec![
            fault(
                "wind pawl sheared",
                FaultIs::Damage,
                Some(1),
                "its tip lay in the gear train",
            ),
            fault("wind knob forced", FaultIs::Cause, Some(2), ""),
            fault(
                "grease of the gear train hardened",
                FaultIs::Cause,
                Some(3),
                "dark and like wax",
            ),
            fault("years in a damp drawer", FaultIs::Cause, None, ""),
        ],
        ruled_out: texts(&["mainspring tired", "oil on the blades"]),
        earlier_hands: texts(&[
            "Lens board: two of the four screws are of another thread and have been forced in.",
            "Shutter ring: burred at both slots.",
        ]),
        done: texts(&[
            "Gear train taken down, washed, lubricated anew",
            "Wind pawl made and fitted",
            "Register set",
        ]),
        fitted: vec![
            PartTold {
                words: "wind pawl".to_owned(),
                quantity: 1,
                grade: PartGrade::Made,
            },
            PartTold {
                words: "screw of the lens board".to_owned(),
                quantity: 2,
                grade: PartGrade::Salvaged,
            },
        ],
        photographs: (0..photographs)
            .map(|at| {
                let caption = format!("Step {}: the gear train, seen from the front", at + 1);
                photograph(at, side, &caption)
            })
            .collect(),
        not_brought_back: vec![Shortfall {
            what: "1/500 stays a third of a stop slow".to_owned(),
            correction: Some("close the aperture by a third of a stop".to_owned()),
        }],
        cautions: texts(&["Never turn the wind knob against resistance: send the camera in."]),
    }
}

fn line(words: &str, quantity: Option<u32>, amount: &str) -> BillPaperLine {
    BillPaperLine {
        words: words.to_owned(),
        quantity,
        amount: amount.to_owned(),
        tax_percent: Some("19".to_owned()),
    }
}

fn tax(percent: &str, net: &str, tax: &str) -> TaxLine {
    TaxLine {
        percent: percent.to_owned(),
        net: net.to_owned(),
        tax: tax.to_owned(),
    }
}

pub(crate) fn bill(language: Language) -> BillPaper {
    BillPaper {
        language,
        kind: BillKind::Bill,
        number: "118".to_owned(),
        bench: bench(),
        tax_number: "SM 204 331".to_owned(),
        visit: "57".to_owned(),
        owner: owner(),
        camera: camera(),
        issued: date(2026, 11, 25),
        finished: Some(date(2026, 11, 24)),
        due_on: Some(date(2026, 12, 9)),
        currency: "EUR".to_owned(),
        tax_name: if language == Language::De {
            "MwSt."
        } else {
            "VAT"
        }
        .to_owned(),
        lines: vec![
            line("The way in and back", None, "55.00"),
            line(
                "Wash the old grease out of the gear train and lubricate it",
                None,
                "70.00",
            ),
            line("Wind pawl (made)", Some(1), "38.50"),
            line("Screw of the lens board (salvaged)", Some(2), "1200.00"),
            BillPaperLine {
                tax_percent: Some("7".to_owned()),
                ..line("A printed copy of the proof sheet", Some(1), "4.50")
            },
            BillPaperLine {
                tax_percent: None,
                ..line("Postage, laid out", None, "9.90")
            },
        ],
        net: "1377.90".to_owned(),
        taxes: vec![tax("19", "1363.50", "259.07"), tax("7", "4.50", "0.32")],
        gross: "1637.29".to_owned(),
        paid: vec![PaidLine {
            on: date(2026, 11, 6),
            how: "deposit, by transfer".to_owned(),
            amount: "60.00".to_owned(),
        }],
        open: Some("1577.29".to_owned()),
        how_to_pay: texts(&[
            "By transfer to The Saltmere Bench",
            "Saltmere Savings, account 00 1234",
        ]),
        notes: Vec::new(),
    }
}

pub(crate) fn credit(language: Language) -> BillPaper {
    BillPaper {
        kind: BillKind::Credit {
            of: "118".to_owned(),
            of_issued: date(2026, 11, 25),
            reason: "The screws were charged by mistake.".to_owned(),
        },
        number: "119".to_owned(),
        issued: date(2026, 11, 27),
        due_on: None,
        lines: vec![line(
            "Screw of the lens board (salvaged)",
            Some(2),
            "1200.00",
        )],
        net: "1200.00".to_owned(),
        taxes: vec![tax("19", "1200.00", "228.00")],
        gross: "1428.00".to_owned(),
        paid: Vec::new(),
        open: None,
        ..bill(language)
    }
}

pub(crate) fn packing(language: Language) -> PackingList {
    let item = |what: &str, came, packed, note: &str| PackedItem {
        what: what.to_owned(),
        came,
        packed,
        note: note.to_owned(),
    };
    PackingList {
        language,
        bench: bench(),
        owner: owner(),
        issued: date(2026, 11, 26),
        carrier: "Saltmere Parcels".to_owned(),
        tracking: "SP 1234 5678 9012".to_owned(),
        weight_g: Some(2340),
        cameras: vec![
            PackedCamera {
                visit: "57".to_owned(),
                camera: camera(),
                items: vec![
                    item("lens 80 mm", true, true, ""),
                    item("leather case", true, true, "strap sewn"),
                    item("front cap", true, true, ""),
                    item(
                        "film spool",
                        true,
                        false,
                        "kept for trying the transport, follows with the next parcel",
                    ),
                    item("old wind pawl", false, true, "in a bag, for keeping"),
                ],
            },
            PackedCamera {
                visit: "61".to_owned(),
                camera: camera(),
                items: Vec::new(),
            },
        ],
        has_cells: true,
        notes: texts(&["Proof sheet and bill lie on top."]),
    }
}

pub(crate) fn declaration(language: Language) -> ContentsDeclaration {
    let content = |what: &str, quantity, weight_g, value: &str, hs: &str| DeclaredContent {
        what: what.to_owned(),
        quantity,
        weight_g,
        value: value.to_owned(),
        hs: hs.to_owned(),
        origin: "DE".to_owned(),
    };
    ContentsDeclaration {
        language,
        bench: bench(),
        sender: DeclaredParty {
            name: "The Saltmere Bench".to_owned(),
            lines: texts(&["3 Ropewalk Stairs", "Saltmere"]),
            country: "DE".to_owned(),
            phone: "+00 555 0137".to_owned(),
            email: "bench@saltmere.example".to_owned(),
            customs_number: "SM 204 331".to_owned(),
        },
        addressee: DeclaredParty {
            name: "Ottoline Marsh".to_owned(),
            lines: texts(&["8 Quay Lane", "Nether Saltmere"]),
            country: "NO".to_owned(),
            email: "ottoline@marsh.example".to_owned(),
            ..DeclaredParty::default()
        },
        issued: date(2026, 11, 26),
        reference: "visit 57".to_owned(),
        category: SendingCategory::ReturnedGoods,
        contents: vec![
            content(
                "used film camera, repaired, returned to its owner",
                1,
                Some(980),
                "1200.00",
                "9006.53",
            ),
            content("leather case", 1, Some(310), "40.00", "4202.91"),
            content("front cap", 1, Some(12), "5.00", "9006.91"),
        ],
        currency: "EUR".to_owned(),
        total_value: "1245.00".to_owned(),
        gross_weight_g: Some(2340),
        papers: texts(&["bill 118", "arrival receipt of 30 October 2026"]),
        has_cells: true,
        remarks: texts(&[
            "The camera was sent in for repair and goes back to its owner; the value of the repair is 224.32 EUR.",
        ]),
    }
}

/// A tag, two cells of the tray and two drawers.
pub(crate) fn labels(language: Language, layout: LabelLayout) -> Labels {
    let address = |path: &str| format!("http://192.0.2.7:8080/{path}");
    Labels {
        language,
        bench: bench().name,
        issued: date(2026, 11, 27),
        labels: vec![
            Label::Camera {
                visit: "57".to_owned(),
                owner: owner().name,
                camera: camera(),
                arrived: date(2026, 10, 30),
                code: address("visits/57"),
            },
            Label::Tray {
                visit: "57".to_owned(),
                cell: "3".to_owned(),
                words: "screws of the lens board".to_owned(),
                code: String::new(),
            },
            Label::Tray {
                visit: String::new(),
                cell: "12".to_owned(),
                words: String::new(),
                code: address("visits/57#cell-12"),
            },
            Label::Drawer {
                name: "B 7".to_owned(),
                words: "springs and pawls of the Corran 66".to_owned(),
                code: address("drawers/7"),
            },
            Label::Drawer {
                name: "Cabinet under the window, third from above".to_owned(),
                words: "Donaudampfschifffahrtsgesellschaftskapitänsmützenabzeichenschrauben, and whatever else nobody has found a place for in thirty years at this bench".to_owned(),
                code: address("drawers/8"),
            },
        ],
        layout,
    }
}

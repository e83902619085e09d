//! Papers with one text in every place that takes a text.

use fettle_papers::{
    AgreedQuote, Amount, ArrivalReceipt, BenchHead, BillKind, BillPaper, BillPaperLine, CameraHead,
    ContentsDeclaration, DeclaredContent, DeclaredParty, FaultIs, FaultTold, FindingsReport, Label,
    LabelLayout, Labels, Language, OwnerHead, PackedCamera, PackedItem, PackingList, PaidLine,
    PaperError, PaperSize, PartGrade, PartTold, Pdf, Photograph, QuoteAlternative, QuoteKind,
    QuoteLine, QuotePaper, SendingCategory, Shortfall, SignLooked, SignSeen, TaxLine,
    arrival_receipt, bill, contents_declaration, findings_report, labels, packing_list,
    quote_paper,
};
use jiff::civil::{Date, date};

const DAY: Date = date(2026, 11, 27);

/// The text in every place.
struct Filled<'a>(&'a str);

impl Filled<'_> {
    fn text(&self) -> String {
        self.0.to_owned()
    }

    fn texts(&self) -> Vec<String> {
        vec![self.text(), self.text()]
    }

    fn bench(&self) -> BenchHead {
        BenchHead {
            name: self.text(),
            lines: self.texts(),
        }
    }

    fn owner(&self) -> OwnerHead {
        OwnerHead {
            name: self.text(),
            lines: self.texts(),
        }
    }

    fn camera(&self) -> CameraHead {
        CameraHead {
            maker: self.text(),
            model: self.text(),
            serials: vec![(self.text(), self.text()), (self.text(), self.text())],
        }
    }

    fn tax(&self) -> TaxLine {
        TaxLine {
            percent: self.text(),
            net: self.text(),
            tax: self.text(),
        }
    }

    fn receipt(&self, language: Language) -> ArrivalReceipt {
        ArrivalReceipt {
            language,
            bench: self.bench(),
            visit: self.text(),
            owner: self.owner(),
            camera: self.camera(),
            arrived: DAY,
            issued: DAY,
            came_with: self.texts(),
            condition: self.texts(),
            owners_words: self.texts(),
            wanted: self.texts(),
            declared: Some(Amount {
                amount: self.text(),
                currency: self.text(),
            }),
            photographs: vec![Photograph {
                bytes: Vec::new(),
                caption: self.text(),
            }],
            terms: self.texts(),
        }
    }

    fn quote(&self, language: Language, kinds: &[QuoteKind]) -> QuotePaper {
        let line = |grade| QuoteLine {
            words: self.text(),
            quantity: Some(u32::MAX),
            grade,
            minutes_likely: Some(u32::MAX - 1),
            minutes_nine_in_ten: Some(u32::MAX),
            amount: Some(self.text()),
        };
        QuotePaper {
            language,
            bench: self.bench(),
            visit: self.text(),
            owner: self.owner(),
            camera: self.camera(),
            issued: DAY,
            valid_until: Some(DAY),
            currency: self.text(),
            tax_name: self.text(),
            hourly_rate: Some(self.text()),
            found: self.texts(),
            alternatives: kinds
                .iter()
                .map(|&kind| QuoteAlternative {
                    kind,
                    lines: vec![line(Some(PartGrade::Made)), line(None)],
                    net: self.text(),
                    taxes: vec![self.tax()],
                    total: self.text(),
                    deposit: Some(self.text()),
                    minutes_likely: Some(u32::MAX),
                    minutes_nine_in_ten: None,
                    guarantee_days: Some(u32::MAX),
                    note: self.text(),
                })
                .collect(),
            extra_to: (kinds == [QuoteKind::Extra]).then(|| AgreedQuote {
                kind: QuoteKind::Overhaul,
                on: DAY,
                total: self.text(),
                together: Some(self.text()),
            }),
            answer_to: self.texts(),
            notes: self.texts(),
        }
    }

    fn report(&self, language: Language) -> FindingsReport {
        let fault = |is| FaultTold {
            words: self.text(),
            is,
            suspected: true,
            because_of: Some(0),
            note: self.text(),
        };
        let sign = |seen| SignLooked {
            words: self.text(),
            seen,
            note: self.text(),
        };
        FindingsReport {
            language,
            bench: self.bench(),
            visit: self.text(),
            owner: self.owner(),
            camera: self.camera(),
            arrived: DAY,
            issued: DAY,
            signed_by: self.text(),
            owners_words: self.texts(),
            wanted: self.texts(),
            signs: [SignSeen::Yes, SignSeen::No, SignSeen::NotLooked]
                .map(sign)
                .to_vec(),
            faults: [FaultIs::Damage, FaultIs::Cause].map(fault).to_vec(),
            ruled_out: self.texts(),
            earlier_hands: self.texts(),
            done: self.texts(),
            fitted: vec![PartTold {
                words: self.text(),
                quantity: u32::MAX,
                grade: PartGrade::Original,
            }],
            photographs: Vec::new(),
            not_brought_back: vec![Shortfall {
                what: self.text(),
                correction: Some(self.text()),
            }],
            cautions: self.texts(),
        }
    }

    fn bill(&self, language: Language, kind: BillKind) -> BillPaper {
        BillPaper {
            language,
            kind,
            number: self.text(),
            bench: self.bench(),
            tax_number: self.text(),
            visit: self.text(),
            owner: self.owner(),
            camera: self.camera(),
            issued: DAY,
            finished: Some(DAY),
            due_on: Some(DAY),
            currency: self.text(),
            tax_name: self.text(),
            lines: vec![BillPaperLine {
                words: self.text(),
                quantity: Some(u32::MAX),
                amount: self.text(),
                tax_percent: Some(self.text()),
            }],
            net: self.text(),
            taxes: vec![self.tax()],
            gross: self.text(),
            paid: vec![PaidLine {
                on: DAY,
                how: self.text(),
                amount: self.text(),
            }],
            open: Some(self.text()),
            how_to_pay: self.texts(),
            notes: self.texts(),
        }
    }

    fn packing(&self, language: Language) -> PackingList {
        PackingList {
            language,
            bench: self.bench(),
            owner: self.owner(),
            issued: DAY,
            carrier: self.text(),
            tracking: self.text(),
            weight_g: Some(u32::MAX),
            cameras: vec![PackedCamera {
                visit: self.text(),
                camera: self.camera(),
                items: vec![PackedItem {
                    what: self.text(),
                    came: true,
                    packed: false,
                    note: self.text(),
                }],
            }],
            has_cells: true,
            notes: self.texts(),
        }
    }

    fn declaration(&self, language: Language) -> ContentsDeclaration {
        let party = || DeclaredParty {
            name: self.text(),
            lines: self.texts(),
            country: self.text(),
            phone: self.text(),
            email: self.text(),
            customs_number: self.text(),
        };
        ContentsDeclaration {
            language,
            bench: self.bench(),
            sender: party(),
            addressee: party(),
            issued: DAY,
            reference: self.text(),
            category: SendingCategory::Other(self.text()),
            contents: vec![
                DeclaredContent {
                    what: self.text(),
                    quantity: u32::MAX,
                    weight_g: Some(u32::MAX),
                    value: self.text(),
                    hs: self.text(),
                    origin: self.text(),
                };
                2
            ],
            currency: self.text(),
            total_value: self.text(),
            gross_weight_g: Some(u32::MAX),
            papers: self.texts(),
            has_cells: true,
            remarks: self.texts(),
        }
    }

    fn labels(&self, language: Language) -> Labels {
        Labels {
            language,
            bench: self.text(),
            issued: DAY,
            labels: vec![
                Label::Camera {
                    visit: self.text(),
                    owner: self.text(),
                    camera: self.camera(),
                    arrived: DAY,
                    code: self.text(),
                },
                Label::Tray {
                    visit: self.text(),
                    cell: self.text(),
                    words: self.text(),
                    code: String::new(),
                },
                Label::Drawer {
                    name: self.text(),
                    words: self.text(),
                    code: self.text(),
                },
            ],
            layout: LabelLayout::Sheet {
                grid: None,
                taken: u32::MAX,
            },
        }
    }
}

/// Every paper with the text in all its places, by name.
pub(crate) fn papers(
    text: &str,
    language: Language,
    size: PaperSize,
) -> Vec<(&'static str, Result<Pdf, PaperError>)> {
    let filled = Filled(text);
    let main = [
        QuoteKind::Repair,
        QuoteKind::Overhaul,
        QuoteKind::ReturnUnrepaired,
    ];
    let credit = BillKind::Credit {
        of: filled.text(),
        of_issued: DAY,
        reason: filled.text(),
    };
    vec![
        ("receipt", arrival_receipt(&filled.receipt(language), size)),
        ("quote", quote_paper(&filled.quote(language, &main), size)),
        (
            "extra",
            quote_paper(&filled.quote(language, &[QuoteKind::Extra]), size),
        ),
        ("report", findings_report(&filled.report(language), size)),
        ("bill", bill(&filled.bill(language, BillKind::Bill), size)),
        ("credit", bill(&filled.bill(language, credit), size)),
        ("packing", packing_list(&filled.packing(language), size)),
        (
            "declaration",
            contents_declaration(&filled.declaration(language), size),
        ),
        ("labels", labels(&filled.labels(language), size)),
    ]
}

/// Texts that are hard to set: markup, words without a place to break, other scripts, marks and controls, nothing.
pub(crate) const HARD: [(&str, &str); 10] = [
    (
        "markup",
        r##"#panic("out") $x^2$ *b* _e_ `r` <label> @ref = H // c /* c \ [ ] { } {owner} "q" #set page(width: 1pt) </svg>"##,
    ),
    (
        "wide",
        "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
    ),
    (
        "long",
        "Belichtungsmesserwerksabgleichsvorrichtungsschraubenziehersatz",
    ),
    ("greek", "Οττολίνη Μαρς, Κάτω Σάλτμερ"),
    ("japanese", "青木 花子、坂の下町"),
    (
        "southern",
        "मीरा श्रीनिवासराघवन, สวัสดีครับผู้ที่รักกล้องถ่ายรูปทั้งหลาย, අයේෂා",
    ),
    ("unknown", "𓀀𓀁𓀂"),
    ("arabic", "نور الدين، شارع الميناء"),
    (
        "marks",
        "e\u{301}a\u{20e3}\u{1f4f7}\u{202e}txet\u{0}\r\n\t\u{2028}\u{feff}",
    ),
    ("nothing", ""),
];

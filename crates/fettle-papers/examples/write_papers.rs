//! Writes a sample of every paper into a folder, to be looked at: `write_papers FOLDER [BEGINNING OF A NAME]`.

#[path = "../tests/support/filled.rs"]
mod filled;
#[path = "../tests/support/goods.rs"]
mod goods;
#[path = "../tests/support/hard.rs"]
mod hard;
#[path = "../tests/support/heads.rs"]
mod heads;
#[path = "../tests/support/owner.rs"]
mod owner;
#[path = "../tests/support/mod.rs"]
mod support;

use std::path::PathBuf;

use fettle_papers::{
    Attachment, Draft, Event, EventKind, LabelLayout, Language, MailAddress, MailFacts, MailStage,
    MailWords, PaperError, PaperSize, Pdf, ProofSheet, arrival_receipt, bill, calendar,
    contents_declaration, event_title, findings_report, labels, mail_draft, mail_words,
    packing_list, proof_sheet, quote_paper,
};
use jiff::Timestamp;
use jiff::civil::date;

/// The longer side of a photograph in pixels, as a page shows it.
const AS_SHOWN: u32 = 1600;

type Make = fn(Language, PaperSize) -> Result<Pdf, PaperError>;

const SHEET: LabelLayout = LabelLayout::Sheet {
    grid: None,
    taken: 2,
};
const SINGLE: LabelLayout = LabelLayout::Single {
    width_mm: 62.0,
    height_mm: 29.0,
};
const PAPERS: [(&str, Make); 17] = [
    ("proof-usual", |l, s| proof(support::usual(), l, s)),
    ("proof-bare", |l, s| proof(support::bare(), l, s)),
    ("proof-crowded", |l, s| proof(hard::crowded(), l, s)),
    ("proof-scripts", |l, s| proof(hard::scripts(), l, s)),
    ("proof-hostile", |l, s| proof(hard::hostile(), l, s)),
    ("proof-absurd", |l, s| proof(hard::absurd(), l, s)),
    ("receipt", |l, s| {
        arrival_receipt(&owner::receipt(l, AS_SHOWN), s)
    }),
    ("quote", |l, s| quote_paper(&owner::quote(l), s)),
    ("quote-extra", |l, s| quote_paper(&owner::extra(l), s)),
    ("report", |l, s| {
        findings_report(&goods::report(l, 4, AS_SHOWN), s)
    }),
    ("report-60", |l, s| {
        findings_report(&goods::report(l, 60, AS_SHOWN), s)
    }),
    ("bill", |l, s| bill(&goods::bill(l), s)),
    ("credit", |l, s| bill(&goods::credit(l), s)),
    ("packing", |l, s| packing_list(&goods::packing(l), s)),
    ("declaration", |l, s| {
        contents_declaration(&goods::declaration(l), s)
    }),
    ("labels", |l, s| labels(&goods::labels(l, SHEET), s)),
    ("label", |l, s| labels(&goods::labels(l, SINGLE), s)),
];

fn proof(sheet: ProofSheet, language: Language, size: PaperSize) -> Result<Pdf, PaperError> {
    proof_sheet(&ProofSheet { language, ..sheet }, size)
}

fn draft() -> Result<Draft, Box<dyn std::error::Error>> {
    let facts = MailFacts {
        language: Language::De,
        bench: heads::bench().name,
        owner: owner::owner().name,
        camera: "Aldous Corran 66".to_owned(),
        visit: "57".to_owned(),
        valid_until: Some(date(2026, 12, 3)),
        papers: vec!["Kostenvoranschlag".to_owned()],
        ..MailFacts::default()
    };
    let MailWords { subject, body } = mail_words(MailStage::Quoted, &facts);
    let quote = quote_paper(&owner::quote(Language::De), PaperSize::A4)?;
    Ok(Draft {
        from: MailAddress {
            name: facts.bench,
            address: "bench@saltmere.example".to_owned(),
        },
        to: MailAddress {
            name: facts.owner,
            address: "ottoline@marsh.example".to_owned(),
        },
        subject,
        body,
        date: date(2026, 11, 27).at(16, 30, 0, 0).in_tz("UTC")?,
        attachments: vec![Attachment {
            name: "Kostenvoranschlag für Auftrag 57.pdf".to_owned(),
            media_type: "application/pdf".to_owned(),
            bytes: quote.bytes,
        }],
    })
}

fn days() -> String {
    let title = |kind| event_title(Language::De, kind, "Aldous Corran 66", "57");
    let event = |uid: &str, on, kind| Event {
        uid: format!("{uid}-57@saltmere.example"),
        on,
        title: title(kind),
        words: "Ottoline Marsh, Nether Saltmere;\nohne Gewähr".to_owned(),
    };
    let events = [
        event("promised", date(2026, 12, 1), EventKind::Promised),
        event("guarantee", date(2027, 5, 25), EventKind::GuaranteeEnds),
    ];
    calendar(&events, Timestamp::UNIX_EPOCH)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut given = std::env::args().skip(1);
    let folder = PathBuf::from(given.next().ok_or("which folder?")?);
    let beginning = given.next().unwrap_or_default();
    for (name, make) in PAPERS
        .iter()
        .filter(|(name, _)| name.starts_with(&beginning))
    {
        for language in Language::ALL {
            for (size_name, size) in [("a4", PaperSize::A4), ("letter", PaperSize::Letter)] {
                let file = format!("{name}-{}-{size_name}.pdf", language.code());
                std::fs::write(folder.join(file), &make(language, size)?.bytes)?;
            }
        }
    }
    std::fs::write(folder.join("draft.eml"), mail_draft(&draft()?))?;
    std::fs::write(folder.join("days.ics"), days())?;
    if !"hard".starts_with(&beginning) && !beginning.starts_with("hard") {
        return Ok(());
    }
    for (kind, text) in filled::HARD {
        let (language, size) = (Language::De, PaperSize::A4);
        for (name, pdf) in filled::papers(text, language, size) {
            let name = format!("hard-{kind}-{name}");
            if name.starts_with(&beginning) {
                std::fs::write(folder.join(format!("{name}.pdf")), &pdf?.bytes)?;
            }
        }
    }
    Ok(())
}

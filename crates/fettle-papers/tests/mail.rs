//! Drafts of mail, read back as a mail program reads them.
#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    reason = "a test that cannot go on fails"
)]

use fettle_papers::{
    Amount, Attachment, Draft, Language, MailAddress, MailFacts, MailStage, mail_draft, mail_words,
};
use jiff::civil::date;
use mail_parser::{ContentType, Message, MessageParser, MimeHeaders};
use proptest::prelude::*;

fn address(name: &str, address: &str) -> MailAddress {
    MailAddress {
        name: name.to_owned(),
        address: address.to_owned(),
    }
}

fn draft() -> Draft {
    let pdf: Vec<u8> = (0..=255_u8).cycle().take(5000).collect();
    Draft {
        from: address("The Saltmere Bench", "bench@saltmere.example"),
        to: address("Åse Müller-Σάλτμερ", "aase@marsh.example"),
        subject: "Kostenvoranschlag für Ihre Aldous Corran 66 und allerlei mehr, damit die Zeile lang wird (Auftrag 57)".to_owned(),
        body: "Guten Tag Åse,\n\n.eine Zeile mit Punkt\nFrom hier an: größer — länger\n".to_owned(),
        date: date(2026, 11, 27).at(9, 5, 0, 0).in_tz("UTC").unwrap(),
        attachments: vec![
            Attachment {
                name: "Prüfblatt, Auftrag 57.pdf".to_owned(),
                media_type: "application/pdf".to_owned(),
                bytes: pdf,
            },
            Attachment {
                name: "青木 \"days\".ics".to_owned(),
                media_type: "text/calendar".to_owned(),
                bytes: b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n".to_vec(),
            },
        ],
    }
}

fn parsed(bytes: &[u8]) -> Message<'_> {
    MessageParser::new().parse(bytes).expect("a message")
}

#[test]
fn a_draft_is_read_back_as_it_was_written() {
    let draft = draft();
    let bytes = mail_draft(&draft);
    assert_eq!(bytes, mail_draft(&draft), "equal drafts give equal bytes");
    let mail = parsed(&bytes);
    assert_eq!(mail.subject(), Some(draft.subject.as_str()));
    let to = mail.to().and_then(|it| it.first()).unwrap();
    assert_eq!(to.name(), Some(draft.to.name.as_str()));
    assert_eq!(to.address(), Some("aase@marsh.example"));
    let from = mail.from().and_then(|it| it.first()).unwrap();
    assert_eq!(from.address(), Some("bench@saltmere.example"));
    assert_eq!(mail.header_raw("X-Unsent").map(str::trim), Some("1"));
    let on = mail.date().unwrap();
    assert_eq!(
        (on.year, on.month, on.day, on.hour, on.minute),
        (2026, 11, 27, 9, 5)
    );
    let body = mail.body_text(0).unwrap().replace("\r\n", "\n");
    assert_eq!(body.trim_end(), draft.body.trim_end());
    let files: Vec<_> = mail.attachments().collect();
    assert_eq!(files.len(), 2);
    for (file, wanted) in files.iter().zip(&draft.attachments) {
        assert_eq!(file.attachment_name(), Some(wanted.name.as_str()));
        assert_eq!(file.contents(), wanted.bytes);
        let kind = file.content_type().unwrap();
        let kind = format!("{}/{}", kind.ctype(), kind.subtype().unwrap());
        assert_eq!(kind, wanted.media_type);
    }
}

#[test]
fn the_file_keeps_to_the_lines_of_rfc_5322() {
    let bytes = mail_draft(&draft());
    let text = String::from_utf8(bytes).expect("all of it is encoded");
    assert!(text.is_ascii());
    for line in text.split("\r\n") {
        assert!(
            line.len() <= 998 && !line.contains(['\r', '\n']),
            "{line:?}"
        );
    }
    let (head, _) = text.split_once("\r\n\r\n").unwrap();
    assert!(head.split("\r\n").all(|line| line.len() <= 78), "{head}");
    for name in [
        "From: ",
        "To: ",
        "Subject: ",
        "Date: ",
        "Message-ID: <",
        "MIME-Version: 1.0",
    ] {
        let count = head
            .split("\r\n")
            .filter(|line| line.starts_with(name))
            .count();
        assert_eq!(count, 1, "{name}");
    }
}

#[test]
fn an_address_that_is_none_is_left_to_be_filled_in() {
    for wrong in ["", "ottoline", "a b@c", "a@b>\r\nBcc: x@y", "@", "x@"] {
        let mut draft = draft();
        draft.to = address("Ottoline Marsh", wrong);
        let bytes = mail_draft(&draft);
        let mail = parsed(&bytes);
        assert!(mail.to().is_none(), "{wrong}");
        assert!(mail.bcc().is_none(), "{wrong}");
        assert!(mail.from().is_some());
    }
}

#[test]
fn a_draft_without_papers_is_plain_text() {
    let mut draft = draft();
    draft.attachments.clear();
    let bytes = mail_draft(&draft);
    let mail = parsed(&bytes);
    assert_eq!(mail.attachment_count(), 0);
    assert_eq!(mail.content_type().map(ContentType::ctype), Some("text"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_text_makes_a_draft_without_headers_of_its_own(
        name in any::<String>(), subject in any::<String>(), body in any::<String>(), file in any::<String>(),
        media_type in any::<String>(), bytes in any::<Vec<u8>>(),
    ) {
        let mut draft = draft();
        draft.to.name = name;
        draft.subject = subject;
        draft.body = body;
        draft.attachments.truncate(1);
        draft.attachments[0] = Attachment { name: file, media_type, bytes };
        let written = mail_draft(&draft);
        let mail = parsed(&written);
        prop_assert_eq!(mail.to().and_then(|it| it.first()).and_then(|it| it.address()), Some("aase@marsh.example"));
        let known = ["From", "To", "Subject", "Message-ID", "X-Unsent", "Date", "MIME-Version", "Content-Type"];
        for header in mail.headers() {
            prop_assert!(known.iter().any(|it| it.eq_ignore_ascii_case(header.name())), "{}", header.name());
        }
        prop_assert_eq!(mail.attachment_count(), 1);
        prop_assert_eq!(mail.attachment(0).map(|it| it.contents().to_vec()), Some(draft.attachments[0].bytes.clone()));
    }
}

fn facts(language: Language) -> MailFacts {
    MailFacts {
        language,
        bench: "The Saltmere Bench".to_owned(),
        owner: "Ottoline Marsh".to_owned(),
        camera: "Aldous Corran 66".to_owned(),
        visit: "57".to_owned(),
        promised: Some(date(2026, 12, 1)),
        valid_until: Some(date(2026, 12, 3)),
        deposit: Some(Amount {
            amount: "1060.00".to_owned(),
            currency: "EUR".to_owned(),
        }),
        awaited: "second wheel".to_owned(),
        reason: "the post does not run".to_owned(),
        look_again: Some(date(2026, 12, 5)),
        to_pay: Some(Amount {
            amount: "164.32".to_owned(),
            currency: "EUR".to_owned(),
        }),
        due_on: Some(date(2026, 12, 9)),
        carrier: "Saltmere Parcels".to_owned(),
        tracking: "SP 1234".to_owned(),
        guarantee_until: Some(date(2027, 5, 25)),
        papers: vec!["quote".to_owned(), "receipt".to_owned()],
    }
}

#[test]
fn every_stage_has_its_words_with_nothing_left_to_fill() {
    for language in Language::ALL {
        let mut subjects = Vec::new();
        for stage in MailStage::ALL {
            for facts in [
                facts(language),
                MailFacts {
                    language,
                    ..MailFacts::default()
                },
            ] {
                let words = mail_words(stage, &facts);
                for text in [&words.subject, &words.body] {
                    assert!(!text.contains(['{', '}']), "{text}");
                    assert!(!text.contains("mail."), "{text}");
                }
                assert_eq!(words.subject.lines().count(), 1);
            }
            let words = mail_words(stage, &facts(language));
            assert!(
                words.body.contains("Ottoline Marsh") && words.body.contains("Aldous Corran 66")
            );
            subjects.push(words.subject);
        }
        subjects.sort();
        subjects.dedup();
        assert_eq!(subjects.len(), MailStage::ALL.len());
    }
}

#[test]
fn what_is_known_is_told_and_what_is_not_is_left_out() {
    let mut facts = facts(Language::En);
    let sent = mail_words(MailStage::Sent, &facts).body;
    for told in [
        "SP 1234",
        "25 May 2027",
        "EUR 164.32",
        "Attached: quote, receipt.",
    ] {
        assert!(sent.contains(told), "{told}");
    }
    assert!(
        !sent.contains("1,060.00"),
        "a deposit is no matter of the parcel"
    );
    facts.tracking.clear();
    facts.papers.clear();
    let sent = mail_words(MailStage::Sent, &facts).body;
    assert!(!sent.contains("Tracking") && !sent.contains("Attached"));
    facts.language = Language::De;
    let agreed = mail_words(MailStage::Agreed, &facts).body;
    assert!(agreed.contains("1.060,00 EUR") && agreed.contains("1. Dezember 2026"));
}

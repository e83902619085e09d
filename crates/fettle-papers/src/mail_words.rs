//! What is written to an owner at each stage of a visit, to be changed before it is sent.

use jiff::civil::Date;

use crate::head::Amount;
use crate::language::Language;
use crate::words::Words;

/// What a mail is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MailStage {
    /// The camera has come.
    Arrived,
    /// A quote is attached.
    Quoted,
    /// A quote for extra work is attached.
    ExtraQuoted,
    /// A quote has not been answered yet.
    AnswerAwaited,
    /// The owner agreed, and the work begins.
    Agreed,
    /// A part is waited for.
    PartAwaited,
    /// It is proved and can go home; papers and bill are attached.
    Ready,
    /// It is ready but is not sent yet.
    Held,
    /// It was sent.
    Sent,
    /// It goes back without having been repaired.
    ReturnedUnrepaired,
}

impl MailStage {
    /// Every stage, in the order of the work.
    pub const ALL: [Self; 10] = [
        Self::Arrived,
        Self::Quoted,
        Self::ExtraQuoted,
        Self::AnswerAwaited,
        Self::Agreed,
        Self::PartAwaited,
        Self::Ready,
        Self::Held,
        Self::Sent,
        Self::ReturnedUnrepaired,
    ];

    /// The keys of its subject and of its first paragraph.
    const fn keys(self) -> (&'static str, &'static str) {
        match self {
            Self::Arrived => ("mail.arrived_subject", "mail.arrived"),
            Self::Quoted => ("mail.quoted_subject", "mail.quoted"),
            Self::ExtraQuoted => ("mail.extra_subject", "mail.extra"),
            Self::AnswerAwaited => ("mail.awaited_subject", "mail.awaited"),
            Self::Agreed => ("mail.agreed_subject", "mail.agreed"),
            Self::PartAwaited => ("mail.part_subject", "mail.part"),
            Self::Ready => ("mail.ready_subject", "mail.ready"),
            Self::Held => ("mail.held_subject", "mail.held"),
            Self::Sent => ("mail.sent_subject", "mail.sent"),
            Self::ReturnedUnrepaired => ("mail.returned_subject", "mail.returned"),
        }
    }
}

/// What a mail can tell; what is empty or `None` is left out with its sentence.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MailFacts {
    /// The language it is written in.
    pub language: Language,
    /// The bench's name.
    pub bench: String,
    /// The owner's name.
    pub owner: String,
    /// The camera: maker and model.
    pub camera: String,
    /// The visit's number.
    pub visit: String,
    /// The day the camera is promised for.
    pub promised: Option<Date>,
    /// The last day on which the quote can be agreed to.
    pub valid_until: Option<Date>,
    /// What is to be paid in advance when the quote is agreed.
    pub deposit: Option<Amount>,
    /// What is waited for: the part.
    pub awaited: String,
    /// Why it is held.
    pub reason: String,
    /// The day on which it is looked at again.
    pub look_again: Option<Date>,
    /// What is still to pay.
    pub to_pay: Option<Amount>,
    /// The day by which it is to be paid.
    pub due_on: Option<Date>,
    /// Who carries the parcel.
    pub carrier: String,
    /// The parcel's tracking number.
    pub tracking: String,
    /// The last day of the guarantee.
    pub guarantee_until: Option<Date>,
    /// The papers that go with the mail, each by its name.
    pub papers: Vec<String>,
}

/// A mail's words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MailWords {
    /// The subject.
    pub subject: String,
    /// The text, in paragraphs with an empty line between them.
    pub body: String,
}

/// What is written at a stage: greeting, what is to be said, what is known beside it, and who writes.
#[must_use]
pub fn mail_words(stage: MailStage, facts: &MailFacts) -> MailWords {
    let words = Words::of(facts.language);
    let (subject, first) = stage.keys();
    let with = [
        ("owner", facts.owner.clone()),
        ("camera", facts.camera.clone()),
        ("visit", facts.visit.clone()),
        ("bench", facts.bench.clone()),
    ];
    let mut paragraphs = vec![words.fill("mail.greeting", &with), words.fill(first, &with)];
    paragraphs.extend(sentences(stage, facts));
    if !facts.papers.is_empty() {
        let papers = facts.papers.join(", ");
        paragraphs.push(words.fill("mail.papers", &[("papers", papers)]));
    }
    paragraphs.push(words.fill("mail.closing", &with));
    MailWords {
        subject: words.fill(subject, &with),
        body: paragraphs.join("\n\n"),
    }
}

/// What the facts add at this stage, a paragraph each.
fn sentences(stage: MailStage, facts: &MailFacts) -> Vec<String> {
    let language = facts.language;
    let words = Words::of(language);
    let on_day =
        |key, day: Option<Date>| day.map(|day| words.fill(key, &[("day", language.day(day))]));
    let of_text =
        |key, text: &str| (!text.is_empty()).then(|| words.fill(key, &[("what", text.to_owned())]));
    let of_amount = |key, amount: &Option<Amount>| {
        let it = amount.as_ref()?;
        let amount = language.money(&it.amount, &it.currency);
        Some(words.fill(key, &[("amount", amount)]))
    };
    let promised = || on_day("mail.promised", facts.promised);
    let told = match stage {
        MailStage::Arrived => vec![promised()],
        MailStage::Quoted | MailStage::ExtraQuoted | MailStage::AnswerAwaited => vec![
            on_day("mail.valid_until", facts.valid_until),
            of_amount("mail.deposit", &facts.deposit),
        ],
        MailStage::Agreed => vec![of_amount("mail.deposit_now", &facts.deposit), promised()],
        MailStage::PartAwaited => vec![of_text("mail.awaited_part", &facts.awaited), promised()],
        MailStage::Held => vec![
            of_text("mail.reason", &facts.reason),
            on_day("mail.look_again", facts.look_again),
        ],
        MailStage::Ready => vec![
            of_amount("mail.to_pay", &facts.to_pay),
            on_day("mail.due_on", facts.due_on),
        ],
        MailStage::Sent => vec![
            of_text("mail.carrier", &facts.carrier),
            of_text("mail.tracking", &facts.tracking),
            on_day("mail.guarantee", facts.guarantee_until),
            of_amount("mail.to_pay", &facts.to_pay),
        ],
        MailStage::ReturnedUnrepaired => vec![
            of_text("mail.carrier", &facts.carrier),
            of_text("mail.tracking", &facts.tracking),
            of_amount("mail.to_pay", &facts.to_pay),
        ],
    };
    told.into_iter().flatten().collect()
}

/// A kind of day to remember.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EventKind {
    /// A camera is promised for this day.
    Promised,
    /// What is held is looked at again.
    LookAgain,
    /// A guarantee ends.
    GuaranteeEnds,
}

/// The title of an event of a calendar.
#[must_use]
pub fn event_title(language: Language, kind: EventKind, camera: &str, visit: &str) -> String {
    let key = match kind {
        EventKind::Promised => "calendar.promised",
        EventKind::LookAgain => "calendar.look_again",
        EventKind::GuaranteeEnds => "calendar.guarantee_ends",
    };
    let with = [("camera", camera.to_owned()), ("visit", visit.to_owned())];
    Words::of(language).fill(key, &with)
}

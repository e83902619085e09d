//! A mail to the owner, drafted here and sent from the mechanic's own mail program.

use fettle_bench::{Change, Decimal, Money, Paper, PaperId, PaperKind, Stage, WaitFor, written};
use fettle_papers::{
    Amount, Attachment, Draft, MailAddress, MailFacts, MailStage, MailWords, mail_draft, mail_words,
};
use maud::{Markup, html};

use super::context::Context;
use super::deed::Deed;
use crate::form::Wrong;
use crate::papers::language;
use crate::upload::Upload;
use crate::{number, urls};

/// Wordings offered, each with its name in the address and what it is called.
const STAGES: [(MailStage, &str, &str); 10] = [
    (MailStage::Arrived, "arrived", "it has arrived"),
    (MailStage::Quoted, "quoted", "the quote"),
    (MailStage::ExtraQuoted, "extra", "extra work was found"),
    (MailStage::AnswerAwaited, "awaited", "no answer came yet"),
    (MailStage::Agreed, "agreed", "the work begins"),
    (MailStage::PartAwaited, "part", "it waits for a part"),
    (MailStage::Ready, "ready", "it is ready"),
    (MailStage::Held, "held", "it is held"),
    (MailStage::Sent, "sent", "it is on its way"),
    (
        MailStage::ReturnedUnrepaired,
        "returned",
        "it comes back unrepaired",
    ),
];

/// The wording that fits where the visit stands.
fn usual(context: &Context<'_>) -> MailStage {
    let line = &context.view.line;
    let waits = |wait_for| line.waits.iter().any(|wait| wait.wait_for == wait_for);
    if !line.holds.is_empty() {
        return MailStage::Held;
    }
    if waits(WaitFor::Part) {
        return MailStage::PartAwaited;
    }
    match line.stage {
        Stage::Arrived => MailStage::Arrived,
        Stage::LookedOver | Stage::Quoted => MailStage::Quoted,
        Stage::Agreed | Stage::Apart | Stage::Together if waits(WaitFor::Answer) => {
            MailStage::ExtraQuoted
        }
        Stage::Agreed | Stage::Apart | Stage::Together => MailStage::Agreed,
        Stage::Proved | Stage::Packed => MailStage::Ready,
        Stage::ReturnedUnrepaired => MailStage::ReturnedUnrepaired,
        Stage::Home if line.unrepaired => MailStage::ReturnedUnrepaired,
        Stage::Home => MailStage::Sent,
    }
}

fn asked(context: &Context<'_>) -> MailStage {
    let asked = context.asked.mail.as_deref();
    let known = STAGES.iter().find(|(_, name, _)| Some(*name) == asked);
    known.map_or_else(|| usual(context), |(stage, _, _)| *stage)
}

/// What the record can tell at this stage, in the owner's language.
fn facts(context: &Context<'_>, stage: MailStage) -> MailFacts {
    let view = &context.view;
    let amount = |it: Money| Amount {
        amount: written(it.amount, it.currency),
        currency: it.currency.to_string(),
    };
    let sent = view.sent.last().map(|kept| &kept.what);
    let agreed = view.agreed();
    let open = |alternative: bool| {
        let mut quotes = view.quotes.iter().rev();
        quotes.find(move |quote| {
            quote.answer.is_none() && quote.what.kind.is_alternative() == alternative
        })
    };
    let quote = match stage {
        MailStage::Agreed => agreed.first().copied(),
        MailStage::ExtraQuoted => open(false),
        _ => open(true).or_else(|| open(false)),
    };
    let quote = quote.map(|it| &it.what);
    let waits = view.waiting().find(|wait| wait.wait_for == WaitFor::Part);
    let hold = view.line.holds.first();
    let to_pay = view.owed().into_iter().find(|it| it.amount > Decimal::ZERO);
    MailFacts {
        language: language(
            view.owner
                .details
                .language
                .unwrap_or(context.settings.language),
        ),
        bench: context.settings.name.clone(),
        owner: view.owner.details.name.clone(),
        camera: view.line.camera_name.clone(),
        visit: view.line.visit.to_string(),
        promised: view.line.promised,
        valid_until: quote.and_then(|quote| quote.valid_until),
        deposit: quote
            .and_then(|quote| Some(amount(Money::new(quote.deposit?, quote.total.currency)))),
        awaited: waits.map(|wait| wait.what.clone()).unwrap_or_default(),
        reason: hold.map(|hold| hold.reason.clone()).unwrap_or_default(),
        look_again: hold.and_then(|hold| hold.look_again),
        to_pay: to_pay.map(amount),
        due_on: view.bills.last().and_then(|bill| bill.what.due_on),
        carrier: sent.map(|it| it.carrier.clone()).unwrap_or_default(),
        tracking: sent.map(|it| it.tracking.clone()).unwrap_or_default(),
        guarantee_until: view.line.guarantee_until,
        papers: papers(context)
            .filter(|paper| goes_with(context, stage, paper))
            .map(|paper| paper.what.title.clone())
            .collect(),
    }
}

/// Papers that can go with a mail, newest first.
fn papers<'c>(context: &'c Context<'_>) -> impl Iterator<Item = &'c Paper> {
    let papers = context.view.papers.iter().rev();
    papers.filter(|paper| paper.what.paper != PaperKind::MailDraft)
}

pub(super) fn form(context: &Context<'_>) -> Markup {
    let form = context.form(Deed::Mail);
    let stage = asked(context);
    let MailWords { subject, body } = mail_words(stage, &facts(context, stage));
    let owner = &context.view.owner.details;
    let is_open = form.is_returned() || context.asked.mail.is_some();
    html! {
        details.more.no-print #mail open[is_open] {
            summary { "Draft a mail to " (owner.name) }
            p.quiet-text {
                "Wording: "
                @for (n, (it, name, words)) in STAGES.iter().enumerate() {
                    @if n > 0 { ", " }
                    @if *it == stage { strong { (words) } } @else { a href=(urls::mail(context.visit(), name)) { (words) } }
                }
            }
            (context.around(Deed::Mail, &form, &html! {
                div.fields {
                    (form.typed("to", "To", "email").holding(&owner.email).hint(if owner.email.is_empty() { "no address is known of this owner" } else { "" }).draw())
                    (form.line("subject", "Subject").holding(&subject).draw())
                    (form.area("body", "Text").holding(&body).class("wide").draw())
                }
                @if papers(context).next().is_some() {
                    p { strong { "Attached" } }
                    div.ticks {
                        @for paper in papers(context) {
                            (form.tick("paper", &paper.id.to_string(), &paper.what.title, goes_with(context, stage, paper)))
                        }
                    }
                } @else { p.quiet-text { "Keep a paper first to attach it." } }
                div.acts { button.first { "Draft it" } span.quiet-text { "The draft is kept above: open it in your mail program, look at it, and send it there." } }
            }))
        }
    }
}

/// Whether a paper usually goes with such a mail: of each kind the one made last.
fn goes_with(context: &Context<'_>, stage: MailStage, paper: &Paper) -> bool {
    let kind = paper.what.paper;
    let last = papers(context).find(|it| it.what.paper == kind);
    last.is_some_and(|it| it.id == paper.id) && is_usual(stage, kind)
}

/// Whether papers of a kind usually go with such a mail.
fn is_usual(stage: MailStage, kind: PaperKind) -> bool {
    match stage {
        MailStage::Arrived => kind == PaperKind::Receipt,
        MailStage::Quoted | MailStage::ExtraQuoted | MailStage::AnswerAwaited => {
            kind == PaperKind::Quote
        }
        MailStage::Agreed | MailStage::PartAwaited | MailStage::Held | MailStage::Sent => false,
        MailStage::ReturnedUnrepaired => matches!(kind, PaperKind::Bill | PaperKind::Report),
        MailStage::Ready => matches!(
            kind,
            PaperKind::Bill | PaperKind::ProofSheet | PaperKind::Report | PaperKind::CorrectionCard
        ),
    }
}

/// Drafts the mail and keeps it.
pub(crate) fn mail(context: &Context<'_>, sent: &Upload) -> Result<Vec<Change>, Wrong> {
    let mut wrong = Wrong::default();
    let fields = &sent.fields;
    let subject = wrong.needed(fields, "subject", "the subject");
    let body = wrong.needed(fields, "body", "the text");
    let mut attachments = Vec::new();
    for id in fields.all("paper") {
        match attachment(context, id) {
            Ok(file) => attachments.push(file),
            Err(message) => wrong.note("paper", message),
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let owner = &context.view.owner.details;
    let draft = Draft {
        from: MailAddress {
            name: context.settings.name.clone(),
            address: own_address(&context.settings.contact),
        },
        to: MailAddress {
            name: owner.name.clone(),
            address: fields.text("to").to_owned(),
        },
        subject: subject.clone(),
        body,
        date: context.now.clone(),
        attachments,
    };
    let title = format!("Mail: {subject}, {}", number::date(context.today()));
    let bytes = mail_draft(&draft);
    context
        .bench
        .keep_paper(context.visit(), PaperKind::MailDraft, &title, "eml", &bytes)
        .map(|paper| vec![paper])
        .map_err(|error| {
            wrong.note("", error.to_string());
            wrong
        })
}

fn attachment(context: &Context<'_>, id: &str) -> Result<Attachment, String> {
    let gone =
        || "a paper that was ticked is no longer kept with this visit; look again".to_owned();
    let id = id.parse().map(PaperId::new).map_err(|_| gone())?;
    let known = context.view.papers.iter().any(|paper| paper.id == id);
    let file = context.bench.paper_file(id);
    let file = file.ok().filter(|_| known).ok_or_else(gone)?;
    let bytes = std::fs::read(&file.path)
        .map_err(|error| format!("{} cannot be read: {error}", file.path.display()))?;
    Ok(Attachment {
        name: file.name,
        media_type: file.media_type.to_owned(),
        bytes,
    })
}

/// The first mail address among the ways to reach the bench.
fn own_address(contact: &str) -> String {
    let mut words = contact.split(|c: char| c.is_whitespace() || c == ',' || c == ';');
    words
        .find(|word| word.contains('@'))
        .map(|word| word.trim_matches(['<', '>']).to_owned())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bench_s_mail_address_is_found_among_its_lines() {
        let contact = "Telephone 0555 100\nmail <ines@saltmere.example>, evenings";
        assert_eq!(own_address(contact), "ines@saltmere.example");
        assert_eq!(own_address("Telephone 0555 100"), "");
    }
}

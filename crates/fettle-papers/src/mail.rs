//! Drafts of mail with papers attached, for any mail program to open, change and send.

use std::borrow::Cow;

use jiff::ZonedDateTime;
use jiff::fmt::rfc2822;
use mail_builder::MessageBuilder;
use mail_builder::headers::address::Address;
use mail_builder::headers::content_type::ContentType;
use mail_builder::headers::raw::Raw;
use mail_builder::mime::{BodyPart, MimePart};

/// What an attachment is when its own media type is none.
const UNKNOWN_TYPE: &str = "application/octet-stream";

/// A draft of a mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    /// Who writes; without a usable address the mail program fills it in.
    pub from: MailAddress,
    /// Who it goes to; without a usable address it has to be filled in.
    pub to: MailAddress,
    /// The subject.
    pub subject: String,
    /// The text, plain, in lines.
    pub body: String,
    /// When it was drafted.
    pub date: ZonedDateTime,
    /// The files that go with it.
    pub attachments: Vec<Attachment>,
}

/// A name with its mail address.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MailAddress {
    /// The name; may be empty.
    pub name: String,
    /// The address; may be empty.
    pub address: String,
}

/// A file that goes with a mail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Attachment {
    /// Its name: `quote.pdf`.
    pub name: String,
    /// Its media type: `application/pdf`.
    pub media_type: String,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// The draft as a file that mail programs open: RFC 5322, with attachments after MIME (RFC 2045, 2183, 2231). It carries
/// `X-Unsent: 1`, by which several programs know that it is to be written on and not read.
///
/// Equal drafts give equal bytes.
#[must_use]
pub fn mail_draft(draft: &Draft) -> Vec<u8> {
    let mark = mark_of(draft);
    let domain = draft
        .from
        .usable()
        .and_then(|address| address.rsplit_once('@'))
        .map(|(_, domain)| domain)
        .filter(|domain| domain.is_ascii())
        .unwrap_or("localhost");
    let mut message = MessageBuilder::new();
    if let Some(from) = draft.from.header() {
        message = message.from(from);
    }
    if let Some(to) = draft.to.header() {
        message = message.to(to);
    }
    let text = MimePart::new("text/plain", BodyPart::Text(draft.body.as_str().into()));
    let body = if draft.attachments.is_empty() {
        text
    } else {
        let files = draft.attachments.iter().map(Attachment::part);
        let parts: Vec<MimePart<'_>> = std::iter::once(text).chain(files).collect();
        let mixed = ContentType::new("multipart/mixed").attribute("boundary", format!("=_{mark}"));
        MimePart::new(mixed, parts)
    };
    message = message
        .subject(one_line(&draft.subject))
        .message_id(format!("{mark}@{domain}"))
        .header("X-Unsent", Raw::new("1"))
        .body(body);
    // A year that RFC 5322 cannot write is told in universal time instead of stopping the draft.
    if let Ok(date) = rfc2822::to_string(&draft.date) {
        message = message.header("Date", Raw::new(date));
    } else {
        message = message.date(draft.date.timestamp().as_second());
    }
    let mut bytes = Vec::new();
    message.serialize(&mut bytes);
    bytes
}

/// Tells this draft from all others, so that neither its identifier nor the line between its parts depends on chance.
fn mark_of(draft: &Draft) -> String {
    let mut hasher = blake3::Hasher::new();
    let mut add = |bytes: &[u8]| {
        hasher.update(&(bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    };
    for text in [
        &draft.from.address,
        &draft.to.address,
        &draft.subject,
        &draft.body,
        &draft.date.to_string(),
    ] {
        add(text.as_bytes());
    }
    for file in &draft.attachments {
        add(file.name.as_bytes());
        add(&file.bytes);
    }
    hasher.finalize().to_hex().chars().take(32).collect()
}

/// The text without line breaks and other controls: a header is one line.
fn one_line(text: &str) -> Cow<'_, str> {
    if text.chars().any(char::is_control) {
        let spaced = text.chars().map(|c| if c.is_control() { ' ' } else { c });
        Cow::Owned(spaced.collect::<String>().trim().to_owned())
    } else {
        Cow::Borrowed(text)
    }
}

impl MailAddress {
    /// The address when it can stand in a header.
    fn usable(&self) -> Option<&str> {
        let address = self.address.trim();
        let (local, domain) = address.rsplit_once('@')?;
        let odd = |c: char| c.is_control() || c.is_whitespace() || "<>(),;:\"\\[]".contains(c);
        (!local.is_empty() && !domain.is_empty() && !address.contains(odd)).then_some(address)
    }

    fn header(&self) -> Option<Address<'_>> {
        let address = self.usable()?;
        let name = one_line(self.name.trim());
        Some(Address::new_address(
            (!name.is_empty()).then_some(name),
            address,
        ))
    }
}

impl Attachment {
    fn part(&self) -> MimePart<'_> {
        MimePart::new(
            ContentType::new(self.sound_type()),
            BodyPart::Binary(self.bytes.as_slice().into()),
        )
        .attachment(one_line(&self.name))
    }

    fn sound_type(&self) -> &str {
        let sound = self.media_type.split_once('/').is_some_and(|(kind, of)| {
            let token = |text: &str| {
                !text.is_empty()
                    && text
                        .bytes()
                        .all(|b| b.is_ascii_alphanumeric() || b"!#$&-^_.+".contains(&b))
            };
            token(kind) && token(of) && !kind.eq_ignore_ascii_case("multipart")
        });
        if sound {
            &self.media_type
        } else {
            UNKNOWN_TYPE
        }
    }
}

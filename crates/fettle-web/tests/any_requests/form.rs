//! The forms and links of a page, read from its HTML, so that a new form is tested before anyone thinks of it.

use std::collections::BTreeSet;

use crate::dice::Dice;

/// A form as a browser sees it.
#[derive(Clone, Debug)]
pub(crate) struct Form {
    pub(crate) posts: bool,
    pub(crate) action: String,
    pub(crate) multipart: bool,
    fields: Vec<Field>,
}

#[derive(Clone, Debug)]
struct Field {
    name: String,
    kind: String,
    value: String,
    /// Of a choice, what can be chosen.
    options: Vec<String>,
}

/// A field that is sent: its name with text, or with a file's name and bytes.
#[derive(Clone, Debug)]
pub(crate) enum Sent {
    Text(String, String),
    File(String, String, Vec<u8>),
}

/// A tag with its attributes, and where it ends in the page.
struct Tag<'p> {
    name: &'p str,
    attributes: Vec<(&'p str, String)>,
    end: usize,
}

impl Tag<'_> {
    fn get(&self, name: &str) -> Option<&str> {
        let mut attributes = self.attributes.iter();
        attributes
            .find(|(it, _)| *it == name)
            .map(|(_, value)| value.as_str())
    }

    fn text(&self, name: &str) -> String {
        self.get(name).unwrap_or_default().to_owned()
    }
}

pub(crate) fn plain(text: &str) -> String {
    text.replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
}

/// Every tag that opens something; what stands in comments and scripts is no tag of these pages.
fn tags(page: &str) -> Vec<Tag<'_>> {
    let mut tags = Vec::new();
    let mut at = 0;
    while let Some(found) = page[at..].find('<') {
        at += found + 1;
        let rest = &page[at..];
        let name_end = rest
            .find(|c: char| !c.is_ascii_alphanumeric() && c != '/')
            .unwrap_or(rest.len());
        let name = &rest[..name_end];
        let mut attributes = Vec::new();
        let mut place = at + name_end;
        loop {
            let rest = &page[place..];
            let skipped = rest.len() - rest.trim_start().len();
            let rest = rest.trim_start();
            place += skipped;
            if rest.is_empty() || rest.starts_with('>') {
                break;
            }
            let end = rest
                .find(|c: char| c == '=' || c == '>' || c.is_whitespace())
                .unwrap_or(rest.len());
            let attribute = &rest[..end];
            if let Some(value) = rest[end..].strip_prefix("=\"") {
                let length = value.find('"').unwrap_or(value.len());
                attributes.push((attribute, plain(&value[..length])));
                place += end + 2 + length + 1;
            } else {
                attributes.push((attribute, String::new()));
                place += end.max(1);
            }
            if place >= page.len() {
                break;
            }
        }
        at = (place + 1).min(page.len());
        tags.push(Tag {
            name,
            attributes,
            end: at,
        });
    }
    tags
}

/// Addresses of this site that the page leads to or draws.
pub(crate) fn links(page: &str) -> BTreeSet<String> {
    let tags = tags(page);
    let named = tags
        .iter()
        .flat_map(|tag| ["href", "src"].map(|name| tag.get(name)));
    let own = named
        .flatten()
        .filter(|link| link.starts_with('/') && !link.starts_with("//"));
    own.map(|link| link.split('#').next().unwrap_or_default().to_owned())
        .collect()
}

pub(crate) fn forms(page: &str) -> Vec<Form> {
    let mut forms: Vec<Form> = Vec::new();
    let mut inside = false;
    for tag in tags(page) {
        match tag.name {
            "form" => {
                inside = true;
                forms.push(Form {
                    posts: tag.get("method") == Some("post"),
                    action: tag.text("action"),
                    multipart: tag.get("enctype") == Some("multipart/form-data"),
                    fields: Vec::new(),
                });
            }
            "/form" => inside = false,
            "option" => {
                let field = forms.last_mut().and_then(|form| form.fields.last_mut());
                if let Some(field) = field.filter(|field| field.kind == "select") {
                    if tag.get("selected").is_some() {
                        field.value = tag.text("value");
                    }
                    field.options.push(tag.text("value"));
                }
            }
            "input" | "select" | "textarea" | "button" if inside => {
                let Some(form) = forms.last_mut() else {
                    continue;
                };
                let Some(name) = tag.get("name").filter(|name| !name.is_empty()) else {
                    continue;
                };
                let kind = match tag.name {
                    "input" => tag.get("type").unwrap_or("text"),
                    other => other,
                };
                let value = if tag.name == "textarea" {
                    let rest = &page[tag.end..];
                    plain(rest.split("</textarea>").next().unwrap_or_default())
                } else {
                    tag.text("value")
                };
                form.fields.push(Field {
                    name: name.to_owned(),
                    kind: kind.to_owned(),
                    value,
                    options: Vec::new(),
                });
            }
            _ => {}
        }
    }
    forms
}

impl Form {
    /// What a hand, or a hostile program, sends with it.
    pub(crate) fn filled(&self, dice: &mut Dice, files: &[(&'static str, Vec<u8>)]) -> Vec<Sent> {
        // Some sheets are sent as they came, some filled in with sense, some with anything.
        let care = dice.below(4);
        let radios: BTreeSet<&str> = self.of_kind("radio").map(|it| it.name.as_str()).collect();
        let mut sent = Vec::new();
        for name in radios {
            let of_it: Vec<&Field> = self.of_kind("radio").filter(|it| it.name == name).collect();
            if !dice.one_in(4) {
                sent.push(Sent::Text(name.to_owned(), dice.pick(&of_it).value.clone()));
            }
        }
        let buttons: Vec<&Field> = self.of_kind("button").collect();
        if !buttons.is_empty() {
            let button = dice.pick(&buttons);
            sent.push(Sent::Text(button.name.clone(), button.value.clone()));
        }
        for field in &self.fields {
            let (name, value) = (field.name.clone(), field.value.clone());
            match field.kind.as_str() {
                "radio" | "button" | "submit" => {}
                "file" => {
                    for _ in 0..dice.below(3) {
                        let (file, bytes) = dice.file(files);
                        sent.push(Sent::File(name.clone(), file, bytes));
                    }
                }
                "checkbox" if dice.one_in(2) => sent.push(Sent::Text(name, value)),
                "checkbox" => {}
                "hidden" if care < 3 || !dice.one_in(6) => sent.push(Sent::Text(name, value)),
                "select" if care < 3 && !field.options.is_empty() => {
                    sent.push(Sent::Text(name, dice.pick(&field.options).clone()));
                }
                kind => {
                    let value = match care {
                        0 if !dice.one_in(4) => value,
                        0 | 1 => dice.fitting(kind, &name),
                        2 if dice.one_in(2) => dice.fitting(kind, &name),
                        _ => dice.typed(),
                    };
                    sent.push(Sent::Text(name, value));
                }
            }
        }
        if care == 3 && !sent.is_empty() {
            let at = dice.below(sent.len());
            if dice.one_in(2) {
                sent.remove(at);
            } else {
                sent.push(sent[at].clone());
            }
        }
        sent
    }

    fn of_kind<'f>(&'f self, kind: &'f str) -> impl Iterator<Item = &'f Field> {
        self.fields.iter().filter(move |it| it.kind == kind)
    }
}

#[test]
fn forms_are_read_as_a_browser_does() {
    let page = "<form method=\"post\" action=\"/a?b=1&amp;c=2\" novalidate><input name=\"x\" value=\"&quot;1&quot;\">\
        <select name=\"s\"><option value=\"\">none</option><option value=\"k\" selected>K</option></select>\
        <textarea name=\"t\">two\nlines</textarea><button name=\"go\" value=\"on\">Go</button></form><input name=\"outside\">\
        <a href=\"/visits/1?open=apart#apart\">x</a>";
    let [form] = &forms(page)[..] else {
        panic!("one form")
    };
    assert!(form.posts && !form.multipart);
    assert_eq!(form.action, "/a?b=1&c=2");
    let told: Vec<(&str, &str, &str, usize)> = form
        .fields
        .iter()
        .map(|it| {
            (
                it.name.as_str(),
                it.kind.as_str(),
                it.value.as_str(),
                it.options.len(),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("x", "text", "\"1\"", 0),
            ("s", "select", "k", 2),
            ("t", "textarea", "two\nlines", 0),
            ("go", "button", "on", 0)
        ]
    );
    assert_eq!(
        links(page),
        BTreeSet::from(["/visits/1?open=apart".to_owned()])
    );
}

//! What the page of a visit is drawn from.

use std::sync::Arc;

use fettle_bench::{Bench, BenchError, BenchSettings, Change, Kept, Lessons, VisitId, VisitView};
use fettle_notes::ServiceNotes;
use jiff::ZonedDateTime;
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Deserialize;

use super::deed::Deed;
use super::section::Section;
use crate::error::PageError;
use crate::form::{Fields, Form, Wrong};
use crate::kept::Shelves;
use crate::layout;
use crate::live::Live;
use crate::once::Once;
use crate::state::Desk;
use crate::upload::{Sent, Upload};
use crate::urls;

/// One visit with its service notes, and what the address or a returned form says about the page.
#[derive(Debug)]
pub(crate) struct Context<'a> {
    pub(crate) bench: &'a Bench,
    /// The forms taken lately.
    once: &'a Once,
    /// The sessions of listening.
    pub(crate) live: &'a Live,
    /// What was worked out lately.
    pub(crate) shelves: &'a Shelves,
    pub(crate) now: &'a ZonedDateTime,
    pub(crate) settings: BenchSettings,
    pub(crate) view: VisitView,
    pub(crate) notes: Option<Arc<ServiceNotes>>,
    /// The form that came back, if one did.
    pub(crate) returned: Option<Form>,
    /// The stretch asked for beside the one whose turn it is.
    pub(crate) open: Option<Section>,
    /// What the address asks to see.
    pub(crate) asked: Asked,
}

/// What the address asks of the page beside the visit.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct Asked {
    /// Entries just recorded.
    pub(crate) recorded: Option<String>,
    /// The stretch to open.
    open: Option<String>,
    /// The removal to put in hand.
    pub(crate) step: Option<String>,
    /// The part to reach, instead of what the repair needs.
    pub(crate) to: Option<String>,
    /// The fault to give reasons for.
    pub(crate) why: Option<String>,
    /// The kind of quote to draft.
    pub(crate) draft: Option<String>,
    /// The wording of a mail to draft.
    pub(crate) mail: Option<String>,
    /// Present when the plan is to be drawn.
    pub(crate) plan: Option<String>,
}

impl<'a> Context<'a> {
    /// Reads the visit of this number, as the address gives it.
    pub(crate) fn load(desk: &'a Desk, number: &str, asked: Asked) -> Result<Self, PageError> {
        let unknown = || super::unknown(desk, number);
        let visit = number.parse().map(VisitId::new).map_err(|_| unknown())?;
        let view = match desk.bench.visit(visit) {
            Err(BenchError::Unknown { .. }) => return Err(unknown()),
            found => found?,
        };
        let notes = view
            .camera
            .details
            .notes_id
            .as_deref()
            .and_then(|id| desk.bench.notes(id));
        Ok(Self {
            bench: &desk.bench,
            once: &desk.once,
            live: &desk.live,
            shelves: &desk.shelves,
            now: &desk.now,
            settings: desk.bench.settings()?,
            view,
            notes,
            returned: None,
            open: asked.open.as_deref().and_then(Section::from_id),
            asked,
        })
    }

    pub(crate) fn visit(&self) -> VisitId {
        self.view.line.visit
    }

    pub(crate) fn notes(&self) -> Option<&ServiceNotes> {
        self.notes.as_deref()
    }

    /// What finished visits of this model taught; without it the notes' own figures serve.
    pub(crate) fn lessons(&self) -> Option<Arc<Lessons>> {
        let id = self.view.camera.details.notes_id.as_deref()?;
        self.bench.lessons(id).ok().flatten()
    }

    pub(crate) fn today(&self) -> Date {
        self.now.date()
    }

    /// Whether a stretch stands open: the one asked for, else the one whose turn it is.
    pub(crate) fn is_open(&self, section: Section) -> bool {
        match self.open {
            Some(open) => open == section,
            None => Section::now(&self.view) == Some(section),
        }
    }

    /// The form of a deed: fresh, or as it came back.
    pub(crate) fn form(&self, deed: Deed) -> Form {
        self.form_named(deed.name())
    }

    /// One of several forms of the same deed, each with its own `value` in its hidden field.
    pub(crate) fn form_keyed(&self, deed: Deed, value: &str) -> Form {
        self.form_named(&deed.keyed_id(value))
    }

    /// The form with this id: fresh, or as it came back.
    pub(crate) fn form_named(&self, id: &str) -> Form {
        match &self.returned {
            Some(form) if form.id() == id => form.clone(),
            _ => Form::fresh(id),
        }
    }

    /// Draws a deed's form around its fields. What is wrong with it stands at the head of the page.
    pub(crate) fn around(&self, deed: Deed, form: &Form, fields: &Markup) -> Markup {
        html! {
            form method="post" id={ "form-" (form.id()) } action=(urls::deed(self.visit(), deed.name())) novalidate {
                (self.once_field(form))
                (fields)
            }
        }
    }

    /// As [`Context::around`], for a form that takes files.
    pub(crate) fn around_files(&self, deed: Deed, form: &Form, fields: &Markup) -> Markup {
        html! {
            form method="post" id={ "form-" (form.id()) } action=(urls::deed(self.visit(), deed.name()))
                enctype="multipart/form-data" novalidate {
                (self.once_field(form))
                (fields)
            }
        }
    }

    /// Tells a form sent twice, as by a double press, from two forms alike.
    fn once_field(&self, form: &Form) -> Markup {
        html! { input type="hidden" name="once" value=(form.value("once", &self.once.token())); }
    }

    /// A button that takes something recorded back.
    pub(crate) fn undo(&self, entry: fettle_bench::EntryId, section: Section) -> Markup {
        self.undo_called(entry, section, "Undo")
    }

    /// As [`Context::undo`], where it does not stand beside what it takes back.
    pub(crate) fn undo_called(
        &self,
        entry: fettle_bench::EntryId,
        section: Section,
        label: &str,
    ) -> Markup {
        let back_to = urls::visit_at(self.visit(), Some(section.id()), None);
        let back_to = back_to.split('#').next().unwrap_or_default();
        layout::undo_button(&entry.to_string(), back_to, label)
    }

    /// As [`Context::undo`], for something kept.
    pub(crate) fn undo_kept<T>(&self, kept: &Kept<T>, section: Section) -> Markup {
        self.undo(kept.entry, section)
    }

    /// Keeps the photographs of a form, each with the form's caption.
    pub(crate) fn keep_photos(&self, sent: &Upload, wrong: &mut Wrong) -> Vec<Change> {
        let caption = sent.fields.text("caption");
        sent.files
            .iter()
            .filter_map(|file| self.keep_photo(file, caption, wrong))
            .collect()
    }

    fn keep_photo(&self, file: &Sent, caption: &str, wrong: &mut Wrong) -> Option<Change> {
        match self
            .bench
            .keep_photo(self.visit(), self.view.line.stage, caption, &file.bytes)
        {
            Ok(change) => Some(change),
            Err(error) => {
                wrong.note(&file.field, format!("{}: {error}", file.name));
                None
            }
        }
    }
}

/// Finishes the reading of a form: the changes, or what is wrong.
pub(crate) fn or_wrong(changes: Vec<Change>, wrong: Wrong) -> Result<Vec<Change>, Wrong> {
    if wrong.is_empty() {
        Ok(changes)
    } else {
        Err(wrong)
    }
}

/// A date field; `otherwise` when it is empty.
pub(crate) fn date_field(
    fields: &Fields,
    wrong: &mut Wrong,
    name: &str,
    otherwise: Option<Date>,
) -> Option<Date> {
    let text = fields.text(name);
    if text.is_empty() {
        return otherwise;
    }
    match text.parse() {
        Ok(date) => Some(date),
        Err(_) => {
            wrong.note(
                name,
                format!("“{text}” is not a date; write it like 2026-03-14"),
            );
            None
        }
    }
}

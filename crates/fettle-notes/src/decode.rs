//! From a TOML document to the model's types, table by table.

mod cause;
mod limit;
mod part;
mod setting;

use std::path::Path;

use toml::de::{DeTable, DeValue};

use crate::desk::{Desk, Draft, Kind, Span, shorten};
use crate::fields::Fields;
use crate::model::{Catalog, ID_RULE, Id, Model, ModelId, ServiceNotes, is_id};
use crate::problem::ProblemKind;
use crate::range;
use crate::values::entries;

/// What the first line of every file says.
pub(crate) const FORMAT: &str = "fettle-notes-1";

/// Reads a whole document; `None` when something needed for the result was wrong and has been reported.
pub(crate) fn notes<'t>(
    desk: &mut Desk<'_>,
    document: &'t DeTable<'t>,
    file: Option<&str>,
) -> Option<ServiceNotes> {
    for kind in Kind::ALL {
        define(desk, document, kind);
    }
    let mut fields = Fields::new(desk, document, 0..0, String::new());
    format(&mut fields);
    let model = model(&mut fields, file);
    for kind in Kind::ALL {
        // Read below; asked for here so that `finish` knows the names.
        let _ = fields.optional(kind.as_str());
    }
    fields.finish();

    let parts = each(desk, document, Kind::Part, part::part);
    let removals = each(desk, document, Kind::Removal, part::removal);
    let circumstances = each(desk, document, Kind::Circumstance, cause::circumstance);
    let faults = each(desk, document, Kind::Fault, cause::fault);
    let signs = each(desk, document, Kind::Sign, cause::sign);
    let works = each(desk, document, Kind::Work, cause::work);
    let settings = each(desk, document, Kind::Setting, setting::setting);
    let limits = each(desk, document, Kind::Limit, limit::limit);
    Some(ServiceNotes {
        model: model?,
        parts,
        removals,
        circumstances,
        faults,
        signs,
        works,
        settings,
        limits,
    })
}

fn format(fields: &mut Fields<'_, '_, '_>) {
    let Some(field) = fields.required("format", &format!("\"{FORMAT}\"")) else {
        return;
    };
    let Some(text) = fields.desk.text(&field) else {
        return;
    };
    if text != FORMAT {
        let message = format!(
            "the format is `{}`, which this program does not know",
            shorten(&text)
        );
        let help = if text.starts_with("fettle-notes-") {
            format!("this program reads `{FORMAT}`; notes in a later format need a newer program")
        } else {
            format!("write `format = \"{FORMAT}\"`")
        };
        fields
            .desk
            .report(Draft::error(ProblemKind::Format, &field.span, message).help(help));
    }
}

fn model(top: &mut Fields<'_, '_, '_>, file: Option<&str>) -> Option<Model> {
    let Some(field) = top.optional("model") else {
        let draft = Draft::error(
            ProblemKind::Missing,
            &top.span,
            "the file lacks the table `[model]`",
        );
        top.desk
            .report(draft.help("say at the head which model the notes are for"));
        return None;
    };
    let mut f = top.desk.table(&field)?;
    let id = model_id(&mut f, file);
    let maker = f.text("maker", "\"...\"");
    let name = f.text("name", "\"...\"");
    let kind = f.text("kind", "\"viewfinder camera\"");
    let years = f.text("years", "\"1953-1961\"");
    let frame_mm = f.pair("frame_mm", &range::FRAME_MM, "[36, 24]");
    let shutter = f.word("shutter");
    let lens = f.text_if_any("lens");
    let weight_g = f.number_if_any("weight_g", &range::WEIGHT_G);
    let serial_at = f.text("serial_at", "\"under the base plate\"");
    let summary = f.text("summary", "\"what one should know before starting\"");
    let cautions = f.texts("cautions");
    let owner_cautions = f.texts("owner_cautions");
    let author = f.text("author", "\"...\"");
    let revised = f.date("revised");
    f.finish();
    top.desk.shutter = shutter;
    Some(Model {
        id: id?,
        maker: maker?,
        name: name?,
        kind: kind?,
        years: years?,
        frame_mm: frame_mm?,
        shutter: shutter?,
        lens,
        weight_g,
        serial_at: serial_at?,
        summary: summary?,
        cautions,
        owner_cautions,
        author: author?,
        revised: revised?,
    })
}

fn model_id(f: &mut Fields<'_, '_, '_>, file: Option<&str>) -> Option<ModelId> {
    let stem = file
        .and_then(|name| Path::new(name).file_stem())
        .and_then(|stem| stem.to_str());
    let example = format!("\"{}\"", stem.filter(|s| is_id(s)).unwrap_or("corran-66"));
    let field = f.required("id", &example)?;
    let text = f.desk.text(&field)?;
    if let Some(stem) = stem
        && stem != text
    {
        let message = format!(
            "the model's id is `{}` but the file is called `{}`",
            shorten(&text),
            shorten(stem)
        );
        let help = format!(
            "rename the file to `{}.toml`, or write `id = \"{}\"`",
            shorten(&text),
            shorten(stem)
        );
        f.desk
            .report(Draft::error(ProblemKind::NameMismatch, &field.span, message).help(help));
    }
    let id = ModelId::from_text(&text);
    if id.is_none() {
        bad_id(f.desk, &text, &field.span, &field.path);
    }
    id
}

/// Reports an id that does not follow the rule, with one that would.
fn bad_id(desk: &mut Desk<'_>, text: &str, span: &Span, path: &str) {
    let message = format!("`{path}` is `{}`, which is not an id", shorten(text));
    let draft = Draft::error(ProblemKind::BadId, span, message);
    let like = id_like(text)
        .map(|like| format!("; for example `{like}`"))
        .unwrap_or_default();
    desk.report(draft.help(format!("write {ID_RULE}{like}")));
}

/// The id that an author likely meant.
fn id_like(text: &str) -> Option<String> {
    let plain: String = text
        .chars()
        .take(200)
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        })
        .collect();
    let words: Vec<&str> = plain.split('-').filter(|w| !w.is_empty()).collect();
    let id = words.join("-");
    is_id(&id).then_some(id)
}

/// Notes every id that a table defines, before any reference is followed.
fn define<'t>(desk: &mut Desk<'_>, document: &'t DeTable<'t>, kind: Kind) {
    let table = kind.as_str();
    let Some((name, value)) = document.get_key_value(table) else {
        return;
    };
    let Some(of_kind) = value.get_ref().as_table() else {
        let help = format!("write one table for each {table}: `[{table}.ID]`");
        let message = format!("`{table}` should be tables `[{table}.ID]`");
        let span = if value.get_ref().is_array() {
            name.span()
        } else {
            value.span()
        };
        desk.report(Draft::error(ProblemKind::WrongType, &span, message).help(help));
        return;
    };
    for (id, span, _) in entries(of_kind) {
        if !is_id(id) {
            bad_id(desk, id, &span, table);
        }
        desk.define(kind, id, &span);
    }
}

/// Reads every table of one kind.
fn each<'s, 't, I: Id, T>(
    desk: &mut Desk<'s>,
    document: &'t DeTable<'t>,
    kind: Kind,
    read: impl Fn(&mut Fields<'_, 's, 't>, &str) -> Option<T>,
) -> Catalog<I, T> {
    let mut found = Catalog::default();
    let Some(of_kind) = document
        .get(kind.as_str())
        .and_then(|v| v.get_ref().as_table())
    else {
        return found;
    };
    for (id, span, value) in entries(of_kind) {
        let path = format!("{}.{}", kind.as_str(), shorten(id));
        let DeValue::Table(table) = value.get_ref() else {
            not_under_an_id(desk, kind, id, &span);
            continue;
        };
        let mut fields = Fields::new(desk, table, span, path);
        let read_one = read(&mut fields, id);
        fields.finish();
        if let (Some(id), Some(one)) = (I::from_text(id), read_one) {
            found.insert(id, one);
        }
    }
    found
}

/// Reports `[part]` with keys of its own, where `[part.ID]` was meant.
fn not_under_an_id(desk: &mut Desk<'_>, kind: Kind, key: &str, span: &Span) {
    let table = kind.as_str();
    let message = format!(
        "`{}` stands in `[{table}]` itself, not under an id",
        shorten(key)
    );
    desk.report(
        Draft::error(ProblemKind::WrongType, span, message)
            .help(format!("open a table with an id before it: `[{table}.ID]`")),
    );
}

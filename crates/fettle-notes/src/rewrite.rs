//! New figures written into service notes, everything else left as its author wrote it.

use toml_edit::{DocumentMut, Item, TableLike, Value};

/// Digits that a chance or a minute is worth.
const DIGITS: i32 = 3;

/// A figure to be written in the place of another.
#[derive(Debug, Clone, PartialEq)]
pub struct NewFigure<'a> {
    /// Where it stands: `["fault", "oil-on-blades", "leak"]`, `["sign", "wet-shine", "links", "oil-on-blades"]`.
    pub place: Vec<&'a str>,
    /// The figure; rounded to three digits.
    pub value: f64,
    /// Why, in a few words; written as a comment at the end of its line.
    pub remark: String,
}

/// Why notes were not rewritten.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotRewritten {
    /// The text is no TOML.
    #[error("the service notes are not TOML: {0}")]
    Syntax(String),
    /// A figure's place is not there, or holds no number.
    #[error("the service notes have no number at {0}")]
    NoFigure(String),
}

/// The notes with new figures: order, spacing and comments stay, and each changed line says why at its end.
///
/// # Errors
/// When the text is no TOML, or holds no number at the place of a figure.
pub fn rewrite(text: &str, figures: &[NewFigure<'_>]) -> Result<String, NotRewritten> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|error: toml_edit::TomlError| NotRewritten::Syntax(error.message().to_owned()))?;
    for figure in figures {
        write(document.as_item_mut(), &figure.place, figure)
            .ok_or_else(|| NotRewritten::NoFigure(figure.place.join(".")))?;
    }
    Ok(document.to_string())
}

/// Replaces the number; `None` when there is none.
fn write(item: &mut Item, place: &[&str], figure: &NewFigure<'_>) -> Option<()> {
    let (key, further) = place.split_first()?;
    let next = match item {
        Item::ArrayOfTables(tables) => {
            return write_in(tables.get_mut(key.parse().ok()?)?, further, figure);
        }
        other => other.as_table_like_mut()?,
    };
    write_in(next, place, figure)
}

fn write_in(table: &mut dyn TableLike, place: &[&str], figure: &NewFigure<'_>) -> Option<()> {
    let (key, further) = place.split_first()?;
    let next = table.get_mut(key)?;
    let Some(value) = next.as_value_mut() else {
        return write(next, further, figure);
    };
    put(value, further, figure.value)?;
    // A comment cannot stand within braces or brackets; it goes behind them.
    let words = if further.is_empty() {
        figure.remark.clone()
    } else {
        format!("{} {}", further.join("."), figure.remark)
    };
    remark(value.decor_mut(), &words);
    Some(())
}

/// Replaces the number at `place` within a value, through braces by name and through brackets by number.
fn put(value: &mut Value, place: &[&str], figure: f64) -> Option<()> {
    let Some((key, further)) = place.split_first() else {
        if !(value.is_float() || value.is_integer()) {
            return None;
        }
        let decor = value.decor().clone();
        *value = Value::from(rounded(figure));
        *value.decor_mut() = decor;
        return Some(());
    };
    let within = match value {
        Value::InlineTable(table) => table.get_mut(key)?,
        Value::Array(array) => array.get_mut(key.parse().ok()?)?,
        _ => return None,
    };
    put(within, further, figure)
}

fn remark(decor: &mut toml_edit::Decor, words: &str) {
    let before = decor
        .suffix()
        .and_then(|it| it.as_str())
        .unwrap_or_default();
    let before = before.trim_end();
    let suffix = if before.contains('#') {
        format!("{before}; {words}")
    } else {
        format!("{before} # {words}")
    };
    decor.set_suffix(suffix);
}

fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let places = DIGITS - 1 - value.abs().log10().floor() as i32;
    // By way of the text, so that no binary crumbs are written.
    format!("{value:.*}", places.clamp(0, 9) as usize)
        .parse()
        .unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# kept\n[fault.grease]\nleak = 0.1 # the author's\nbrought_on_by = { rest = 0.4, damp = 0.2 }\n\n[work.clean]\nminutes = 30\n";

    fn figure<'a>(place: &[&'a str], value: f64, remark: &str) -> NewFigure<'a> {
        NewFigure {
            place: place.to_vec(),
            value,
            remark: remark.to_owned(),
        }
    }

    #[test]
    fn figures_are_replaced_and_say_why_at_their_line() {
        let figures = [
            figure(&["fault", "grease", "leak"], 0.123_456, "was 0.1"),
            figure(
                &["fault", "grease", "brought_on_by", "rest"],
                0.5,
                "was 0.4",
            ),
            figure(
                &["fault", "grease", "brought_on_by", "damp"],
                0.1,
                "was 0.2",
            ),
            figure(&["work", "clean", "minutes"], 41.26, "was 30"),
        ];
        let want = "# kept\n[fault.grease]\nleak = 0.123 # the author's; was 0.1\nbrought_on_by = { rest = 0.5, damp = 0.1 } # rest was 0.4; damp was 0.2\n\n[work.clean]\nminutes = 41.3 # was 30\n";
        assert_eq!(rewrite(TEXT, &figures).unwrap(), want);
    }

    #[test]
    fn a_figure_within_brackets_is_reached_by_its_number() {
        let text = "[setting.rate]\nadjusters = [\n    { name = \"a\", effects = { near = { per_turn = 1, rel_u = 0.3 } } },\n    { name = \"b\", effects = { near = { per_turn = -2.5 } } },\n]\n";
        let place = &[
            "setting",
            "rate",
            "adjusters",
            "1",
            "effects",
            "near",
            "per_turn",
        ];
        let got = rewrite(text, &[figure(place, -3.071, "was -2.5")]).unwrap();
        let want = text
            .replace("-2.5", "-3.07")
            .replace("\n]\n", "\n] # 1.effects.near.per_turn was -2.5\n");
        assert_eq!(got, want);
        let tables = "[[setting.rate.adjusters]]\nname = \"a\"\neffects.near.per_turn = 1\n";
        let place = &[
            "setting",
            "rate",
            "adjusters",
            "0",
            "effects",
            "near",
            "per_turn",
        ];
        let got = rewrite(tables, &[figure(place, 1.25, "was 1")]).unwrap();
        assert!(got.contains("per_turn = 1.25 # was 1\n"), "{got}");
        let beyond = ["setting", "rate", "adjusters", "7", "effects"];
        assert!(rewrite(text, &[figure(&beyond, 1.0, "")]).is_err());
    }

    #[test]
    fn a_place_without_a_number_is_refused() {
        for place in [
            &["fault", "grease", "name"][..],
            &["sign"],
            &["fault", "grease"],
        ] {
            let refused = rewrite(TEXT, &[figure(place, 1.0, "")]);
            assert_eq!(refused, Err(NotRewritten::NoFigure(place.join("."))));
        }
        assert!(matches!(rewrite("a = ", &[]), Err(NotRewritten::Syntax(_))));
    }
}

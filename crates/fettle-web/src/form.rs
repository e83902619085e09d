//! Forms: what was typed, what is wrong with it, and fields that show both.

use fettle_bench::Decimal;
use maud::{Markup, PreEscaped, html};

/// What a form sent, in its order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Fields(Vec<(String, String)>);

impl Fields {
    pub(crate) fn new(pairs: Vec<(String, String)>) -> Self {
        Self(pairs)
    }

    /// Adds a field, as a multipart body brings them.
    pub(crate) fn push(&mut self, name: String, value: String) {
        self.0.push((name, value));
    }

    /// The text of a field without the spaces around it; empty when it was not sent.
    pub(crate) fn text(&self, name: &str) -> &str {
        self.raw(name).trim()
    }

    /// The text of a field if it says anything.
    pub(crate) fn some(&self, name: &str) -> Option<String> {
        Some(self.text(name))
            .filter(|text| !text.is_empty())
            .map(str::to_owned)
    }

    /// Every value of a repeated field, without empty ones.
    pub(crate) fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        let name = name.to_owned();
        self.0
            .iter()
            .filter(move |(key, _)| *key == name)
            .map(|(_, value)| value.trim())
            .filter(|value| !value.is_empty())
    }

    /// Fields whose name starts with `prefix`, named by the rest of it.
    pub(crate) fn under<'a>(&'a self, prefix: &'a str) -> impl Iterator<Item = (&'a str, &'a str)> {
        self.0
            .iter()
            .filter_map(move |(key, value)| Some((key.strip_prefix(prefix)?, value.trim())))
    }

    /// Whether a box was ticked.
    pub(crate) fn ticked(&self, name: &str) -> bool {
        self.0.iter().any(|(key, _)| key == name)
    }

    /// What a person asks of a field that stands in the record as `now`, judged by what the page
    /// showed them; a form that does not say what it showed counts as fresh.
    pub(crate) fn altered(&self, name: &str, now: &str) -> Altered {
        let shown_name = shown(name);
        let was = if self.ticked(&shown_name) {
            self.text(&shown_name)
        } else {
            now
        };
        let typed = self.text(name);
        if !self.ticked(name) || same(typed, was) || same(typed, now) {
            Altered::No
        } else if same(was, now) {
            Altered::To(typed.to_owned())
        } else {
            Altered::Meanwhile
        }
    }

    /// Brings a field that its person left alone to what stands in the record.
    fn catch_up(&mut self, name: &str, now: &str) {
        let shown_name = shown(name);
        if !self.ticked(&shown_name) || !same(self.text(name), self.text(&shown_name)) {
            return;
        }
        if let Some((_, value)) = self.0.iter_mut().find(|(key, _)| key == name) {
            now.clone_into(value);
        }
    }

    fn raw(&self, name: &str) -> &str {
        self.0
            .iter()
            .find(|(key, _)| key == name)
            .map_or("", |(_, value)| value)
    }
}

/// What a form asks of a field that others may have written meanwhile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Altered {
    /// Leave it as it stands.
    No,
    /// Write this.
    To(String),
    /// It was altered here and elsewhere, and not alike.
    Meanwhile,
}

/// The hidden field that says what the page showed in another.
fn shown(name: &str) -> String {
    format!("was.{name}")
}

/// Whether two texts say the same: browsers send line ends of their own.
fn same(one: &str, other: &str) -> bool {
    one.trim().lines().eq(other.trim().lines())
}

/// What is wrong with a form, by field; all of it, not the first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Wrong(Vec<(String, String)>);

impl Wrong {
    /// Notes what is wrong with `field`; an empty name means the form as a whole.
    pub(crate) fn note(&mut self, field: impl Into<String>, text: impl Into<String>) {
        self.0.push((field.into(), text.into()));
    }

    /// What is wrong with a form as a whole.
    pub(crate) fn of_all(text: impl Into<String>) -> Self {
        Self(vec![(String::new(), text.into())])
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// All that is wrong, in one line.
    pub(crate) fn in_words(&self) -> String {
        let texts: Vec<&str> = self.0.iter().map(|(_, text)| text.as_str()).collect();
        texts.join("; ")
    }

    /// The text of a field that must say something.
    pub(crate) fn needed(&mut self, fields: &Fields, name: &str, what: &str) -> String {
        let text = fields.text(name);
        if text.is_empty() {
            self.note(name, format!("{what} is missing"));
        }
        text.to_owned()
    }

    /// The text to record for a field that stands as `now`: what was typed if its person altered
    /// it, else `now`. Noted as wrong when it was altered elsewhere meanwhile.
    pub(crate) fn merged(&mut self, fields: &Fields, name: &str, now: &str) -> String {
        match fields.altered(name, now) {
            Altered::No => now.to_owned(),
            Altered::To(text) => text,
            Altered::Meanwhile => {
                self.meanwhile(name, if now.is_empty() { "nothing" } else { now });
                now.to_owned()
            }
        }
    }

    /// Notes that the record has changed under a field altered here; `now` is what it says.
    pub(crate) fn meanwhile(&mut self, name: &str, now: &str) {
        self.note(
            name,
            format!(
                "this was changed on another page meanwhile and now says “{now}”; look whether \
                 yours should stand, and send it again"
            ),
        );
    }

    /// A number that may be left out; a decimal comma is read too.
    pub(crate) fn number(&mut self, fields: &Fields, name: &str, what: &str) -> Option<f64> {
        let text = fields.some(name)?;
        match text
            .replace(',', ".")
            .replace('\u{2212}', "-")
            .parse::<f64>()
        {
            Ok(number) if number.is_finite() => Some(number),
            _ => {
                self.note(
                    name,
                    format!("{what}: “{text}” is not a number; write it like 12.5"),
                );
                None
            }
        }
    }

    /// An exact amount of money that may be left out, with at most two decimals; a decimal comma
    /// is read too. `1,200` could mean either of two amounts and is refused.
    pub(crate) fn amount(&mut self, fields: &Fields, name: &str, what: &str) -> Option<Decimal> {
        let amount = self.owed(fields, name, what)?;
        if amount < Decimal::ZERO {
            let text = fields.text(name);
            self.note(
                name,
                format!("{what}: “{text}” is not an amount; write it like 85 or 12.50"),
            );
            return None;
        }
        Some(amount)
    }

    /// The same, which may be below zero: what is taken off, or paid back.
    pub(crate) fn owed(&mut self, fields: &Fields, name: &str, what: &str) -> Option<Decimal> {
        let text = fields.some(name)?;
        if text.split([',', '.']).skip(1).any(|part| part.len() > 2) {
            self.note(
                name,
                format!("{what}: “{text}” can be read in two ways; write 1200 or 1.20"),
            );
            return None;
        }
        let amount = exact(&text);
        if amount.is_none() {
            self.note(
                name,
                format!("{what}: “{text}” is not an amount; write it like 85 or 12.50"),
            );
        }
        amount
    }

    /// A percentage from 0 to 100 that may be left out, with as many decimals as its law has.
    pub(crate) fn percent(&mut self, fields: &Fields, name: &str, what: &str) -> Option<Decimal> {
        let text = fields.some(name)?;
        let fits = |percent: &Decimal| (Decimal::ZERO..=Decimal::ONE_HUNDRED).contains(percent);
        let percent = exact(&text).filter(fits);
        if percent.is_none() {
            let message =
                format!("{what}: “{text}” is not from 0 to 100 %; write it like 19 or 8.875");
            self.note(name, message);
        }
        percent
    }

    /// A whole number from 1 that may be left out.
    pub(crate) fn whole(&mut self, fields: &Fields, name: &str, what: &str) -> Option<u32> {
        let text = fields.some(name)?;
        match text.parse::<u32>() {
            Ok(number) if number > 0 => Some(number),
            _ => {
                self.note(
                    name,
                    format!("{what}: “{text}” is not a whole number from 1"),
                );
                None
            }
        }
    }

    fn of(&self, field: &str) -> Option<&str> {
        self.0
            .iter()
            .find(|(name, _)| name == field)
            .map(|(_, text)| text.as_str())
    }
}

/// One form on a page: its name, and what it holds when it comes back.
#[derive(Clone, Debug, Default)]
pub(crate) struct Form {
    id: String,
    fields: Fields,
    wrong: Wrong,
    returned: bool,
}

impl Form {
    /// A form that nobody has filled in.
    pub(crate) fn fresh(id: impl Into<String>) -> Self {
        Self {
            id: id.into(),
            ..Self::default()
        }
    }

    /// A form that comes back with what was typed and what is wrong with it.
    pub(crate) fn returned(id: impl Into<String>, fields: Fields, wrong: Wrong) -> Self {
        Self {
            id: id.into(),
            fields,
            wrong,
            returned: true,
        }
    }

    pub(crate) fn id(&self) -> &str {
        &self.id
    }

    /// Whether it came back.
    pub(crate) fn is_returned(&self) -> bool {
        self.returned
    }

    /// A form that came back, with every field its person left alone brought to the record.
    pub(crate) fn caught_up<'a>(
        mut self,
        standing: impl IntoIterator<Item = (String, &'a str)>,
    ) -> Self {
        if self.returned {
            for (name, now) in standing {
                self.fields.catch_up(&name, now);
            }
        }
        self
    }

    /// Says along with the form what it shows of the record in a field.
    pub(crate) fn was(&self, name: &str, now: &str) -> Markup {
        html! { input type="hidden" name=(shown(name)) value=(now); }
    }

    /// What is wrong with a field drawn by hand.
    pub(crate) fn error(&self, name: &str) -> Markup {
        html! {
            @if let Some(text) = self.wrong.of(name) {
                p.error id={ (self.field_id(name)) "-error" } { (text) }
            }
        }
    }

    /// What was typed, or else `otherwise`.
    pub(crate) fn value<'a>(&'a self, name: &str, otherwise: &'a str) -> &'a str {
        if self.returned {
            self.fields.raw(name)
        } else {
            otherwise
        }
    }

    /// All that was chosen in a repeated field.
    pub(crate) fn chosen<'a>(&'a self, name: &str) -> Vec<&'a str> {
        self.fields
            .0
            .iter()
            .filter(|(key, _)| key == name)
            .map(|(_, value)| value.as_str())
            .collect()
    }

    /// Everything wrong, above the form, each line leading to its field.
    pub(crate) fn problems(&self) -> Markup {
        if self.wrong.is_empty() {
            return html! {};
        }
        html! {
            div.problems role="alert" id={ (self.id) "-problems" } tabindex="-1" {
                p { strong { "Nothing is done yet." } " Please put this right and send it again:" }
                ul {
                    @for (field, text) in &self.wrong.0 {
                        li {
                            @if field.is_empty() { (text) }
                            @else { a href={ "#" (self.field_id(field)) } { (text) } }
                        }
                    }
                }
            }
        }
    }

    /// A field of one line.
    pub(crate) fn line<'a>(&'a self, name: &'a str, label: &'a str) -> Field<'a> {
        Field {
            kind: Kind::Line("text"),
            ..Field::of(self, name, label)
        }
    }

    /// A field of one line that a browser checks or helps with, such as `date` or `email`.
    pub(crate) fn typed<'a>(
        &'a self,
        name: &'a str,
        label: &'a str,
        kind: &'static str,
    ) -> Field<'a> {
        Field {
            kind: Kind::Line(kind),
            ..Field::of(self, name, label)
        }
    }

    /// A field of several lines.
    pub(crate) fn area<'a>(&'a self, name: &'a str, label: &'a str) -> Field<'a> {
        Field {
            kind: Kind::Area,
            ..Field::of(self, name, label)
        }
    }

    /// A field in a cell of a table, whose heading labels it; `label` says the row too.
    pub(crate) fn cell(
        &self,
        name: &str,
        label: &str,
        otherwise: &str,
        list: Option<&str>,
    ) -> Markup {
        let invalid = self.wrong.of(name).map(|_| "true");
        html! {
            input type="text" id=(self.field_id(name)) name=(name) value=(self.value(name, otherwise))
                aria-label=(label) aria-invalid=[invalid] autocomplete="off" list=[list];
        }
    }

    /// A choice of one among `options` (value and what it is called).
    pub(crate) fn choice<'a>(
        &'a self,
        name: &'a str,
        label: &'a str,
        options: Vec<(String, String)>,
    ) -> Field<'a> {
        Field {
            kind: Kind::Choice(options),
            ..Field::of(self, name, label)
        }
    }

    /// A box to tick, on a line of its own.
    pub(crate) fn tick(&self, name: &str, value: &str, label: &str, ticked: bool) -> Markup {
        let ticked = if self.returned {
            self.chosen(name).contains(&value)
        } else {
            ticked
        };
        html! {
            label.tick {
                input type="checkbox" name=(name) value=(value) checked[ticked];
                span { (label) }
            }
        }
    }

    /// One of a row of choices, all in sight.
    pub(crate) fn radio(&self, name: &str, value: &str, label: &str, otherwise: &str) -> Markup {
        let on = self.value(name, otherwise) == value;
        html! {
            label.radio {
                input type="radio" name=(name) value=(value) checked[on];
                span { (label) }
            }
        }
    }

    /// The id of a field on the page.
    pub(crate) fn field_id(&self, name: &str) -> String {
        format!("{}-{}", self.id, name.replace('.', "-"))
    }
}

#[derive(Clone, Debug)]
enum Kind {
    Line(&'static str),
    Area,
    Choice(Vec<(String, String)>),
}

/// A labelled field; [`Field::draw`] makes its HTML.
#[derive(Clone, Debug)]
pub(crate) struct Field<'a> {
    form: &'a Form,
    name: &'a str,
    label: &'a str,
    kind: Kind,
    hint: &'a str,
    otherwise: &'a str,
    unit: &'a str,
    needed: bool,
    list: &'a str,
    class: &'a str,
    completes: &'a str,
    letters: bool,
}

impl<'a> Field<'a> {
    fn of(form: &'a Form, name: &'a str, label: &'a str) -> Self {
        Self {
            form,
            name,
            label,
            kind: Kind::Area,
            hint: "",
            otherwise: "",
            unit: "",
            needed: false,
            list: "",
            class: "",
            completes: "off",
            letters: false,
        }
    }

    /// What the browser may fill in: `username`, `current-password`, `new-password`.
    pub(crate) fn completing(self, completes: &'a str) -> Self {
        Self { completes, ..self }
    }

    /// A code, which no keyboard should correct.
    pub(crate) fn letters(self) -> Self {
        Self {
            letters: true,
            ..self
        }
    }

    /// A word of help under the label.
    pub(crate) fn hint(self, hint: &'a str) -> Self {
        Self { hint, ..self }
    }

    /// What the field holds before anything is typed.
    pub(crate) fn holding(self, otherwise: &'a str) -> Self {
        Self { otherwise, ..self }
    }

    /// The unit that stands behind the field.
    pub(crate) fn unit(self, unit: &'a str) -> Self {
        Self { unit, ..self }
    }

    /// Must be filled in.
    pub(crate) fn needed(self) -> Self {
        Self {
            needed: true,
            ..self
        }
    }

    /// Offers the entries of the list with this id.
    pub(crate) fn offering(self, list: &'a str) -> Self {
        Self { list, ..self }
    }

    /// How wide it stands: `short`, `wide`.
    pub(crate) fn class(self, class: &'a str) -> Self {
        Self { class, ..self }
    }

    /// The field with its label, hint and error.
    pub(crate) fn draw(self) -> Markup {
        let id = self.form.field_id(self.name);
        let wrong = self.form.wrong.of(self.name);
        let value = self.form.value(self.name, self.otherwise);
        let hint_id = format!("{id}-hint");
        let error_id = format!("{id}-error");
        let mut told = Vec::new();
        if !self.hint.is_empty() {
            told.push(hint_id.as_str());
        }
        if wrong.is_some() {
            told.push(error_id.as_str());
        }
        let told = Some(told.join(" ")).filter(|told| !told.is_empty());
        let invalid = wrong.map(|_| "true");
        let list = Some(self.list).filter(|list| !list.is_empty());
        let decimal = (!self.unit.is_empty()).then_some("decimal");
        html! {
            div class={ "field " (self.class) @if wrong.is_some() { " wrong" } } {
                label for=(id) {
                    (self.label)
                    @if self.needed { span.needed { " (needed)" } }
                }
                @if !self.hint.is_empty() { p.hint id=(hint_id) { (self.hint) } }
                @if let Some(text) = wrong { p.error id=(error_id) { (text) } }
                @match &self.kind {
                    Kind::Line(kind) => {
                        span.with-unit {
                            input type=(kind) id=(id) name=(self.name) value=(value) autocomplete=(self.completes)
                                autocapitalize=[self.letters.then_some("characters")] spellcheck=[self.letters.then_some("false")]
                                list=[list] inputmode=[decimal] aria-describedby=[told.as_deref()]
                                aria-invalid=[invalid] aria-required=[self.needed.then_some("true")];
                            @if !self.unit.is_empty() { span.unit { (self.unit) } }
                        }
                    }
                    Kind::Area => {
                        // A browser drops one newline after the opening tag; this one is for it to drop.
                        textarea id=(id) name=(self.name) rows="3" aria-describedby=[told.as_deref()]
                            aria-invalid=[invalid] aria-required=[self.needed.then_some("true")] { (PreEscaped("\n")) (value) }
                    }
                    Kind::Choice(options) => {
                        select id=(id) name=(self.name) aria-describedby=[told.as_deref()]
                            aria-invalid=[invalid] aria-required=[self.needed.then_some("true")] {
                            @for (option, label) in options {
                                option value=(option) selected[option == value] { (label) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A list of entries for fields that [`Field::offering`] names it.
pub(crate) fn offers<'a>(id: &str, entries: impl IntoIterator<Item = &'a str>) -> Markup {
    html! {
        datalist id=(id) {
            @for entry in entries { option value=(entry) {} }
        }
    }
}

/// A number as it is written, with a decimal comma or point.
fn exact(text: &str) -> Option<Decimal> {
    text.replace(',', ".").replace('\u{2212}', "-").parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(pairs: &[(&str, &str)]) -> Fields {
        Fields::new(
            pairs
                .iter()
                .map(|&(k, v)| (k.to_owned(), v.to_owned()))
                .collect(),
        )
    }

    #[test]
    fn what_was_typed_comes_back_escaped_with_the_error_at_the_field() {
        let mut wrong = Wrong::default();
        let sent = fields(&[("name", "<b>\"Ada\"</b>"), ("age", "old")]);
        assert_eq!(wrong.number(&sent, "age", "age"), None);
        let form = Form::returned("f", sent, wrong);
        let html = form.typed("age", "Age", "text").draw().into_string();
        assert!(html.contains(r#"value="old""#), "{html}");
        assert!(html.contains(r#"aria-invalid="true""#), "{html}");
        assert!(html.contains("is not a number"), "{html}");
        let html = form.line("name", "Name").draw().into_string();
        assert!(
            html.contains("&lt;b&gt;&quot;Ada&quot;&lt;/b&gt;"),
            "{html}"
        );
        assert!(form.problems().into_string().contains(r##"href="#f-age""##));
    }

    #[test]
    fn numbers_are_read_with_a_comma_and_with_a_true_minus() {
        let mut wrong = Wrong::default();
        let sent = fields(&[("a", " 1,5 "), ("b", "\u{2212}2"), ("c", ""), ("d", "inf")]);
        assert_eq!(wrong.number(&sent, "a", "a"), Some(1.5));
        assert_eq!(wrong.number(&sent, "b", "b"), Some(-2.0));
        assert_eq!(wrong.number(&sent, "c", "c"), None);
        assert!(wrong.is_empty());
        assert_eq!(wrong.number(&sent, "d", "d"), None);
        assert!(!wrong.is_empty());
    }

    #[test]
    fn a_percentage_has_as_many_decimals_as_it_needs() {
        for (text, want) in [
            ("8.875", Some("8.875")),
            ("8,1", Some("8.1")),
            ("101", None),
            ("-1", None),
        ] {
            let mut wrong = Wrong::default();
            let read = wrong.percent(&fields(&[("a", text)]), "a", "a");
            assert_eq!(read, want.map(|it| it.parse().unwrap()), "{text}");
            assert_eq!(wrong.is_empty(), want.is_some(), "{text}");
        }
    }

    #[test]
    fn an_amount_that_can_be_read_in_two_ways_is_refused() {
        for text in ["1,200", "1.200", "1,200.50", "0,005"] {
            let mut wrong = Wrong::default();
            assert_eq!(wrong.amount(&fields(&[("a", text)]), "a", "a"), None);
            assert!(wrong.of("a").unwrap().contains("1200 or 1.20"), "{wrong:?}");
        }
        for (text, want) in [("12,5", "12.5"), ("12,50", "12.50"), ("1200", "1200")] {
            let mut wrong = Wrong::default();
            let read = wrong.amount(&fields(&[("a", text)]), "a", "a");
            assert_eq!(read, Some(want.parse().unwrap()), "{text}");
        }
    }

    #[test]
    fn only_what_its_person_altered_is_asked_of_a_field() {
        let asked = |typed: &str, was: &str, now: &str| {
            fields(&[("a", typed), ("was.a", was)]).altered("a", now)
        };
        assert_eq!(asked("old", "old", "new"), Altered::No);
        assert_eq!(asked("mine", "old", "old"), Altered::To("mine".to_owned()));
        assert_eq!(asked("", "old", "old"), Altered::To(String::new()));
        assert_eq!(asked("mine", "old", "theirs"), Altered::Meanwhile);
        assert_eq!(asked("mine", "old", "mine"), Altered::No);
        assert_eq!(asked("a\r\nb", "a\nb", "c"), Altered::No);
    }

    #[test]
    fn repeated_and_prefixed_fields_are_found() {
        let sent = fields(&[("x", "1"), ("x", ""), ("x", "2"), ("sign.a", "yes")]);
        assert_eq!(sent.all("x").collect::<Vec<_>>(), ["1", "2"]);
        assert_eq!(sent.under("sign.").collect::<Vec<_>>(), [("a", "yes")]);
    }
}

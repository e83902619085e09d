//! The fixed words of the papers, from the translation files under `words/`.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use crate::language::{Language, Plural};

const EN: &str = include_str!("../words/en.toml");
const DE: &str = include_str!("../words/de.toml");

/// All fixed words of one language.
#[derive(Debug, Default, Deserialize)]
#[serde(transparent)]
pub(crate) struct Words {
    sections: BTreeMap<String, BTreeMap<String, Word>>,
}

/// One entry of a translation file.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Word {
    Plain(String),
    Count(Count),
    List(Vec<String>),
}

/// A word whose form depends on a number.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Count {
    one: String,
    other: String,
}

impl Words {
    /// The words of a language, read at the first call. The files are in the program, and a test reads them.
    pub(crate) fn of(language: Language) -> &'static Self {
        static ENGLISH: OnceLock<Words> = OnceLock::new();
        static GERMAN: OnceLock<Words> = OnceLock::new();
        let (words, text) = match language {
            Language::En => (&ENGLISH, EN),
            Language::De => (&GERMAN, DE),
        };
        words.get_or_init(|| toml::from_str(text).unwrap_or_default())
    }

    fn word(&self, key: &str) -> Option<&Word> {
        let (section, name) = key.split_once('.')?;
        self.sections.get(section)?.get(name)
    }

    /// The word with this key, as `receipt.title`; the key itself when there is none.
    pub(crate) fn say<'a>(&'a self, key: &'a str) -> &'a str {
        match self.word(key) {
            Some(Word::Plain(text)) => text,
            _ => key,
        }
    }

    /// The word with its `{placeholders}` filled. What is filled in is not looked through again.
    pub(crate) fn fill(&self, key: &str, with: &[(&str, String)]) -> String {
        fill(self.say(key), with)
    }

    /// The form that goes with `n`, its `{n}` filled with the number.
    pub(crate) fn count(&self, language: Language, key: &str, n: u64) -> String {
        self.count_as(language, key, n, &n.to_string())
    }

    /// As [`Words::count`], with the number in words of its own.
    pub(crate) fn count_as(&self, language: Language, key: &str, n: u64, written: &str) -> String {
        let text = match (self.word(key), language.plural(n)) {
            (Some(Word::Count(count)), Plural::One) => &count.one,
            (Some(Word::Count(count)), Plural::Other) => &count.other,
            _ => key,
        };
        fill(text, &[("n", written.to_owned())])
    }

    /// The list with this key; empty when there is none.
    pub(crate) fn list(&self, key: &str) -> &[String] {
        match self.word(key) {
            Some(Word::List(items)) => items,
            _ => &[],
        }
    }

    /// The plain words of some sections, as the templates look them up: `words.receipt.title`.
    pub(crate) fn sections<'a>(
        &'a self,
        names: &[&'a str],
    ) -> BTreeMap<&'a str, BTreeMap<&'a str, &'a str>> {
        let plain = |name: &'a str| {
            let words = self.sections.get(name).into_iter().flatten();
            words
                .filter_map(|(key, word)| match word {
                    Word::Plain(text) => Some((key.as_str(), text.as_str())),
                    Word::Count(_) | Word::List(_) => None,
                })
                .collect()
        };
        names.iter().map(|&name| (name, plain(name))).collect()
    }
}

fn fill(text: &str, with: &[(&str, String)]) -> String {
    let mut filled = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        filled.push_str(before);
        let known = after.split_once('}').and_then(|(name, after)| {
            let value = with.iter().find(|(known, _)| *known == name)?;
            Some((value.1.as_str(), after))
        });
        let (value, after) = known.unwrap_or(("{", after));
        filled.push_str(value);
        rest = after;
    }
    filled.push_str(rest);
    filled
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn placeholders_are_filled_once_and_unknown_ones_stay() {
        let with = [("a", "{b}".to_owned()), ("b", "two".to_owned())];
        assert_eq!(
            fill("{a} and {b} and {c} {", &with),
            "{b} and two and {c} {"
        );
    }

    #[test]
    fn numbers_choose_their_form() {
        let says = |language, n| Words::of(language).count(language, "house.days", n);
        assert_eq!(says(Language::En, 1), "1 day");
        assert_eq!(says(Language::En, 0), "0 days");
        assert_eq!(says(Language::De, 1), "1 Tag");
        assert_eq!(says(Language::De, 21), "21 Tage");
    }
}

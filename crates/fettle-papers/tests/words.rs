//! Holds the translation files together, and against the templates and the program that use them.
#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that cannot go on fails"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::{fs, io};

const EN: &str = include_str!("../words/en.toml");
const DE: &str = include_str!("../words/de.toml");

/// Every key, as `receipt.title`, with its word: a text, a table of plural forms or a list.
fn entries(file: &str) -> BTreeMap<String, toml::Value> {
    let file: toml::Table = file.parse().expect("the translation file is sound");
    let mut entries = BTreeMap::new();
    for (section, words) in file {
        let toml::Value::Table(words) = words else {
            panic!("{section} is no section");
        };
        entries.extend(
            words
                .into_iter()
                .map(|(key, word)| (format!("{section}.{key}"), word)),
        );
    }
    entries
}

/// The texts of a word with the name of each: plural forms have one, entries of a list their place.
fn texts_of(word: &toml::Value) -> BTreeMap<String, &str> {
    match word {
        toml::Value::String(text) => [(String::new(), text.as_str())].into(),
        toml::Value::Table(forms) => forms
            .iter()
            .map(|(name, text)| (name.clone(), text.as_str().expect("forms are texts")))
            .collect(),
        toml::Value::Array(items) => (0..)
            .zip(items)
            .map(|(at, text): (u32, _)| (at.to_string(), text.as_str().expect("lists hold texts")))
            .collect(),
        other => panic!("{other} is no word"),
    }
}

/// The names between braces.
fn placeholders(text: &str) -> BTreeSet<&str> {
    text.split('{')
        .skip(1)
        .filter_map(|after| after.split_once('}'))
        .map(|(name, _)| name)
        .collect()
}

#[test]
fn every_language_has_the_keys_forms_and_placeholders_of_english() {
    let (english, german) = (entries(EN), entries(DE));
    assert!(english.len() > 100, "{} keys", english.len());
    let keys = |of: &BTreeMap<String, toml::Value>| of.keys().cloned().collect::<Vec<_>>();
    assert_eq!(keys(&english), keys(&german));
    for (key, word) in &english {
        let (en, de) = (texts_of(word), texts_of(&german[key]));
        assert!(
            en.keys().eq(de.keys()),
            "{key}: {:?} and {:?}",
            en.keys(),
            de.keys()
        );
        for (en, de) in en.values().zip(de.values()) {
            assert!(!en.trim().is_empty() && !de.trim().is_empty(), "{key}");
            assert_eq!(placeholders(en), placeholders(de), "{key}");
            let marks = |text: &str| text.matches('_').count();
            // `_` sets apart what stands between two, but for those within placeholders.
            let within: usize = placeholders(en).iter().map(|name| marks(name)).sum();
            assert_eq!((marks(en) - within) % 2, 0, "{key}");
            assert_eq!(marks(en), marks(de), "{key}");
        }
    }
}

#[test]
fn a_word_that_depends_on_a_number_has_one_and_other() {
    for (key, word) in entries(EN).into_iter().chain(entries(DE)) {
        if let toml::Value::Table(forms) = word {
            assert_eq!(forms.keys().collect::<Vec<_>>(), ["one", "other"], "{key}");
        }
    }
}

#[test]
fn braces_hold_plain_names() {
    for (key, word) in entries(EN).iter().chain(&entries(DE)) {
        for text in texts_of(word).into_values() {
            assert_eq!(
                text.matches('{').count(),
                text.matches('}').count(),
                "{key}"
            );
            for name in placeholders(text) {
                let plain = |b: u8| b.is_ascii_lowercase() || b == b'_';
                assert!(!name.is_empty() && name.bytes().all(plain), "{key}: {name}");
            }
        }
    }
}

fn files(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            files(&path, ending, found)?;
        } else if path.extension().is_some_and(|it| it == ending) {
            found.push(path);
        }
    }
    Ok(())
}

fn texts(folder: &str, ending: &str) -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut found = Vec::new();
    files(&folder, ending, &mut found).expect("the crate's own folder");
    let text = |path: PathBuf| fs::read_to_string(path).expect("the crate's own file");
    found.into_iter().map(text).collect()
}

/// The name at the beginning of a text.
fn name(text: &str) -> &str {
    let end = text.find(|c: char| !(c.is_ascii_lowercase() || c == '_'));
    text.split_at(end.unwrap_or(text.len())).0
}

/// The keys that a template looks up: `words.KEY` of the section it names first, `common.KEY` of `house`, `parcel.KEY`
/// of its own, and `sheet.words.SECTION.KEY`.
fn looked_up(template: &str) -> BTreeSet<String> {
    let own = template
        .split_once("let words = sheet.words.")
        .map(|(_, after)| name(after));
    let mut keys = BTreeSet::new();
    for (at, found) in template.match_indices("words.") {
        let (before, after) = (
            template.split_at(at).0,
            template.split_at(at + found.len()).1,
        );
        if before.ends_with(|c: char| c.is_ascii_lowercase() || c == '_') {
            continue;
        }
        if before.ends_with("sheet.") {
            let section = name(after);
            let rest = after.strip_prefix(section);
            if let Some(rest) = rest.and_then(|it| it.strip_prefix('.')) {
                keys.insert(format!("{section}.{}", name(rest)));
            }
        } else if let Some(own) = own {
            keys.insert(format!("{own}.{}", name(after)));
        }
    }
    for (alias, section) in [("common", "house"), ("parcel", "parcel")] {
        let alias = format!("{alias}.");
        let uses = template.split(alias.as_str()).skip(1);
        keys.extend(uses.map(|after| format!("{section}.{}", name(after))));
    }
    keys
}

#[test]
fn every_word_is_used_and_every_word_used_is_there() {
    let known = entries(EN);
    let sections: BTreeSet<&str> = known
        .keys()
        .filter_map(|key| key.split('.').next())
        .collect();
    let templates = texts("templates", "typ");
    let in_templates: BTreeSet<String> = templates.iter().flat_map(|it| looked_up(it)).collect();
    let program = texts("src", "rs");
    // The name of a template is no key.
    let is_key = |text: &&str| {
        text.split_once('.').is_some_and(|(section, key)| {
            sections.contains(section) && !key.is_empty() && name(key) == key && key != "typ"
        })
    };
    let in_program: BTreeSet<&str> = program
        .iter()
        .flat_map(|text| text.split('"'))
        .filter(is_key)
        .collect();
    let used = in_templates
        .iter()
        .map(String::as_str)
        .chain(in_program.iter().copied());
    for key in used {
        assert!(
            known.contains_key(key),
            "{key} stands in no translation file"
        );
    }
    for (key, word) in &known {
        let used = in_program.contains(key.as_str()) || in_templates.contains(key) && word.is_str();
        assert!(used, "{key} is used nowhere");
    }
}

//! What the tests share: an empty bench with some service notes, and tables taken into it.
#![allow(dead_code, reason = "each test file takes what it needs")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use std::{fs, path::Path};

use fettle_bench::{Bench, BenchSettings, Currency, Hand};
use fettle_moving::{Kind, Known, Map, Plan, Reading, Table, Terms, bring, offer, plan};
use jiff::{Timestamp, civil::Date};

pub(crate) fn hand() -> Hand {
    Hand::new("Ines")
}

pub(crate) fn now() -> Timestamp {
    "2026-11-25T09:00:00Z".parse().unwrap()
}

pub(crate) fn today() -> Date {
    jiff::civil::date(2026, 11, 25)
}

pub(crate) fn settings() -> BenchSettings {
    BenchSettings::new("The bench at Saltmere", Currency::new("XTS").unwrap())
}

pub(crate) struct Shop {
    pub(crate) bench: Bench,
    pub(crate) dir: tempfile::TempDir,
}

/// A bench with the demo's service notes and nothing else.
pub(crate) fn shop() -> Shop {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("bench");
    let bench = Bench::create(&folder, settings(), &hand(), now()).unwrap();
    for (name, text) in fettle_demo::notes() {
        fs::write(folder.join("notes").join(name), text).unwrap();
    }
    Shop { bench, dir }
}

impl Shop {
    pub(crate) fn path(&self, name: &str) -> std::path::PathBuf {
        self.dir.path().join(name)
    }

    /// The plan of a table, with the columns as offered.
    pub(crate) fn plan(&self, kind: Kind, text: &str) -> Plan {
        self.plan_with(kind, text, |_| (), Terms::strict(today()))
    }

    pub(crate) fn plan_with(
        &self,
        kind: Kind,
        text: &str,
        change: impl FnOnce(&mut Map),
        terms: Terms,
    ) -> Plan {
        let table = Table::any(text.as_bytes(), &Reading::default()).unwrap();
        let mut map = offer(kind, &table.headings);
        change(&mut map);
        plan(&table, &map, &Known::read(&self.bench).unwrap(), &terms)
    }

    /// What is wrong with a table, a line each.
    pub(crate) fn wrong(&self, kind: Kind, text: &str) -> String {
        told(&self.plan(kind, text))
    }

    /// Takes a table in; every row must be fine.
    pub(crate) fn take(&self, kind: Kind, text: &str) -> Plan {
        let plan = self.plan(kind, text);
        assert_eq!(told(&plan), "");
        bring(&self.bench, &hand(), now(), &plan, &mut |_| ()).unwrap();
        plan
    }
}

pub(crate) fn told(plan: &Plan) -> String {
    let lines: Vec<String> = plan.problems.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

/// The rows of every table of a bench but the words kept for finding, each column as an SQL literal.
pub(crate) fn tables(dir: &Path) -> std::collections::BTreeMap<String, Vec<String>> {
    let database = rusqlite::Connection::open(dir.join("bench.db")).unwrap();
    let list = |sql: &str| -> Vec<String> {
        let mut statement = database.prepare(sql).unwrap();
        let rows = statement.query_map([], |row| row.get(0)).unwrap();
        rows.map(Result::unwrap).collect()
    };
    let names =
        list("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'find_%'");
    let dump = |name: String| {
        let columns = list(&format!(
            "SELECT 'quote(' || name || ')' FROM pragma_table_info('{name}')"
        ));
        let order = if name == "sqlite_sequence" {
            "name"
        } else {
            "id"
        };
        let columns = columns.join(" || ',' || ");
        let rows = list(&format!("SELECT {columns} FROM {name} ORDER BY {order}"));
        (name, rows)
    };
    names.into_iter().map(dump).collect()
}

/// Every file under a folder with its bytes, by its name; hidden ones too, but SQLite's working files: they come and go
/// as other tests open the same bench.
pub(crate) fn files(dir: &Path) -> std::collections::BTreeMap<String, Vec<u8>> {
    let mut found = std::collections::BTreeMap::new();
    let mut folders = vec![dir.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(dir).unwrap().to_str().unwrap().to_owned();
            if path.is_dir() {
                folders.push(path);
            } else if !name.ends_with(".db-wal") && !name.ends_with(".db-shm") {
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

//! Triggers on the writing connection that log every row before and after, and keep the words for finding.
//!
//! They are temporary and made from the tables as they are when the bench is opened, so they can never fall behind a migration.
//! SQLite's own change sets would need libclang wherever the program is built.

use std::fmt::Write;

use rusqlite::Connection;

/// A table that changes write to, with what of it can be found.
pub(crate) struct Table {
    /// Its name.
    pub(crate) name: &'static str,
    find: Option<Find>,
}

/// What of a row can be found, as expressions over `{row}` (`NEW`).
struct Find {
    /// What kind of thing matched.
    matched: &'static str,
    /// The columns that hold words.
    words: &'static [&'static str],
    /// What the row belongs to.
    of: Of,
}

enum Of {
    Visit,
    ThisVisit,
    Camera,
    ThisCamera,
    ThisOwner,
    Quote,
    Parcel,
    Bill,
    Any,
    ThisDrawer,
    ThisPart,
    Part,
    ThisDonor,
    Donor,
}

impl Of {
    /// The index that holds the words, its columns that say what a row belongs to, and their values.
    fn place(&self) -> (&'static str, &'static str, &'static str) {
        const RECORD: (&str, &str) = ("find_text", "visit_id, camera_id, owner_id");
        const STOCK: (&str, &str) = ("find_stock", "part_id, drawer_id, donor_id");
        let ((index, columns), values) = match self {
            Self::Visit => (RECORD, "NEW.visit_id, NULL, NULL"),
            Self::ThisVisit => (RECORD, "NEW.id, NULL, NULL"),
            Self::Camera => (RECORD, "NULL, NEW.camera_id, NULL"),
            Self::ThisCamera => (RECORD, "NULL, NEW.id, NULL"),
            Self::ThisOwner => (RECORD, "NULL, NULL, NEW.id"),
            Self::Quote => (
                RECORD,
                "(SELECT visit_id FROM quote WHERE id = NEW.quote_id), NULL, NULL",
            ),
            Self::Parcel => (
                RECORD,
                "(SELECT visit_id FROM packing WHERE id = NEW.packing_id), NULL, NULL",
            ),
            Self::Bill => (
                RECORD,
                "(SELECT visit_id FROM bill WHERE id = NEW.bill_id), NULL, NULL",
            ),
            Self::Any => (RECORD, "NEW.visit_id, NEW.camera_id, NEW.owner_id"),
            Self::ThisDrawer => (STOCK, "NULL, NEW.id, NULL"),
            Self::ThisPart => (STOCK, "NEW.id, NULL, NULL"),
            Self::Part => (STOCK, "NEW.part_id, NULL, NULL"),
            Self::ThisDonor => (STOCK, "NULL, NULL, NEW.id"),
            Self::Donor => (STOCK, "NULL, NULL, NEW.donor_id"),
        };
        (index, columns, values)
    }
}

const fn find(
    name: &'static str,
    matched: &'static str,
    of: Of,
    words: &'static [&'static str],
) -> Table {
    Table {
        name,
        find: Some(Find { matched, words, of }),
    }
}

const fn silent(name: &'static str) -> Table {
    Table { name, find: None }
}

/// Every table that changes write to. The place in this list is part of the key of the words kept for finding; that index is a
/// cache.
pub(crate) const TABLES: &[Table] = &[
    silent("bench"),
    silent("struck"),
    find(
        "owner",
        "owner",
        Of::ThisOwner,
        &["name", "email", "phone", "address", "note"],
    ),
    find(
        "camera",
        "camera",
        Of::ThisCamera,
        &["maker", "model", "note"],
    ),
    find("serial", "serial number", Of::Camera, &["number", "place"]),
    find(
        "visit",
        "arrival",
        Of::ThisVisit,
        &["words", "wanted", "condition"],
    ),
    find("came_with", "came with it", Of::Visit, &["item"]),
    find("wait", "waiting", Of::Visit, &["what", "ended_note"]),
    find("sign", "sign", Of::Visit, &["words", "note"]),
    find(
        "circumstance",
        "circumstance",
        Of::Visit,
        &["words", "note"],
    ),
    find(
        "earlier_hands",
        "earlier hands",
        Of::Visit,
        &["what", "place"],
    ),
    find("fault", "fault", Of::Visit, &["words", "note"]),
    find("quote", "quote", Of::Visit, &["note", "answer_words"]),
    find("quote_line", "quote", Of::Quote, &["words"]),
    find("photo", "photograph", Of::Visit, &["caption"]),
    find("recording", "recording", Of::Visit, &["caption"]),
    find("paper", "paper", Of::Visit, &["title"]),
    find(
        "piece",
        "piece",
        Of::Visit,
        &["words", "note", "returned_note"],
    ),
    find("work", "work", Of::Visit, &["words", "note"]),
    find("part_fitted", "part fitted", Of::Visit, &["words", "note"]),
    find(
        "reading",
        "reading",
        Of::Visit,
        &["method", "findings_json"],
    ),
    silent("reading_row"),
    find("setting", "setting", Of::Visit, &["words", "note"]),
    find(
        "shortfall",
        "not brought back",
        Of::Visit,
        &["what", "correction"],
    ),
    find("packing", "parcel", Of::Visit, &["note"]),
    silent("packing_tick"),
    find("sending", "parcel", Of::Visit, &["tracking", "carrier"]),
    find("note", "note", Of::Any, &["text"]),
    silent("trial"),
    find("drawer", "drawer", Of::ThisDrawer, &["name", "place"]),
    find("part", "part", Of::ThisPart, &["words", "model"]),
    find("lot", "lot", Of::Part, &["source", "note"]),
    silent("movement"),
    find(
        "donor",
        "donor",
        Of::ThisDonor,
        &["maker", "model", "serial", "condition", "source"],
    ),
    find(
        "donor_part",
        "part of a donor",
        Of::Donor,
        &["words", "note"],
    ),
    find("packing_declared", "parcel", Of::Parcel, &["what"]),
    find("hold", "held", Of::Visit, &["reason", "ended_note"]),
    find("bill", "bill", Of::Visit, &["note"]),
    find("bill_line", "bill", Of::Bill, &["words"]),
    find("payment", "payment", Of::Visit, &["how", "note"]),
];

/// The journal's sentences can be found too; its rows only ever come.
const KEEP_SENTENCE: &str =
    "INSERT INTO find_journal (rowid, sentence) VALUES (NEW.id, NEW.sentence);\n";

/// Room for this many tables in the key of the words kept for finding.
const KEYS: usize = 64;

/// The keys under which the words of a table's rows are kept: a row's is its number times [`step`](Self::step) and [`place`](Self::place).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Keys {
    pub(crate) step: i64,
    pub(crate) place: i64,
}

/// The keys of a table that [`TABLES`] names.
pub(crate) fn keys_of(table: &str) -> Option<Keys> {
    let place = TABLES.iter().position(|it| it.name == table)?;
    Some(Keys {
        step: KEYS as i64,
        place: place as i64,
    })
}

/// Makes the triggers on this connection.
pub(crate) fn watch(connection: &Connection) -> rusqlite::Result<()> {
    let mut sql = String::from("CREATE TEMP TABLE now_writing (entry_id INTEGER NOT NULL);\n");
    let mut columns = connection.prepare("SELECT name FROM pragma_table_info(?1)")?;
    for (place, table) in TABLES.iter().enumerate() {
        let columns = columns
            .query_map([table.name], |row| row.get(0))?
            .collect::<rusqlite::Result<Vec<String>>>()?;
        triggers(&mut sql, table, place, &columns);
    }
    trigger(&mut sql, "journal", "INSERT", KEEP_SENTENCE);
    connection.execute_batch(&sql)
}

fn triggers(sql: &mut String, table: &Table, place: usize, columns: &[String]) {
    let image = |row: &str| {
        let pairs: Vec<String> = columns
            .iter()
            .map(|name| format!("'{name}', quote({row}.{name})"))
            .collect();
        format!("json_object({})", pairs.join(", "))
    };
    let log = |row: &str, before: &str, after: &str| {
        format!(
            "INSERT INTO touched (entry_id, table_name, row_id, before_json, after_json) \
             SELECT entry_id, '{}', {row}.id, {before}, {after} FROM now_writing;\n",
            table.name
        )
    };
    let mut insert = log("NEW", "NULL", &image("NEW"));
    let update = log("NEW", &image("OLD"), &image("NEW"));
    let mut delete = log("OLD", &image("OLD"), "NULL");
    if let Some(find) = &table.find {
        let keep = keep_words(find, place);
        let (index, ..) = find.of.place();
        let drop = format!("DELETE FROM {index} WHERE rowid = OLD.id * {KEYS} + {place};\n");
        insert.push_str(&keep);
        delete.push_str(&drop);
        // Most updates change no word: to keep the words again costs more than the row itself.
        let changed: Vec<String> = columns
            .iter()
            .filter(|name| find.words.contains(&name.as_str()) || name.ends_with("_id"))
            .map(|name| format!("OLD.{name} IS NOT NEW.{name}"))
            .collect();
        // Writing to a String cannot fail.
        let _ = write!(
            sql,
            "CREATE TEMP TRIGGER words_of_{name} AFTER UPDATE ON main.{name} WHEN {} BEGIN\n{drop}{keep}END;\n",
            changed.join(" OR "),
            name = table.name,
        );
    }
    trigger(sql, table.name, "INSERT", &insert);
    trigger(sql, table.name, "UPDATE", &update);
    trigger(sql, table.name, "DELETE", &delete);
}

fn trigger(sql: &mut String, table: &str, when: &str, body: &str) {
    // Writing to a String cannot fail.
    let _ = write!(
        sql,
        "CREATE TEMP TRIGGER watch_{table}_{when} AFTER {when} ON main.{table} BEGIN\n{body}END;\n"
    );
}

/// A row without a word keeps none: most photographs have no caption.
fn keep_words(find: &Find, place: usize) -> String {
    let words: Vec<String> = find
        .words
        .iter()
        .map(|column| format!("ifnull(NEW.{column}, '')"))
        .collect();
    let (index, columns, of) = find.of.place();
    format!(
        "INSERT INTO {index} (rowid, words, matched, {columns}) \
         SELECT NEW.id * {KEYS} + {place}, {}, '{}', {of} WHERE {} <> '';\n",
        words.join(" || char(10) || "),
        find.matched,
        words.join(" || "),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::lay_tables;

    #[test]
    fn every_table_but_the_journal_and_the_caches_is_watched() {
        let mut connection = Connection::open_in_memory().unwrap();
        lay_tables(&mut connection).unwrap();
        let mut names: Vec<String> = connection
            .prepare("SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table'")
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .filter(|name: &String| {
                // `stock` is kept by triggers of its own.
                !name.starts_with("sqlite_")
                    && !["journal", "touched", "stock"].contains(&name.as_str())
            })
            .collect();
        names.sort();
        let mut watched: Vec<&str> = TABLES.iter().map(|table| table.name).collect();
        watched.sort_unstable();
        assert_eq!(names, watched);
        assert!(TABLES.len() < KEYS);
    }

    #[test]
    fn every_table_is_strict_and_every_foreign_key_is_indexed() {
        let mut connection = Connection::open_in_memory().unwrap();
        lay_tables(&mut connection).unwrap();
        let loose: Vec<String> = connection
            .prepare(
                "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' \
                 AND NOT strict AND name NOT LIKE 'sqlite_%'",
            )
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        assert_eq!(loose, Vec::<String>::new());
        let keys: Vec<(String, String)> = connection
            .prepare(
                "SELECT t.name, f.\"from\" FROM pragma_table_list t, pragma_foreign_key_list(t.name) f \
                 WHERE t.schema = 'main' AND t.type = 'table'",
            )
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        assert!(keys.len() > 25, "only {} foreign keys", keys.len());
        for (table, column) in keys {
            let led: i64 = connection
                .query_row(
                    "SELECT (SELECT count(*) FROM pragma_index_list(?1) i, pragma_index_info(i.name) c \
                     WHERE c.seqno = 0 AND c.name = ?2 AND NOT i.partial) \
                     + (SELECT count(*) FROM pragma_table_info(?1) WHERE name = ?2 AND pk)",
                    [&table, &column],
                    |row| row.get(0),
                )
                .unwrap();
            assert!(led > 0, "{table}.{column} has no index");
        }
    }
}

//! Which visits the newer entries of the journal concern, by the rows that they touched.

use std::collections::BTreeSet;

use rusqlite::Connection;

use super::line::id_list;
use crate::ids::{EntryId, VisitId};

type Read<T> = rusqlite::Result<T>;

/// After so many touched rows every visit is read anew: to ask for each costs more.
const MOST: u32 = 20_000;

/// How a row of a table leads to the visits whose sums hang on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Leads {
    /// The row is the visit.
    Is,
    /// The row names its visit.
    Names,
    /// These are its visits, by the row's number.
    By(&'static str),
    /// No sum hangs on it.
    Nowhere,
}

/// Where the rows of a table lead; `None` for a table that nobody thought of.
fn leads(table: &str) -> Option<Leads> {
    Some(match table {
        "visit" => Leads::Is,
        "came_with" | "wait" | "sign" | "circumstance" | "earlier_hands" | "fault" | "quote"
        | "photo" | "recording" | "paper" | "piece" | "work" | "part_fitted" | "reading"
        | "setting" | "shortfall" | "packing" | "sending" | "note" | "trial" | "movement"
        | "hold" | "bill" | "payment" => Leads::Names,
        "camera" => Leads::By("SELECT id FROM visit WHERE camera_id"),
        // A row below another that goes goes with it, and that other leads to the visit.
        "quote_line" => Leads::By(
            "SELECT q.visit_id FROM quote_line l JOIN quote q ON q.id = l.quote_id WHERE l.id",
        ),
        "bill_line" => Leads::By(
            "SELECT b.visit_id FROM bill_line l JOIN bill b ON b.id = l.bill_id WHERE l.id",
        ),
        "lot" => Leads::By("SELECT visit_id FROM movement WHERE lot_id"),
        "part" => Leads::By(
            "SELECT m.visit_id FROM lot l JOIN movement m ON m.lot_id = l.id WHERE l.part_id",
        ),
        "bench" | "struck" | "owner" | "serial" | "reading_row" | "packing_tick"
        | "packing_declared" | "drawer" | "donor" | "donor_part" => Leads::Nowhere,
        _ => return None,
    })
}

/// The journal's last entry; zero while there is none.
pub(crate) fn last_entry(connection: &Connection) -> Read<EntryId> {
    connection
        .prepare_cached("SELECT ifnull(max(id), 0) FROM journal")?
        .query_row([], |row| Ok(EntryId::new(row.get(0)?)))
}

/// The visits whose sums may have changed after an entry; `None` when every visit's may have.
pub(crate) fn visits_touched(
    connection: &Connection,
    after: EntryId,
) -> Read<Option<BTreeSet<VisitId>>> {
    let mut visits = BTreeSet::new();
    let mut by: Vec<(&str, Vec<i64>)> = Vec::new();
    let mut statement = connection.prepare_cached(
        "SELECT table_name, row_id, \
         CAST(json_extract(ifnull(after_json, before_json), '$.visit_id') AS INTEGER) \
         FROM touched WHERE entry_id > ?1",
    )?;
    let mut rows = statement.query([after.get()])?;
    let mut count = 0;
    while let Some(row) = rows.next()? {
        count += 1;
        let leads = leads(row.get_ref(0)?.as_str()?).filter(|_| count <= MOST);
        match leads {
            None => return Ok(None),
            Some(Leads::Nowhere) => {}
            Some(Leads::Is) => {
                visits.insert(VisitId::new(row.get(1)?));
            }
            Some(Leads::Names) => {
                // A note may be about something else.
                let visit: Option<i64> = row.get(2)?;
                visits.extend(visit.filter(|id| *id > 0).map(VisitId::new));
            }
            Some(Leads::By(select)) => {
                let id = row.get(1)?;
                match by.iter_mut().find(|(of, _)| *of == select) {
                    Some((_, ids)) => ids.push(id),
                    None => by.push((select, vec![id])),
                }
            }
        }
    }
    for (select, ids) in by {
        let sql = format!("{select} IN (SELECT value FROM json_each(?1))");
        let mut statement = connection.prepare_cached(&sql)?;
        let mut rows = statement.query([id_list(&ids)])?;
        while let Some(row) = rows.next()? {
            let visit: Option<i64> = row.get(0)?;
            visits.extend(visit.map(VisitId::new));
        }
    }
    Ok(Some(visits))
}

/// The models (their notes' id, else their name) of parts whose pieces came or went after an entry; `None` when any may have.
pub(crate) fn models_touched(
    connection: &Connection,
    after: EntryId,
) -> Read<Option<BTreeSet<String>>> {
    let count: u32 = connection
        .prepare_cached(
            "SELECT count(*) FROM (SELECT 1 FROM touched WHERE entry_id > ?1 LIMIT ?2)",
        )?
        .query_row((after.get(), MOST), |row| row.get(0))?;
    if count == MOST {
        return Ok(None);
    }
    // A movement that was undone is gone, and so its lot is read from what it was.
    connection
        .prepare_cached(
            "SELECT DISTINCT ifnull(p.notes_id, p.model) FROM ( \
                SELECT CAST(json_extract(ifnull(after_json, before_json), '$.lot_id') AS INTEGER) AS lot \
                FROM touched WHERE entry_id > ?1 AND table_name = 'movement' \
             ) JOIN lot l ON l.id = lot JOIN part p ON p.id = l.part_id \
             UNION SELECT ifnull(p.notes_id, p.model) FROM touched t \
                JOIN lot l ON l.id = t.row_id JOIN part p ON p.id = l.part_id \
                WHERE t.entry_id > ?1 AND t.table_name = 'lot' \
             UNION SELECT ifnull(p.notes_id, p.model) FROM touched t JOIN part p ON p.id = t.row_id \
                WHERE t.entry_id > ?1 AND t.table_name = 'part'",
        )?
        .query_map([after.get()], |row| row.get(0))?
        .collect::<Read<_>>()
        .map(Some)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{TABLES, lay_tables};

    #[test]
    fn every_table_that_changes_write_to_leads_somewhere_or_nowhere_on_purpose() {
        let mut connection = Connection::open_in_memory().unwrap();
        lay_tables(&mut connection).unwrap();
        for table in TABLES {
            let leads = leads(table.name);
            assert!(leads.is_some(), "{}", table.name);
            let names_a_visit = connection
                .prepare("SELECT 1 FROM pragma_table_info(?1) WHERE name = 'visit_id'")
                .unwrap()
                .exists([table.name])
                .unwrap();
            assert_eq!(names_a_visit, leads == Some(Leads::Names), "{}", table.name);
            if let Some(Leads::By(select)) = leads {
                connection.prepare(&format!("{select} IN (1)")).unwrap();
            }
        }
    }
}

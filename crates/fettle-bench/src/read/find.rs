//! Finding anything: exact numbers first, then full-text search, then visits that hold all the words in different places.

use std::collections::{HashMap, HashSet};

use rusqlite::Connection;

use super::line::id_list;
use crate::{
    ids::{CameraId, DonorId, DrawerId, OwnerId, PartId, VisitId},
    view::{Hit, HitIn},
};

type Read<T> = rusqlite::Result<T>;

/// The most words of a query that are looked for.
const WORDS_MAX: usize = 12;
/// How many rows the index gives before they are gathered by place.
const ROWS_MAX: u32 = 400;

/// The words of a text as a query in which nothing but words has a meaning: each is quoted and found by its beginning.
pub(crate) fn query_words(text: &str) -> Vec<String> {
    text.split_whitespace()
        .filter(|word| word.chars().any(char::is_alphanumeric))
        .take(WORDS_MAX)
        .map(|word| format!("\"{}\"*", word.replace('"', "\"\"").replace('\0', "")))
        .collect()
}

/// A place and how it was matched.
struct Match {
    place: HitIn,
    matched: String,
    excerpt: String,
}

pub(crate) fn find(connection: &Connection, text: &str, limit: u32) -> Read<Vec<Hit>> {
    let mut matches = exact(connection, text.trim())?;
    let words = query_words(text);
    if !words.is_empty() {
        matches.extend(together(connection, &RECORD, &words)?);
        let stock = together(connection, &STOCK, &words)?;
        // Before what only the journal says.
        let journal = matches
            .iter()
            .position(|found| found.matched == "journal")
            .unwrap_or(matches.len());
        matches.splice(journal..journal, stock);
        if words.len() > 1 {
            matches.extend(scattered(connection, &words)?);
        }
    }
    let mut seen = HashSet::new();
    matches.retain(|found| seen.insert(found.place.clone()));
    matches.truncate(usize::try_from(limit).unwrap_or(usize::MAX));
    title(connection, matches)
}

/// Visits with exactly this number and cameras with exactly this serial number, with their visits.
fn exact(connection: &Connection, text: &str) -> Read<Vec<Match>> {
    let mut matches = Vec::new();
    let serials: Vec<(i64, String)> = connection
        .prepare_cached(
            "SELECT camera_id, number FROM serial WHERE number = ?1 COLLATE NOCASE ORDER BY id LIMIT 50",
        )?
        .query_map([text], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect::<Read<_>>()?;
    for (camera, number) in serials {
        matches.push(Match {
            place: HitIn::Camera(CameraId::new(camera)),
            matched: "serial number".to_owned(),
            excerpt: marked(&number),
        });
    }
    if let Ok(number) = text.trim_start_matches('#').parse::<i64>() {
        let here = connection
            .prepare_cached("SELECT 1 FROM visit WHERE id = ?1")?
            .exists([number])?;
        if here {
            let place = HitIn::Visit(VisitId::new(number));
            let excerpt = marked(&number.to_string());
            matches.insert(
                0,
                Match {
                    place,
                    matched: "visit number".to_owned(),
                    excerpt,
                },
            );
        }
    }
    Ok(matches)
}

fn marked(text: &str) -> String {
    format!("\u{2068}{text}\u{2069}")
}

/// An index of words: its columns that say what a row belongs to, and the place that each names.
struct Index {
    name: &'static str,
    columns: [&'static str; 3],
    places: [fn(i64) -> HitIn; 3],
}

const RECORD: Index = Index {
    name: "find_text",
    columns: ["visit_id", "camera_id", "owner_id"],
    places: [
        |id| HitIn::Visit(VisitId::new(id)),
        |id| HitIn::Camera(CameraId::new(id)),
        |id| HitIn::Owner(OwnerId::new(id)),
    ],
};

const STOCK: Index = Index {
    name: "find_stock",
    columns: ["part_id", "drawer_id", "donor_id"],
    places: [
        |id| HitIn::Part(PartId::new(id)),
        |id| HitIn::Drawer(DrawerId::new(id)),
        |id| HitIn::Donor(DonorId::new(id)),
    ],
};

/// Rows of an index that hold all the words; the journal, which repeats what the rows say, comes last.
fn together(connection: &Connection, index: &Index, words: &[String]) -> Read<Vec<Match>> {
    let Index { name, columns, .. } = index;
    connection
        .prepare_cached(&format!(
            "SELECT {}, matched, snippet({name}, 0, char(0x2068), char(0x2069), '…', 12) \
             FROM {name} WHERE {name} MATCH ?1 ORDER BY matched = 'journal', rank LIMIT ?2",
            columns.join(", ")
        ))?
        .query_map((words.join(" "), ROWS_MAX), |row| {
            for (column, place) in index.places.iter().enumerate() {
                if let Some(id) = row.get::<_, Option<i64>>(column)? {
                    let excerpt: String = row.get(4)?;
                    return Ok(Some(Match {
                        place: place(id),
                        matched: row.get(3)?,
                        excerpt: excerpt.split_whitespace().collect::<Vec<_>>().join(" "),
                    }));
                }
            }
            Ok(None)
        })?
        .filter_map(Read::transpose)
        .collect()
}

/// Visits that hold every word somewhere: in their own rows, their camera's or their owner's.
fn scattered(connection: &Connection, words: &[String]) -> Read<Vec<Match>> {
    let mut common: Option<HashSet<i64>> = None;
    for word in words {
        let holding: HashSet<i64> = connection
            .prepare_cached(
                "WITH hit AS (SELECT visit_id, camera_id, owner_id FROM find_text WHERE find_text MATCH ?1) \
                 SELECT visit_id FROM hit WHERE visit_id IS NOT NULL \
                 UNION SELECT v.id FROM hit JOIN visit v ON v.camera_id = hit.camera_id WHERE hit.visit_id IS NULL \
                 UNION SELECT v.id FROM hit JOIN visit v ON v.owner_id = hit.owner_id WHERE hit.visit_id IS NULL",
            )?
            .query_map([word], |row| row.get(0))?
            .collect::<Read<_>>()?;
        common = Some(match common {
            None => holding,
            Some(before) => before.intersection(&holding).copied().collect(),
        });
    }
    let mut visits: Vec<i64> = common.unwrap_or_default().into_iter().collect();
    visits.sort_unstable_by(|a, b| b.cmp(a));
    Ok(visits
        .into_iter()
        .map(|visit| Match {
            place: HitIn::Visit(VisitId::new(visit)),
            matched: "visit".to_owned(),
            excerpt: String::new(),
        })
        .collect())
}

/// Says what each place is, with one query a kind; a place that is gone falls out.
fn title(connection: &Connection, matches: Vec<Match>) -> Read<Vec<Hit>> {
    let (mut visits, mut cameras, mut owners) = (Vec::new(), Vec::new(), Vec::new());
    let (mut parts, mut drawers, mut donors) = (Vec::new(), Vec::new(), Vec::new());
    for found in &matches {
        match &found.place {
            HitIn::Visit(visit) => visits.push(visit.get()),
            HitIn::Camera(camera) => cameras.push(camera.get()),
            HitIn::Owner(owner) => owners.push(owner.get()),
            HitIn::Part(part) => parts.push(part.get()),
            HitIn::Drawer(drawer) => drawers.push(drawer.get()),
            HitIn::Donor(donor) => donors.push(donor.get()),
            HitIn::Notes(_) => {}
        }
    }
    let named = "trim(c.maker || ' ' || c.model) || ifnull(' ' || (SELECT number FROM serial \
        WHERE camera_id = c.id ORDER BY id LIMIT 1), '')";
    let visits = titles(
        connection,
        &format!(
            "SELECT v.id, {named} || ', ' || o.name || ' (visit ' || v.id || ')' FROM visit v \
             JOIN camera c ON c.id = v.camera_id JOIN owner o ON o.id = v.owner_id WHERE v.id"
        ),
        &visits,
    )?;
    let cameras = titles(
        connection,
        &format!("SELECT c.id, {named} FROM camera c WHERE c.id"),
        &cameras,
    )?;
    let owners = titles(
        connection,
        "SELECT o.id, o.name FROM owner o WHERE o.id",
        &owners,
    )?;
    let parts = titles(
        connection,
        "SELECT p.id, p.words || iif(p.model = '', '', ', ' || p.model) FROM part p WHERE p.id",
        &parts,
    )?;
    let drawers = titles(
        connection,
        "SELECT d.id, 'drawer ' || d.name FROM drawer d WHERE d.id",
        &drawers,
    )?;
    let donors = titles(
        connection,
        "SELECT n.id, trim(n.maker || ' ' || n.model || ' ' || n.serial) || ' (donor ' || n.id || ')' \
         FROM donor n WHERE n.id",
        &donors,
    )?;
    let hit = |found: Match| {
        let title = match &found.place {
            HitIn::Visit(visit) => visits.get(&visit.get()),
            HitIn::Camera(camera) => cameras.get(&camera.get()),
            HitIn::Owner(owner) => owners.get(&owner.get()),
            HitIn::Part(part) => parts.get(&part.get()),
            HitIn::Drawer(drawer) => drawers.get(&drawer.get()),
            HitIn::Donor(donor) => donors.get(&donor.get()),
            HitIn::Notes(_) => None,
        }?;
        Some(Hit {
            title: title.clone(),
            place: found.place,
            matched: found.matched,
            excerpt: found.excerpt,
        })
    };
    Ok(matches.into_iter().filter_map(hit).collect())
}

fn titles(connection: &Connection, select: &str, ids: &[i64]) -> Read<HashMap<i64, String>> {
    connection
        .prepare_cached(&format!("{select} IN (SELECT value FROM json_each(?1))"))?
        .query_map([id_list(ids)], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

#[cfg(test)]
mod tests {
    use super::query_words;

    #[test]
    fn nothing_but_words_has_a_meaning_in_a_query() {
        assert_eq!(
            query_words("slow NEAR( \"x"),
            ["\"slow\"*", "\"NEAR(\"*", "\"\"\"x\"*"]
        );
        assert_eq!(query_words(" * - () \" "), Vec::<String>::new());
    }
}

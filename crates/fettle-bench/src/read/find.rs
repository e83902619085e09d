//! Finding anything: exact numbers first, then full-text search, then visits that hold all the words in different places.

use std::collections::{HashMap, HashSet};

use rusqlite::Connection;

use super::line::id_list;
use crate::{
    ids::{CameraId, DonorId, DrawerId, OwnerId, PartId, VisitId},
    store::keys_of,
    view::{Hit, HitIn},
};

type Read<T> = rusqlite::Result<T>;

/// The most words of a query that are looked for.
const WORDS_MAX: usize = 12;
/// Of more rows than this the newest are given, not those that fit best: to weigh each takes too long.
const RANKED_MAX: u32 = 2000;
/// How many rows of a word are gone through to see which visits hold it together with other words.
const GATHERED_MAX: u32 = 4000;

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
    let limit = usize::try_from(limit).unwrap_or(usize::MAX);
    let mut found = Found::new(limit);
    for it in exact(connection, text.trim())? {
        found.add(it);
    }
    let words = query_words(text);
    if !words.is_empty() {
        together(connection, &RECORD, &words, &mut found)?;
        // So few parts, drawers and donors there are that rows of the record must not crowd them out.
        let mut stock = Found::new(limit);
        together(connection, &STOCK, &words, &mut stock)?;
        found.make_room(stock);
        if !found.is_full() {
            together(connection, &JOURNAL, &words, &mut found)?;
        }
        if words.len() > 1 && !found.is_full() {
            scattered(connection, &words, &mut found)?;
        }
    }
    title(connection, found.matches)
}

/// Places found, each once.
struct Found {
    limit: usize,
    matches: Vec<Match>,
    seen: HashSet<HitIn>,
}

impl Found {
    fn new(limit: usize) -> Self {
        Self {
            limit,
            matches: Vec::new(),
            seen: HashSet::new(),
        }
    }

    fn is_full(&self) -> bool {
        self.matches.len() >= self.limit
    }

    fn add(&mut self, it: Match) {
        if !self.is_full() && self.seen.insert(it.place.clone()) {
            self.matches.push(it);
        }
    }

    /// Takes in others at the end, in the place of the last where there are too many.
    fn make_room(&mut self, others: Self) {
        let kept = self
            .limit
            .saturating_sub(others.matches.len().min(self.limit / 4));
        for gone in self.matches.drain(kept.min(self.matches.len())..) {
            self.seen.remove(&gone.place);
        }
        for it in others.matches {
            self.add(it);
        }
    }
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

/// An index of words: where what its rows belong to is read, and the places that the columns name.
struct Index {
    name: &'static str,
    from: &'static str,
    /// Three that name a place, then how it was matched.
    columns: &'static str,
    places: [fn(i64) -> HitIn; 3],
}

const OF_RECORD: [fn(i64) -> HitIn; 3] = [
    |id| HitIn::Visit(VisitId::new(id)),
    |id| HitIn::Camera(CameraId::new(id)),
    |id| HitIn::Owner(OwnerId::new(id)),
];

const RECORD: Index = Index {
    name: "find_text",
    from: "find_text",
    columns: "visit_id, camera_id, owner_id, matched",
    places: OF_RECORD,
};

const STOCK: Index = Index {
    name: "find_stock",
    from: "find_stock",
    columns: "part_id, drawer_id, donor_id, matched",
    places: [
        |id| HitIn::Part(PartId::new(id)),
        |id| HitIn::Drawer(DrawerId::new(id)),
        |id| HitIn::Donor(DonorId::new(id)),
    ],
};

const JOURNAL: Index = Index {
    name: "find_journal",
    from: "find_journal JOIN journal j ON j.id = find_journal.rowid",
    columns: "j.visit_id, j.camera_id, j.owner_id, 'journal'",
    places: OF_RECORD,
};

/// Rows of an index that hold all the words, until enough places are found: the best first, or the newest of very many.
fn together(
    connection: &Connection,
    index: &Index,
    words: &[String],
    found: &mut Found,
) -> Read<()> {
    let Index {
        name,
        from,
        columns,
        places,
    } = index;
    let query = words.join(" ");
    let many: u32 = connection
        .prepare_cached(&format!(
            "SELECT count(*) FROM (SELECT 1 FROM {name} WHERE {name} MATCH ?1 LIMIT {RANKED_MAX})"
        ))?
        .query_row([&query], |row| row.get(0))?;
    let order = if many < RANKED_MAX {
        "rank".to_owned()
    } else {
        format!("{name}.rowid DESC")
    };
    let mut statement = connection.prepare_cached(&format!(
        "SELECT {columns}, snippet({name}, 0, char(0x2068), char(0x2069), '…', 12) \
         FROM {from} WHERE {name} MATCH ?1 ORDER BY {order}"
    ))?;
    let mut rows = statement.query([&query])?;
    // Each row is made when it is asked for, so that those beyond the last place cost nothing.
    while !found.is_full()
        && let Some(row) = rows.next()?
    {
        for (column, place) in places.iter().enumerate() {
            if let Some(id) = row.get::<_, Option<i64>>(column)? {
                let excerpt: String = row.get(4)?;
                found.add(Match {
                    place: place(id),
                    matched: row.get(3)?,
                    excerpt: excerpt.split_whitespace().collect::<Vec<_>>().join(" "),
                });
                break;
            }
        }
    }
    Ok(())
}

/// Visits that hold every word somewhere: in their own rows, their camera's or their owner's.
fn scattered(connection: &Connection, words: &[String], found: &mut Found) -> Read<()> {
    let mut common: Option<HashSet<i64>> = None;
    for word in words {
        let holding = holding(connection, word)?;
        common = Some(match common {
            None => holding,
            Some(before) => before.intersection(&holding).copied().collect(),
        });
    }
    let mut visits: Vec<i64> = common.unwrap_or_default().into_iter().collect();
    visits.sort_unstable_by(|a, b| b.cmp(a));
    for visit in visits {
        found.add(Match {
            place: HitIn::Visit(VisitId::new(visit)),
            matched: "visit".to_owned(),
            excerpt: String::new(),
        });
    }
    Ok(())
}

/// Visits that hold a word. Of a word that stands in very many rows only the newest of a visit's own are gone through, but every camera
/// and every owner.
fn holding(connection: &Connection, word: &str) -> Read<HashSet<i64>> {
    let mut visits = HashSet::new();
    let (mut cameras, mut owners) = (Vec::new(), Vec::new());
    let mut statement = connection.prepare_cached(
        "SELECT visit_id, camera_id, owner_id FROM find_text WHERE find_text MATCH ?1 \
         ORDER BY rowid DESC LIMIT ?2",
    )?;
    let mut rows = statement.query((word, GATHERED_MAX))?;
    let mut many = 0;
    while let Some(row) = rows.next()? {
        many += 1;
        visits.extend(row.get::<_, Option<i64>>(0)?);
        cameras.extend(row.get::<_, Option<i64>>(1)?);
        owners.extend(row.get::<_, Option<i64>>(2)?);
    }
    if many == GATHERED_MAX {
        cameras.extend(rows_holding(connection, word, "camera")?);
        owners.extend(rows_holding(connection, word, "owner")?);
    }
    for (column, ids) in [("camera_id", cameras), ("owner_id", owners)] {
        let sql =
            format!("SELECT id FROM visit WHERE {column} IN (SELECT value FROM json_each(?1))");
        let mut statement = connection.prepare_cached(&sql)?;
        let mut rows = statement.query([id_list(&ids)])?;
        while let Some(row) = rows.next()? {
            visits.insert(row.get(0)?);
        }
    }
    Ok(visits)
}

/// The rows of one table that hold a word, from the keys of the index alone.
fn rows_holding(connection: &Connection, word: &str, table: &str) -> Read<Vec<i64>> {
    let Some(keys) = keys_of(table) else {
        return Ok(Vec::new());
    };
    connection
        .prepare_cached(&format!(
            "SELECT rowid / ?2 FROM find_text WHERE find_text MATCH ?1 AND rowid % ?2 = ?3 \
             AND rowid <= (SELECT max(id) FROM {table}) * ?2 + ?3"
        ))?
        .query_map((word, keys.step, keys.place), |row| row.get(0))?
        .collect()
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

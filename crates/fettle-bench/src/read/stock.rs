//! Drawers, parts, lots and movements.

use std::collections::{BTreeMap, HashMap};

use jiff::{Timestamp, tz::TimeZone};
use rusqlite::{Connection, Params, Row};

use super::{
    donor::with_part,
    journal::{MOST, entries},
    line::id_list,
    row::{money_if, term, time, time_if, word},
};
use crate::{
    change::PartOf,
    ids::{DonorId, DrawerId, EntryId, LotId, MovementId, PartId, VisitId},
    view::{
        DrawerLine, DrawerView, LastCount, LikePart, Lot, Moved, Page, PartFilter, PartLine,
        PartList, PartOrder, PartView, Taken, Use,
    },
    words::{Grade, Movement},
};

type Read<T> = rusqlite::Result<T>;

/// The most movements given with a part.
const MOVED_MOST: u32 = 500;

const DRAWER: &str = "SELECT d.id, d.name, d.place, \
    count(DISTINCT CASE WHEN s.quantity > 0 THEN l.part_id END), ifnull(sum(s.quantity), 0) \
    FROM drawer d LEFT JOIN lot l ON l.drawer_id = d.id LEFT JOIN stock s ON s.id = l.id";

fn drawer_row(row: &Row<'_>) -> Read<DrawerLine> {
    Ok(DrawerLine {
        id: DrawerId::new(row.get(0)?),
        name: row.get(1)?,
        place: row.get(2)?,
        parts: row.get(3)?,
        pieces: pieces(row, 4)?,
    })
}

/// A sum of pieces, so that a page is read whatever the sum has come to.
pub(super) fn pieces(row: &Row<'_>, column: usize) -> Read<u32> {
    let sum: i64 = row.get(column)?;
    Ok(u32::try_from(sum.max(0)).unwrap_or(u32::MAX))
}

/// Every drawer by its name.
pub(crate) fn drawers(connection: &Connection) -> Read<Vec<DrawerLine>> {
    connection
        .prepare_cached(&format!(
            "{DRAWER} GROUP BY d.id ORDER BY d.name COLLATE NOCASE"
        ))?
        .query_map([], drawer_row)?
        .collect()
}

pub(crate) fn drawer(connection: &Connection, id: DrawerId) -> Read<Option<DrawerView>> {
    let found: Read<Vec<DrawerLine>> = connection
        .prepare_cached(&format!("{DRAWER} WHERE d.id = ?1 GROUP BY d.id"))?
        .query_map([id.get()], drawer_row)?
        .collect();
    let Some(line) = found?.pop() else {
        return Ok(None);
    };
    Ok(Some(DrawerView {
        line,
        lots: lots(
            connection,
            "WHERE l.drawer_id = ?1 AND s.quantity > 0 \
             ORDER BY p.model COLLATE NOCASE, p.words COLLATE NOCASE, l.id",
            [id.get()],
        )?,
        journal: entries(
            connection,
            "WHERE j.drawer_id = ?1 ORDER BY j.id DESC LIMIT ?2",
            (id.get(), MOST),
        )?,
    }))
}

/// The part's own columns, from one on.
fn part_of(row: &Row<'_>, column: usize) -> Read<PartOf> {
    Ok(PartOf {
        notes_id: row.get(column)?,
        model: row.get(column + 1)?,
        part: term(row, column + 2)?,
    })
}

const LOT: &str = "SELECT l.id, l.part_id, p.notes_id, p.model, p.term_id, p.words, l.grade, \
    l.drawer_id, d.name, l.donor_id, s.quantity, l.price_amount, l.price_currency, l.source, l.note, \
    l.at_utc, c.at_utc, c.counted, c.change_pieces \
    FROM lot l JOIN stock s ON s.id = l.id JOIN part p ON p.id = l.part_id \
    LEFT JOIN drawer d ON d.id = l.drawer_id \
    LEFT JOIN movement c ON c.id = (SELECT max(id) FROM movement WHERE lot_id = l.id AND movement = 'counted')";

/// The lots that a condition and order name.
pub(crate) fn lots(
    connection: &Connection,
    condition: &str,
    parameters: impl Params,
) -> Read<Vec<Lot>> {
    connection
        .prepare_cached(&format!("{LOT} {condition}"))?
        .query_map(parameters, |row| {
            Ok(Lot {
                id: LotId::new(row.get(0)?),
                part: PartId::new(row.get(1)?),
                of: part_of(row, 2)?,
                grade: word(row, 6, Grade::from_text)?,
                drawer: drawer_if(row, 7)?,
                donor: row.get::<_, Option<i64>>(9)?.map(DonorId::new),
                quantity: row.get(10)?,
                price: money_if(row, 11)?,
                source: row.get(13)?,
                note: row.get(14)?,
                at: time(row, 15)?,
                counted: last_count(row, 16)?,
            })
        })?
        .collect()
}

fn last_count(row: &Row<'_>, column: usize) -> Read<Option<LastCount>> {
    let Some(at) = time_if(row, column)? else {
        return Ok(None);
    };
    Ok(Some(LastCount {
        at,
        pieces: row.get(column + 1)?,
        difference: row.get(column + 2)?,
    }))
}

fn drawer_if(row: &Row<'_>, column: usize) -> Read<Option<(DrawerId, String)>> {
    let id: Option<i64> = row.get(column)?;
    let name: Option<String> = row.get(column + 1)?;
    Ok(id.map(DrawerId::new).zip(name))
}

/// One lot.
pub(crate) fn lot(connection: &Connection, id: LotId) -> Read<Option<Lot>> {
    Ok(lots(connection, "WHERE l.id = ?1", [id.get()])?.pop())
}

/// The lots with pieces in a drawer that fit a camera: those of its notes, those of other models that its parts may be replaced by,
/// and those that belong to no notes and to its model or to none.
pub(crate) fn lots_for(
    connection: &Connection,
    notes_id: Option<&str>,
    fitting: &[(String, String)],
    model: &str,
) -> Read<Vec<Lot>> {
    let others: Vec<String> = fitting
        .iter()
        .map(|(notes, part)| format!("{notes} {part}"))
        .collect();
    let others = serde_json::to_string(&others).unwrap_or_else(|_| "[]".to_owned());
    lots(
        connection,
        "WHERE s.quantity > 0 AND l.drawer_id IS NOT NULL AND (p.notes_id = ?1 \
         OR (p.notes_id IS NULL AND (p.model = '' OR p.model = ?2 COLLATE NOCASE)) \
         OR p.notes_id || ' ' || p.term_id IN (SELECT value FROM json_each(?3))) \
         ORDER BY p.words COLLATE NOCASE, p.notes_id IS NOT ?1, l.grade, l.id",
        (notes_id, model, others),
    )
}

const PART: &str =
    "SELECT p.id, p.notes_id, p.model, p.term_id, p.words, p.minimum, p.since_utc FROM part p";
const IN_LOTS: &str =
    "SELECT l.part_id, l.grade, s.quantity, s.used FROM lot l JOIN stock s ON s.id = l.id";

fn part_row(row: &Row<'_>) -> Read<PartLine> {
    Ok(PartLine {
        id: PartId::new(row.get(0)?),
        of: part_of(row, 1)?,
        minimum: row.get(5)?,
        since: time(row, 6)?,
        quantity: 0,
        used: 0,
        by_grade: BTreeMap::new(),
        drawers: Vec::new(),
    })
}

/// Parts in a line each, by their number: every one, or the one named. Each table is read once from end to end, which is twice as fast
/// as a sum over the lots of each part.
fn part_lines(connection: &Connection, only: Option<PartId>) -> Read<Vec<PartLine>> {
    let (of_part, of_lot) = match only {
        Some(_) => ("WHERE p.id = ?1", "WHERE l.part_id = ?1"),
        None => ("WHERE ?1 IS NULL", "WHERE ?1 IS NULL"),
    };
    let only = only.map(PartId::get);
    let mut lines: Vec<PartLine> = connection
        .prepare_cached(&format!("{PART} {of_part} ORDER BY p.id"))?
        .query_map([only], part_row)?
        .collect::<Read<_>>()?;
    let mut statement = connection.prepare_cached(&format!("{IN_LOTS} {of_lot}"))?;
    let mut rows = statement.query([only])?;
    while let Some(row) = rows.next()? {
        let id = PartId::new(row.get(0)?);
        let Ok(place) = lines.binary_search_by_key(&id, |line| line.id) else {
            continue;
        };
        let Some(line) = lines.get_mut(place) else {
            continue;
        };
        let (pieces, used): (u32, i64) = (row.get(2)?, row.get(3)?);
        line.used = line
            .used
            .saturating_add_signed(i32::try_from(used).unwrap_or(i32::MAX));
        if pieces > 0 {
            line.quantity = line.quantity.saturating_add(pieces);
            let grade = word(row, 1, Grade::from_text)?;
            let of_grade: &mut u32 = line.by_grade.entry(grade).or_default();
            *of_grade = of_grade.saturating_add(pieces);
        }
    }
    Ok(lines)
}

/// Parts that a filter leaves, at this moment.
pub(crate) fn parts(
    connection: &Connection,
    filter: &PartFilter,
    page: Page,
    at: Timestamp,
) -> Read<PartList> {
    let page = page.bounded();
    let words: Vec<String> = filter
        .text
        .split_whitespace()
        .map(str::to_lowercase)
        .collect();
    let in_drawer = filter
        .drawer
        .map(|drawer| {
            connection
                .prepare_cached(
                    "SELECT DISTINCT l.part_id FROM lot l JOIN stock s ON s.id = l.id \
                     WHERE l.drawer_id = ?1 AND s.quantity > 0",
                )?
                .query_map([drawer.get()], |row| row.get::<_, i64>(0))?
                .collect::<Read<std::collections::HashSet<i64>>>()
        })
        .transpose()?;
    let mut found = part_lines(connection, None)?;
    found.retain(|line| {
        in_drawer
            .as_ref()
            .is_none_or(|ids| ids.contains(&line.id.get()))
            && passes(filter, &words, line)
    });
    let below = found.iter().filter(|line| line.is_below()).count();
    let pieces = found.iter().map(|line| u64::from(line.quantity)).sum();
    let total = found.len();
    let (skip, take) = (page.skip as usize, page.take as usize);
    if filter.order == PartOrder::Drawer {
        fill_drawers(connection, &mut found)?;
    }
    put_in_order(&mut found, filter.order, at);
    let mut lines: Vec<PartLine> = found.into_iter().skip(skip).take(take).collect();
    if filter.order != PartOrder::Drawer {
        fill_drawers(connection, &mut lines)?;
    }
    Ok(PartList {
        lines,
        page,
        total: u32::try_from(total).unwrap_or(u32::MAX),
        below: u32::try_from(below).unwrap_or(u32::MAX),
        pieces,
    })
}

fn passes(filter: &PartFilter, words: &[String], line: &PartLine) -> bool {
    let of_model = filter.notes_id.as_ref().is_none_or(|wanted| {
        let (notes, part) = (line.of.notes_id.as_ref(), line.of.part.id.as_ref());
        let fits = || {
            filter
                .fitting
                .iter()
                .any(|(other, id)| notes == Some(other) && part == Some(id))
        };
        notes == Some(wanted) || fits()
    });
    let of_grade = filter
        .grade
        .is_none_or(|grade| line.by_grade.contains_key(&grade));
    let named = words.is_empty() || {
        let name = format!("{} {}", line.of.part.words, line.of.model).to_lowercase();
        words.iter().all(|word| name.contains(word))
    };
    of_model && of_grade && named && (!filter.below || line.is_below())
}

fn put_in_order(found: &mut [PartLine], order: PartOrder, at: Timestamp) {
    match order {
        PartOrder::Short => found.sort_by_cached_key(|line| {
            let short = line
                .minimum
                .filter(|_| line.is_below())
                .map_or(2.0, |minimum| f64::from(line.quantity) / f64::from(minimum));
            // Neither is negative, and so the bits are in the order of the numbers.
            (short.to_bits(), years_left(line, at).to_bits(), name(line))
        }),
        PartOrder::Model => {
            found.sort_by_cached_key(|line| (line.of.model.to_lowercase(), name(line)));
        }
        PartOrder::Drawer => found.sort_by_cached_key(|line| {
            let first = line.drawers.first().map(|(_, name)| name.to_lowercase());
            (first.is_none(), first, name(line))
        }),
    }
}

/// How many years the pieces last at the use so far, for ordering only; infinite without use.
fn years_left(line: &PartLine, at: Timestamp) -> f64 {
    if line.used == 0 {
        return f64::INFINITY;
    }
    let seconds = at.duration_since(line.since).as_secs_f64().max(0.0);
    f64::from(line.quantity) * seconds / f64::from(line.used)
}

/// By which parts of equal rank are told apart.
fn name(line: &PartLine) -> (String, String, PartId) {
    (
        line.of.part.words.to_lowercase(),
        line.of.model.clone(),
        line.id,
    )
}

fn fill_drawers(connection: &Connection, lines: &mut [PartLine]) -> Read<()> {
    let ids: Vec<i64> = lines.iter().map(|line| line.id.get()).collect();
    let mut drawers: HashMap<i64, Vec<(DrawerId, String)>> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT DISTINCT l.part_id, d.id, d.name FROM lot l JOIN stock s ON s.id = l.id \
         JOIN drawer d ON d.id = l.drawer_id \
         WHERE s.quantity > 0 AND l.part_id IN (SELECT value FROM json_each(?1)) \
         ORDER BY d.name COLLATE NOCASE",
    )?;
    let mut rows = statement.query([id_list(&ids)])?;
    while let Some(row) = rows.next()? {
        drawers
            .entry(row.get(0)?)
            .or_default()
            .push((DrawerId::new(row.get(1)?), row.get(2)?));
    }
    for line in lines {
        line.drawers = drawers.remove(&line.id.get()).unwrap_or_default();
    }
    Ok(())
}

/// How many like parts a prior is learned from: more tell little more and take long.
const LIKE_MOST: u32 = 24;

/// Parts of a model (its notes' id, else its name) with an even or an odd number, those kept longest first.
pub(crate) fn like_parts(connection: &Connection, model: &str, even: bool) -> Read<Vec<LikePart>> {
    connection
        .prepare_cached(
            "SELECT id, since_utc FROM part WHERE ifnull(notes_id, model) = ?1 AND id % 2 = ?2 \
             ORDER BY id LIMIT ?3",
        )?
        .query_map((model, !even, LIKE_MOST), |row| {
            Ok(LikePart {
                id: PartId::new(row.get(0)?),
                since: time(row, 1)?.to_zoned_datetime(TimeZone::UTC).date(),
            })
        })?
        .collect()
}

/// The use of these parts since they are kept, oldest first; what one visit took counts as one.
pub(crate) fn uses(connection: &Connection, parts: &[PartId]) -> Read<HashMap<PartId, Vec<Use>>> {
    let ids: Vec<i64> = parts.iter().map(|part| part.get()).collect();
    let mut uses: HashMap<PartId, Vec<Use>> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT l.part_id, min(m.at_utc), sum(-m.change_pieces \
         - ifnull((SELECT sum(r.change_pieces) FROM movement r WHERE r.taken_id = m.id), 0)) AS used \
         FROM lot l JOIN movement m ON m.lot_id = l.id \
         WHERE l.part_id IN (SELECT value FROM json_each(?1)) AND m.movement = 'taken' \
         GROUP BY l.part_id, ifnull(m.visit_id, -m.id) HAVING used > 0 ORDER BY 2",
    )?;
    let mut rows = statement.query([id_list(&ids)])?;
    while let Some(row) = rows.next()? {
        let on = time(row, 1)?.to_zoned_datetime(TimeZone::UTC).date();
        let quantity = pieces(row, 2)?;
        uses.entry(PartId::new(row.get(0)?))
            .or_default()
            .push(Use { on, quantity });
    }
    Ok(uses)
}

pub(crate) fn part(connection: &Connection, id: PartId) -> Read<Option<PartView>> {
    let mut found = part_lines(connection, Some(id))?;
    fill_drawers(connection, &mut found)?;
    let Some(line) = found.pop() else {
        return Ok(None);
    };
    let uses = uses(connection, &[id])?.remove(&id).unwrap_or_default();
    Ok(Some(PartView {
        lots: lots(
            connection,
            "WHERE l.part_id = ?1 AND s.quantity > 0 ORDER BY l.id",
            [id.get()],
        )?,
        moved: moved(connection, id)?,
        out: taken(
            connection,
            "WHERE l.part_id = ?1 AND m.visit_id IS NULL",
            id.get(),
        )?
        .into_iter()
        .rev()
        .collect(),
        uses,
        on_donors: with_part(connection, &line.of)?,
        journal: entries(
            connection,
            "WHERE j.part_id = ?1 ORDER BY j.id DESC LIMIT ?2",
            (id.get(), MOST),
        )?,
        line,
    }))
}

/// The entry that told a movement, for a column with its id.
const TOLD: &str =
    "(SELECT min(entry_id) FROM touched WHERE table_name = 'movement' AND row_id = m.id)";

fn moved(connection: &Connection, part: PartId) -> Read<Vec<Moved>> {
    connection
        .prepare_cached(&format!(
            "SELECT m.id, {TOLD}, m.at_utc, m.lot_id, l.grade, ifnull(d.name, ''), m.movement, \
             m.change_pieces, m.visit_id, m.counted, m.note \
             FROM lot l JOIN movement m ON m.lot_id = l.id LEFT JOIN drawer d ON d.id = l.drawer_id \
             WHERE l.part_id = ?1 ORDER BY m.id DESC LIMIT ?2"
        ))?
        .query_map((part.get(), MOVED_MOST), |row| {
            Ok(Moved {
                id: MovementId::new(row.get(0)?),
                entry: EntryId::new(row.get(1)?),
                at: time(row, 2)?,
                lot: LotId::new(row.get(3)?),
                grade: word(row, 4, Grade::from_text)?,
                drawer: row.get(5)?,
                movement: word(row, 6, Movement::from_text)?,
                pieces: row.get(7)?,
                visit: row.get::<_, Option<i64>>(8)?.map(VisitId::new),
                counted: row.get(9)?,
                note: row.get(10)?,
            })
        })?
        .collect()
}

/// Takings of which pieces are still out, oldest first; the condition names one number.
pub(crate) fn taken(connection: &Connection, condition: &str, of: i64) -> Read<Vec<Taken>> {
    let found: Read<Vec<Taken>> = connection
        .prepare_cached(&format!(
            "SELECT m.id, {TOLD}, m.at_utc, m.lot_id, l.part_id, p.notes_id, p.model, p.term_id, \
             p.words, l.grade, l.drawer_id, d.name, -m.change_pieces \
             - ifnull((SELECT sum(r.change_pieces) FROM movement r WHERE r.taken_id = m.id), 0), \
             m.price_amount, m.price_currency, m.note \
             FROM movement m JOIN lot l ON l.id = m.lot_id JOIN part p ON p.id = l.part_id \
             LEFT JOIN drawer d ON d.id = l.drawer_id {condition} AND m.movement = 'taken' ORDER BY m.id"
        ))?
        .query_map([of], |row| {
            Ok(Taken {
                id: MovementId::new(row.get(0)?),
                entry: EntryId::new(row.get(1)?),
                at: time(row, 2)?,
                lot: LotId::new(row.get(3)?),
                part: PartId::new(row.get(4)?),
                of: part_of(row, 5)?,
                grade: word(row, 9, Grade::from_text)?,
                drawer: drawer_if(row, 10)?,
                quantity: pieces(row, 12)?,
                price: money_if(row, 13)?,
                note: row.get(15)?,
            })
        })?
        .collect();
    let mut found = found?;
    found.retain(|taken| taken.quantity > 0);
    Ok(found)
}

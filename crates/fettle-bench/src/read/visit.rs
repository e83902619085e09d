//! Everything of one visit: a query a table, whatever the visit holds.

use std::collections::HashMap;

use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row};

use super::{
    bill::bills,
    causes::causes,
    journal::entries,
    line::{holds_of, lines, waits_of},
    lists::{camera_by, owner_by},
    row::{
        day, day_if, decimal, decimal_if, file, json, json_if, money, money_if, term, time,
        time_if, unreadable, word, word_if,
    },
    stock::taken,
};
use crate::{
    change::{
        About, ArrivalDetails, CircumstanceKnown, DeclaredItem, EarlierHandsNoted, FaultRecorded,
        NoteWritten, Packed, PaperAttached, PartFitted, PaymentReceived, PhotoAttached,
        PieceRemoved, QuoteAnswered, QuoteLine, QuoteMade, ReadingRow, ReadingTaken,
        RecordingAttached, Sent, SettingProved, ShortfallNoted, SignObserved, Tick, TrialMade,
        WorkDone,
    },
    files::FileRef,
    ids::{
        EntryId, FaultId, OwnerId, PaperId, PaymentId, PhotoId, PieceId, QuoteId, ReadingId,
        RecordingId, RowId, VisitId,
    },
    view::{
        Bill, Fault, Kept, Paper, Payment, Photo, Piece, Quote, Reading, Recording, Returned,
        Taken, VisitView, same_cause, settle,
    },
    words::{
        FaultIs, Found, Grade, Instrument, LineFor, PaperKind, Phase, QuoteKind, Seen, Stage,
        Verdict,
    },
};

type Read<T> = rusqlite::Result<T>;

/// Reads the rows of one visit.
struct OneVisit<'c> {
    connection: &'c Connection,
    visit: VisitId,
    /// The last standing entry that wrote each row.
    entries: HashMap<(String, i64), EntryId>,
}

pub(crate) fn visit(connection: &Connection, visit: VisitId) -> Read<Option<VisitView>> {
    let Some(line) = lines(connection, "WHERE v.id = ?1", [visit.get()])?.pop() else {
        return Ok(None);
    };
    let (Some(camera), Some(owner)) = (
        camera_by(connection, line.camera)?,
        owner_by(connection, line.owner)?,
    ) else {
        return Ok(None);
    };
    let of = OneVisit {
        connection,
        visit,
        entries: writers(connection, visit)?,
    };
    let payments = of.payments()?;
    let mut bills = of.bills()?;
    settle(&mut bills, &payments);
    let taken = taken(connection, "WHERE m.visit_id = ?1", visit.get())?;
    Ok(Some(VisitView {
        camera,
        owner,
        arrival: of.arrival()?,
        waits: waits_of(connection, &[visit.get()])?
            .remove(&visit)
            .unwrap_or_default(),
        signs: of.signs()?,
        circumstances: of.circumstances()?,
        earlier_hands: of.earlier_hands()?,
        faults: of.faults()?,
        quotes: of.quotes()?,
        pieces: of.pieces()?,
        works: of.works()?,
        parts: of.parts(&taken)?,
        taken,
        readings: of.readings()?,
        settings: of.settings()?,
        full_strip: of.full_strip()?,
        trials: of.trials()?,
        shortfalls: of.shortfalls()?,
        photos: of.photos()?,
        recordings: of.recordings()?,
        papers: of.papers()?,
        packed: of.packed()?,
        sent: of.sent()?,
        holds: holds_of(connection, &[visit.get()])?
            .remove(&visit)
            .unwrap_or_default(),
        bills,
        payments,
        guarantee: match line.guarantee_of {
            Some(earlier) => of.returned(earlier, line.arrived)?,
            None => None,
        },
        notes: of.notes()?,
        journal: entries(
            connection,
            "WHERE j.visit_id = ?1 ORDER BY j.id DESC",
            [visit.get()],
        )?,
        line,
    }))
}

/// The last standing entry that wrote each row of a visit; an undo is not one to undo in its place.
fn writers(connection: &Connection, visit: VisitId) -> Read<HashMap<(String, i64), EntryId>> {
    connection
        .prepare_cached(
            "SELECT t.table_name, t.row_id, max(t.entry_id) \
             FROM journal j JOIN touched t ON t.entry_id = j.id \
             WHERE j.visit_id = ?1 AND j.undoes_id IS NULL \
             AND NOT EXISTS (SELECT 1 FROM struck s WHERE s.id = j.id) GROUP BY 1, 2",
        )?
        .query_map([visit.get()], |row| {
            Ok(((row.get(0)?, row.get(1)?), EntryId::new(row.get(2)?)))
        })?
        .collect()
}

impl OneVisit<'_> {
    fn rows<T>(&self, sql: &str, read: impl FnMut(&Row<'_>) -> Read<T>) -> Read<Vec<T>> {
        self.connection
            .prepare_cached(sql)?
            .query_map([self.visit.get()], read)?
            .collect()
    }

    fn entry(&self, table: &str, row: i64) -> EntryId {
        self.entries
            .get(&(table.to_owned(), row))
            .copied()
            .unwrap_or(EntryId::LATEST)
    }

    /// Rows whose first two columns are their id and their time.
    fn kept<T>(
        &self,
        table: &str,
        columns: &str,
        read: impl Fn(&Row<'_>) -> Read<T>,
    ) -> Read<Vec<Kept<T>>> {
        let sql =
            format!("SELECT id, at_utc, {columns} FROM {table} WHERE visit_id = ?1 ORDER BY id");
        self.rows(&sql, |row| {
            Ok(Kept {
                entry: self.entry(table, row.get(0)?),
                at: time(row, 1)?,
                what: read(row)?,
            })
        })
    }

    fn arrival(&self) -> Read<ArrivalDetails> {
        let came_with = self.rows(
            "SELECT item FROM came_with WHERE visit_id = ?1 ORDER BY id",
            |row| row.get(0),
        )?;
        self.connection
            .prepare_cached(
                "SELECT owner_id, arrived_on, words, wanted, condition, declared_amount, \
                 declared_currency, promised_on, guarantee_of_id FROM visit WHERE id = ?1",
            )?
            .query_row([self.visit.get()], |row| {
                Ok(ArrivalDetails {
                    owner: OwnerId::new(row.get(0)?),
                    arrived: day(row, 1)?,
                    words: row.get(2)?,
                    wanted: row.get(3)?,
                    condition: row.get(4)?,
                    came_with,
                    declared: money_if(row, 5)?,
                    promised: day_if(row, 7)?,
                    guarantee_of: row.get::<_, Option<i64>>(8)?.map(VisitId::new),
                })
            })
    }

    fn full_strip(&self) -> Read<bool> {
        self.connection
            .prepare_cached("SELECT full_strip FROM visit WHERE id = ?1")?
            .query_row([self.visit.get()], |row| row.get(0))
    }

    fn signs(&self) -> Read<Vec<Kept<SignObserved>>> {
        self.kept("sign", "term_id, words, seen, numbers_json, note", |row| {
            Ok(SignObserved {
                visit: self.visit,
                sign: term(row, 2)?,
                seen: word(row, 4, Seen::from_text)?,
                numbers: json(row, 5)?,
                note: row.get(6)?,
            })
        })
    }

    fn circumstances(&self) -> Read<Vec<Kept<CircumstanceKnown>>> {
        self.kept("circumstance", "term_id, words, known, note", |row| {
            Ok(CircumstanceKnown {
                visit: self.visit,
                circumstance: term(row, 2)?,
                known: word(row, 4, Seen::from_text)?,
                note: row.get(5)?,
            })
        })
    }

    fn earlier_hands(&self) -> Read<Vec<Kept<EarlierHandsNoted>>> {
        self.kept("earlier_hands", "place, what", |row| {
            Ok(EarlierHandsNoted {
                visit: self.visit,
                at: row.get(2)?,
                what: row.get(3)?,
            })
        })
    }

    fn faults(&self) -> Read<Vec<Fault>> {
        self.rows(
            "SELECT id, at_utc, term_id, words, fault_is, found, because_of_id, note \
             FROM fault WHERE visit_id = ?1 ORDER BY id",
            |row| {
                Ok(Fault {
                    id: FaultId::new(row.get(0)?),
                    entry: self.entry("fault", row.get(0)?),
                    at: time(row, 1)?,
                    what: FaultRecorded {
                        visit: self.visit,
                        fault: term(row, 2)?,
                        is: word(row, 4, FaultIs::from_text)?,
                        found: word(row, 5, Found::from_text)?,
                        because_of: row.get::<_, Option<i64>>(6)?.map(FaultId::new),
                        note: row.get(7)?,
                    },
                })
            },
        )
    }

    fn quotes(&self) -> Read<Vec<Quote>> {
        let mut lines: HashMap<i64, Vec<QuoteLine>> = HashMap::new();
        for (quote, line) in self.rows(
            "SELECT l.quote_id, l.line_for, l.term_id, l.words, l.grade, l.quantity, \
             l.minutes_likely, l.minutes_nine_in_ten, l.amount \
             FROM quote q JOIN quote_line l ON l.quote_id = q.id WHERE q.visit_id = ?1 ORDER BY l.id",
            |row| {
                let line = QuoteLine {
                    line_for: word(row, 1, LineFor::from_text)?,
                    what: term(row, 2)?,
                    grade: word_if(row, 4, Grade::from_text)?,
                    quantity: row.get(5)?,
                    minutes_likely: row.get(6)?,
                    minutes_nine_in_ten: row.get(7)?,
                    amount: decimal(row, 8)?,
                };
                Ok((row.get(0)?, line))
            },
        )? {
            lines.entry(quote).or_default().push(line);
        }
        self.rows(
            "SELECT id, at_utc, total_amount, total_currency, note, agreed, answer_words, answered_on, \
             quote_kind, tax_percent, tax_name, deposit_amount, valid_until \
             FROM quote WHERE visit_id = ?1 ORDER BY id",
            |row| {
                let id = QuoteId::new(row.get(0)?);
                let what = QuoteMade {
                    visit: self.visit,
                    lines: lines.remove(&id.get()).unwrap_or_default(),
                    total: money(row, 2)?,
                    note: row.get(4)?,
                    kind: word(row, 8, QuoteKind::from_text)?,
                    tax_percent: decimal_if(row, 9)?,
                    tax_name: row.get(10)?,
                    deposit: decimal_if(row, 11)?,
                    valid_until: day_if(row, 12)?,
                };
                let totals = what.totals().ok_or_else(|| {
                    unreadable(2, "the lines of a quote cannot be added up".to_owned())
                })?;
                Ok(Quote {
                    id,
                    entry: self.entry("quote", id.get()),
                    at: time(row, 1)?,
                    what,
                    totals,
                    answer: self.answer(id, row)?,
                })
            },
        )
    }

    fn answer(&self, quote: QuoteId, row: &Row<'_>) -> Read<Option<QuoteAnswered>> {
        let Some(agreed) = row.get(5)? else {
            return Ok(None);
        };
        let (words, on) = (row.get(6)?, day(row, 7)?);
        Ok(Some(QuoteAnswered {
            visit: self.visit,
            quote,
            agreed,
            words,
            on,
        }))
    }

    fn pieces(&self) -> Read<Vec<Piece>> {
        self.rows(
            "SELECT id, at_utc, term_id, words, cell, note, photo_id, returned_utc, returned_note \
             FROM piece WHERE visit_id = ?1 ORDER BY id",
            |row| {
                Ok(Piece {
                    id: PieceId::new(row.get(0)?),
                    entry: self.entry("piece", row.get(0)?),
                    at: time(row, 1)?,
                    what: PieceRemoved {
                        visit: self.visit,
                        piece: term(row, 2)?,
                        cell: row.get(4)?,
                        note: row.get(5)?,
                        photo: row.get::<_, Option<i64>>(6)?.map(PhotoId::new),
                    },
                    returned: time_if(row, 7)?,
                    returned_note: row.get(8)?,
                })
            },
        )
    }

    fn works(&self) -> Read<Vec<Kept<WorkDone>>> {
        self.kept("work", "term_id, words, minutes, note", |row| {
            Ok(WorkDone {
                visit: self.visit,
                work: term(row, 2)?,
                minutes: row.get(4)?,
                note: row.get(5)?,
            })
        })
    }

    fn parts(&self, taken: &[Taken]) -> Read<Vec<Kept<PartFitted>>> {
        let columns = "term_id, words, grade, quantity, price_amount, price_currency, note";
        let mut parts = self.kept("part_fitted", columns, |row| {
            Ok(PartFitted {
                visit: self.visit,
                part: term(row, 2)?,
                grade: word(row, 4, Grade::from_text)?,
                quantity: row.get(5)?,
                price: money_if(row, 6)?,
                note: row.get(8)?,
            })
        })?;
        parts.extend(taken.iter().map(|taken| Kept {
            entry: taken.entry,
            at: taken.at,
            what: taken.as_fitted(self.visit),
        }));
        parts.sort_by_key(|kept| (kept.at, kept.entry));
        Ok(parts)
    }

    fn readings(&self) -> Read<Vec<Reading>> {
        let mut figures: HashMap<i64, Vec<ReadingRow>> = HashMap::new();
        for (reading, figure) in self.rows(
            "SELECT f.reading_id, f.name, f.unit, f.nominal, f.value, f.error, f.error_unit, \
             f.uncertainty, f.limit_value, f.verdict \
             FROM reading r JOIN reading_row f ON f.reading_id = r.id WHERE r.visit_id = ?1 ORDER BY f.id",
            |row| {
                let figure = ReadingRow {
                    name: row.get(1)?,
                    unit: row.get(2)?,
                    nominal: row.get(3)?,
                    value: row.get(4)?,
                    error: row.get(5)?,
                    error_unit: row.get(6)?,
                    uncertainty: row.get(7)?,
                    limit: row.get(8)?,
                    verdict: word_if(row, 9, Verdict::from_text)?,
                };
                Ok((row.get(0)?, figure))
            },
        )? {
            figures.entry(reading).or_default().push(figure);
        }
        self.rows(
            "SELECT id, at_utc, phase, instrument, limit_id, recording_id, method, findings_json, \
             detail_json FROM reading WHERE visit_id = ?1 ORDER BY id",
            |row| {
                let id = ReadingId::new(row.get(0)?);
                Ok(Reading {
                    id,
                    entry: self.entry("reading", id.get()),
                    at: time(row, 1)?,
                    what: ReadingTaken {
                        visit: self.visit,
                        phase: word(row, 2, Phase::from_text)?,
                        instrument: word(row, 3, Instrument::from_text)?,
                        limit_id: row.get(4)?,
                        rows: figures.remove(&id.get()).unwrap_or_default(),
                        findings: json(row, 7)?,
                        recording: row.get::<_, Option<i64>>(5)?.map(RecordingId::new),
                        method: row.get(6)?,
                        detail: json_if(row, 8)?,
                    },
                })
            },
        )
    }

    fn settings(&self) -> Read<Vec<Kept<SettingProved>>> {
        self.kept("setting", "term_id, words, held, note", |row| {
            Ok(SettingProved {
                visit: self.visit,
                setting: term(row, 2)?,
                held: row.get(4)?,
                note: row.get(5)?,
            })
        })
    }

    fn trials(&self) -> Read<Vec<Kept<TrialMade>>> {
        self.kept(
            "trial",
            "term_id, words, as_found, turned_json, readings_json, note",
            |row| {
                Ok(TrialMade {
                    visit: self.visit,
                    setting: term(row, 2)?,
                    as_found: row.get(4)?,
                    turned: json(row, 5)?,
                    readings: json(row, 6)?,
                    note: row.get(7)?,
                })
            },
        )
    }

    fn shortfalls(&self) -> Read<Vec<Kept<ShortfallNoted>>> {
        self.kept("shortfall", "what, correction", |row| {
            Ok(ShortfallNoted {
                visit: self.visit,
                what: row.get(2)?,
                correction: row.get(3)?,
            })
        })
    }

    fn photos(&self) -> Read<Vec<Photo>> {
        self.rows(
            "SELECT id, at_utc, hash, extension, length_bytes, width_px, height_px, caption, stage \
             FROM photo WHERE visit_id = ?1 ORDER BY id",
            |row| {
                Ok(Photo {
                    id: PhotoId::new(row.get(0)?),
                    entry: self.entry("photo", row.get(0)?),
                    at: time(row, 1)?,
                    what: PhotoAttached {
                        visit: self.visit,
                        file: file(row, 2)?,
                        width_px: row.get(5)?,
                        height_px: row.get(6)?,
                        caption: row.get(7)?,
                        stage: word(row, 8, Stage::from_text)?,
                    },
                })
            },
        )
    }

    fn recordings(&self) -> Read<Vec<Recording>> {
        self.rows(
            "SELECT id, at_utc, hash, extension, length_bytes, caption, stage \
             FROM recording WHERE visit_id = ?1 ORDER BY id",
            |row| {
                Ok(Recording {
                    id: RecordingId::new(row.get(0)?),
                    entry: self.entry("recording", row.get(0)?),
                    at: time(row, 1)?,
                    what: RecordingAttached {
                        visit: self.visit,
                        file: file(row, 2)?,
                        caption: row.get(5)?,
                        stage: word(row, 6, Stage::from_text)?,
                    },
                })
            },
        )
    }

    fn papers(&self) -> Read<Vec<Paper>> {
        self.rows(
            "SELECT id, at_utc, hash, extension, length_bytes, paper, title \
             FROM paper WHERE visit_id = ?1 ORDER BY id",
            |row| {
                Ok(Paper {
                    id: PaperId::new(row.get(0)?),
                    entry: self.entry("paper", row.get(0)?),
                    at: time(row, 1)?,
                    what: PaperAttached {
                        visit: self.visit,
                        file: file(row, 2)?,
                        paper: word(row, 5, PaperKind::from_text)?,
                        title: row.get(6)?,
                    },
                })
            },
        )
    }

    fn packed(&self) -> Read<Option<Kept<Packed>>> {
        let ticks = self.rows(
            "SELECT t.item, t.packed FROM packing p JOIN packing_tick t ON t.packing_id = p.id \
             WHERE p.visit_id = ?1 ORDER BY t.id",
            |row| {
                Ok(Tick {
                    item: row.get(0)?,
                    packed: row.get(1)?,
                })
            },
        )?;
        let declared = self.rows(
            "SELECT d.what, d.quantity, d.value_amount, d.value_currency, d.weight_g, d.hs, d.origin \
             FROM packing p JOIN packing_declared d ON d.packing_id = p.id \
             WHERE p.visit_id = ?1 ORDER BY d.id",
            |row| {
                Ok(DeclaredItem {
                    what: row.get(0)?,
                    quantity: row.get(1)?,
                    value: money(row, 2)?,
                    weight_g: row.get(4)?,
                    hs: row.get(5)?,
                    origin: row.get(6)?,
                })
            },
        )?;
        let packed = self.kept("packing", "note, weight_g, has_cells", |row| {
            Ok(Packed {
                visit: self.visit,
                ticks: ticks.clone(),
                note: row.get(2)?,
                weight_g: row.get(3)?,
                has_cells: row.get(4)?,
                declared: declared.clone(),
            })
        })?;
        Ok(packed.into_iter().next())
    }

    fn sent(&self) -> Read<Vec<Kept<Sent>>> {
        self.kept(
            "sending",
            "carrier, tracking, sent_on, guarantee_days",
            |row| {
                Ok(Sent {
                    visit: self.visit,
                    carrier: row.get(2)?,
                    tracking: row.get(3)?,
                    on: day(row, 4)?,
                    guarantee_days: row.get(5)?,
                })
            },
        )
    }

    fn bills(&self) -> Read<Vec<Bill>> {
        bills(self.connection, self.visit, |bill| {
            self.entry("bill", bill.get())
        })
    }

    fn returned(&self, earlier: VisitId, came: Date) -> Read<Option<Returned>> {
        let found = lines(self.connection, "WHERE v.id = ?1", [earlier.get()])?;
        let Some(line) = found.first() else {
            return Ok(None);
        };
        let earlier_causes = causes(self.connection, earlier)?;
        let these_causes = causes(self.connection, self.visit)?;
        Ok(Some(Returned {
            earlier,
            within: line.guarantee_until.is_some_and(|until| came <= until),
            same: same_cause(&earlier_causes, &these_causes),
            earlier_causes,
            these_causes,
        }))
    }

    fn payments(&self) -> Read<Vec<Payment>> {
        self.rows(
            "SELECT id, at_utc, paid_amount, paid_currency, paid_on, how, note \
             FROM payment WHERE visit_id = ?1 ORDER BY id",
            |row| {
                let id = PaymentId::new(row.get(0)?);
                Ok(Payment {
                    id,
                    entry: self.entry("payment", id.get()),
                    at: time(row, 1)?,
                    what: PaymentReceived {
                        visit: self.visit,
                        amount: money(row, 2)?,
                        on: day(row, 4)?,
                        how: row.get(5)?,
                        note: row.get(6)?,
                    },
                })
            },
        )
    }

    fn notes(&self) -> Read<Vec<Kept<NoteWritten>>> {
        self.kept("note", "text", |row| {
            Ok(NoteWritten {
                about: About::Visit(self.visit),
                text: row.get(2)?,
            })
        })
    }
}

/// The file of a photograph, recording or paper.
pub(crate) fn file_of<I: RowId>(connection: &Connection, id: I) -> Read<Option<FileRef>> {
    connection
        .prepare_cached(&format!(
            "SELECT hash, extension, length_bytes FROM {} WHERE id = ?1",
            I::TABLE
        ))?
        .query_row([id.number()], |row| file(row, 0))
        .optional()
}

/// The title of a paper; may be empty.
pub(crate) fn paper_title(connection: &Connection, paper: PaperId) -> Read<Option<String>> {
    connection
        .prepare_cached("SELECT title FROM paper WHERE id = ?1")?
        .query_row([paper.number()], |row| row.get(0))
        .optional()
}

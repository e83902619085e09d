-- The record, first version. Never edit this file: a change to the tables is a new file with the next number.
--
-- Every row that a change makes has an id that is never given twice. Times are UTC in RFC 3339, days are ISO 8601, amounts of money are
-- exact decimals in text. `term_id` is the id that the service notes give a thing, null for own words; `words` is what people read.

CREATE TABLE journal (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    at_utc      TEXT    NOT NULL,
    hand        TEXT    NOT NULL,
    group_id    INTEGER NOT NULL REFERENCES journal (id),
    kind        TEXT    NOT NULL,
    change_json TEXT    NOT NULL,
    sentence    TEXT    NOT NULL,
    -- What the entry concerns. No foreign keys: an undone visit is gone, its entries stay.
    visit_id    INTEGER,
    camera_id   INTEGER,
    owner_id    INTEGER,
    undoes_id   INTEGER REFERENCES journal (id)
) STRICT;
CREATE INDEX journal_by_group ON journal (group_id);
CREATE INDEX journal_by_visit ON journal (visit_id);
CREATE INDEX journal_by_camera ON journal (camera_id);
CREATE INDEX journal_by_owner ON journal (owner_id);
CREATE INDEX journal_by_undoes ON journal (undoes_id);

CREATE TRIGGER journal_is_never_altered BEFORE UPDATE ON journal
BEGIN SELECT raise(ABORT, 'the journal is never altered'); END;
CREATE TRIGGER journal_is_never_shortened BEFORE DELETE ON journal
BEGIN SELECT raise(ABORT, 'the journal is never shortened'); END;

-- What each entry did to which row: the row before and after, each column as an SQL literal. Undo reads it.
CREATE TABLE touched (
    id          INTEGER PRIMARY KEY,
    entry_id    INTEGER NOT NULL REFERENCES journal (id) DEFERRABLE INITIALLY DEFERRED,
    table_name  TEXT    NOT NULL,
    row_id      INTEGER NOT NULL,
    before_json TEXT,
    after_json  TEXT
) STRICT;
CREATE INDEX touched_by_entry ON touched (entry_id);
CREATE INDEX touched_by_row ON touched (table_name, row_id, entry_id);

-- Entries that do not stand: `id` is the struck entry.
CREATE TABLE struck (
    id    INTEGER PRIMARY KEY REFERENCES journal (id),
    by_id INTEGER NOT NULL REFERENCES journal (id) DEFERRABLE INITIALLY DEFERRED
) STRICT;
CREATE INDEX struck_by_entry ON struck (by_id);

CREATE TABLE bench (
    id          INTEGER PRIMARY KEY CHECK (id = 1),
    name        TEXT NOT NULL,
    place       TEXT NOT NULL,
    address     TEXT NOT NULL,
    contact     TEXT NOT NULL,
    currency    TEXT NOT NULL,
    hourly_rate TEXT
) STRICT;

CREATE TABLE owner (
    id      INTEGER PRIMARY KEY AUTOINCREMENT,
    name    TEXT NOT NULL,
    email   TEXT NOT NULL,
    phone   TEXT NOT NULL,
    address TEXT NOT NULL,
    note    TEXT NOT NULL
) STRICT;
CREATE INDEX owner_by_name ON owner (name COLLATE NOCASE);

CREATE TABLE camera (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    maker    TEXT NOT NULL,
    model    TEXT NOT NULL,
    notes_id TEXT,
    note     TEXT NOT NULL
) STRICT;
CREATE INDEX camera_by_model ON camera (maker COLLATE NOCASE, model COLLATE NOCASE);
CREATE INDEX camera_by_notes ON camera (notes_id);

CREATE TABLE serial (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    camera_id INTEGER NOT NULL REFERENCES camera (id),
    place     TEXT    NOT NULL,
    number    TEXT    NOT NULL
) STRICT;
CREATE INDEX serial_by_camera ON serial (camera_id);
CREATE INDEX serial_by_number ON serial (number COLLATE NOCASE);

CREATE TABLE visit (
    id                INTEGER PRIMARY KEY AUTOINCREMENT,
    camera_id         INTEGER NOT NULL REFERENCES camera (id),
    owner_id          INTEGER NOT NULL REFERENCES owner (id),
    arrived_on        TEXT    NOT NULL,
    words             TEXT    NOT NULL,
    wanted            TEXT    NOT NULL,
    condition         TEXT    NOT NULL,
    declared_amount   TEXT,
    declared_currency TEXT,
    promised_on       TEXT,
    guarantee_of_id   INTEGER REFERENCES visit (id),
    stage             TEXT    NOT NULL,
    stage_since_utc   TEXT    NOT NULL,
    unrepaired        INTEGER NOT NULL CHECK (unrepaired IN (0, 1)),
    CHECK ((declared_amount IS NULL) = (declared_currency IS NULL))
) STRICT;
CREATE INDEX visit_by_camera ON visit (camera_id);
CREATE INDEX visit_by_owner ON visit (owner_id);
CREATE INDEX visit_by_guarantee ON visit (guarantee_of_id);
CREATE INDEX visit_by_stage ON visit (stage);
CREATE UNIQUE INDEX visit_here_once ON visit (camera_id) WHERE stage <> 'home';

CREATE TABLE came_with (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    item     TEXT    NOT NULL
) STRICT;
CREATE INDEX came_with_by_visit ON came_with (visit_id);

CREATE TABLE wait (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id   INTEGER NOT NULL REFERENCES visit (id),
    wait_for   TEXT    NOT NULL,
    what       TEXT    NOT NULL,
    since_utc  TEXT    NOT NULL,
    ended_utc  TEXT,
    ended_note TEXT    NOT NULL
) STRICT;
CREATE INDEX wait_by_visit ON wait (visit_id);

CREATE TABLE sign (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id     INTEGER NOT NULL REFERENCES visit (id),
    term_id      TEXT,
    words        TEXT    NOT NULL,
    seen         TEXT    NOT NULL,
    numbers_json TEXT    NOT NULL,
    note         TEXT    NOT NULL,
    at_utc       TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX sign_once_a_visit ON sign (visit_id, ifnull(term_id, words));

CREATE TABLE circumstance (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    term_id  TEXT,
    words    TEXT    NOT NULL,
    known    TEXT    NOT NULL,
    note     TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX circumstance_once_a_visit ON circumstance (visit_id, ifnull(term_id, words));

CREATE TABLE earlier_hands (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    place    TEXT    NOT NULL,
    what     TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE INDEX earlier_hands_by_visit ON earlier_hands (visit_id);

CREATE TABLE fault (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id      INTEGER NOT NULL REFERENCES visit (id),
    term_id       TEXT,
    words         TEXT    NOT NULL,
    fault_is      TEXT    NOT NULL,
    found         TEXT    NOT NULL,
    because_of_id INTEGER REFERENCES fault (id),
    note          TEXT    NOT NULL,
    at_utc        TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX fault_once_a_visit ON fault (visit_id, ifnull(term_id, words));
CREATE INDEX fault_by_because ON fault (because_of_id);

CREATE TABLE quote (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id       INTEGER NOT NULL REFERENCES visit (id),
    total_amount   TEXT    NOT NULL,
    total_currency TEXT    NOT NULL,
    note           TEXT    NOT NULL,
    at_utc         TEXT    NOT NULL,
    agreed         INTEGER CHECK (agreed IN (0, 1)),
    answer_words   TEXT,
    answered_on    TEXT,
    CHECK ((agreed IS NULL) = (answer_words IS NULL) AND (agreed IS NULL) = (answered_on IS NULL))
) STRICT;
CREATE INDEX quote_by_visit ON quote (visit_id);

CREATE TABLE quote_line (
    id                  INTEGER PRIMARY KEY AUTOINCREMENT,
    quote_id            INTEGER NOT NULL REFERENCES quote (id),
    line_for            TEXT    NOT NULL,
    term_id             TEXT,
    words               TEXT    NOT NULL,
    grade               TEXT,
    quantity            INTEGER,
    minutes_likely      REAL,
    minutes_nine_in_ten REAL,
    amount              TEXT    NOT NULL
) STRICT;
CREATE INDEX quote_line_by_quote ON quote_line (quote_id);

CREATE TABLE photo (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id     INTEGER NOT NULL REFERENCES visit (id),
    hash         TEXT    NOT NULL,
    extension    TEXT    NOT NULL,
    length_bytes INTEGER NOT NULL,
    width_px     INTEGER NOT NULL,
    height_px    INTEGER NOT NULL,
    caption      TEXT    NOT NULL,
    stage        TEXT    NOT NULL,
    at_utc       TEXT    NOT NULL
) STRICT;
CREATE INDEX photo_by_visit ON photo (visit_id);

CREATE TABLE recording (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id     INTEGER NOT NULL REFERENCES visit (id),
    hash         TEXT    NOT NULL,
    extension    TEXT    NOT NULL,
    length_bytes INTEGER NOT NULL,
    caption      TEXT    NOT NULL,
    stage        TEXT    NOT NULL,
    at_utc       TEXT    NOT NULL
) STRICT;
CREATE INDEX recording_by_visit ON recording (visit_id);

CREATE TABLE paper (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id     INTEGER NOT NULL REFERENCES visit (id),
    hash         TEXT    NOT NULL,
    extension    TEXT    NOT NULL,
    length_bytes INTEGER NOT NULL,
    paper        TEXT    NOT NULL,
    title        TEXT    NOT NULL,
    at_utc       TEXT    NOT NULL
) STRICT;
CREATE INDEX paper_by_visit ON paper (visit_id);

CREATE TABLE piece (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id      INTEGER NOT NULL REFERENCES visit (id),
    term_id       TEXT,
    words         TEXT    NOT NULL,
    cell          INTEGER,
    note          TEXT    NOT NULL,
    photo_id      INTEGER REFERENCES photo (id),
    at_utc        TEXT    NOT NULL,
    returned_utc  TEXT,
    returned_note TEXT    NOT NULL
) STRICT;
CREATE INDEX piece_by_visit ON piece (visit_id);
CREATE INDEX piece_by_photo ON piece (photo_id);
CREATE UNIQUE INDEX piece_out_once ON piece (visit_id, term_id) WHERE term_id IS NOT NULL AND returned_utc IS NULL;

CREATE TABLE work (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    term_id  TEXT,
    words    TEXT    NOT NULL,
    minutes  REAL,
    note     TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE INDEX work_by_visit ON work (visit_id);

CREATE TABLE part_fitted (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id       INTEGER NOT NULL REFERENCES visit (id),
    term_id        TEXT,
    words          TEXT    NOT NULL,
    grade          TEXT    NOT NULL,
    quantity       INTEGER NOT NULL CHECK (quantity > 0),
    price_amount   TEXT,
    price_currency TEXT,
    note           TEXT    NOT NULL,
    at_utc         TEXT    NOT NULL,
    CHECK ((price_amount IS NULL) = (price_currency IS NULL))
) STRICT;
CREATE INDEX part_fitted_by_visit ON part_fitted (visit_id);

CREATE TABLE reading (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id      INTEGER NOT NULL REFERENCES visit (id),
    phase         TEXT    NOT NULL,
    instrument    TEXT    NOT NULL,
    limit_id      TEXT,
    recording_id  INTEGER REFERENCES recording (id),
    method        TEXT    NOT NULL,
    findings_json TEXT    NOT NULL,
    detail_json   TEXT,
    at_utc        TEXT    NOT NULL
) STRICT;
CREATE INDEX reading_by_visit ON reading (visit_id);
CREATE INDEX reading_by_recording ON reading (recording_id);

-- Units stand in `unit` and `error_unit`, row by row.
CREATE TABLE reading_row (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    reading_id  INTEGER NOT NULL REFERENCES reading (id),
    name        TEXT    NOT NULL,
    unit        TEXT    NOT NULL,
    nominal     REAL,
    value       REAL,
    error       REAL,
    error_unit  TEXT    NOT NULL,
    uncertainty REAL,
    limit_value REAL,
    verdict     TEXT
) STRICT;
CREATE INDEX reading_row_by_reading ON reading_row (reading_id);

CREATE TABLE setting (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    term_id  TEXT,
    words    TEXT    NOT NULL,
    held     INTEGER NOT NULL CHECK (held IN (0, 1)),
    note     TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX setting_once_a_visit ON setting (visit_id, ifnull(term_id, words));

CREATE TABLE shortfall (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id   INTEGER NOT NULL REFERENCES visit (id),
    what       TEXT    NOT NULL,
    correction TEXT    NOT NULL,
    at_utc     TEXT    NOT NULL
) STRICT;
CREATE INDEX shortfall_by_visit ON shortfall (visit_id);

CREATE TABLE packing (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    note     TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX packing_once_a_visit ON packing (visit_id);

CREATE TABLE packing_tick (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    packing_id INTEGER NOT NULL REFERENCES packing (id),
    item       TEXT    NOT NULL,
    packed     INTEGER NOT NULL CHECK (packed IN (0, 1))
) STRICT;
CREATE INDEX packing_tick_by_packing ON packing_tick (packing_id);

CREATE TABLE sending (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id INTEGER NOT NULL REFERENCES visit (id),
    carrier  TEXT    NOT NULL,
    tracking TEXT    NOT NULL,
    sent_on  TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE INDEX sending_by_visit ON sending (visit_id);

CREATE TABLE note (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id  INTEGER REFERENCES visit (id),
    camera_id INTEGER REFERENCES camera (id),
    owner_id  INTEGER REFERENCES owner (id),
    text      TEXT    NOT NULL,
    at_utc    TEXT    NOT NULL,
    CHECK ((visit_id IS NOT NULL) + (camera_id IS NOT NULL) + (owner_id IS NOT NULL) = 1)
) STRICT;
CREATE INDEX note_by_visit ON note (visit_id);
CREATE INDEX note_by_camera ON note (camera_id);
CREATE INDEX note_by_owner ON note (owner_id);

-- The words of every row, for finding. A cache: it can be made again from the tables.
CREATE VIRTUAL TABLE find_text USING fts5 (
    words,
    matched UNINDEXED,
    visit_id UNINDEXED,
    camera_id UNINDEXED,
    owner_id UNINDEXED,
    tokenize = 'unicode61 remove_diacritics 2',
    prefix = '2 3'
);

CREATE TABLE drawer (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    name  TEXT NOT NULL,
    place TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX drawer_by_name ON drawer (name COLLATE NOCASE);

-- A kind of part that is or was kept: a part of some service notes, or own words.
CREATE TABLE part (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    notes_id  TEXT,
    model     TEXT NOT NULL,
    term_id   TEXT,
    words     TEXT NOT NULL,
    minimum   INTEGER CHECK (minimum >= 0),
    since_utc TEXT NOT NULL,
    CHECK (term_id IS NULL OR notes_id IS NOT NULL)
) STRICT;
CREATE UNIQUE INDEX part_once ON part (ifnull(notes_id, model), ifnull(term_id, words));

CREATE TABLE donor (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    maker     TEXT NOT NULL,
    model     TEXT NOT NULL,
    notes_id  TEXT,
    serial    TEXT NOT NULL,
    condition TEXT NOT NULL,
    source    TEXT NOT NULL,
    at_utc    TEXT NOT NULL
) STRICT;

-- What was found on a donor. What was taken from it since stands in `movement`.
CREATE TABLE donor_part (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    donor_id INTEGER NOT NULL REFERENCES donor (id),
    term_id  TEXT,
    words    TEXT    NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    state    TEXT    NOT NULL,
    note     TEXT    NOT NULL,
    at_utc   TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX donor_part_once ON donor_part (donor_id, ifnull(term_id, words));

-- Pieces of one part that came together. Without a drawer: straight from a donor to a visit.
CREATE TABLE lot (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    part_id        INTEGER NOT NULL REFERENCES part (id),
    drawer_id      INTEGER REFERENCES drawer (id),
    donor_id       INTEGER REFERENCES donor (id),
    grade          TEXT    NOT NULL,
    price_amount   TEXT,
    price_currency TEXT,
    source         TEXT    NOT NULL,
    note           TEXT    NOT NULL,
    at_utc         TEXT    NOT NULL,
    CHECK ((price_amount IS NULL) = (price_currency IS NULL))
) STRICT;
CREATE INDEX lot_by_part ON lot (part_id);
CREATE INDEX lot_by_drawer ON lot (drawer_id);
CREATE INDEX lot_by_donor ON lot (donor_id);

-- Every piece that came, went or was counted; `change_pieces` is what it does to the lot.
CREATE TABLE movement (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    lot_id         INTEGER NOT NULL REFERENCES lot (id),
    movement       TEXT    NOT NULL,
    change_pieces  INTEGER NOT NULL,
    visit_id       INTEGER REFERENCES visit (id),
    taken_id       INTEGER REFERENCES movement (id),
    donor_part_id  INTEGER REFERENCES donor_part (id),
    counted        INTEGER CHECK (counted >= 0),
    price_amount   TEXT,
    price_currency TEXT,
    note           TEXT    NOT NULL,
    at_utc         TEXT    NOT NULL,
    CHECK ((price_amount IS NULL) = (price_currency IS NULL))
) STRICT;
CREATE INDEX movement_by_lot ON movement (lot_id);
CREATE INDEX movement_by_visit ON movement (visit_id);
CREATE INDEX movement_by_taken ON movement (taken_id);
CREATE INDEX movement_by_donor_part ON movement (donor_part_id);

-- What lies in each lot, and what was taken of it and not brought back: kept by the triggers below, so that no page adds up every
-- movement and no way of writing can take more than there is.
CREATE TABLE stock (
    id       INTEGER PRIMARY KEY REFERENCES lot (id) ON DELETE CASCADE,
    quantity INTEGER NOT NULL CHECK (quantity >= 0),
    used     INTEGER NOT NULL
) STRICT;
CREATE TRIGGER stock_of_a_new_lot AFTER INSERT ON lot
BEGIN INSERT INTO stock (id, quantity, used) VALUES (NEW.id, 0, 0); END;
CREATE TRIGGER stock_after_a_movement AFTER INSERT ON movement
BEGIN
    UPDATE stock SET quantity = quantity + NEW.change_pieces,
        used = used - iif(NEW.movement IN ('taken', 'returned'), NEW.change_pieces, 0) WHERE id = NEW.lot_id;
END;
CREATE TRIGGER stock_after_a_movement_undone AFTER DELETE ON movement
BEGIN
    UPDATE stock SET quantity = quantity - OLD.change_pieces,
        used = used + iif(OLD.movement IN ('taken', 'returned'), OLD.change_pieces, 0) WHERE id = OLD.lot_id;
END;
CREATE TRIGGER movement_is_never_altered BEFORE UPDATE ON movement
BEGIN SELECT raise(ABORT, 'a movement is never altered'); END;

ALTER TABLE journal ADD COLUMN part_id INTEGER;
ALTER TABLE journal ADD COLUMN drawer_id INTEGER;
ALTER TABLE journal ADD COLUMN donor_id INTEGER;
CREATE INDEX journal_by_part ON journal (part_id) WHERE part_id IS NOT NULL;
CREATE INDEX journal_by_drawer ON journal (drawer_id) WHERE drawer_id IS NOT NULL;
CREATE INDEX journal_by_donor ON journal (donor_id) WHERE donor_id IS NOT NULL;

-- The words of parts, drawers and donors, for finding: a cache like `find_text`.
CREATE VIRTUAL TABLE find_stock USING fts5 (
    words,
    matched UNINDEXED,
    part_id UNINDEXED,
    drawer_id UNINDEXED,
    donor_id UNINDEXED,
    tokenize = 'unicode61 remove_diacritics 2',
    prefix = '2 3'
);

-- The bench's terms, alternatives of a quote, bills and payments, what is declared of a parcel, and cameras kept back.

ALTER TABLE bench ADD COLUMN tax_name TEXT NOT NULL DEFAULT 'VAT';
ALTER TABLE bench ADD COLUMN tax_percent TEXT;
ALTER TABLE bench ADD COLUMN tax_number TEXT NOT NULL DEFAULT '';
ALTER TABLE bench ADD COLUMN deposit_percent TEXT;
ALTER TABLE bench ADD COLUMN round_to TEXT;
ALTER TABLE bench ADD COLUMN quote_days INTEGER;
ALTER TABLE bench ADD COLUMN guarantee_repair_days INTEGER;
ALTER TABLE bench ADD COLUMN guarantee_overhaul_days INTEGER;
ALTER TABLE bench ADD COLUMN payment TEXT NOT NULL DEFAULT '';
ALTER TABLE bench ADD COLUMN pay_days INTEGER;
ALTER TABLE bench ADD COLUMN country TEXT NOT NULL DEFAULT '';
ALTER TABLE bench ADD COLUMN language TEXT NOT NULL DEFAULT 'en';
ALTER TABLE bench ADD COLUMN paper_size TEXT NOT NULL DEFAULT 'a4';

ALTER TABLE owner ADD COLUMN language TEXT;
ALTER TABLE owner ADD COLUMN country TEXT NOT NULL DEFAULT '';

ALTER TABLE quote ADD COLUMN quote_kind TEXT NOT NULL DEFAULT 'repair';
ALTER TABLE quote ADD COLUMN tax_percent TEXT;
ALTER TABLE quote ADD COLUMN tax_name TEXT NOT NULL DEFAULT '';
ALTER TABLE quote ADD COLUMN deposit_amount TEXT;
ALTER TABLE quote ADD COLUMN valid_until TEXT;

ALTER TABLE packing ADD COLUMN weight_g INTEGER;
ALTER TABLE packing ADD COLUMN has_cells INTEGER NOT NULL DEFAULT 0 CHECK (has_cells IN (0, 1));
CREATE TABLE packing_declared (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    packing_id     INTEGER NOT NULL REFERENCES packing (id),
    what           TEXT    NOT NULL,
    quantity       INTEGER NOT NULL CHECK (quantity > 0),
    value_amount   TEXT    NOT NULL,
    value_currency TEXT    NOT NULL,
    weight_g       INTEGER,
    hs             TEXT    NOT NULL,
    origin         TEXT    NOT NULL
) STRICT;
CREATE INDEX packing_declared_by_packing ON packing_declared (packing_id);

ALTER TABLE sending ADD COLUMN guarantee_days INTEGER;

-- A time during which a camera that could go home is kept back.
CREATE TABLE hold (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id      INTEGER NOT NULL REFERENCES visit (id),
    reason        TEXT    NOT NULL,
    look_again_on TEXT,
    since_utc     TEXT    NOT NULL,
    ended_utc     TEXT,
    ended_note    TEXT    NOT NULL
) STRICT;
CREATE INDEX hold_by_visit ON hold (visit_id);

-- Bills, and credit notes (those with `credits_id`). The id is the number printed on them: 1, 2, 3 without a gap, for a number is given
-- in the transaction that writes it and no row ever goes.
CREATE TABLE bill (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id   INTEGER NOT NULL REFERENCES visit (id),
    credits_id INTEGER REFERENCES bill (id),
    issued_on  TEXT    NOT NULL,
    due_on     TEXT,
    currency   TEXT    NOT NULL,
    tax_name   TEXT    NOT NULL,
    note       TEXT    NOT NULL,
    at_utc     TEXT    NOT NULL
) STRICT;
CREATE INDEX bill_by_visit ON bill (visit_id);
CREATE INDEX bill_by_credits ON bill (credits_id);
CREATE INDEX bill_by_day ON bill (issued_on);
CREATE TABLE bill_line (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    bill_id     INTEGER NOT NULL REFERENCES bill (id),
    words       TEXT    NOT NULL,
    quantity    INTEGER,
    amount      TEXT    NOT NULL,
    tax_percent TEXT
) STRICT;
CREATE INDEX bill_line_by_bill ON bill_line (bill_id);
CREATE TRIGGER bill_is_never_altered BEFORE UPDATE ON bill
BEGIN SELECT raise(ABORT, 'a bill is never altered'); END;
CREATE TRIGGER bill_is_never_removed BEFORE DELETE ON bill
BEGIN SELECT raise(ABORT, 'a bill is never removed'); END;
CREATE TRIGGER bill_line_is_never_altered BEFORE UPDATE ON bill_line
BEGIN SELECT raise(ABORT, 'a line of a bill is never altered'); END;
CREATE TRIGGER bill_line_is_never_removed BEFORE DELETE ON bill_line
BEGIN SELECT raise(ABORT, 'a line of a bill is never removed'); END;

CREATE TABLE payment (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id       INTEGER NOT NULL REFERENCES visit (id),
    paid_amount    TEXT    NOT NULL,
    paid_currency  TEXT    NOT NULL,
    paid_on        TEXT    NOT NULL,
    how            TEXT    NOT NULL,
    note           TEXT    NOT NULL,
    at_utc         TEXT    NOT NULL
) STRICT;
CREATE INDEX payment_by_visit ON payment (visit_id);

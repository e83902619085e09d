CREATE TABLE trial (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    visit_id      INTEGER NOT NULL REFERENCES visit (id),
    term_id       TEXT,
    words         TEXT    NOT NULL,
    as_found      INTEGER NOT NULL CHECK (as_found IN (0, 1)),
    turned_json   TEXT    NOT NULL,
    readings_json TEXT    NOT NULL,
    note          TEXT    NOT NULL,
    at_utc        TEXT    NOT NULL
) STRICT;
CREATE INDEX trial_by_visit ON trial (visit_id);

ALTER TABLE visit ADD COLUMN full_strip INTEGER NOT NULL DEFAULT 0 CHECK (full_strip IN (0, 1));

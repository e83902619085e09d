-- For a record of many years.

-- The ends of guarantees, asked for by the calendar.
CREATE INDEX sending_by_guarantee ON sending (date(sent_on, '+' || guarantee_days || ' days'))
    WHERE guarantee_days IS NOT NULL;

-- The journal repeats what the rows say, and there is more of it: its words stand by themselves, so that they are gone through only when
-- the rows do not give enough. A cache like `find_text`; the journal holds the words themselves.
CREATE VIRTUAL TABLE find_journal USING fts5 (
    sentence,
    content = 'journal',
    content_rowid = 'id',
    tokenize = 'unicode61 remove_diacritics 2',
    prefix = '1 2 3'
);
INSERT INTO find_journal (find_journal) VALUES ('rebuild');

-- The rest without it, with an index of first letters.
CREATE VIRTUAL TABLE find_rows USING fts5 (
    words,
    matched UNINDEXED,
    visit_id UNINDEXED,
    camera_id UNINDEXED,
    owner_id UNINDEXED,
    tokenize = 'unicode61 remove_diacritics 2',
    prefix = '1 2 3'
);
INSERT INTO find_rows (rowid, words, matched, visit_id, camera_id, owner_id)
    SELECT rowid, words, matched, visit_id, camera_id, owner_id FROM find_text WHERE matched <> 'journal';
DROP TABLE find_text;
ALTER TABLE find_rows RENAME TO find_text;

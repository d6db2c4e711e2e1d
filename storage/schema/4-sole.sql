-- Most records are written once and never again. What is kept of one that a
-- single applied entry makes up is kept as small as can be.

-- lamport stands in the header. sole is 1 for an entry that makes up its
-- record's state alone: the record names it, and the index does without.
ALTER TABLE entry DROP COLUMN lamport;
ALTER TABLE entry ADD COLUMN sole INTEGER NOT NULL DEFAULT 0;
UPDATE entry SET sole = 1 WHERE n IN (SELECT state FROM record WHERE typeof(state) = 'integer');
DROP INDEX entry_record;
CREATE INDEX entry_record ON entry (record, n) WHERE record IS NOT NULL AND sole = 0;

-- lamport is NULL where it is that of the one entry. The other columns are
-- what they are for nearly all records, so that these needn't say so.
CREATE TABLE record_now (
    n           INTEGER PRIMARY KEY,
    id          BLOB NOT NULL,
    state       BLOB,
    lamport     INTEGER,
    conflicts   INTEGER NOT NULL DEFAULT 0,
    retirements INTEGER NOT NULL DEFAULT 0,
    visibility  INTEGER NOT NULL DEFAULT 0
);
INSERT INTO record_now SELECT n, id, state, iif(typeof(state) = 'integer', NULL, lamport), conflicts, retirements, visibility FROM record;
DROP TABLE record;
ALTER TABLE record_now RENAME TO record;
CREATE INDEX record_conflicts ON record (n) WHERE conflicts > 0;
CREATE INDEX record_retired ON record (n) WHERE retirements > 0;

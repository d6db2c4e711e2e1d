-- What the entries come to. All of this can be thrown away and built again.

-- A record's entries, to fold it anew and to show its history.
CREATE INDEX entry_record ON entry (record, n) WHERE record IS NOT NULL;

-- Entries that are kept but don't count, for those who look after them.
-- Hardly any, so that the index costs nothing.
CREATE INDEX entry_unapplied ON entry (n) WHERE status <> 1;

-- record has a row for each record that was written to or is referred to. n
-- is kind * 2^40 + a running number, so that records of a kind lie together.
-- state is the folded record, NULL while nothing applied was written to it. A
-- record that one entry wrote, as most are, isn't stored twice: its state is
-- that entry's number. conflicts counts its registers in conflict, retirements
-- the applied ones, lamport is the highest time of an entry applied.
CREATE TABLE record (
    n           INTEGER PRIMARY KEY,
    id          BLOB NOT NULL,
    state       BLOB,
    lamport     INTEGER NOT NULL,
    conflicts   INTEGER NOT NULL,
    retirements INTEGER NOT NULL,
    visibility  INTEGER NOT NULL
);

-- record_key finds a record by its id: key is made of the id's hash. Ids are
-- random, so that an index of them is written all over, and costs by its size;
-- this one has a third of that of an index of the ids themselves.
CREATE TABLE record_key (
    key INTEGER NOT NULL,
    n   INTEGER NOT NULL,
    PRIMARY KEY (key, n)
) WITHOUT ROWID;

CREATE INDEX record_conflicts ON record (n) WHERE conflicts > 0;
CREATE INDEX record_retired ON record (n) WHERE retirements > 0;

-- ref says which records refer to a record by a live value.
CREATE TABLE ref (
    target INTEGER NOT NULL,
    source INTEGER NOT NULL,
    PRIMARY KEY (target, source)
) WITHOUT ROWID;

-- words is the search index, by record number. It keeps no text of its own:
-- the record has it. Beginnings of two and three letters are indexed because
-- people search while they type.
CREATE VIRTUAL TABLE words USING fts5 (
    text,
    content = '',
    contentless_delete = 1,
    prefix = '2 3',
    tokenize = 'unicode61 remove_diacritics 2'
);

-- worded says how far the records of each kind are in the search index: those
-- up to number n. The others follow when somebody searches, or nothing else
-- happens.
CREATE TABLE worded (
    kind INTEGER PRIMARY KEY,
    n    INTEGER NOT NULL
);

-- reword holds the records among those whose words have changed since.
CREATE TABLE reword (
    record INTEGER PRIMARY KEY
);

-- pack holds what the caller made of the records numbered n * 512 onwards; data
-- is NULL when one of them has changed since, in the transaction numbered mark.
CREATE TABLE pack (
    n    INTEGER PRIMARY KEY,
    mark INTEGER NOT NULL,
    data BLOB
);
CREATE INDEX pack_unmade ON pack (n) WHERE data IS NULL;

-- summary holds what the caller computed about a record, stale the records
-- about which it must be computed anew since the transaction numbered mark.
CREATE TABLE summary (
    record INTEGER PRIMARY KEY,
    data   BLOB NOT NULL
);
CREATE TABLE stale (
    record INTEGER PRIMARY KEY,
    mark   INTEGER NOT NULL
);

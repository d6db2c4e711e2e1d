-- The ledger: what was written, as its authors made it. Nothing here can be
-- had again from elsewhere in the file.

-- meta holds single values: whose database it is ("staff"), what the derived
-- tables were built by and come to ("fold"), and what the caller keeps. Keys
-- that begin with "secret." never go into a backup.
CREATE TABLE meta (
    key   TEXT PRIMARY KEY,
    value BLOB NOT NULL
) WITHOUT ROWID;

-- log has a row for each unbroken run of writing by one laptop. genesis is the
-- body of its first entry: whose it is, for good.
CREATE TABLE log (
    n       INTEGER PRIMARY KEY,
    id      BLOB NOT NULL UNIQUE,
    genesis BLOB NOT NULL
);

-- branch has a row for each unforked stretch of a log. A log has one, unless
-- its laptop's disk was cloned and both copies wrote on. Numbers start at 0
-- and mean nothing outside this file. A branch holds the entries fork+1 to
-- tip_seq; those before are its parent's (NULL for a log's first branch).
CREATE TABLE branch (
    n           INTEGER PRIMARY KEY,
    log         INTEGER NOT NULL,
    parent      INTEGER,
    fork        INTEGER NOT NULL,
    tip_seq     INTEGER NOT NULL,
    tip_hash    BLOB NOT NULL,
    tip_lamport INTEGER NOT NULL
);

-- point holds the signatures by which devices vouch for their logs: that of
-- each branch's tip, and enough before it to serve a log piece by piece.
CREATE TABLE point (
    branch    INTEGER NOT NULL,
    seq       INTEGER NOT NULL,
    hash      BLOB NOT NULL,
    signature BLOB NOT NULL,
    PRIMARY KEY (branch, seq)
) WITHOUT ROWID;

-- entry holds every entry. n is branch * 2^40 + seq, so that a branch lies
-- together, in order, and needs no index. header and body are the author's
-- bytes. hash is the log's running hash, which is costly to recompute from
-- the start. record, kind (of body; 0 for one that can't be read), lamport
-- and status are read off the bytes or judged: they can be built again.
CREATE TABLE entry (
    n       INTEGER PRIMARY KEY,
    hash    BLOB NOT NULL,
    record  INTEGER,
    status  INTEGER NOT NULL,
    kind    INTEGER NOT NULL,
    lamport INTEGER NOT NULL,
    header  BLOB NOT NULL,
    body    BLOB NOT NULL
);

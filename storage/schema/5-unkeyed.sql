-- unkeyed says of which records record_key has no keys yet: those of a kind
-- that are numbered n and above. Keys lie anywhere in that table, so that each
-- transaction of a catch-up would write most of its pages. They follow by the
-- ten thousands, or when nothing else happens; until then they are in memory.
CREATE TABLE unkeyed (
    kind INTEGER PRIMARY KEY,
    n    INTEGER NOT NULL
);

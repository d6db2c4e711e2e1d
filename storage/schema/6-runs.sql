-- ref says by what records another one is referred to: those numbered source
-- and the count - 1 after it. What is charted in one go refers to one look, and
-- takes one row for all of it. Runs of a target don't overlap.
CREATE TABLE ref_now (
    target INTEGER NOT NULL,
    source INTEGER NOT NULL,
    count  INTEGER NOT NULL,
    PRIMARY KEY (target, source)
) WITHOUT ROWID;
INSERT INTO ref_now SELECT target, min(source), count(*) FROM (
    SELECT target, source, source - row_number() OVER (PARTITION BY target ORDER BY source) AS run FROM ref
) GROUP BY target, run;
DROP TABLE ref;
ALTER TABLE ref_now RENAME TO ref;

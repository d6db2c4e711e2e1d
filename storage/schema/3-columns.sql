-- pack_part holds the parts of packs, so that a question reads those that it
-- needs: one part of many packs lies together. mark is that of its pack; a part
-- with another one is left over from before the pack was made anew.
CREATE TABLE pack_part (
    part BLOB NOT NULL,
    n    INTEGER NOT NULL,
    mark INTEGER NOT NULL,
    data BLOB NOT NULL,
    PRIMARY KEY (part, n)
) WITHOUT ROWID;

-- Packs that were made before have no parts.
UPDATE pack SET data = NULL;

-- What is kept of each thing, sealed: how many rows belong to it and the sum of
-- their marks under the practice's key. A row that was changed, taken out or put
-- in by anything but this program no longer fits.
CREATE TABLE seals (
  kind TEXT NOT NULL,                       -- of the thing: wear, readings, patient, ...
  id   INTEGER NOT NULL,
  n    INTEGER NOT NULL,                    -- rows
  sum  BLOB NOT NULL,                       -- of their marks
  PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID;

-- The seal over all seals and the newest entry of the log: one row.
CREATE TABLE seal_root (
  id     INTEGER PRIMARY KEY CHECK (id = 1),
  schema INTEGER NOT NULL,                  -- the rows were sealed in
  n      INTEGER NOT NULL,                  -- seals
  sum    BLOB NOT NULL,                     -- of their marks
  mac    BLOB NOT NULL
) STRICT;

-- What was found not to fit its seal, until it is put right.
CREATE TABLE damage (
  kind     TEXT NOT NULL,
  id       INTEGER NOT NULL,
  found_at INTEGER NOT NULL,
  PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID;

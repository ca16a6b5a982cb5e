-- How files of one layout are read. One recipe a layout is in force; another
-- takes its place when people answer anew, and one that was wrong is withdrawn
-- and never used again.
CREATE TABLE recipes (
  id           INTEGER PRIMARY KEY,
  layout       TEXT NOT NULL CHECK (layout <> ''),  -- fingerprint
  state        TEXT NOT NULL CHECK (state IN ('in_force', 'replaced', 'withdrawn')),
  body         TEXT NOT NULL,                       -- JSON, written and read by the reader of files
  answers      TEXT NOT NULL,                       -- JSON: what people decided, in words
  sensor_kind  TEXT NOT NULL DEFAULT '' CHECK (length(sensor_kind) <= 12),
  made_at      INTEGER NOT NULL,
  file_id      INTEGER NOT NULL REFERENCES files (id), -- the file that it was made from
  withdrawn_at INTEGER,
  reason       TEXT NOT NULL DEFAULT '',            -- why it was withdrawn
  changed      INTEGER NOT NULL,                    -- data version
  CHECK ((state = 'withdrawn') = (withdrawn_at IS NOT NULL))
) STRICT;
CREATE UNIQUE INDEX recipes_in_force ON recipes (layout) WHERE state = 'in_force';
CREATE INDEX recipes_layout ON recipes (layout, changed);
CREATE INDEX recipes_changed ON recipes (changed);

-- The recipe that a file was read by, or that was made from it.
ALTER TABLE files ADD COLUMN recipe_id INTEGER REFERENCES recipes (id);
CREATE INDEX files_recipe ON files (recipe_id);
CREATE INDEX files_held ON files (layout) WHERE state = 'held';

-- What can be set in the browser.
CREATE TABLE settings (
  name    TEXT PRIMARY KEY,
  value   TEXT NOT NULL,
  set_at  INTEGER NOT NULL,
  changed INTEGER NOT NULL                          -- data version
) STRICT, WITHOUT ROWID;

-- A hash of the measured readings of one wear in each half of a UTC day, so
-- that the same readings under another patient are found without comparing all.
CREATE TABLE wear_prints (
  print   INTEGER NOT NULL,
  wear_id INTEGER NOT NULL REFERENCES wears (id),
  PRIMARY KEY (print, wear_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX wear_prints_wear ON wear_prints (wear_id);

-- 1 where the report was made from something that has changed since.
ALTER TABLE wears ADD COLUMN stale INTEGER NOT NULL DEFAULT 0 CHECK (stale IN (0, 1));
CREATE INDEX wears_stale ON wears (id) WHERE stale = 1;

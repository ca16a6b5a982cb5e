-- A report is made in the transaction that changes what it is made from, so
-- none is ever stale; and where a wear stands is worked out from what is in
-- force, never patched.

DROP INDEX wears_stale;
ALTER TABLE wears DROP COLUMN stale;

-- A hash of the readings and events that the files brought; 0 where they were
-- filed before it was kept.
ALTER TABLE wears ADD COLUMN trace INTEGER NOT NULL DEFAULT 0;
-- A hash of all that the report was made from: the version of the evidence.
ALTER TABLE wears ADD COLUMN evidence INTEGER NOT NULL DEFAULT 0;
-- The data version of the last change of what this wear alone is judged by.
ALTER TABLE wears ADD COLUMN facts INTEGER NOT NULL DEFAULT 0;
-- When it came back to the round; 0 where it never left it, or is off it.
ALTER TABLE wears ADD COLUMN back_at INTEGER NOT NULL DEFAULT 0;
-- The same of what all wears of the patient are judged by.
ALTER TABLE patients ADD COLUMN facts INTEGER NOT NULL DEFAULT 0;

-- A hash of the engine and the protocol; what another made is judged anew.
ALTER TABLE reports ADD COLUMN basis INTEGER NOT NULL DEFAULT 0;
CREATE INDEX reports_basis ON reports (basis);

-- What an outcome was recorded on.
ALTER TABLE outcomes ADD COLUMN evidence INTEGER NOT NULL DEFAULT 0;
ALTER TABLE outcomes ADD COLUMN readings INTEGER NOT NULL DEFAULT 0;
ALTER TABLE outcomes ADD COLUMN due_at INTEGER NOT NULL DEFAULT 0;
ALTER TABLE outcomes ADD COLUMN version INTEGER NOT NULL DEFAULT 0; -- of the data
UPDATE outcomes SET (readings, due_at) = (SELECT readings, due_at FROM wears WHERE wears.id = wear_id);

-- That a closed wear was put back on the round, and after which outcome.
CREATE TABLE reopenings (
  id         INTEGER PRIMARY KEY,
  wear_id    INTEGER NOT NULL REFERENCES wears (id),
  outcome_id INTEGER NOT NULL REFERENCES outcomes (id),
  reason     TEXT NOT NULL CHECK (reason <> ''),
  made_by    INTEGER NOT NULL,              -- user; 0 for the program
  made_at    INTEGER NOT NULL
) STRICT;
CREATE INDEX reopenings_wear ON reopenings (wear_id);
INSERT INTO reopenings (wear_id, outcome_id, reason, made_by, made_at)
  SELECT wears.id, max(o.id), 'on the round again before the reason was kept', 0, wears.received_at
  FROM wears JOIN outcomes o ON o.wear_id = wears.id
  WHERE open = 1 AND joined_into IS NULL AND undone_at IS NULL AND NOT EXISTS (SELECT * FROM outcomes WHERE corrects = o.id)
  GROUP BY wears.id;

-- Every judgement of a wear that differs from the one before, so that it can be
-- said what was known and what is new.
CREATE TABLE judgements (
  id       INTEGER PRIMARY KEY,
  wear_id  INTEGER NOT NULL REFERENCES wears (id),
  at       INTEGER NOT NULL,
  evidence INTEGER NOT NULL,
  tier     TEXT NOT NULL,
  flags    TEXT NOT NULL,                   -- JSON: codes
  headline TEXT NOT NULL
) STRICT;
CREATE INDEX judgements_wear ON judgements (wear_id, id);

-- The first schema. Instants are whole seconds since 1970-01-01 UTC unless the
-- name ends in _ns. Lists that are only ever read whole are JSON text.

-- One row. It rises with every change of what the round or the Files page shows.
CREATE TABLE data_version (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  n  INTEGER NOT NULL
) STRICT;
INSERT INTO data_version VALUES (1, 1);

CREATE TABLE patients (
  id         INTEGER PRIMARY KEY,
  code       TEXT NOT NULL UNIQUE CHECK (code <> ''),
  name       TEXT NOT NULL,
  birth_date TEXT NOT NULL,
  context    TEXT NOT NULL,                 -- JSON
  changed    INTEGER NOT NULL               -- data version
) STRICT;
CREATE INDEX patients_changed ON patients (changed);

-- One row for each distinct content ever received.
CREATE TABLE files (
  id           INTEGER PRIMARY KEY,
  sha256       TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
  size         INTEGER NOT NULL,
  received_at  INTEGER NOT NULL,
  state        TEXT NOT NULL CHECK (state IN ('filed', 'held', 'refused')),
  layout       TEXT NOT NULL,
  questions    TEXT NOT NULL,               -- JSON
  decisions    TEXT NOT NULL,               -- JSON
  patient_id   INTEGER REFERENCES patients (id),
  rows         INTEGER NOT NULL,
  skipped      INTEGER NOT NULL,
  answered     INTEGER NOT NULL DEFAULT 0,  -- data version of the newest answer
  answers_read INTEGER NOT NULL DEFAULT 0   -- data version of the newest answer it was read with
) STRICT;
CREATE INDEX files_state ON files (state, answered, answers_read);

CREATE TABLE answers (
  file_id INTEGER NOT NULL REFERENCES files (id),
  code    TEXT NOT NULL,
  value   TEXT NOT NULL,
  at      INTEGER NOT NULL,
  PRIMARY KEY (file_id, code)
) STRICT, WITHOUT ROWID;

-- One row for each look at a name in the watched folder. An id is never used
-- twice, so that what came after a given row can be asked for.
CREATE TABLE drops (
  id      INTEGER PRIMARY KEY AUTOINCREMENT,
  path    TEXT NOT NULL CHECK (path <> ''),
  size    INTEGER NOT NULL,                 -- bytes; -1 where the file could not be opened
  mod_ns  INTEGER NOT NULL,
  seen_at INTEGER NOT NULL,
  outcome TEXT NOT NULL CHECK (outcome IN ('filed', 'held', 'already', 'refused')),
  code    TEXT NOT NULL,
  reason  TEXT NOT NULL,
  to_do   TEXT NOT NULL,
  file_id INTEGER REFERENCES files (id),
  UNIQUE (path, size, mod_ns)
) STRICT;
CREATE INDEX drops_newest ON drops (seen_at, id);
CREATE INDEX drops_outcome ON drops (outcome, seen_at, id);
CREATE INDEX drops_file ON drops (file_id);

-- One sensor from first to last reading: what ranks it and nothing more.
CREATE TABLE wears (
  id          INTEGER PRIMARY KEY,
  patient_id  INTEGER NOT NULL REFERENCES patients (id),
  sensor_kind TEXT NOT NULL,
  first_at    INTEGER NOT NULL,             -- first reading
  last_at     INTEGER NOT NULL,             -- last reading
  readings    INTEGER NOT NULL,
  received_at INTEGER NOT NULL,             -- when its first file arrived
  due_at      INTEGER NOT NULL,
  open        INTEGER NOT NULL CHECK (open IN (0, 1)),
  tier        TEXT NOT NULL,
  score       REAL NOT NULL,
  joined_into INTEGER REFERENCES wears (id), -- the wear that took this one in
  changed     INTEGER NOT NULL,             -- data version
  CHECK (first_at <= last_at)
) STRICT;
CREATE INDEX wears_patient ON wears (patient_id, last_at);
CREATE INDEX wears_changed ON wears (changed);
CREATE INDEX wears_sizes ON wears (joined_into, open, readings);

CREATE TABLE wear_flags (
  wear_id INTEGER NOT NULL REFERENCES wears (id),
  place   INTEGER NOT NULL,                 -- order in the report, 0 first
  code    TEXT NOT NULL,
  tier    TEXT NOT NULL,
  PRIMARY KEY (wear_id, place)
) STRICT, WITHOUT ROWID;

-- The report whole, and the few parts of it that a row of the round shows.
CREATE TABLE reports (
  wear_id  INTEGER PRIMARY KEY REFERENCES wears (id),
  engine   TEXT NOT NULL,
  protocol TEXT NOT NULL,
  ledger   TEXT NOT NULL,                   -- JSON
  report   BLOB NOT NULL,                   -- JSON, deflated
  events   BLOB NOT NULL                    -- JSON, deflated
) STRICT;

-- The readings of one UTC day; the format is described in store/pack.go.
CREATE TABLE wear_days (
  wear_id  INTEGER NOT NULL REFERENCES wears (id),
  day      INTEGER NOT NULL,                -- days since 1970-01-01
  readings BLOB NOT NULL,
  PRIMARY KEY (wear_id, day)
) STRICT, WITHOUT ROWID;

-- Which file brought what to which wear.
CREATE TABLE file_wears (
  file_id   INTEGER NOT NULL REFERENCES files (id),
  wear_id   INTEGER NOT NULL REFERENCES wears (id),
  new       INTEGER NOT NULL,               -- readings that were not there before
  same      INTEGER NOT NULL,               -- readings that were there already
  conflicts INTEGER NOT NULL,               -- same instant, another value: the earlier one was kept
  PRIMARY KEY (file_id, wear_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX file_wears_wear ON file_wears (wear_id);

-- The worker's last sign of life: one row.
CREATE TABLE beats (
  id        INTEGER PRIMARY KEY CHECK (id = 1),
  at        INTEGER NOT NULL,
  folder_ok INTEGER NOT NULL,
  message   TEXT NOT NULL,
  looked    INTEGER NOT NULL,
  seen      INTEGER NOT NULL,
  waiting   INTEGER NOT NULL
) STRICT;

-- The last run of each scheduled job.
CREATE TABLE jobs (
  name    TEXT PRIMARY KEY,
  at      INTEGER NOT NULL,
  took_ms INTEGER NOT NULL,
  error   TEXT NOT NULL,
  good_at INTEGER                           -- the last run that did not fail
) STRICT, WITHOUT ROWID;

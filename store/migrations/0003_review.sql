-- The review queue: who works here, who has which wear, what came of it, what
-- must come back, and a log of all of it. Nothing here is ever deleted: what
-- was wrong is withdrawn, undone or corrected by a later row.

CREATE TABLE users (
  id          INTEGER PRIMARY KEY,
  login       TEXT NOT NULL UNIQUE CHECK (login <> ''), -- lower case
  name        TEXT NOT NULL CHECK (name <> ''),
  roles       TEXT NOT NULL,                -- JSON
  password    TEXT NOT NULL,                -- PHC string
  password_at INTEGER NOT NULL,
  temporary   INTEGER NOT NULL CHECK (temporary IN (0, 1)),
  totp_secret TEXT NOT NULL DEFAULT '',
  totp_step   INTEGER NOT NULL DEFAULT 0,   -- the last one used
  disabled    INTEGER NOT NULL DEFAULT 0 CHECK (disabled IN (0, 1)),
  created_at  INTEGER NOT NULL
) STRICT;

CREATE TABLE recovery_codes (
  user_id INTEGER NOT NULL REFERENCES users (id),
  hash    TEXT NOT NULL,
  used_at INTEGER,
  PRIMARY KEY (user_id, hash)
) STRICT, WITHOUT ROWID;

-- The one-time link of the first start: at most one row.
CREATE TABLE setup_token (
  id         INTEGER PRIMARY KEY CHECK (id = 1),
  hash       BLOB NOT NULL,
  expires_at INTEGER NOT NULL
) STRICT;

-- Failed sign-ins in a row: of an account, of an address, and of the two
-- together. The key is a hash: what was typed may have been a password.
CREATE TABLE signin_failures (
  scope   TEXT NOT NULL CHECK (scope IN ('account', 'address', 'pair')),
  key     BLOB NOT NULL,
  n       INTEGER NOT NULL,
  last_at INTEGER NOT NULL,
  PRIMARY KEY (scope, key)
) STRICT, WITHOUT ROWID;

-- Where an account has signed in from before.
CREATE TABLE signin_places (
  pair    BLOB PRIMARY KEY,                 -- as the key of a failure of the pair
  last_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE sessions (
  id         INTEGER PRIMARY KEY,
  hash       BLOB NOT NULL UNIQUE,          -- SHA-256 of the token
  user_id    INTEGER NOT NULL REFERENCES users (id),
  address    TEXT NOT NULL,
  started_at INTEGER NOT NULL,
  seen_at    INTEGER NOT NULL,
  ended_at   INTEGER
) STRICT;
CREATE INDEX sessions_user ON sessions (user_id) WHERE ended_at IS NULL;

CREATE TABLE tokens (
  id         INTEGER PRIMARY KEY,
  hash       BLOB NOT NULL UNIQUE,          -- SHA-256 of the token
  name       TEXT NOT NULL CHECK (name <> ''),
  user_id    INTEGER NOT NULL REFERENCES users (id),
  scopes     TEXT NOT NULL,                 -- JSON
  made_at    INTEGER NOT NULL,
  expires_at INTEGER NOT NULL,
  used_at    INTEGER,
  revoked_at INTEGER
) STRICT;

-- Who did what, when. Each row holds the MAC of the one before and its own over
-- all its other columns; the key is kept outside the database.
CREATE TABLE audit (
  seq       INTEGER PRIMARY KEY,            -- 1, 2, ... without a hole
  at        INTEGER NOT NULL,
  actor     INTEGER NOT NULL,               -- user; 0 for the program
  role      TEXT NOT NULL,
  action    TEXT NOT NULL,
  object    TEXT NOT NULL,
  object_id INTEGER NOT NULL,
  outcome   TEXT NOT NULL,
  reason    TEXT NOT NULL,
  request   TEXT NOT NULL,
  prev      BLOB NOT NULL,
  mac       BLOB NOT NULL
) STRICT;
CREATE INDEX audit_object ON audit (object, object_id, seq);
CREATE INDEX audit_actor ON audit (actor, seq);
CREATE TRIGGER audit_no_update BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;
CREATE TRIGGER audit_no_delete BEFORE DELETE ON audit BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;

-- The newest row of the log, sealed with the same key, so that a log cut short
-- does not match it.
CREATE TABLE audit_head (
  id   INTEGER PRIMARY KEY CHECK (id = 1),
  seq  INTEGER NOT NULL,
  mac  BLOB NOT NULL,
  seal BLOB NOT NULL
) STRICT;
CREATE TRIGGER audit_head_no_delete BEFORE DELETE ON audit_head BEGIN SELECT RAISE(ABORT, 'the audit log only grows'); END;

ALTER TABLE wears ADD COLUMN claimed_by INTEGER REFERENCES users (id);
ALTER TABLE wears ADD COLUMN claimed_until INTEGER NOT NULL DEFAULT 0;
ALTER TABLE wears ADD COLUMN next_try INTEGER;  -- when to try to reach the patient again
CREATE INDEX wears_open ON wears (due_at) WHERE open = 1;

ALTER TABLE patients ADD COLUMN contact TEXT NOT NULL DEFAULT '{}'; -- JSON
ALTER TABLE patients ADD COLUMN merged_into INTEGER REFERENCES patients (id);

CREATE TABLE outcomes (
  id        INTEGER PRIMARY KEY,
  wear_id   INTEGER NOT NULL REFERENCES wears (id),
  kind      TEXT NOT NULL,
  reason    TEXT NOT NULL,
  made_by   INTEGER NOT NULL REFERENCES users (id),
  role      TEXT NOT NULL,
  made_at   INTEGER NOT NULL,
  tier      TEXT NOT NULL,                  -- of the wear at that moment
  flags     TEXT NOT NULL,                  -- JSON, likewise
  corrects  INTEGER UNIQUE REFERENCES outcomes (id),
  undone_at INTEGER
) STRICT;
CREATE INDEX outcomes_wear ON outcomes (wear_id);

CREATE TABLE recalls (
  id          INTEGER PRIMARY KEY,
  patient_id  INTEGER NOT NULL REFERENCES patients (id),
  wear_id     INTEGER REFERENCES wears (id),
  outcome_id  INTEGER REFERENCES outcomes (id),
  kind        TEXT NOT NULL,
  state       TEXT NOT NULL CHECK (state IN ('due', 'contacted', 'done', 'cancelled')),
  due_at      INTEGER NOT NULL,
  note        TEXT NOT NULL,
  made_by     INTEGER NOT NULL REFERENCES users (id),
  made_at     INTEGER NOT NULL,
  closed_at   INTEGER,
  closed_by   INTEGER,                      -- user; 0 for the program
  reason      TEXT NOT NULL DEFAULT '',
  result_id   INTEGER REFERENCES results (id),
  new_wear_id INTEGER REFERENCES wears (id),
  CHECK ((state IN ('done', 'cancelled')) = (closed_at IS NOT NULL))
) STRICT;
CREATE INDEX recalls_patient ON recalls (patient_id);
CREATE INDEX recalls_wear ON recalls (wear_id);
CREATE INDEX recalls_outcome ON recalls (outcome_id);
CREATE INDEX recalls_open ON recalls (due_at) WHERE closed_at IS NULL;

CREATE TABLE contacts (
  id         INTEGER PRIMARY KEY,
  patient_id INTEGER NOT NULL REFERENCES patients (id),
  wear_id    INTEGER REFERENCES wears (id),
  recall_id  INTEGER REFERENCES recalls (id),
  at         INTEGER NOT NULL,
  means      TEXT NOT NULL,
  reached    INTEGER NOT NULL CHECK (reached IN (0, 1)),
  note       TEXT NOT NULL,
  next_try   INTEGER,
  made_by    INTEGER NOT NULL REFERENCES users (id)
) STRICT;
CREATE INDEX contacts_patient ON contacts (patient_id);
CREATE INDEX contacts_wear ON contacts (wear_id);
CREATE INDEX contacts_recall ON contacts (recall_id);

CREATE TABLE notes (
  id         INTEGER PRIMARY KEY,
  patient_id INTEGER NOT NULL REFERENCES patients (id),
  wear_id    INTEGER REFERENCES wears (id),
  text       TEXT NOT NULL CHECK (text <> ''),
  made_by    INTEGER NOT NULL REFERENCES users (id),
  made_at    INTEGER NOT NULL,
  corrects   INTEGER REFERENCES notes (id)
) STRICT;
CREATE INDEX notes_patient ON notes (patient_id);
CREATE INDEX notes_wear ON notes (wear_id);

CREATE TABLE calls (
  id      INTEGER PRIMARY KEY,
  wear_id INTEGER NOT NULL REFERENCES wears (id),
  answers TEXT NOT NULL,                    -- JSON
  made_by INTEGER NOT NULL REFERENCES users (id),
  made_at INTEGER NOT NULL
) STRICT;
CREATE INDEX calls_wear ON calls (wear_id);

CREATE TABLE added_events (
  id           INTEGER PRIMARY KEY,
  wear_id      INTEGER NOT NULL REFERENCES wears (id),
  call_id      INTEGER REFERENCES calls (id),
  event        TEXT NOT NULL,               -- JSON, in the form of those of files
  made_by      INTEGER NOT NULL REFERENCES users (id),
  made_at      INTEGER NOT NULL,
  withdrawn_at INTEGER
) STRICT;
CREATE INDEX added_events_wear ON added_events (wear_id);

CREATE TABLE overrides (
  id           INTEGER PRIMARY KEY,
  wear_id      INTEGER NOT NULL REFERENCES wears (id),
  from_at      INTEGER NOT NULL,
  to_at        INTEGER NOT NULL,
  believe      INTEGER NOT NULL CHECK (believe IN (0, 1)),
  reason       TEXT NOT NULL CHECK (reason <> ''),
  made_by      INTEGER NOT NULL REFERENCES users (id),
  made_at      INTEGER NOT NULL,
  withdrawn_at INTEGER,
  CHECK (from_at <= to_at)
) STRICT;
CREATE INDEX overrides_wear ON overrides (wear_id);

CREATE TABLE results (
  id           INTEGER PRIMARY KEY,
  patient_id   INTEGER NOT NULL REFERENCES patients (id),
  wear_id      INTEGER REFERENCES wears (id),
  kind         TEXT NOT NULL,
  value        TEXT NOT NULL,               -- as reported
  unit         TEXT NOT NULL,
  taken_at     INTEGER NOT NULL,
  criteria     TEXT NOT NULL,
  class        TEXT NOT NULL,
  note         TEXT NOT NULL,
  made_by      INTEGER NOT NULL REFERENCES users (id),
  made_at      INTEGER NOT NULL,
  withdrawn_at INTEGER
) STRICT;
CREATE INDEX results_patient ON results (patient_id);
CREATE INDEX results_wear ON results (wear_id);

CREATE TABLE letter_templates (
  kind    TEXT NOT NULL,
  version INTEGER NOT NULL,
  text    TEXT NOT NULL,
  made_by INTEGER NOT NULL REFERENCES users (id),
  made_at INTEGER NOT NULL,
  PRIMARY KEY (kind, version)
) STRICT, WITHOUT ROWID;

CREATE TABLE letters (
  id           INTEGER PRIMARY KEY,
  patient_id   INTEGER NOT NULL REFERENCES patients (id),
  wear_id      INTEGER REFERENCES wears (id),
  kind         TEXT NOT NULL,
  template     INTEGER NOT NULL,            -- version; 0 for the one that ships
  protocol     TEXT NOT NULL,
  text         TEXT NOT NULL,
  opened_by    INTEGER NOT NULL REFERENCES users (id),
  opened_at    INTEGER NOT NULL,
  sent_by      INTEGER REFERENCES users (id),
  sent_at      INTEGER,
  how          TEXT NOT NULL DEFAULT '',
  discarded_at INTEGER
) STRICT;
CREATE INDEX letters_patient ON letters (patient_id);
CREATE INDEX letters_wear ON letters (wear_id);
CREATE INDEX letters_waiting ON letters (opened_at) WHERE sent_at IS NULL AND discarded_at IS NULL;
-- Whose it is and what it said stay as they were sent, whatever is merged later.
CREATE TRIGGER letters_sent BEFORE UPDATE ON letters WHEN OLD.sent_at IS NOT NULL
  AND (NEW.text <> OLD.text OR NEW.kind <> OLD.kind OR NEW.sent_at IS NOT OLD.sent_at OR NEW.sent_by IS NOT OLD.sent_by OR NEW.protocol <> OLD.protocol)
  BEGIN SELECT RAISE(ABORT, 'a letter that was sent does not change'); END;

CREATE TABLE merges (
  id        INTEGER PRIMARY KEY,
  kept      INTEGER NOT NULL REFERENCES patients (id),
  dropped   INTEGER NOT NULL REFERENCES patients (id),
  reason    TEXT NOT NULL,
  moved     TEXT NOT NULL,                  -- JSON: the ids that moved, by table
  made_by   INTEGER NOT NULL REFERENCES users (id),
  made_at   INTEGER NOT NULL,
  undone_at INTEGER
) STRICT;
CREATE INDEX merges_kept ON merges (kept);

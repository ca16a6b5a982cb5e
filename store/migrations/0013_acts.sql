-- Acts carry what they were decided on.

-- The version of the evidence that a letter was written from; 0 before it was kept.
ALTER TABLE letters ADD COLUMN evidence INTEGER NOT NULL DEFAULT 0;
-- The result that a clinician has to decide on.
ALTER TABLE recalls ADD COLUMN about_result INTEGER REFERENCES results (id);
CREATE INDEX recalls_about ON recalls (about_result);

-- A wear given to somebody else to go on with, until they take it.
CREATE TABLE handovers (
  id       INTEGER PRIMARY KEY,
  wear_id  INTEGER NOT NULL REFERENCES wears (id),
  to_role  TEXT NOT NULL,
  reason   TEXT NOT NULL CHECK (reason <> ''),
  due_at   INTEGER NOT NULL,
  made_by  INTEGER NOT NULL REFERENCES users (id),
  made_at  INTEGER NOT NULL,
  taken_by INTEGER REFERENCES users (id),
  taken_at INTEGER
) STRICT;
CREATE INDEX handovers_wear ON handovers (wear_id);
CREATE INDEX handovers_open ON handovers (due_at) WHERE taken_at IS NULL;

-- Each post carries a key of its own; a repeat of it is not done again.
CREATE TABLE posts (
  key     TEXT NOT NULL CHECK (key <> ''),
  user_id INTEGER NOT NULL,
  request TEXT NOT NULL,                    -- id of the request that did it
  action  TEXT NOT NULL,
  at      INTEGER NOT NULL,
  PRIMARY KEY (user_id, key)
) STRICT, WITHOUT ROWID;
CREATE INDEX posts_at ON posts (at);

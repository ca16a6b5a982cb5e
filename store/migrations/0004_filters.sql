-- Filters of the round that people keep under a name.

CREATE TABLE saved_filters (
  id      INTEGER PRIMARY KEY,
  name    TEXT NOT NULL,
  query   TEXT NOT NULL,                    -- of the round's address
  shared  INTEGER NOT NULL CHECK (shared IN (0, 1)),
  made_by INTEGER NOT NULL REFERENCES users (id),
  made_at INTEGER NOT NULL,
  UNIQUE (made_by, name)
) STRICT;

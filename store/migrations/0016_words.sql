-- What people said that words of a wearer are. Rows are only added: of two
-- about the same words the later holds, and what was wrong is withdrawn.
CREATE TABLE words_read (
  id           INTEGER PRIMARY KEY,
  wear_id      INTEGER NOT NULL REFERENCES wears (id),
  key          TEXT NOT NULL CHECK (key <> ''),
  said         TEXT NOT NULL CHECK (said <> ''),
  made_by      INTEGER NOT NULL REFERENCES users (id),
  made_at      INTEGER NOT NULL,
  withdrawn_at INTEGER
) STRICT;
CREATE INDEX words_read_wear ON words_read (wear_id);

-- Boxes of the call sheet that need somebody this minute.
CREATE TABLE red_flags (
  id           INTEGER PRIMARY KEY,
  wear_id      INTEGER NOT NULL REFERENCES wears (id),
  code         TEXT NOT NULL CHECK (code <> ''),
  made_by      INTEGER NOT NULL REFERENCES users (id),
  made_at      INTEGER NOT NULL,
  withdrawn_at INTEGER
) STRICT;
CREATE INDEX red_flags_wear ON red_flags (wear_id);

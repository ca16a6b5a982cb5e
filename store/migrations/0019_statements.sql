-- What laboratories' messages state, each statement of each file as it was last
-- read. Which of them hold is worked out from all that are about one result.
CREATE TABLE statements (
  id         INTEGER PRIMARY KEY,
  file_id    INTEGER NOT NULL REFERENCES files (id),
  patient_id INTEGER REFERENCES patients (id), -- NULL while it waits for a person
  key        TEXT NOT NULL CHECK (key <> ''),  -- what the laboratory knows the result by
  status     TEXT NOT NULL CHECK (status IN ('final', 'corrected', 'cancelled', 'waits')),
  issued_at  INTEGER NOT NULL,                 -- when the laboratory said so; 0 where it does not say
  kind       TEXT NOT NULL,
  value      TEXT NOT NULL,
  unit       TEXT NOT NULL,
  taken_at   INTEGER NOT NULL,
  note       TEXT NOT NULL,
  tier       TEXT NOT NULL                     -- how soon somebody must look at it, beyond what its value asks for; or ''
) STRICT;
CREATE INDEX statements_file ON statements (file_id);
CREATE INDEX statements_key ON statements (key, issued_at);
CREATE INDEX statements_patient ON statements (patient_id, kind, taken_at);

-- The message that a result came with, and what the laboratory knows it by.
ALTER TABLE results ADD COLUMN file_id INTEGER REFERENCES files (id);
ALTER TABLE results ADD COLUMN key TEXT NOT NULL DEFAULT '';
CREATE INDEX results_key ON results (key) WHERE key <> '';

-- In whose name results are that no person entered. It cannot sign in.
INSERT INTO users (id, login, name, roles, password, password_at, temporary, disabled, created_at)
  VALUES (-1, '(laboratory)', 'A laboratory’s message', '[]', '', 0, 0, 1, 0);
CREATE INDEX results_file ON results (file_id) WHERE file_id IS NOT NULL;

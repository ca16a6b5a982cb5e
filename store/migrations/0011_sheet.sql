-- Routine wears are told all is well on a sheet that somebody signs; each line is
-- an outcome and a letter of its own.
CREATE TABLE sheets (
  id      INTEGER PRIMARY KEY,
  made_by INTEGER NOT NULL REFERENCES users (id),
  made_at INTEGER NOT NULL
) STRICT;
ALTER TABLE outcomes ADD COLUMN sheet_id INTEGER REFERENCES sheets (id);
CREATE INDEX outcomes_sheet ON outcomes (sheet_id) WHERE sheet_id IS NOT NULL;

-- The outbox: what was sent by post waits until it is printed and posted. What
-- was sent before there was one has gone.
ALTER TABLE letters ADD COLUMN outcome_id INTEGER REFERENCES outcomes (id);
ALTER TABLE letters ADD COLUMN printed_at INTEGER;
ALTER TABLE letters ADD COLUMN posted_at INTEGER;
UPDATE letters SET printed_at = sent_at, posted_at = sent_at WHERE sent_at IS NOT NULL;
CREATE INDEX letters_outbox ON letters (sent_at) WHERE sent_at IS NOT NULL;

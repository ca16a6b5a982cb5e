-- A wear that turned out to be another patient's. It stands until it is taken
-- back, and while it does an outcome from before it was of somebody else.
CREATE TABLE moves (
  id           INTEGER PRIMARY KEY,
  wear_id      INTEGER NOT NULL REFERENCES wears (id),
  from_patient INTEGER NOT NULL REFERENCES patients (id),
  to_patient   INTEGER NOT NULL REFERENCES patients (id),
  reason       TEXT NOT NULL,
  results      TEXT NOT NULL,               -- JSON: laboratory results that went along
  named        TEXT NOT NULL,               -- JSON: whose its files were by an answer before, by file
  version      INTEGER NOT NULL,            -- of the data
  made_by      INTEGER NOT NULL,            -- user; 0 for the program
  made_at      INTEGER NOT NULL,
  undone_at    INTEGER
) STRICT;
CREATE INDEX moves_wear ON moves (wear_id);

-- What other rules said of a wear whose outcome stood: it answers that too, so
-- that a closed wear does not come back because the rules changed.
ALTER TABLE outcomes ADD COLUMN rules_tier TEXT NOT NULL DEFAULT '';
ALTER TABLE outcomes ADD COLUMN rules_flags TEXT NOT NULL DEFAULT '[]'; -- JSON
UPDATE outcomes SET rules_tier = wears.tier,
    rules_flags = (SELECT json_group_array(code) FROM wear_flags WHERE wear_flags.wear_id = wears.id)
  FROM wears WHERE wears.id = outcomes.wear_id AND open = 0;

-- When it was last that something changed that is in force is asked of what is
-- in force.
ALTER TABLE wears DROP COLUMN facts;
ALTER TABLE patients DROP COLUMN facts;

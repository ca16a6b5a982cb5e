-- What is kept for good: audits that were closed, and protocols that were signed.

CREATE TABLE kept_audits (
  id      INTEGER PRIMARY KEY,
  from_at INTEGER NOT NULL,
  to_at   INTEGER NOT NULL,                 -- excluded
  as_of   INTEGER NOT NULL,                 -- last second that counts
  engine  TEXT NOT NULL,
  protocol TEXT NOT NULL,                   -- in force when it was kept
  change  TEXT NOT NULL,                    -- what the practice will do otherwise, in its own words
  body    TEXT NOT NULL,                    -- JSON: the audit, byte for byte
  made_by INTEGER NOT NULL REFERENCES users (id),
  made_at INTEGER NOT NULL,
  UNIQUE (from_at, to_at, as_of)
) STRICT;
CREATE TRIGGER kept_audits_no_update BEFORE UPDATE ON kept_audits BEGIN SELECT RAISE(ABORT, 'a kept audit does not change'); END;
CREATE TRIGGER kept_audits_no_delete BEFORE DELETE ON kept_audits BEGIN SELECT RAISE(ABORT, 'a kept audit does not change'); END;

-- A draft has no signature; what was signed does not change.
CREATE TABLE protocols (
  id         INTEGER PRIMARY KEY,
  version    TEXT NOT NULL UNIQUE CHECK (version <> ''),
  body       TEXT NOT NULL,                 -- JSON, as the file has it
  made_by    INTEGER NOT NULL REFERENCES users (id),
  made_at    INTEGER NOT NULL,
  signed_by  INTEGER REFERENCES users (id),
  signed_at  INTEGER,
  holds_from INTEGER,
  CHECK ((signed_by IS NULL) = (signed_at IS NULL) AND (signed_at IS NULL) = (holds_from IS NULL))
) STRICT;
CREATE TRIGGER protocols_signed BEFORE UPDATE ON protocols WHEN OLD.signed_at IS NOT NULL BEGIN SELECT RAISE(ABORT, 'a signed protocol does not change'); END;
CREATE TRIGGER protocols_no_delete BEFORE DELETE ON protocols WHEN OLD.signed_at IS NOT NULL BEGIN SELECT RAISE(ABORT, 'a signed protocol does not change'); END;

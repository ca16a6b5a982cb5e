-- Whom a letter was written for, as the register had it then: name and date of
-- birth; NULL before it was kept.
ALTER TABLE letters ADD COLUMN named TEXT;
-- The version of the data by which it was opened; 0 before it was kept.
ALTER TABLE letters ADD COLUMN version INTEGER NOT NULL DEFAULT 0;

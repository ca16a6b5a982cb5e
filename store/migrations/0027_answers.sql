-- When answers of a call were taken back, by the moment that was asked about.
ALTER TABLE calls ADD COLUMN withdrawn TEXT NOT NULL DEFAULT '{}';

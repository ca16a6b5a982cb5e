-- A sensor that is out is a recall for its file: who wears it, since when, which.
ALTER TABLE recalls ADD COLUMN given_at INTEGER NOT NULL DEFAULT 0; -- day it was handed out; 0 where it is no sensor
ALTER TABLE recalls ADD COLUMN sensor_kind TEXT NOT NULL DEFAULT '';
ALTER TABLE recalls ADD COLUMN serial TEXT NOT NULL DEFAULT '';

-- What became of every filled cell of the file, as it was last read.
ALTER TABLE files ADD COLUMN account TEXT NOT NULL DEFAULT '{}';

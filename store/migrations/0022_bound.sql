-- What a post asked for: a key that comes again with anything else is no repeat.
-- Posts from before are bound to nothing.
ALTER TABLE posts ADD COLUMN bound TEXT NOT NULL DEFAULT '';

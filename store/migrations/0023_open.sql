-- What each page asks of the whole round is answered by its index alone.
DROP INDEX wears_open;
CREATE INDEX wears_open ON wears (due_at, claimed_by, claimed_until, next_try) WHERE open = 1;

-- What each page asks of all open recalls is answered by their index alone.
DROP INDEX recalls_open;
CREATE INDEX recalls_open ON recalls (due_at, kind, state) WHERE closed_at IS NULL;

-- A wear is held against its seal whenever it is shown, its past with it.
CREATE INDEX past_wear ON past (wear_id) WHERE wear_id IS NOT NULL;

-- What each page asks of all open recalls is answered by their index alone.
DROP INDEX recalls_open;
CREATE INDEX recalls_open ON recalls (due_at, kind, state) WHERE closed_at IS NULL;

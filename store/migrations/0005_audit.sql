-- What a year's audit counts by.

-- The tier of the first report: later ones may know of a call or a result.
ALTER TABLE wears ADD COLUMN first_tier TEXT NOT NULL DEFAULT '';
UPDATE wears SET first_tier = coalesce((SELECT tier FROM outcomes WHERE wear_id = wears.id ORDER BY id LIMIT 1), tier);

-- Readings that are not believed; NULL where the report was made before this
-- was kept.
ALTER TABLE wears ADD COLUMN doubted INTEGER;

CREATE INDEX wears_received ON wears (received_at);
CREATE INDEX letters_opened ON letters (opened_at);
CREATE INDEX outcomes_made ON outcomes (made_at);
CREATE INDEX recalls_due ON recalls (due_at);
CREATE INDEX files_received ON files (received_at);
CREATE INDEX audit_claims ON audit (object_id, at) WHERE action = 'claim a wear' AND outcome = 'done';

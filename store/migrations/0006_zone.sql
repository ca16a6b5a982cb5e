-- The zone of the wearer's clock where a person said that it is another than
-- the practice's, by its IANA name. It follows the answers of the wear's files.
ALTER TABLE wears ADD COLUMN zone TEXT NOT NULL DEFAULT '';

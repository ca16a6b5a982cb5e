-- What the entry that is kept knew of its person when another was merged into
-- it, as JSON: a merge joins what both knew, and its undoing gives this back. Merges
-- from before joined nothing.
ALTER TABLE merges ADD COLUMN knew TEXT;

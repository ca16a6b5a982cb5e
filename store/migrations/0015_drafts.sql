-- What the API answered to a post, for a repeat of it.
ALTER TABLE posts ADD COLUMN answer BLOB;

-- What somebody typed into a page and has not sent yet: one row a page.
CREATE TABLE drafts (
  user_id INTEGER NOT NULL REFERENCES users (id),
  page    TEXT NOT NULL CHECK (page <> ''),  -- its address without a query
  fields  TEXT NOT NULL,                     -- JSON
  at      INTEGER NOT NULL,
  PRIMARY KEY (user_id, page)
) STRICT, WITHOUT ROWID;
CREATE INDEX drafts_at ON drafts (at);

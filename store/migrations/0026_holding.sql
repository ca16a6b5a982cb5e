-- Every transaction asks which signed protocol holds: without reading its text.
CREATE INDEX protocols_holding ON protocols (holds_from, signed_at) WHERE signed_at IS NOT NULL;

package store

import (
	"encoding/json"
	"errors"

	"wearround/store/pack"
)

// maxDocument is far more than any report takes; it bounds what a damaged row
// can make us allocate.
const maxDocument = 64 << 20

// deflate makes the stored form of a large document: its JSON text, deflated.
func deflate(v any) ([]byte, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return pack.Deflate(nil, text)
}

// inflate reads what deflate made into v.
func inflate(b []byte, v any) error {
	text, err := pack.Inflate(b, maxDocument)
	if err != nil {
		return err
	}
	return json.Unmarshal(text, v)
}

// text is v as JSON, to be bound to a TEXT column.
func text(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

// document scans a TEXT column that holds JSON.
type document[T any] struct{ v *T }

// Scan implements [database/sql.Scanner].
func (d document[T]) Scan(src any) error {
	s, ok := src.(string)
	if !ok {
		return errors.New("a stored document is not text")
	}
	return json.Unmarshal([]byte(s), d.v)
}

// into makes a scanner that reads JSON text into v.
func into[T any](v *T) document[T] { return document[T]{v} }

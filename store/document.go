package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"sync"

	"github.com/klauspost/compress/flate"
)

// maxDocument is far more than any report takes; it bounds what a damaged row
// can make us allocate.
const maxDocument = 64 << 20

// A deflate writer holds more than half a megabyte, so writers are used again.
// The fastest level already makes a report several times smaller; this package
// does it in a third of the time of the standard library's.
var deflaters = sync.Pool{New: func() any {
	w, err := flate.NewWriter(nil, flate.BestSpeed)
	if err != nil {
		panic(err) // only for a level that does not exist
	}
	return w
}}

// deflate makes the stored form of a large document: its JSON text, deflated.
func deflate(v any) ([]byte, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w := deflaters.Get().(*flate.Writer)
	defer deflaters.Put(w)
	w.Reset(&b)
	if _, err := w.Write(text); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// inflate reads what deflate made into v.
func inflate(b []byte, v any) error {
	r := flate.NewReader(bytes.NewReader(b))
	text, err := io.ReadAll(io.LimitReader(r, maxDocument+1))
	if err != nil {
		return err
	}
	if len(text) > maxDocument {
		return errors.New("a stored document is too large")
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

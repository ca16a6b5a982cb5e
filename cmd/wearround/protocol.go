package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// loadProtocol reads and checks a protocol file; without a name it gives the
// shipped proposal. What the file leaves out stays as in the proposal.
func loadProtocol(name string) (*wear.Protocol, error) {
	p := wear.DefaultProtocol()
	if name == "" {
		return p, nil
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("protocol file: %w", err)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	err = d.Decode(p)
	if err == nil {
		err = onlyOnce(data)
	}
	if err == nil {
		err = p.Validate()
	}
	if err == nil && changed(p) && p.Version == wear.DefaultProtocol().Version {
		err = errors.New("values differ from those that ship: give the protocol a version of its own, because every report names it and wears are judged anew when it changes")
	}
	if err != nil {
		return nil, fmt.Errorf("protocol file %s: %w", name, plainly(err, data))
	}
	return p, nil
}

// onlyOnce refuses a JSON text that names something twice, or that goes on after
// its value: which of two was meant must not be guessed.
func onlyOnce(data []byte) error {
	d := json.NewDecoder(bytes.NewReader(data))
	if err := once(d); err != nil {
		return fmt.Errorf("line %d: %w", line(data, d.InputOffset()), err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("line %d: the file goes on after the protocol ends: take out what follows", line(data, d.InputOffset()))
	}
	return nil
}

// once reads one value.
func once(d *json.Decoder) error {
	t, err := d.Token()
	if err != nil {
		return err
	}
	opening, ok := t.(json.Delim)
	if !ok {
		return nil
	}
	seen := map[string]bool{}
	for d.More() {
		if opening == '{' {
			name, err := d.Token()
			if err != nil {
				return err
			}
			key, _ := name.(string)
			if seen[key] {
				return fmt.Errorf("%q is set twice: take one of them out", key)
			}
			seen[key] = true
		}
		if err := once(d); err != nil {
			return err
		}
	}
	_, err = d.Token()
	return err
}

// changed reports whether some value is not the shipped one.
func changed(p *wear.Protocol) bool {
	return slices.ContainsFunc(p.Settings(), func(s wear.Setting) bool { return s.Status == "own" })
}

// plainly says what is wrong with a JSON text in words for its writer.
func plainly(err error, text []byte) error {
	var kind *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch unknown := "json: unknown field "; {
	case errors.As(err, &kind):
		return fmt.Errorf("line %d: the setting %s cannot be a %s", line(text, kind.Offset), kind.Field, kind.Value)
	case errors.As(err, &syntax):
		return fmt.Errorf("line %d is not valid JSON: %w", line(text, syntax.Offset), err)
	case strings.HasPrefix(err.Error(), unknown):
		return fmt.Errorf("there is no setting called %s; the page \"Protocol\" lists them all", strings.TrimPrefix(err.Error(), unknown))
	}
	return err
}

// line is the number of the line, from 1, that holds the byte at offset.
func line(text []byte, offset int64) int {
	return 1 + bytes.Count(text[:min(int(offset), len(text))], []byte("\n"))
}

// Package protocolfile reads a protocol as people write it: as a file, or number by
// number over another.
package protocolfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// Read reads and checks the text of a protocol file. What it leaves out
// stays as in the proposal that ships. An error says to a person what is wrong,
// by line and setting.
func Read(text []byte) (*wear.Protocol, error) {
	p := wear.DefaultProtocol()
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	err := d.Decode(p)
	if err == nil {
		err = onlyOnce(text)
	}
	if err == nil {
		err = p.Validate()
	}
	if err == nil && p.Version == wear.DefaultProtocol().Version && len(p.Differences(wear.DefaultProtocol())) > 0 {
		err = errors.New("values differ from those that ship: give the protocol a version of its own, because every report names it and wears are judged anew when it changes")
	}
	if err != nil {
		return nil, plainly(err, text)
	}
	return p, nil
}

// Change gives a protocol with other values of some settings, as they are
// typed: a number, a pair as "11.1 (200)", a code, or words with commas between.
// wrong says by the setting's name what cannot be read; the range of each is for
// [wear.Protocol.Validate] to hold.
func Change(base *wear.Protocol, set map[string]string) (p *wear.Protocol, wrong map[string]string, err error) {
	text, err := json.Marshal(base)
	if err != nil {
		return nil, nil, fmt.Errorf("change a protocol: %w", err)
	}
	var tree map[string]any
	if err := json.Unmarshal(text, &tree); err != nil {
		return nil, nil, fmt.Errorf("change a protocol: %w", err)
	}
	wrong = map[string]string{}
	for name, typed := range set {
		at, path := tree, strings.Split(name, ".")
		for _, step := range path[:len(path)-1] {
			at, _ = at[step].(map[string]any)
		}
		last := path[len(path)-1]
		was, there := at[last]
		if !there {
			wrong[name] = "There is no such setting."
			continue
		}
		v, ok := settingOf(was, typed)
		if !ok {
			wrong[name] = "This cannot be read. Write it as it stood: " + settingText(was) + "."
			continue
		}
		at[last] = v
	}
	if len(wrong) > 0 {
		return nil, wrong, nil
	}
	if text, err = json.Marshal(tree); err != nil {
		return nil, nil, fmt.Errorf("change a protocol: %w", err)
	}
	p = new(wear.Protocol)
	err = json.Unmarshal(text, p)
	if kind, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
		return nil, map[string]string{kind.Field: "This is a whole number."}, nil
	}
	if err != nil {
		return nil, nil, fmt.Errorf("change a protocol: %w", err)
	}
	return p, nil, nil
}

// settingOf reads a typed value by the kind of the one it replaces.
func settingOf(was any, typed string) (v any, ok bool) {
	if _, list := was.([]any); !list {
		typed = strings.TrimSpace(typed)
	}
	switch was.(type) {
	case float64:
		n, err := strconv.ParseFloat(typed, 64)
		return n, err == nil && !math.IsNaN(n) && !math.IsInf(n, 0)
	case string:
		return typed, typed != ""
	case []any: // a blank at either end of a word counts: it says that a word begins or ends there
		list := []string{}
		for _, w := range strings.Split(typed, ",") {
			if w = strings.TrimPrefix(w, " "); strings.TrimSpace(w) != "" {
				list = append(list, w)
			}
		}
		return list, len(list) > 0
	case map[string]any: // a pair
		mmol, rest, pair := strings.Cut(typed, "(")
		mgdl, end, closed := strings.Cut(rest, ")")
		m, err1 := strconv.ParseFloat(strings.TrimSpace(mmol), 64)
		g, err2 := strconv.ParseInt(strings.TrimSpace(mgdl), 10, 64)
		tenths := int64(math.Round(m * 10))
		exact := strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64) == strconv.FormatFloat(m, 'f', -1, 64)
		return map[string]any{"mmol_tenths": tenths, "mgdl": g}, pair && closed && end == "" && err1 == nil && err2 == nil && m >= 0 && m < 1000 && exact
	}
	return nil, false
}

// settingText is a value as it may be typed.
func settingText(v any) string {
	switch v := v.(type) {
	case []any:
		return "words with commas between"
	case map[string]any:
		tenths, _ := v["mmol_tenths"].(float64)
		return strconv.FormatFloat(tenths/10, 'f', 1, 64) + " (" + fmt.Sprint(v["mgdl"]) + ")"
	}
	return fmt.Sprint(v)
}

// onlyOnce refuses a JSON text that names something twice, or that goes on after
// its value: which of two was meant must not be guessed.
func onlyOnce(data []byte) error {
	d := json.NewDecoder(bytes.NewReader(data))
	if err := NamedOnce(d); err != nil {
		return fmt.Errorf("line %d: %w", line(data, d.InputOffset()), err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return fmt.Errorf("line %d: the file goes on after the protocol ends: take out what follows", line(data, d.InputOffset()))
	}
	return nil
}

// NamedOnce reads one JSON value, and refuses one that names something twice.
func NamedOnce(d *json.Decoder) error {
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
		if err := NamedOnce(d); err != nil {
			return err
		}
	}
	_, err = d.Token()
	return err
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

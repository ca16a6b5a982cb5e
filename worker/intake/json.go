package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// Limits on JSON. The standard library keeps the last of two equal keys and
// takes "VALUE" for "value", so keys are looked at before anything is decoded.
const (
	maxDepth = 64
	maxKeys  = 100 // in one object; the widest resource has a few dozen
	maxSeen  = 500 // different keys in a file that its layout is told by
)

// jsonKeys are the keys that the readers decode. A key that differs from one of
// them only in upper and lower case is refused.
var jsonKeys = func() map[string]string {
	known := make(map[string]string)
	for key := range strings.FieldsSeq(`resourceType type entry fullUrl resource request method
		id identifier use system value status code coding display text subject reference
		effectiveDateTime effectivePeriod effectiveInstant start end valueQuantity comparator unit
		valueSampledData origin period factor lowerLimit upperLimit dimensions data interval intervalUnit
		valueString valueCodeableConcept interpretation dataAbsentReason component note modifierExtension
		header uuid user_id schema_id namespace name version modality acquisition_provenance body
		blood_glucose effective_time_frame date_time time_interval specimen_source descriptive_statistic
		temporal_relationship_to_meal`) {
		known[strings.ToLower(key)] = key
	}
	return known
}()

// atTimes are keys that stand in some records of a sender and not in others, so
// that they say nothing of the layout.
const atTimes = "|comparator|dataAbsentReason|interpretation|note|text|component|valueString|valueCodeableConcept|factor|lowerLimit|upperLimit|temporal_relationship_to_meal|temporal_relationship_to_sleep|descriptive_statistic|identifier|link|total|"

// layout names the arrangement of health records by the keys that they have.
func (s *strictJSON) layout() string {
	keys := slices.DeleteFunc(slices.Sorted(maps.Keys(s.seen)), func(k string) bool { return strings.Contains(atTimes, "|"+k+"|") })
	return hashLayout("json", strings.Join(keys, " "))
}

// Errors of the strict pass over JSON.
var (
	errJSONCut   = errors.New("intake: JSON stops before its end")
	errJSONForm  = errors.New("intake: not JSON")
	errJSONDepth = errors.New("intake: JSON too deep")
	errJSONKeys  = errors.New("intake: too many keys in one object")
)

// keyError is a key that must not stand where it stands.
type keyError struct{ key, why string }

func (e *keyError) Error() string { return "intake: JSON key " + e.why }

// strictJSON walks over JSON text without decoding it.
type strictJSON struct {
	b     []byte
	i     int
	seen  map[string]bool // the first different keys met
	plain bool            // no health record, so its keys may be spelt as they like
}

func (s *strictJSON) space() {
	for s.i < len(s.b) && (s.b[s.i] == ' ' || s.b[s.i] == '\n' || s.b[s.i] == '\r' || s.b[s.i] == '\t') {
		s.i++
	}
}

// value walks over one value; s.i is then behind it.
func (s *strictJSON) value(depth int) error {
	if depth > maxDepth {
		return errJSONDepth
	}
	s.space()
	if s.i >= len(s.b) {
		return errJSONCut
	}
	switch s.b[s.i] {
	case '{':
		return s.object(depth)
	case '[':
		return s.list(depth)
	case '"':
		_, err := s.text()
		return err
	}
	return s.bare()
}

// bare walks over a number, true, false or null; their spelling is checked
// when they are decoded.
func (s *strictJSON) bare() error {
	from := s.i
	for s.i < len(s.b) && strings.IndexByte("+-.0123456789abcdefghijklmnopqrstuvwxyzE", s.b[s.i]) >= 0 {
		s.i++
	}
	switch {
	case s.i == from:
		return errJSONForm
	case s.i == len(s.b):
		return errJSONCut
	}
	return nil
}

// text walks over a string and gives what stands between its quotes.
func (s *strictJSON) text() ([]byte, error) {
	from := s.i + 1
	for s.i = from; s.i < len(s.b); s.i++ {
		switch c := s.b[s.i]; {
		case c == '\\':
			s.i++
		case c == '"':
			s.i++
			return s.b[from : s.i-1], nil
		case c < ' ':
			return nil, errJSONForm
		}
	}
	return nil, errJSONCut
}

func (s *strictJSON) list(depth int) error {
	for s.i++; ; {
		s.space()
		if s.i < len(s.b) && s.b[s.i] == ']' {
			s.i++
			return nil
		}
		if err := s.value(depth + 1); err != nil {
			return err
		}
		if done, err := s.next(']'); done || err != nil {
			return err
		}
	}
}

func (s *strictJSON) object(depth int) error {
	var keys [][]byte
	var many map[string]bool // the keys, where there are very many
	for s.i++; ; {
		s.space()
		switch {
		case s.i >= len(s.b):
			return errJSONCut
		case s.b[s.i] == '}' && len(keys) == 0:
			s.i++
			return nil
		case s.b[s.i] != '"':
			return errJSONForm
		}
		key, err := s.text()
		if err != nil {
			return err
		}
		if key, err = plainKey(key, s.plain); err != nil {
			return err
		}
		twice := many[string(key)]
		for _, k := range keys[:min(len(keys), maxKeys)] {
			twice = twice || bytes.Equal(k, key)
		}
		if twice {
			return &keyError{short(string(key)), "stands twice in one object"}
		}
		if !s.seen[string(key)] && len(s.seen) < maxSeen {
			s.seen[string(key)] = true
		}
		if keys = append(keys, key); len(keys) > maxKeys {
			if !s.plain || len(keys) > maxRows {
				return errJSONKeys
			}
			if many == nil { // an object that has a member a reading
				many = make(map[string]bool)
			}
			many[string(key)] = true
		}
		s.space()
		if s.i >= len(s.b) {
			return errJSONCut
		}
		if s.b[s.i] != ':' {
			return errJSONForm
		}
		s.i++
		if err := s.value(depth + 1); err != nil {
			return err
		}
		if done, err := s.next('}'); done || err != nil {
			return err
		}
	}
}

// next walks over the mark behind a member: a comma, or the end.
func (s *strictJSON) next(end byte) (done bool, err error) {
	s.space()
	switch {
	case s.i >= len(s.b):
		return false, errJSONCut
	case s.b[s.i] == end:
		s.i++
		return true, nil
	case s.b[s.i] == ',':
		s.i++
		return false, nil
	}
	return false, errJSONForm
}

// plainKey undoes escapes, so that no key hides behind one, and refuses a known
// key in the wrong case.
func plainKey(key []byte, anyCase bool) ([]byte, error) {
	if bytes.IndexByte(key, '\\') >= 0 {
		var text string
		if json.Unmarshal([]byte(`"`+string(key)+`"`), &text) != nil {
			return nil, errJSONForm
		}
		key = []byte(text)
	}
	if len(key) < 40 && !anyCase {
		if want, ok := jsonKeys[string(bytes.ToLower(key))]; ok && want != string(key) {
			return nil, &keyError{short(string(key)), "is written with other capitals than " + want}
		}
	}
	return key, nil
}

// refuseJSON turns an error of the strict pass into plain words. line is 0 for
// a file that is one document.
func refuseJSON(err error, line int) *wear.Refusal {
	where := ""
	if line > 0 {
		where = fmt.Sprintf(" (line %d)", line)
	}
	var key *keyError
	switch {
	case errors.As(err, &key):
		return refuse("json_keys", fmt.Sprintf("In the JSON file%s the key %q %s, so it can be read in two ways.", where, key.key, key.why),
			"Ask the sender for a file in which each key stands once and is spelt as the standard has it.")
	case errors.Is(err, errJSONDepth), errors.Is(err, errJSONKeys):
		return refuse("json_depth", "The JSON file"+where+" is nested deeper or wider than any health record.", exportAsText)
	case errors.Is(err, errJSONCut):
		return refuse("cut_short", "The JSON file"+where+" stops before its end: it was probably copied before it was finished.",
			"Copy the file again and drop the whole of it.")
	}
	return refuse("json", "The file begins like JSON but"+where+" is not.", exportAsText)
}

// CheckJSON refuses text that is not one JSON document, or one a line, whose
// keys can be read in one way only.
func CheckJSON(data []byte) *wear.Refusal {
	s := strictJSON{b: data, seen: make(map[string]bool)}
	for s.space(); s.i < len(data); s.space() {
		if err := s.value(0); err != nil {
			return refuseJSON(err, 0)
		}
	}
	return nil
}

// looksLikeJSON reports text that begins as JSON does. A table may begin with a
// bracket, but not one that JSON would continue.
func looksLikeJSON(text []byte) bool {
	s := strings.TrimLeft(string(text[:min(len(text), 4096)]), spaces+"\r\n")
	if s == "" {
		return false
	}
	after := strings.TrimLeft(s[1:], spaces+"\r\n")
	return s[0] == '{' && (after == "" || after[0] == '"' || after[0] == '}') ||
		s[0] == '[' && after != "" && strings.IndexByte("{[]\"-0123456789", after[0]) >= 0
}

// readPlainJSON reads lists of objects, or of lists, that hold times and values.
func (l *ledger) readPlainJSON(data []byte, o Options, now int64, res *Result) *wear.Refusal {
	s := strictJSON{b: data, seen: make(map[string]bool), plain: true}
	for s.i < len(data) {
		if err := s.value(0); err != nil {
			return refuseJSON(err, 0)
		}
		s.space()
	}
	nodes, err := jsonNode(data)
	if err != nil {
		return refuseJSON(errJSONForm, 0)
	}
	sheets := tablesOf(nodes)
	if !l.anyTimes(sheets) {
		return refuseLists("json", "JSON, but no health record of a kind that is read here", sheets)
	}
	l.note("container", "JSON", "a list of times and values", "values")
	return l.readMany(sheets, o, now, res)
}

// readJSON reads health records: one document, a list of documents, or one
// document a line.
func (l *ledger) readJSON(data []byte, o Options, now int64, res *Result) *wear.Refusal {
	if !bytes.Contains(data, []byte(`"resourceType"`)) && !bytes.Contains(data, []byte(`"header"`)) {
		return l.readPlainJSON(data, o, now, res)
	}
	d := documents{tally: newTally(l, o, res), zone: o.Zone,
		standards: make(map[string]bool), codes: make(map[string]string), addresses: make(map[string]bool)}
	d.strict = true
	s := strictJSON{b: data, seen: make(map[string]bool)}
	if err := s.value(0); err != nil {
		return refuseJSON(err, 0)
	}
	s.space()
	lines := s.i < len(data)
	if lines && data[s.i] != '{' {
		return refuseJSON(errJSONForm, 0)
	}
	for range headLines { // what is wrong further down is told with its line below
		if s.i == len(data) || s.value(0) != nil {
			break
		}
		s.space()
	}
	known := l.recall(&sketch{layout: s.layout()}, o, res)
	var ref *wear.Refusal
	if lines {
		ref = d.lines(data)
	} else {
		ref = d.document(data)
	}
	if ref == nil {
		ref = d.finish()
	}
	if ref == nil && len(l.questions) == 0 {
		l.remember(known.Answers, nil, res)
	}
	return ref
}

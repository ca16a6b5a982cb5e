package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"wearround/store"
)

// ReadPatient reads what the API answered about one patient, and gives the
// person and the laboratory results that count. It refuses members that the
// API does not send, and an answer without code, birth_date, context or
// results: where nothing is known an answer says so. The values are not
// checked.
func ReadPatient(answer []byte) (store.Patient, []store.Result, error) {
	var in apiPatientFile
	d := json.NewDecoder(bytes.NewReader(answer))
	d.DisallowUnknownFields()
	if err := d.Decode(&in); err != nil {
		return store.Patient{}, nil, memberError(err)
	}
	var given map[string]any
	if err := json.Unmarshal(answer, &given); err != nil {
		return store.Patient{}, nil, err
	}
	if name, found := otherCase(given); found {
		return store.Patient{}, nil, fmt.Errorf("%q is not known", name)
	}
	for _, name := range []string{"code", "birth_date", "context", "results"} {
		if given[name] == nil {
			return store.Patient{}, nil, fmt.Errorf("%s is missing", name)
		}
	}
	var results []store.Result
	for _, r := range in.Results {
		if r.Withdrawn.IsZero() {
			results = append(results, r.stored())
		}
	}
	return store.Patient{ID: in.ID, Code: in.Code, Name: in.Name, BirthDate: in.BirthDate, Context: in.Context}, results, nil
}

// memberError says which member of an answer is wrong.
func memberError(err error) error {
	if name, unknown := strings.CutPrefix(err.Error(), "json: unknown field "); unknown {
		return fmt.Errorf("%s is not known", name)
	}
	kind, ok := errors.AsType[*json.UnmarshalTypeError](err)
	switch {
	case !ok:
		return err
	case kind.Field == "":
		return errors.New("this is not an object")
	}
	// The names of embedded types are no members.
	path := slices.DeleteFunc(strings.Split(kind.Field, "."), func(part string) bool { return strings.HasPrefix(part, "api") })
	return fmt.Errorf("%s cannot be a %s", strings.Join(path, "."), kind.Value)
}

// otherCase finds a member whose name is none of the API's for its letters
// alone, which are a to z: the decoder would take Code for code.
func otherCase(v any) (name string, found bool) {
	switch v := v.(type) {
	case map[string]any:
		for name, inner := range v {
			if strings.ContainsFunc(name, func(r rune) bool { return r != '_' && (r < 'a' || r > 'z') && (r < '0' || r > '9') }) {
				return name, true
			}
			if name, found := otherCase(inner); found {
				return name, true
			}
		}
	case []any:
		for _, inner := range v {
			if name, found := otherCase(inner); found {
				return name, true
			}
		}
	}
	return "", false
}

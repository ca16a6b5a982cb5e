package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"wearround/server/api"
	"wearround/store"
	"wearround/worker/wear/protocolfile"
)

// people are what a file says is known of patients, for analyse --register.
type people struct {
	byCode map[string]*store.WearInputs // patient and results; no wear
	folded map[string][]string          // codes that differ in case only
}

// loadPeople reads JSON lines, each as /api/v1 answers for one patient. One
// line that cannot be taken has the whole file refused: a person left out would
// be judged with nothing known.
func loadPeople(name string, now time.Time) (*people, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("register: %w", err)
	}
	known := &people{byCode: map[string]*store.WearInputs{}, folded: map[string][]string{}}
	at, n := map[string]int{}, 0
	for text := range bytes.Lines(bytes.TrimPrefix(data, []byte("\uFEFF"))) {
		n++
		if text = bytes.TrimSpace(text); len(text) == 0 {
			continue
		}
		wrong := func(err error) error { return fmt.Errorf("register %s, line %d: %w", name, n, err) }
		p, err := readPerson(text, now)
		if err != nil {
			return nil, wrong(err)
		}
		code := p.Patient.Code
		if at[code] > 0 {
			return nil, wrong(fmt.Errorf("code %q stands in line %d already: take one of the two out", code, at[code]))
		}
		p.Patient.ID = int64(n) // tells one person from another; those of the API may be left out
		at[code], known.byCode[code] = n, p
		known.folded[store.FoldCode(code)] = append(known.folded[store.FoldCode(code)], code)
	}
	if len(at) == 0 {
		return nil, fmt.Errorf("register %s holds nobody: write one JSON object a line, as GET /api/v1/patients/{id} answers", name)
	}
	return known, nil
}

// readPerson reads and checks one line.
func readPerson(text []byte, now time.Time) (*store.WearInputs, error) {
	const todo = "write one JSON object a line, as GET /api/v1/patients/{id} answers"
	d := json.NewDecoder(bytes.NewReader(text))
	switch err := protocolfile.NamedOnce(d); {
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		return nil, errors.New("the line ends too soon; " + todo)
	case err != nil:
		return nil, fmt.Errorf("%w; %s", err, todo)
	case d.InputOffset() != int64(len(text)):
		return nil, errors.New("something follows the object; " + todo)
	}
	p, results, err := api.ReadPatient(text)
	if err != nil {
		return nil, fmt.Errorf("%w; %s", err, todo)
	}
	if err := store.CheckKnown(&p, results, now); err != nil {
		return nil, errors.New(wordsOf(err))
	}
	return &store.WearInputs{Patient: p, Results: results}, nil
}

// find gives the patient with a code, by the rule of the register: whatever
// its case, unless the exact code is there or two differ in case only.
func (k *people) find(code string) (store.Patient, error) {
	if p, ok := k.byCode[code]; ok {
		return p.Patient, nil
	}
	if same := k.folded[store.FoldCode(code)]; len(same) == 1 {
		return k.byCode[same[0]].Patient, nil
	}
	return store.Patient{}, &store.Error{Code: store.NotFound}
}

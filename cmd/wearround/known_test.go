package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"wearround/store"
)

// calmCommand writes, for a script, an export of a fortnight at 15 minutes
// without a finding: three small meals a day, one of them larger.
func calmCommand(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: calm file")
	}
	b := &strings.Builder{}
	b.WriteString("time,glucose mmol/L\n")
	start := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	for i := range 14 * 96 {
		at := start.Add(time.Duration(i) * 15 * time.Minute)
		g := 4.9 + 0.25*math.Sin(float64(i)/7) + 0.2*math.Sin(float64(i*i)/11)
		for _, meal := range []float64{7, 13, 19} {
			if since := float64(at.Hour()) + float64(at.Minute())/60 - meal; since > 0 && since < 3 {
				height := 1.5
				if at.Day() == 8 && meal == 13 {
					height = 3.5 // one rise past 7.8
				}
				g += height * since * math.Exp(1-since)
			}
		}
		fmt.Fprintf(b, "%s,%.1f\n", at.Format("2006-01-02 15:04"), g)
	}
	name := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(filepath.Dir(name), 0o700))
	ts.Check(os.WriteFile(name, []byte(b.String()), 0o600))
}

// A file of people finds a code just as the register does.
func TestPeopleFindAsTheRegister(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s, err := store.Open(ctx, filepath.Join(dir, "wearround.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := useLogKey(ctx, s, filepath.Join(dir, "audit.key")); err != nil {
		t.Fatal(err)
	}
	codes := []string{"P-1", "P-2", "p-2", "Ö-3", "straße"}
	var patients []store.Patient
	var lines strings.Builder
	for _, code := range codes {
		patients = append(patients, store.Patient{Code: code})
		fmt.Fprintf(&lines, `{"code":%q,"birth_date":"","context":{},"results":[]}`+"\n", code)
	}
	if err := s.AddPatients(ctx, patients); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "people.jsonl")
	if err := os.WriteFile(file, []byte(lines.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	known, err := loadPeople(file, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	for _, code := range append(codes, "p-1", "P-9", "ö-3", "STRASSE", "STRAßE", "") {
		want, err1 := s.PatientByCode(ctx, code)
		got, err2 := known.find(code)
		if got.Code != want.Code || store.CodeOf(err1) != store.CodeOf(err2) {
			t.Errorf("%q: found %q (%v), the register finds %q (%v)", code, got.Code, err2, want.Code, err1)
		}
	}
}

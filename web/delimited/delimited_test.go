package delimited

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// TestEveryTable holds, over any cells, that the table is by RFC 4180, that every
// cell comes back as it was but for its apostrophe, and that none begins a formula.
func TestEveryTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.OneOf(rapid.StringMatching(`[=+\-@＝\t"',; a0-9.]{0,6}`), rapid.StringN(0, 8, -1))
		cells := rapid.SliceOfN(cell, 2, 5).Draw(t, "cells")
		for i := range cells {
			cells[i] = strings.ReplaceAll(cells[i], "\r", "") // a reader takes each line end for one of its own
		}
		table := New(make([]string, len(cells))...)
		table.Row(cells...)
		data := table.Bytes()
		if bytes.Count(data, []byte("\n")) != bytes.Count(data, []byte("\r\n")) {
			t.Fatalf("line ends: %q", data)
		}
		rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
		if err != nil || len(rows) != 2 {
			t.Fatalf("%d rows of %q: %v", len(rows), data, err)
		}
		for i, got := range rows[1] {
			if got != cells[i] && got != "'"+cells[i] {
				t.Errorf("%q came back as %q", cells[i], got)
			}
			if begins := strings.IndexAny(got, "=+-@\t\n＝＋－＠") == 0; begins && (got[0] != '-' || strings.Trim(got[1:], "0123456789.") != "") {
				t.Errorf("%q begins a formula", got)
			}
		}
	})
}

func TestPlain(t *testing.T) {
	got := map[string]string{}
	for _, cell := range []string{"", "6.7", "-3.5", "-3", "Ana", "+61 8 5550 1234", "=1+1", "-A1", "-3+4", "-Inf", "-", "@x", "\t=1", "\r=1", "＝1"} {
		if p := Plain(cell); p != cell {
			got[cell] = p
		}
	}
	want := map[string]string{}
	for _, guarded := range []string{"+61 8 5550 1234", "=1+1", "-A1", "-3+4", "-Inf", "-", "@x", "\t=1", "\r=1", "＝1"} {
		want[guarded] = "'" + guarded
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

package worker

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
)

func TestAnchors(t *testing.T) {
	path := filepath.Join(t.TempDir(), "anchors")
	a := NewAnchors(path)
	if all, err := a.All(); err != nil || all != nil {
		t.Fatalf("before the first note: %v, %v", all, err)
	}
	noted := time.Unix(1_800_000_000, 0).UTC()
	want := []store.Anchor{{Seq: 1, MAC: store.Digest{1, 2}, At: noted}, {Seq: 900, MAC: store.Digest{255}, At: noted}}
	for _, x := range want {
		if err := a.Add(x, noted); err != nil {
			t.Fatal(err)
		}
	}
	got, err := a.All()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for _, bad := range []string{"1 2", "x y z", "0 " + string(make([]byte, 64)) + " t", "3 zz 2026", "-1 0000 t"} {
		if err := os.WriteFile(path, []byte(bad+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if all, err := a.All(); err == nil {
			t.Errorf("%q was read as %v", bad, all)
		}
	}
}

// TestEveryBitOfANoteCounts turns bits all over a file of notes, one at a time: the
// line is refused, and no note is read that was not written.
func TestEveryBitOfANoteCounts(t *testing.T) {
	path := filepath.Join(t.TempDir(), "anchors")
	a := NewAnchors(path)
	for seq := range int64(2) {
		if err := a.Add(store.Anchor{Seq: 41 + seq, MAC: store.Digest{0x1A, 0xB2}}, time.Unix(1_800_000_000, 0)); err != nil {
			t.Fatal(err)
		}
	}
	want, err := a.All()
	if err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(good)*8; i += 3 {
		bad := bytes.Clone(good)
		bad[i/8] ^= 1 << (i % 8)
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		got, err := a.All()
		if err == nil && !cmp.Equal(got, want) {
			t.Errorf("bit %d turned (%q): read as %v", i, bad, got)
		}
		for _, x := range got {
			if !slices.Contains(want, x) {
				t.Errorf("bit %d turned (%q): a note was read that nobody wrote: %v", i, bad, x)
			}
		}
	}
}

// A note of an earlier release, which has no sum, is read as it stands.
func TestNoteWithoutSum(t *testing.T) {
	const line = "12 00000000000000000000000000000000000000000000000000000000000000ff 2026-01-02T03:04:05Z"
	if a, err := parseAnchor(line); err != nil || a.Seq != 12 || a.MAC[31] != 0xFF || a.At.Year() != 2026 {
		t.Errorf("%+v, %v", a, err)
	}
}

func FuzzParseAnchor(f *testing.F) {
	f.Add("12 00000000000000000000000000000000000000000000000000000000000000ff 2026-01-02T03:04:05Z")
	f.Fuzz(func(t *testing.T, line string) {
		if a, err := parseAnchor(line); err == nil && a.Seq < 1 {
			t.Errorf("%q gives %v", line, a)
		}
	})
}

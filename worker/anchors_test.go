package worker

import (
	"os"
	"path/filepath"
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

func FuzzParseAnchor(f *testing.F) {
	f.Add("12 00000000000000000000000000000000000000000000000000000000000000ff 2026-01-02T03:04:05Z")
	f.Fuzz(func(t *testing.T, line string) {
		if a, err := parseAnchor(line); err == nil && a.Seq < 1 {
			t.Errorf("%q gives %v", line, a)
		}
	})
}

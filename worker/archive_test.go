package worker

import (
	"os"
	"testing"
)

func TestArchive(t *testing.T) {
	a, err := OpenArchive(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	data := []byte("time,glucose\n")
	h := Hash(data)
	if ok, err := a.Has(h, int64(len(data))); ok || err != nil {
		t.Fatalf("an empty archive has it: %v, %v", ok, err)
	}
	for range 2 { // the second time changes nothing
		if err := a.Put(h, data); err != nil {
			t.Fatal(err)
		}
	}
	got, err := a.Get(h)
	if err != nil || string(got) != string(data) {
		t.Fatalf("Get = %q, %v", got, err)
	}
	// Damage is noticed.
	if err := os.Chmod(a.path(h), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(a.path(h), []byte("time,glucosf\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Get(h); err == nil {
		t.Fatal("a damaged original was given out")
	}
	// A copy cut short by a crash is written again.
	if err := os.WriteFile(a.path(h), data[:4], 0o600); err != nil {
		t.Fatal(err)
	}
	if ok, err := a.Has(h, int64(len(data))); ok || err != nil {
		t.Fatalf("a short original counts as kept: %v, %v", ok, err)
	}
	if err := a.Put(h, data); err != nil {
		t.Fatal(err)
	}
	if _, err := a.Get(h); err != nil {
		t.Fatal(err)
	}
}

package web

import "testing"

// Every table of the evidence has its words, and a cell for every heading.
func TestEvidence(t *testing.T) {
	tables, err := evidence()
	if err != nil || len(tables) < 4 {
		t.Fatal(len(tables), err)
	}
	for _, e := range tables {
		if e.Title == "" || e.Says == "" || len(e.Rows) == 0 {
			t.Errorf("%q is not whole", e.Title)
		}
		for _, r := range e.Rows {
			if len(r) != len(e.Head) {
				t.Errorf("%q: %v under %v", e.Title, r, e.Head)
			}
		}
	}
}

package wear

import "testing"

func TestHasWords(t *testing.T) {
	for s, want := range map[string]bool{
		"": false, " ": false, ".": false, "x": false, "?!": false, "- x -": false, "1.": false, "2026": false, "…": false, "a b": false, "\U0001f642": false,
		"ok": true, "B12": true, "ja": true, "при ознобе": true, "误": true, "오": true, "का": true, "לא": true, "é́t": true, "1. wrong arm": true,
	} {
		if got := HasWords(s); got != want {
			t.Errorf("%q: %v", s, got)
		}
	}
}

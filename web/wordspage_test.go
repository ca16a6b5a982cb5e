package web

import (
	"slices"
	"testing"

	"wearround/worker/wear"
)

// TestPressingWordsStandOnTop: what may be severe is seen without opening
// anything, however late in the wear it was written.
func TestPressingWordsStandOnTop(t *testing.T) {
	word := func(text string, suggestion, read wear.ReadAs) wear.Words {
		return wear.Words{Key: text, Kind: "note", Text: text, Suggestion: suggestion, ReadAs: read}
	}
	p := WearPage{Report: &wear.Report{Words: []wear.Words{
		word("tablet", wear.ReadMedicine, wear.Unread), word("walked home", wear.Unread, wear.Unread),
		word("a glass of wine", wear.ReadAlcohol, wear.Unread), word("read as nothing", wear.ReadSevere, wear.ReadNothing),
		word("shaky", wear.ReadSymptom, wear.ReadSymptom), word("foggy", wear.ReadSymptom, wear.Unread),
		word("she collapsed", wear.ReadSevere, wear.Unread),
	}}}
	var got []string
	for _, w := range p.Told() {
		got = append(got, w.Text)
	}
	if want := []string{"she collapsed", "foggy", "shaky", "walked home"}; !slices.Equal(got, want) {
		t.Errorf("on top stand %q, want %q", got, want)
	}
}

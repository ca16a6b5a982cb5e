package wear_test

import (
	"testing"

	"pgregory.net/rapid"

	"wearround/worker/wear"
)

// No word of a list is passed over that stands in a text: whatever part of a
// text is on the list is suggested, and nothing that is not in it.
func TestSuggestionFindsEveryPart(t *testing.T) {
	readings, _ := twoWeeks(wear.MgdL)
	p := *wear.DefaultProtocol()
	s := &p.Symptom
	s.MedicineWords, s.HighWords, s.BrainWords, s.LowWords, s.ReliefWords = nil, nil, nil, nil, nil
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[abcé' я]{1,24}`).Draw(t, "text")
		within := []rune("," + text + "x") // never all spaces, and none at the ends
		from := rapid.IntRange(0, len(within)-1).Draw(t, "from")
		to := rapid.IntRange(from+1, len(within)).Draw(t, "to")
		for word, want := range map[string]bool{string(within[from:to]): true, string(within[from:to]) + "q": false} {
			s.SevereWords = []string{word}
			r := wear.Analyse(wear.Input{
				Readings: readings[:3], Protocol: &p, Events: []wear.Event{{At: readings[0].At, Kind: wear.Note, Label: string(within)}},
			})
			if len(r.Words) != 1 || (r.Words[0].Why == word) != want {
				t.Fatalf("%q in %q: %+v", word, text, r.Words)
			}
		}
	})
}

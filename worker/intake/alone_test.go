package intake

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wearround/worker/wear"
)

// TestWhatIsSaidOfBloodOrWearerIsKept: a fingerstick that is no number, and a
// row that has nothing but its kind, stay as words that a person reads; or the
// file is held. Neither is left out.
func TestWhatIsSaidOfBloodOrWearerIsKept(t *testing.T) {
	for _, c := range []struct{ row, words string }{
		{"fingerstick,LO,", "fingerstick: LO"}, {"fingerstick,too low to read,", "fingerstick: too low to read"},
		{"fingerstick,14.2 mmol/L,", "fingerstick: 14.2 mmol/L"}, {"fingerstick,?,", "fingerstick: ?"},
		{"seizure,,", "seizure"}, {"ambulance,,", "ambulance"}, {"Hypoglykämie,,", "Hypoglykämie"},
	} {
		var b strings.Builder
		b.WriteString("Time,Type,Value,Comment\n")
		start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
		for i := range 3 * 288 {
			fmt.Fprintf(&b, "%s,glucose,%.1f,\n", start.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02 15:04"), 5.3+float64(i%7)/10)
			if i == 400 {
				fmt.Fprintf(&b, "%s,%s\n", start.Add(2001*time.Minute).Format("2006-01-02 15:04"), c.row)
			}
		}
		res := Read([]byte(b.String()), Options{Zone: time.UTC, Now: start.AddDate(0, 1, 0)})
		kept := len(res.Questions) > 0
		for _, e := range res.Events {
			kept = kept || e.Kind != wear.Fingerstick && e.Label == c.words
		}
		if !kept || res.Refusal != nil {
			t.Errorf("%q: neither asked nor kept as words: %v, refused %v", c.row, res.Events, res.Refusal)
		}
	}
}

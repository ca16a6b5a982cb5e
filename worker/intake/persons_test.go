package intake_test

import (
	"testing"
	"time"
)

// TestAPersonOnSomeRows: a column for the person that is blank on some rows, or
// says another thing on others, is of several people until somebody says otherwise.
func TestAPersonOnSomeRows(t *testing.T) {
	for name, c := range map[string]struct {
		heading string
		who     func(i int) string
		asked   bool
	}{
		"blank, then a name":      {"Wearer", func(i int) string { return ifThen(i < 1000, "", "Ben") }, true},
		"a name, then blank":      {"Wearer", func(i int) string { return ifThen(i < 300, "Ann", "") }, true},
		"a name here and there":   {"Patient", func(i int) string { return ifThen(i%50 == 3, "Ann", "") }, true},
		"a number that changes":   {"Person id", func(i int) string { return ifThen(i < 700, "1", "2") }, true},
		"an id that changes":      {"id", func(i int) string { return ifThen(i < 700, "1", "2") }, true},
		"a name late":             {"Subject", func(i int) string { return ifThen(i < 1900, "", "Ben") }, true},
		"blank from late on":      {"Wearer", func(i int) string { return ifThen(i < 1800, "Ann", "") }, true},
		"a number late":           {"Person id", func(i int) string { return ifThen(i < 1900, "1", "2") }, true},
		"numbers of three people": {"Person nr", func(i int) string { return []string{"1", "2", "3"}[i/700] }, true},
		"decimals":                {"Person id", func(i int) string { return ifThen(i < 700, "1.0", "2.0") }, true},
		"always the same":         {"Wearer", func(int) string { return "Ann" }, false},
		"on the first row":        {"Wearer", func(i int) string { return ifThen(i == 0, "Ann", "") }, false},
		"nobody":                  {"Wearer", func(int) string { return "" }, false},
	} {
		_, asked, res := toldOf(wearFileOf("time,glucose mmol/L,"+c.heading, 20*96, func(at time.Time, i int, v string) string {
			return at.Format(minutes) + "," + v + "," + c.who(i)
		}))
		if asked != c.asked {
			t.Errorf("%s: %d readings of %q, %+v %+v", name, len(res.Readings), res.PatientHint, res.Questions, res.Refusal)
		}
	}
	data := wearFileOf("time,glucose mmol/L,Wearer", 3*96, func(at time.Time, i int, v string) string {
		return at.Format(minutes) + "," + v + "," + ifThen(i < 100, "", "Ben")
	})
	if asked, res := answeredWith(data, map[string]string{"people": "split"}); len(asked) > 0 || len(res.People) != 2 || len(res.People[0].Readings)+len(res.People[1].Readings) != 288 {
		t.Errorf("split: asked %v, %d people, %+v", asked, len(res.People), res.Refusal)
	}
	if asked, res := answeredWith(data, map[string]string{"people": "one"}); len(asked) > 0 || len(res.Readings) != 288 || !res.Account.Balanced() {
		t.Errorf("one: asked %v, %d readings, %+v", asked, len(res.Readings), res.Refusal)
	}
}

package intake_test

import (
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// TestWhatAColumnHoldsIsAskedOnce: what somebody answered of a column, a heading
// or a remark is not asked again of the next file of the layout; who is in it is.
func TestWhatAColumnHoldsIsAskedOnce(t *testing.T) {
	sparse := func(at time.Time, i int, v string) string {
		return at.Format(minutes) + "," + v + "," + ifThen(i%60 == 7, "puuro", "")
	}
	for _, c := range []struct {
		name, data, answer string
		again              bool
	}{
		{"a column", wearFileOf("time,glucose mmol/L,Xqorva", 3*96, sparse), "meal", false},
		{"a heading", wearFileOf("time,qorvix glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }), "2", false},
		{"a remark", "all values are by this sensor\n" + wearFileOf("time,glucose mmol/L", 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v }), "remark", false},
		{"people", wearFileOf("time,glucose mmol/L,Xqorva", 3*96, func(at time.Time, i int, v string) string {
			return at.Format(minutes) + "," + v + "," + ifThen(i < 100, "k1", "k2")
		}), "people", true},
	} {
		o := intake.Options{Zone: time.UTC, Now: now}
		first := intake.Read([]byte(c.data), o)
		if len(first.Questions) != 1 {
			t.Fatalf("%s: questions %+v, refusal %+v", c.name, first.Questions, first.Refusal)
		}
		o.Answers = map[string]string{first.Questions[0].Code: c.answer}
		answered := intake.Read([]byte(c.data), o)
		if len(answered.Questions) > 0 || answered.Refusal != nil {
			t.Fatalf("%s: after the answer %+v, %+v", c.name, answered.Questions, answered.Refusal)
		}
		o.Answers, o.Recipe = nil, func(string) (intake.Recipe, bool) { return answered.Recipe, true }
		next := intake.Read([]byte(c.data), o)
		if asked := len(next.Questions) > 0; asked != c.again {
			t.Errorf("%s: asked again %v: %+v", c.name, asked, next.Questions)
		}
		if c.name == "a column" {
			meals := 0
			for _, e := range next.Events {
				if e.Kind == wear.Meal {
					meals++
				}
			}
			if meals != 5 {
				t.Errorf("%d meals by the recipe, want 5", meals)
			}
		}
	}
}

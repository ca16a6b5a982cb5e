package store_test

import (
	"testing"

	"wearround/store"
	"wearround/worker/wear"
)

// How soon somebody must decide on a result, just inside and just outside of
// each value, in both units. The limits stand with their sources at severeFrom;
// the bands are those of the American Diabetes Association's Standards of Care.
func TestHowSoonAResultIsDecided(t *testing.T) {
	const nobody = wear.Tier("")
	adults := wear.LabRules{Criteria: "ada"}
	for _, c := range []struct {
		kind        store.ResultKind
		value, unit string
		want        wear.Tier
	}{
		{store.HbA1c, "38", "mmol/mol", nobody},
		{store.HbA1c, "39", "mmol/mol", wear.ThisMonth},
		{store.HbA1c, "48", "mmol/mol", wear.ThisWeek},
		{store.HbA1c, "85", "mmol/mol", wear.ThisWeek},
		{store.HbA1c, "86", "mmol/mol", wear.Today},
		{store.HbA1c, "9.9", "%", wear.ThisWeek},
		{store.HbA1c, "10.0", "%", wear.Today},
		{store.HbA1c, ">130", "mmol/mol", wear.Today},
		{store.HbA1c, "<20", "mmol/mol", wear.ThisWeek},
		{store.Fasting, "2.9", "mmol/L", wear.Today},
		{store.Fasting, "3.0", "mmol/L", wear.ThisWeek},
		{store.Fasting, "3.8", "mmol/L", wear.ThisWeek},
		{store.Fasting, "3.9", "mmol/L", nobody},
		{store.Fasting, "16.6", "mmol/L", wear.ThisWeek},
		{store.Fasting, "16.7", "mmol/L", wear.Today},
		{store.Fasting, "53", "mg/dL", wear.Today},
		{store.Fasting, "54", "mg/dL", wear.ThisWeek},
		{store.Fasting, "300", "mg/dL", wear.Today},
		{store.RandomGl, "11.0", "mmol/L", nobody},
		{store.RandomGl, "11.1", "mmol/L", wear.ThisWeek},
		{store.RandomGl, ">33.3", "mmol/L", wear.Today},
		{store.RandomGl, ">11.1", "mmol/L", wear.ThisWeek},
		{store.RandomGl, ">=16.7", "mmol/L", wear.Today},
		{store.Fasting, "<=3.0", "mmol/L", wear.Today},
		{store.RandomGl, "<2.2", "mmol/L", wear.Today},
		{store.RandomGl, "<5.0", "mmol/L", wear.ThisWeek},
		{store.RandomGl, ">600", "mg/dL", wear.Today},
		{store.Insulin, "90", "mU/L", wear.ThisWeek},
		{store.Insulin, "150", "pmol/L", wear.ThisWeek},
		{store.Insulin, "149", "pmol/L", nobody},
		{store.Insulin, "<1", "mU/L", nobody},
		{store.InsulinUntimed, "90", "mU/L", wear.Routine},
		{store.Triglycerides, "25", "mmol/L", wear.ThisWeek},
		{store.Triglycerides, "885", "mg/dL", wear.ThisWeek},
		{store.Triglycerides, "9.9", "mmol/L", nobody},
		{store.LDL, "9.0", "mmol/L", wear.ThisMonth},
		{store.LDL, "4.8", "mmol/L", nobody},
		{store.Cholesterol, "290", "mg/dL", wear.ThisMonth},
		{store.HDL, "0.4", "mmol/L", nobody},
		{store.CPeptide, "0.1", "nmol/L", wear.Routine},
	} {
		n := store.NewResult{Kind: c.kind, Value: c.value, Unit: c.unit}
		n.Classify(adults)
		if got, must := n.Pressing(); got != c.want || must != (c.want != nobody) {
			t.Errorf("%s %s %s is decided %q (%v), want %q", c.kind, c.value, c.unit, got, must, c.want)
		}
	}
	for _, kind := range store.ResultKinds() { // whatever a result is called, one that is far out asks somebody
		for _, unit := range store.ResultUnits(kind) {
			n := store.NewResult{Kind: kind, Value: "5000", Unit: unit}
			if _, must := n.Pressing(); !must && kind != store.HDL {
				t.Errorf("%s in %s, without a class, asks nobody", kind, unit)
			}
		}
	}
}

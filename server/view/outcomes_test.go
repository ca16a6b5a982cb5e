package view_test

import (
	"testing"

	"wearround/store"
	"wearround/web/form"
)

// Every outcome that can be recorded has a name in lists, and every name is one
// of an outcome.
func TestEveryOutcomeHasItsName(t *testing.T) {
	rules := store.Rules()
	for _, r := range rules {
		if form.OutcomeWords[string(r.Kind)] == "" {
			t.Errorf("%s has no name in form.OutcomeWords", r.Kind)
		}
	}
	if len(form.OutcomeWords) != len(rules) {
		t.Errorf("%d names for %d outcomes", len(form.OutcomeWords), len(rules))
	}
}

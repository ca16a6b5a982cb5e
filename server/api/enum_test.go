package api

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"wearround/store"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// TestEnumsAreTheStores: what the document says a field can be is what the
// program has, no less and no more.
func TestEnumsAreTheStores(t *testing.T) {
	var outcomes []store.OutcomeKind
	for _, r := range store.Rules() {
		outcomes = append(outcomes, r.Kind)
	}
	var letters []letter.Kind
	for _, k := range letter.Kinds() {
		if !k.Sheet() {
			letters = append(letters, k)
		}
	}
	states := []store.RecallState{store.RecallDue, store.RecallContacted, store.RecallDone, store.RecallCancelled}
	for _, x := range []struct {
		in    any
		field string
		want  any
	}{
		{apiRecall{}, "Kind", store.RecallKinds()}, {apiRecall{}, "State", states}, {recallIn{}, "Kind", store.HandRecallKinds()},
		{apiOutcome{}, "Kind", outcomes}, {outcomeIn{}, "Kind", outcomes},
		{apiRoundRow{}, "Tier", wear.Tiers()}, {apiPlace{}, "Tier", wear.Tiers()}, {roundIn{}, "Tier", wear.Tiers()}, {roundSearchIn{}, "Tier", wear.Tiers()},
		{contactIn{}, "Means", store.AllMeans()}, {sendIn{}, "How", store.AllMeans()}, {apiContactDetails{}, "Preferred", store.AllMeans()},
		{letterIn{}, "Kind", letters}, {resultIn{}, "Kind", store.ResultKinds()},
	} {
		f, ok := reflect.TypeOf(x.in).FieldByName(x.field)
		if !ok {
			t.Fatalf("%T has no %s", x.in, x.field)
		}
		var want []string
		for i := range reflect.ValueOf(x.want).Len() {
			want = append(want, fmt.Sprint(reflect.ValueOf(x.want).Index(i)))
		}
		got := enumOf(f)
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("%T.%s can be %v, the document says %v", x.in, x.field, want, got)
		}
	}
}

package web

import (
	"slices"
	"testing"

	"wearround/worker/wear"
)

// Every routine wear that is not on the sheet is counted under a reason.
func TestWhateverIsOffTheSheetIsSaid(t *testing.T) {
	against := map[string]int{"a reason of tomorrow": 1}
	for _, code := range []string{wear.ReasonDips, wear.ReasonSymptom, wear.ReasonShort, wear.ReasonNear} {
		against[code] = 1
	}
	off := SheetPage{Against: against, Taken: 1}.Off()
	if len(off) != 6 || !slices.Contains(off, "1 with dips below 3.9 that nobody has asked about") || !slices.Contains(off, "1 for a reason that the page of the wear says") {
		t.Errorf("the sheet says %q", off)
	}
}

package server

import (
	"net/http"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// A wear is set among its like once there are enough, and never among others.
func TestAmongItsKind(t *testing.T) {
	f := newFixture(t)
	file := func(n int, kind string, mean float64) int64 {
		filing := storetest.Filing(n, storetest.AddPatient(t, f.store, n).ID, f.clock.Now(), 1, wear.Routine, 0)
		filing.Wears[0].SensorKind = kind
		filing.Wears[0].Report.Metrics = wear.Metrics{MeanMmol: wear.Of(mean), Above7_8Pct: wear.Of(mean)}
		return storetest.File(t, f.store, filing)
	}
	enough := int(f.Protocol.Compare.KindWears)
	var last int64
	for n := range enough {
		last = file(n+1, "A", 5+float64(n)/100)
	}
	other := file(enough+1, "B", 9)
	f.has(store.RoleNurse, wearAddress(last), "wears of sensor kind A, the mean is higher than in 99 %")
	if w := f.askAs(store.RoleNurse, http.MethodGet, wearAddress(other), nil); w.Code != http.StatusOK || strings.Contains(w.Body.String(), "wears of sensor kind") {
		t.Errorf("the only wear of its kind: status %d, or it is set among others", w.Code)
	}
	file(enough+2, "A", 20)
	f.clock.Advance(normsKept)
	f.signIn(store.RoleNurse)
	f.has(store.RoleNurse, wearAddress(last), "wears of sensor kind A, the mean is higher than in 96 %")
}

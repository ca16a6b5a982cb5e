package review_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// A wear is set among its like once there are enough, and never among others.
func TestAmongItsKind(t *testing.T) {
	f := servertest.New(t)
	file := func(n int, kind string, mean float64) int64 {
		filing := storetest.Filing(n, storetest.AddPatient(t, f.Store, n).ID, f.Clock.Now(), 1, wear.Routine, 0)
		filing.Wears[0].SensorKind = kind
		storetest.Change(&filing.Wears[0], func(r *wear.Report) { r.Metrics = wear.Metrics{MeanMmol: wear.Of(mean), Above7_8Pct: wear.Of(mean)} })
		return storetest.File(t, f.Store, filing)
	}
	enough := int(f.Protocol().Compare.KindWears)
	var last int64
	for n := range enough {
		last = file(n+1, "A", 5+float64(n)/100)
	}
	other := file(enough+1, "B", 9)
	f.Has(store.RoleNurse, door.WearAddress(last), "wears of sensor kind A, the mean is higher than in 99 %")
	if w := f.AskAs(store.RoleNurse, http.MethodGet, door.WearAddress(other), nil); w.Code != http.StatusOK || strings.Contains(w.Body.String(), "wears of sensor kind") {
		t.Errorf("the only wear of its kind: status %d, or it is set among others", w.Code)
	}
	file(enough+2, "A", 20)
	f.Clock.Advance(10 * time.Minute) // the measures of a kind are read again
	f.SignIn(store.RoleNurse)
	f.Has(store.RoleNurse, door.WearAddress(last), "wears of sensor kind A, the mean is higher than in 96 %")
}

package store_test

import (
	"slices"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestRoundViews: each view holds its wears and no other, for whoever asks.
func TestRoundViews(t *testing.T) {
	w := newWard(t)
	var ids []int64
	for n := range 4 {
		p := storetest.AddPatient(t, w.Store, 50+n)
		ids = append(ids, storetest.File(t, w.Store, storetest.Filing(50+n, p.ID, w.clock.Now(), 14, wear.ThisWeek, float64(n))))
	}
	ctx := t.Context()
	claim := func(a store.Actor, id int64) {
		t.Helper()
		if _, err := w.Claim(ctx, a, id); err != nil {
			t.Fatal(err)
		}
	}
	view := func(v store.RoundView, who int64, role store.Role, sort store.RoundSort) []int64 {
		t.Helper()
		r, err := w.Round(ctx, store.RoundQuery{View: v, Sort: sort, For: who, Roles: []store.Role{role}, Limit: 50, Now: w.clock.Now()})
		if err != nil {
			t.Fatal(err)
		}
		var out []int64
		for _, row := range r.Rows {
			if slices.Contains(ids, row.WearID) {
				out = append(out, row.WearID)
			}
		}
		if r.PerView[v] != r.Matching && v != store.WholeRound {
			t.Errorf("%s: %d counted, %d found", v, r.PerView[v], r.Matching)
		}
		return out
	}
	is := func(what string, got []int64, want ...int64) {
		t.Helper()
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	claim(w.nurse, ids[0])
	claim(w.nurse, ids[1])
	if _, err := w.HandOver(ctx, w.nurse, ids[1], store.NewHandover{To: store.RoleClinician, Reason: "Two faints, please ring."}); err != nil {
		t.Fatal(err)
	}
	is("the nurse's", view(store.Mine, w.nurse.UserID, store.RoleNurse, ""), ids[0])
	is("handed to a nurse", view(store.Handed, w.nurse.UserID, store.RoleNurse, ""))
	is("handed to a clinician", view(store.Handed, w.clinician.UserID, store.RoleClinician, ""), ids[1])
	is("handed to a lead", view(store.Handed, w.lead.UserID, store.RoleLead, ""), ids[1])
	is("nothing overdue", view(store.Unclaimed, w.nurse.UserID, store.RoleNurse, ""))
	w.clock.Advance(9 * 24 * time.Hour)
	claim(w.nurse, ids[0])
	is("overdue, nobody on it", view(store.Unclaimed, w.nurse.UserID, store.RoleNurse, ""), ids[3], ids[2], ids[1])
	is("by name", view(store.Unclaimed, w.nurse.UserID, store.RoleNurse, store.ByName), byName(t, w, ids[1:])...)
	claim(w.clinician, ids[1])
	is("taken", view(store.Handed, w.clinician.UserID, store.RoleClinician, ""))
	is("the clinician's", view(store.Mine, w.clinician.UserID, store.RoleClinician, ""), ids[1])
}

func byName(t *testing.T, w *ward, ids []int64) []int64 {
	t.Helper()
	names := map[int64]string{}
	for _, id := range ids {
		x, err := w.Wear(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		names[id] = x.Patient.Name
	}
	out := slices.Clone(ids)
	slices.SortFunc(out, func(a, b int64) int {
		if names[a] < names[b] {
			return -1
		}
		return 1
	})
	return out
}

package store_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// A kept audit stays byte for byte; the same time counted anew gives the same;
// and what was put right later shows as a difference.
func TestKeptAudit(t *testing.T) {
	p := newPast(t)
	a := p.wear(2, 1, "A", wear.ThisWeek, wear.FlagAbove7_8)
	o := p.end(june(3), a, store.TestsOrdered, june(17))
	p.at(june(5))
	span := store.Span{From: time.Date(2026, time.June, 1, 0, 0, 0, 0, clinic), To: time.Date(2026, time.July, 1, 0, 0, 0, 0, clinic)}
	asOf := time.Date(2026, time.June, 4, 23, 59, 59, 0, clinic)
	if _, err := p.KeepAudit(ctx, p.clinician, span, june(5), clinic, ""); store.CodeOf(err) != store.Invalid {
		t.Errorf("kept as of this second: %v", err)
	}
	nurse := storetest.AddUser(t, p.Store, "Tavi", store.RoleNurse)
	if _, err := p.KeepAudit(ctx, nurse, span, asOf, clinic, ""); store.CodeOf(err) != store.Forbidden {
		t.Errorf("a nurse keeps an audit: %v", err)
	}
	id, err := p.KeepAudit(ctx, p.clinician, span, asOf, clinic, "Ring on the day")
	must(t, err)
	if _, err := p.KeepAudit(ctx, p.clinician, span, asOf, clinic, ""); store.CodeOf(err) != store.Conflict {
		t.Errorf("kept twice: %v", err)
	}
	kept, err := p.KeptAudit(ctx, id)
	must(t, err)
	if kept.Change != "Ring on the day" || kept.Engine != wear.EngineVersion || kept.By.Name != "Dosu" {
		t.Errorf("kept: %+v", kept)
	}

	// Later work and a correction.
	_, err = p.CorrectOutcome(ctx, p.clinician, o.ID, store.NewOutcome{Kind: store.Appointment, Reason: "the wrong button", Recall: june(18)})
	must(t, err)
	p.wear(10, 2, "B", wear.Today, wear.FlagVeryHigh)
	p.at(june(12))

	again, err := p.KeptAudit(ctx, id)
	must(t, err)
	anew, err := p.AuditAsOf(ctx, asOf, clinic, span)
	must(t, err)
	text, err := json.Marshal(anew[0])
	must(t, err)
	if !bytes.Equal(again.Body, kept.Body) || !bytes.Equal(text, kept.Body) {
		t.Errorf("kept\n%s\nread again\n%s\ncounted anew\n%s", kept.Body, again.Body, text)
	}
	now, err := p.YearAudit(ctx, june(12), clinic, span)
	must(t, err)
	diff, err := kept.Differences(now[0])
	must(t, err)
	var said []string
	for _, d := range diff {
		said = append(said, d.What+": "+d.Kept+" to "+d.Now)
	}
	list := strings.Join(said, "\n")
	for _, want := range []string{"tiers today, read: 0 to 1", "changes, corrected: 0 to 1", "outcomes appointment, n:  to 1", "tests, ordered: 1 to 0"} {
		if !strings.Contains(list, want) {
			t.Errorf("no difference %q in\n%s", want, list)
		}
	}
	same, err := kept.Differences(anew[0])
	must(t, err)
	if len(same) != 0 {
		t.Errorf("differs from itself: %v", same)
	}
	writer, _ := p.Pools()
	if _, err := writer.Exec("UPDATE kept_audits SET body = '{}'"); err == nil {
		t.Error("a kept audit was changed")
	}
}

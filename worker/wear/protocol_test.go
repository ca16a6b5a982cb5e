package wear_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/wear"
)

func TestDefaultProtocolIsValidAndRoundTrips(t *testing.T) {
	p := wear.DefaultProtocol()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	if p.Status != "unsigned proposal" {
		t.Errorf("status %q", p.Status)
	}
	b, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var back wear.Protocol
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(p, &back); d != "" {
		t.Error(d)
	}
}

// Every number, limit, tier and word list of the JSON is listed, once.
func TestSettingsAreComplete(t *testing.T) {
	p := wear.DefaultProtocol()
	b, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := json.Unmarshal(b, &tree); err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	for _, s := range p.Settings() {
		if listed[s.Name] {
			t.Errorf("%s is listed twice", s.Name)
		}
		listed[s.Name] = true
		if s.Value == "" || s.Source == "" {
			t.Errorf("%s: no value or no source", s.Name)
		}
		switch s.Status {
		case "published", "derived", "secondary", "from memory", "proposal":
		default:
			t.Errorf("%s: status %q", s.Name, s.Status)
		}
	}
	leaves := 0
	var walk func(path string, v any)
	walk = func(path string, v any) {
		if m, ok := v.(map[string]any); ok && m["mgdl"] == nil {
			for k, x := range m {
				walk(strings.TrimPrefix(path+"."+k, "."), x)
			}
			return
		}
		if path == "version" || path == "status" || path == "proposed_by" {
			return
		}
		leaves++
		if !listed[path] {
			t.Errorf("%s is not listed", path)
		}
	}
	walk("", tree)
	if extra := len(listed) - leaves; extra != 5 {
		t.Errorf("%d lines beyond the settings, want the 5 published limits", extra)
	}
}

func TestValidateSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		change func(*wear.Protocol)
		want   string
	}{
		{func(p *wear.Protocol) { p.Version = " " }, "version: give the protocol a version"},
		{func(p *wear.Protocol) { p.Status = "" }, "status: say who signed"},
		{func(p *wear.Protocol) { p.Flag.Above7_8Pct = 170 }, "flag.above_7_8_pct: must lie between 0 and 100 %, not 170"},
		{func(p *wear.Protocol) { p.Flag.Above10Pct = math.NaN() }, "flag.above_10_pct: must lie between"},
		{func(p *wear.Protocol) { p.Flag.VeryHighReading.Mgdl = 300 }, "20.0 mmol/L and 300 mg/dL are not the same glucose"},
		{func(p *wear.Protocol) { p.Tier.Above10 = "soon" }, "tier.above_10: must be one of"},
		{func(p *wear.Protocol) { p.Wear.MinUsableDays = 12 }, "wear.min_usable_days must not be more than"},
		{func(p *wear.Protocol) { p.ProposedBy = "" }, "proposed_by: say who put forward"},
		{func(p *wear.Protocol) { p.Proposers = map[string]string{"flag.nothing": "a nurse"} }, `proposers: there is no setting "flag.nothing"`},
		{func(p *wear.Protocol) { p.Risk.Criteria = "mars" }, `risk.criteria: must be "australia", "ada" or "uk", not "mars"`},
		{func(p *wear.Protocol) { p.Meal.LongMinutes = 90 }, "meal.window_minutes must not be more than meal.long_minutes"},
		{func(p *wear.Protocol) { p.Score.Mean.Usual = 6.6 }, "score.mean: the usual value must be less"},
	} {
		p := wear.DefaultProtocol()
		c.change(p)
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
}

// Who proposed a value is said, and a value that was changed is the practice's
// own: the shipped source does not speak for it.
func TestSettingsSayWhoProposedThem(t *testing.T) {
	p := wear.DefaultProtocol()
	p.Flag.Above7_8Pct = 15
	p.Proposers = map[string]string{"flag.above_7_8_pct": "the practice meeting of 3 March"}
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	got := map[string]wear.Setting{}
	for _, s := range p.Settings() {
		if s.ProposedBy == "" {
			t.Errorf("%s: nobody proposed it", s.Name)
		}
		got[s.Name] = s
	}
	if s := got["flag.above_7_8_pct"]; s.ProposedBy != "the practice meeting of 3 March" || s.Status != "own" || !strings.HasPrefix(s.Source, "set here in place of 17 (17.1 % is the 95th centile") {
		t.Errorf("%+v", s)
	}
	if s := got["flag.above_10_pct"]; s.Status != "proposal" || s.ProposedBy != p.ProposedBy {
		t.Errorf("%+v", s)
	}
	if s := got["limit.above_7_8"]; s.ProposedBy != "its source" {
		t.Errorf("%+v", s)
	}
}

// A protocol that was not validated may hold anything; the engine still ends.
func TestZeroProtocolDoesNotPanic(t *testing.T) {
	readings, events := twoWeeks(wear.MgdL)
	r := wear.Analyse(wear.Input{Readings: readings, Events: events, Protocol: &wear.Protocol{}})
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}

package protocolfile

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/wear"
)

// Every setting can be typed as the page shows it, and is then what it was.
func TestEverySettingCanBeTyped(t *testing.T) {
	base, n := wear.DefaultProtocol(), 0
	for _, x := range base.Settings() {
		if strings.HasPrefix(x.Name, "limit.") {
			continue // published, and no setting
		}
		n++
		typed := x.Value
		for _, tier := range wear.Tiers() {
			if x.Range == "a tier" && tier.Words() == x.Value {
				typed = string(tier)
			}
		}
		p, wrong, err := Change(base, map[string]string{x.Name: typed})
		if err != nil || len(wrong) > 0 {
			t.Errorf("%s as %q: %v, %v", x.Name, typed, wrong, err)
			continue
		}
		if d := cmp.Diff(base, p); d != "" {
			t.Errorf("%s as %q: %s", x.Name, typed, d)
		}
	}
	if n == 0 {
		t.Error("no setting was typed")
	}
}

func TestChange(t *testing.T) {
	base := wear.DefaultProtocol()
	p, wrong, err := Change(base, map[string]string{"flag.above_10_days": "5", "flag.very_high_reading": "18.0 (324)", "tier.swing": "this_week", "symptom.relief_words": "juice, sugar"})
	if err != nil || len(wrong) > 0 {
		t.Fatal(wrong, err)
	}
	if p.Flag.Above10Days != 5 || p.Flag.VeryHighReading != (wear.Limit{MmolTenths: 180, Mgdl: 324}) || p.Tier.Swing != wear.ThisWeek || len(p.Symptom.ReliefWords) != 2 {
		t.Errorf("%+v", p.Flag)
	}
	if base.Flag.Above10Days == 5 {
		t.Error("the protocol that was changed from changed")
	}
	for name, typed := range map[string]string{
		"flag.above_10_days": "five", "flag.swing_count": "NaN", "flag.very_high_reading": "18", "flag.high_episode": "11.15 (200)", "due.today": "1.5",
		"symptom.relief_words": " , ", "tier.swing": "", "flag.nothing": "1", "limit.above_7_8": "8",
	} {
		if _, wrong, err := Change(base, map[string]string{name: typed}); err != nil || wrong[name] == "" {
			t.Errorf("%s as %q: %v, %v", name, typed, wrong, err)
		}
	}
}

// What a protocol is written to as a file is read back as it was.
func TestRead(t *testing.T) {
	p := wear.DefaultProtocol()
	p.Version, p.Flag.Above10Days = "of a test", 6
	text, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	got, err := Read(text)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(p, got); d != "" {
		t.Error(d)
	}
	for text, want := range map[string]string{
		`{"version": "x", "flag": {"above_10_day": 3}}`: "there is no setting called", `{"version": "x"} {}`: "goes on after", `{"version": "x", "version": "y"}`: "set twice",
		`{"flag": {"above_10_days": 3}}`: "a version of its own", `{"version": "x", "flag": {"above_10_days": 300}}`: "must lie between", `{x`: "not valid JSON",
	} {
		if _, err := Read([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}

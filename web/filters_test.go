package web

import (
	"net/url"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"wearround/worker/wear"
)

func TestParseRoundFilter(t *testing.T) {
	for query, want := range map[string]RoundFilter{
		"":                                  {Page: 1},
		"tier=today&s=tar&page=3":           {Tier: wear.Today, Veiled: "tar", Page: 3},
		"tier=today&q=tar":                  {Tier: wear.Today, Page: 1}, // never a name in an address
		"tier=someday&flag=none&page=-2":    {Page: 1},
		"flag=above_10_frequent&page=9e9":   {Flag: wear.FlagAbove10, Page: 1},
		"page=99999999999999999999&tier=''": {Page: 1},
	} {
		q, err := url.ParseQuery(query)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, ParseRoundFilter(q)); diff != "" {
			t.Errorf("%s: %s", query, diff)
		}
	}
}

// A filter comes back from its own address, whatever was searched for.
func TestRoundFilterAddress(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := RoundFilter{
			Tier: rapid.SampledFrom(append(wear.Tiers(), "")).Draw(t, "tier"), Flag: rapid.SampledFrom(flagCodes()).Draw(t, "flag"),
			Veiled: limitRunes(rapid.String().Draw(t, "veiled"), 500), Page: rapid.IntRange(1, 900).Draw(t, "page"),
			View: rapid.SampledFrom([]string{"", "mine", "handed", "unclaimed"}).Draw(t, "view"), Sort: rapid.SampledFrom([]string{"", "due", "age", "names"}).Draw(t, "sort"),
		}
		u, err := url.Parse(f.Address())
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(f, ParseRoundFilter(u.Query())); diff != "" {
			t.Fatal(diff)
		}
		kept := RoundFilter{Tier: f.Tier, Flag: f.Flag, View: f.View, Sort: f.Sort, Text: ParseSearch(url.Values{"q": {rapid.String().Draw(t, "text")}}), Page: 1}
		if got, err := SavedRoundFilter(kept.Saved()); err != nil || got != kept {
			t.Fatalf("kept %+v, came back %+v, %v", kept, got, err)
		}
	})
}

func TestWindow(t *testing.T) {
	for query, want := range map[string]Window{
		"":                       {},
		"from=2026-03-05&days=3": {From: "2026-03-05", Days: 3},
		"from=2026-03-05&days=0": {},
		"from=2026-13-05&days=3": {},
		"days=99&from=soon":      {},
	} {
		q, _ := url.ParseQuery(query)
		if got := ParseWindow(q); got != want {
			t.Errorf("%s: %+v", query, got)
		}
	}
}

// Whatever window is asked for, what is drawn lies within the wear, and
// earlier and later lead through all of it and back.
func TestWindowStaysWithinTheWear(t *testing.T) {
	page := fullPages("")["wear"].(WearPage)
	first, all := page.days()
	rapid.Check(t, func(t *rapid.T) {
		p := page
		from := first.AddDate(0, 0, rapid.IntRange(-40, 60).Draw(t, "from"))
		p.Window = Window{From: from.Format("2006-01-02"), Days: rapid.IntRange(1, 14).Draw(t, "days")}
		start, n := p.window()
		if at := wear.DayNumber(start) - wear.DayNumber(first); at < 0 || at+n > all {
			t.Fatalf("draws %d days from day %d of %d", n, at, all)
		}
		steps := 0
		for p.Later() != "" {
			u, err := url.Parse(p.Later())
			if err != nil {
				t.Fatal(err)
			}
			before, _ := p.window()
			p.Window = ParseWindow(u.Query())
			if after, _ := p.window(); !after.After(before) {
				t.Fatalf("later leads from %v to %v", before, after)
			}
			if steps++; steps > all {
				t.Fatal("later never ends")
			}
		}
		if last, n := p.window(); wear.DayNumber(last)-wear.DayNumber(first)+n != all {
			t.Fatalf("later ends at day %d of %d", wear.DayNumber(last)-wear.DayNumber(first)+n, all)
		}
	})
}

func TestPaging(t *testing.T) {
	address := func(n int) string { return "p" + number(n) }
	for _, c := range []struct {
		page, size, matching int
		want                 Paging
	}{
		{1, 50, 0, Paging{Words: "Page 1 of 1"}},
		{0, 50, 50, Paging{Words: "Page 1 of 1"}},
		{1, 50, 51, Paging{Words: "Page 1 of 2", After: "p2", Several: true}},
		{2, 50, 101, Paging{Words: "Page 2 of 3", Before: "p1", After: "p3", Several: true}},
		{9, 50, 101, Paging{Words: "Page 9 of 3", Before: "p3", Several: true}},
		{1, 0, 7, Paging{Words: "Page 1 of 1"}},
	} {
		if diff := cmp.Diff(c.want, paging(c.page, c.size, c.matching, address)); diff != "" {
			t.Error(diff)
		}
	}
}

func TestReviewFilters(t *testing.T) {
	for _, c := range []struct{ query, register, recalls, log string }{
		{"", "/patients", "/recalls", "/log"},
		{"q=name&s=tar&page=3&state=overdue&person=4&action=view&from=2026-03-01&to=2026-03-18&before=900", "/patients?page=3&s=tar", "/recalls?page=3&state=overdue", "/log?action=view&before=900&from=2026-03-01&person=4&to=2026-03-18"},
		{"person=-1", "/patients", "/recalls", "/log?person=-1"},
		{"page=-1&state=lost&person=x&from=1.3.&before=-4", "/patients", "/recalls", "/log"},
	} {
		v := posted(t, c.query)
		if got := ParseRegisterFilter(v).Address(); got != c.register {
			t.Errorf("register %q: %s", c.query, got)
		}
		if got := ParseRecallsFilter(v).Address(); got != c.recalls {
			t.Errorf("recalls %q: %s", c.query, got)
		}
		if got := ParseLogFilter(v).Address(); got != c.log {
			t.Errorf("log %q: %s", c.query, got)
		}
	}
}

func posted(t *testing.T, query string) url.Values {
	t.Helper()
	v, err := url.ParseQuery(query)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// flagCodes are the codes of the flags, and none.
func flagCodes() []string {
	codes := []string{""}
	for _, k := range wear.Flags() {
		codes = append(codes, k.Code)
	}
	return codes
}

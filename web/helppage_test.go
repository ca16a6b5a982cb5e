package web

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"wearround/worker/wear"
)

// Every link to a part of the pages that explain leads to a part that is there.
func TestExplanationsAreThere(t *testing.T) {
	layout := fullLayout("")
	protocol := ProtocolPage{Layout: layout}
	for _, s := range wear.DefaultProtocol().Settings() {
		protocol.Settings = append(protocol.Settings, wear.Setting{Name: s.Name})
	}
	parts := map[string]map[string]bool{"/about": {}, "/help": {}, "/protocol": {}, "/about/look": {}}
	explaining := map[string]Page{"/about": AboutPage{Layout: layout}, "/help": HelpPage{layout}, "/protocol": protocol, "/about/look": LookPage{layout}}
	for path, page := range explaining {
		for n := range parsed(t, page).Descendants() {
			parts[path][attr(n, "id")] = true
		}
	}
	pages := allPages("")
	for path, page := range explaining {
		pages[path] = page
	}
	seen := map[string]bool{}
	for name, page := range pages {
		for n := range parsed(t, page).Descendants() {
			u, err := url.Parse(attr(n, "href"))
			if err != nil || u.Fragment == "" {
				continue
			}
			path := u.Path
			if path == "" && explaining[name] != nil {
				path = name
			}
			if ids := parts[path]; ids != nil {
				seen[u.Path+"#"+u.Fragment] = true
				if !ids[u.Fragment] {
					t.Errorf("%s leads to %s#%s, which is not there", name, path, u.Fragment)
				}
			}
		}
	}
	for _, want := range []string{"/about#method-above_7_8_pct", "/about#method-" + wear.FlagAbove7_8, "/about#method-score", "/protocol#flag.swing_hours", "/protocol#tier.above_7_8", "/help#round"} {
		if !seen[want] {
			t.Errorf("no page leads to %s", want)
		}
	}
}

// Each flag, each kind of doubt and each measure has its line.
func TestEveryFlagIsExplained(t *testing.T) {
	var keys []string
	for _, k := range wear.Flags() {
		keys = append(keys, k.Code)
	}
	for kind := range suspectWords {
		keys = append(keys, kind)
	}
	for _, a := range measures {
		for _, m := range a.rows {
			keys = append(keys, m.key)
		}
	}
	for _, key := range keys {
		if methodAddress(key) == "" {
			t.Errorf("%s has no definition", key)
		}
	}
	if got := methodAddress("made up"); got != "" {
		t.Errorf("what has no definition leads to %s", got)
	}
}

// Every set of templates can be read, and every page that somebody works on has
// help of its own.
func TestHelpForEveryPage(t *testing.T) {
	without := []string{"signin", "second", "setup", "error", "help"}
	for set, read := range views {
		read()
		if own := helpTopics[set] != ""; own == slices.Contains(without, set) {
			t.Errorf("pages of %s lead to %s", set, helpAddress(set))
		}
	}
}

func TestTour(t *testing.T) {
	for query, want := range map[string]int{"": 1, "step=1": 1, "step=10": 10, "step=11": 1, "step=0": 1, "step=-1": 1, "step=x": 1, "step=3&step=4": 3} {
		q, err := url.ParseQuery(query)
		if err != nil {
			t.Fatal(err)
		}
		if got := ParseStep(q); got != want {
			t.Errorf("%q: step %d, want %d", query, got, want)
		}
	}
	titles := map[string]bool{}
	next := stepAddress(1)
	for n := 1; next != ""; n++ {
		p := TourPage{Layout: fullLayout(""), Step: n, WearID: 9}
		if next != stepAddress(n) || len(p.Stops()) != 10 || !p.Stops()[n-1].Current {
			t.Fatalf("step %d: comes after %s, %v", n, next, p.Stops())
		}
		here := p.Here()
		if titles[here.Title] || !strings.HasPrefix(here.To, "/") || here.Go == "" {
			t.Errorf("step %d: %+v", n, here)
		}
		titles[here.Title] = true
		next = p.After()
	}
	if len(titles) != 10 {
		t.Errorf("%d steps", len(titles))
	}
	if here := (TourPage{Step: 4}).Here(); here.To != "/" {
		t.Errorf("without a wear the fourth step leads to %s", here.To)
	}
}

// A page has one thing that most people came to do, and marks no other so.
func TestOneMainButton(t *testing.T) {
	for name, page := range allPages("") {
		n := 0
		for d := range parsed(t, page).Descendants() {
			if slices.Contains(strings.Fields(attr(d, "class")), "primary") {
				n++
			}
		}
		if n > 1 && name != "look" { // which shows them all
			t.Errorf("%s has %d main buttons", name, n)
		}
	}
}

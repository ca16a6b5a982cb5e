package web

import (
	"bytes"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"wearround/web/form"
	"wearround/worker/wear"
)

var zone = time.FixedZone("", 10*3600)

func clock(day, hour, minute int) time.Time {
	return time.Date(2026, 3, day, hour, minute, 0, 0, zone)
}

func fullLayout(s string) Layout {
	return Layout{
		Now: clock(18, 10, 42), Zone: zone, Version: 7, Protocol: "2026.1" + s, ProtocolStatus: "unsigned proposal" + s,
		System: System{LastLook: clock(18, 10, 42), Seen: 12, Waiting: 1, Held: 1, FolderProblem: s, FilesProblem: s},
		User:   fullUser(s), Daily: Daily{CountedAt: clock(18, 10, 42), UnclaimedOverdue: 2, HeldOverDay: 1, RecallsWithoutContact: 3},
	}
}

// fullReport has something in every part that a page shows; s is added to
// every text that comes from outside.
func fullReport(s string) *wear.Report {
	f := wear.Of
	m := wear.Metrics{Readings: 4000, MeanMmol: f(6.12), SDMmol: f(1.2), CVPct: f(19.6), Above7_8Pct: f(12.34)}
	return &wear.Report{
		Engine: "1", Protocol: "2026.1" + s, Unit: "mmol/L", IntervalS: 300, Start: clock(3, 9, 15), End: clock(17, 9, 10),
		Readings: 4032, Believed: 4000, Expected: 4032, CapturedPct: f(98.2), CensoredLow: 1, CensoredHigh: 2, Duplicates: 1, Conflicts: 3,
		Metrics: m, MetricsAll: m,
		Suspect:  []wear.Stretch{{Kind: wear.SuspectWarmUp, From: clock(3, 9, 15), To: clock(3, 10, 15), Readings: 13, Reason: "first hour" + s}, {Kind: "new" + s, From: clock(5, 1, 0), To: clock(5, 2, 0), Readings: 12, Reason: s}},
		Gaps:     []wear.Gap{{From: clock(6, 1, 0), To: clock(6, 9, 0), Minutes: 480}},
		Days:     []wear.Day{{Date: "2026-03-03", Usable: true, Met7_8: true, Met10: true, DipWithSymptom: true, Above7_8Min: f(120)}, {Date: "2026-03-04" + s}},
		Episodes: []wear.Episode{{Number: 1, Kind: wear.EpisodeAbove7_8, From: clock(3, 19, 0), To: clock(3, 20, 15), Minutes: 75, ExtremeMmol: f(9.1), EndedByGap: true, After: "dinner" + s}, {Number: 2, Kind: wear.EpisodeBelow3_9, From: clock(4, 14, 0), To: clock(4, 14, 30), Minutes: 30}, {Number: 3, Kind: "new" + s, From: clock(4, 15, 0), To: clock(4, 16, 0), Minutes: 60}},
		Matches:  []wear.Match{{Episode: 2, SymptomAt: new(clock(4, 14, 20)), Symptom: "shaky" + s, BloodMmol: f(3.1), Relief: "not written down" + s, Timing: "after a meal" + s}},
		Meals: []wear.MealFig{
			{At: clock(3, 12, 0), Label: "rice" + s, Judged: true, BaselineMmol: f(5.1), PeakMmol: f(8.2), RiseMmol: f(3.1), PeakAfterMin: f(50), At2hMmol: f(6), IAUC2h: f(160), IAUC3h: f(170), ReturnMin: f(110), Nadir5hMmol: f(4.6), Like: "rice" + s},
			{At: clock(4, 12, 0), WhyNot: "Something else was eaten within 2 h." + s},
		},
		MealGroups:    []wear.MealGroup{{Like: "rice" + s, Meals: 3, RiseMmol: f(3), IAUC2h: f(150)}},
		Nights:        []wear.Night{{Date: "2026-03-04", Readings: 72, MeanMmol: f(5), NadirMmol: f(4.6), MorningMmol: f(5.8), RiseMmol: f(1.2), FastingMmol: f(5.8)}, {Date: "2026-03-05" + s, WhyNot: "eaten in the night" + s}},
		Exercise:      []wear.ExerciseFig{{At: clock(4, 17, 0), Label: "walk" + s, Minutes: 40, BeforeMmol: f(6), LowestMmol: f(5), HighestMmol: f(7)}, {At: clock(5, 17, 0)}},
		Labs:          []wear.LabFig{{At: clock(2, 8, 0), Kind: wear.LabHbA1c, Value: f(41), Unit: "mmol/mol" + s, Source: "letter" + s, Class: wear.ClassNormal}, {At: clock(2, 8, 0), Kind: "new" + s}},
		Explained:     []wear.Remark{{Code: "meals", Text: "30 of 32 logged meals can be judged" + s}},
		Context:       []wear.Remark{{Code: "older", Text: "age 70" + s}},
		Uncertainty:   wear.Uncertainty{Above7_8Pct: wear.Range{Low: f(11.1), High: f(13.3)}},
		MetricsEngine: &m,
		Flags:         []wear.Flag{{Code: wear.FlagAbove7_8, Tier: wear.ThisMonth, Text: "above 7.8 on 11 of 13 days" + s, Evidence: "limit 50 %" + s}},
		NotFlagged:    []wear.Remark{{Code: "a", Text: "a rise in exercise" + s}}, Quality: []wear.Remark{{Code: "b", Text: "13 of 14 days usable" + s}},
		Confidence: "high" + s, Headline: "Above 7.8 on 11 of 13 usable days" + s, Priority: fullPriority(s),
	}
}

func fullPriority(s string) wear.Priority {
	return wear.Priority{Tier: wear.ThisWeek, Score: 30.4, DueDays: 7, Parts: []wear.Part{
		{Code: "a", Name: "time above 7.8" + s, Points: 18.4, How: "18.4 % of readings, 1 point each" + s},
		{Code: "b", Name: "days above 10" + s, Points: 12, How: "6 days, 2 points each" + s},
	}}
}

func fullPages(s string) map[string]Page {
	layout, report := fullLayout(s), fullReport(s)
	patient := form.Patient{Code: "0417" + s, Name: "Velo Tarim" + s, BirthDate: "1961-04-09" + s}
	round := RoundPage{
		Layout: layout, Filter: RoundFilter{Tier: wear.ThisWeek, Flag: wear.FlagAbove10, Text: "tar" + s, View: "handed", Sort: "age", Page: 2}, PerView: map[string]int{"handed": 2}, Matching: 120, Total: 240, PageSize: 50, Kinds: 2,
		Saved: []SavedFilter{{ID: 1, Name: "Late starters" + s, Filter: RoundFilter{Tier: wear.ThisWeek}, Mine: true, Shared: true}, {ID: 2, Name: s, By: "Sel" + s, Shared: true}}, Problem: "Velo Tarim has it" + s,
		PerTier: map[wear.Tier]int{wear.ThisWeek: 120}, PerFlag: map[string]int{wear.FlagAbove7_8: 3, "new" + s: 1},
		Rows: []RoundRow{{
			Rank: 51, WearID: 9, Patient: patient, SensorKind: "A" + s, Start: report.Start, End: report.End, ReceivedAt: clock(17, 9, 0), DueAt: clock(16, 9, 0),
			Headline: report.Headline, Confidence: report.Confidence, Priority: report.Priority, Flags: []string{"new" + s}, Days: report.Days,
			Claim: Claim{By: "Velo Tarim" + s, Until: clock(18, 10, 54)}, Attempts: 2, NextTry: clock(19, 0, 0),
		}, {Rank: 52, WearID: 10, Priority: wear.Priority{Tier: wear.Routine}}},
	}
	readings := []wear.Reading{
		{At: clock(3, 9, 15).Unix(), Num: 61, Scale: 1, Unit: wear.MmolL}, {At: clock(3, 9, 20).Unix(), Num: 141, Unit: wear.MgdL},
		{At: clock(3, 12, 0).Unix(), Bound: wear.Below, Unit: wear.MmolL}, {At: clock(3, 12, 5).Unix(), Bound: wear.Above, Unit: wear.MmolL},
		{At: clock(3, 12, 10).Unix(), Num: 9, Unit: wear.MmolL, Mark: wear.MarkError},
	}
	page := WearPage{
		Layout: layout, WearID: 9, Patient: patient, SensorKind: "A" + s, ReceivedAt: clock(17, 9, 0), DueAt: clock(20, 9, 0), Report: report, Readings: readings,
		Events:    []wear.Event{{At: clock(3, 12, 0).Unix(), Kind: wear.Meal, Label: "rice and dal" + s}, {At: clock(4, 14, 20).Unix(), Kind: wear.Symptom, Label: s}, {At: clock(4, 15, 0).Unix(), Kind: wear.Fingerstick, Value: wear.Reading{Num: 59, Scale: 1, Unit: wear.MmolL}}},
		LikeMeals: 3, Beside: []Beside{{WearID: 12, SensorKind: "B" + s, Report: report, Readings: readings}},
		Before: &Before{WearID: 3, Start: clock(1, 9, 0), End: clock(2, 9, 0), Changes: []wear.Remark{{Code: "mean" + s, Text: "the mean is the same" + s}},
			Measures: []wear.Change{{Code: "mean", Name: "Mean glucose" + s, Unit: "mmol/L" + s, Before: wear.Of(6.6), After: wear.Of(5.6), Least: 0.7}}},
		Files: []WearFile{{SHA256: strings.Repeat("ab", 32) + s, ReceivedAt: clock(17, 9, 0), Layout: "time,glucose" + s, Rows: 4032, Skipped: 2, Decisions: []wear.Decision{{Code: "unit" + s, Answer: "mmol/L" + s, Evidence: "3.4 to 12.9" + s, RunnerUp: "mg/dL" + s, Margin: 0.97, By: "values" + s}}}},
	}
	zoom := page
	zoom.Window = Window{From: "2026-03-05", Days: 3}
	files := FilesPage{
		Layout: layout, Filter: FilesFilter{Fate: "held", Page: 2}, Matching: 200, Total: 300, Counts: map[string]int{"held": 200}, PageSize: 50,
		Rows: []FileRow{
			{DropID: 1, FileID: 4, SeenAt: clock(18, 9, 0), Path: "a.csv" + s, Size: 88_123, Fate: "held", Reason: "day order open" + s, ToDo: "choose below" + s, Problem: "no such patient" + s,
				Questions: []wear.Question{
					{Code: "day_order" + s, Text: "Day first or month first?" + s, Choices: []wear.Choice{{Value: "dmy" + s, Text: "Day first" + s, Effect: "3 April 2026" + s}, {Value: "mdy", Text: "Month first", Effect: "4 March 2026"}}},
					{Code: "patient", Text: "Whose wear is this?" + s},
				}},
			{DropID: 2, FileID: 5, Fate: "filed", WearIDs: []int64{9}, Brought: Brought{New: 4000, Same: 32, Conflicts: 2}, InDoubt: true},
			{DropID: 3, Fate: "new" + s}, {DropID: 4, FileID: 6, Fate: "held", Pending: true, Questions: []wear.Question{{Code: "unit"}}},
		},
	}
	return map[string]Page{
		"round": round, "rows": RoundRows{round}, "wear": page, "zoom": zoom, "files": files, "files rows": FilesRows{files},
		"recipes": RecipesPage{Layout: layout, Recipes: recipes(s)}, "recipe": RecipePage{Layout: layout, Recipe: recipes(s)[0], Problem: "say why" + s, Reason: s, Wears: []RecipeWear{{WearID: 9, Patient: patient, Start: report.Start, End: report.End, Headline: report.Headline, InDoubt: true}, {WearID: 10}}},
		"recipe withdrawn": RecipePage{Layout: layout, Recipe: recipes(s)[2]},
		"names":            NamesPage{Layout: layout, Rule: "{code}_*" + s, Tried: "*_{code}", Saved: true, Rows: []NameRow{{Path: "P-0417_a.csv" + s, Now: FoundCode{"P-0417", true}, Then: FoundCode{"a" + s, false}}}},
		"names rows":       NameRows{NamesPage{Layout: layout, Rule: "{code}_*" + s, Problem: "it is no rule" + s}},
		"about":            AboutPage{Layout: layout, Engine: "1", Notices: []Notice{{"sql" + s, "1.0" + s, "BSD" + s}}},
		"look":             LookPage{layout}, "help": HelpPage{layout}, "tour": TourPage{Layout: layout, Step: 4, WearID: 9},
		"protocol":       ProtocolPage{Layout: layout, Engine: "1", Settings: settings(s), Made: []MadeUnder{{"2026.1" + s, 12}, {"2025.9" + s, 1}}, Versions: versions(s), Waiting: "2027.1" + s},
		"draft":          ProtocolDraftPage{Layout: layout, Based: "2026.1" + s, Settings: settings(s), Form: form.Form{Values: url.Values{"new": {s}}, Errors: []form.FieldError{{Field: "new" + s, Text: "Must lie between" + s}}}},
		"version":        ProtocolVersionPage{Layout: layout, ProtocolVersion: versions(s)[0], With: "2026.1" + s, Others: []Choice{{Words: "the one in force", Current: true}, {Words: "2025.9" + s, Value: "3"}}, Differences: []wear.Difference{{Setting: settings(s)[1], Was: "4" + s}}},
		"version signed": ProtocolVersionPage{Layout: layout, ProtocolVersion: versions(s)[1]},
		"what if":        WhatIfPage{Layout: layout, ProtocolVersion: versions(s)[0], Done: 256, Of: 1000},
		"what if whole": WhatIfPage{Layout: layout, ProtocolVersion: versions(s)[0], Done: 1000, Of: 1000, Finished: true, Failed: 1, Tiers: []WhatIfTier{{wear.Today, 3, 4}}, Work: []WhatIfWork{{"nurse" + s, 3.25, 4}},
			Moved: []WhatIfWear{{WearID: 9, Code: "0417" + s, Was: wear.Routine, Now: wear.Today, Raised: []string{wear.FlagAbove10, "new" + s}}, {WearID: 10, Gone: []string{"x"}}}, Missed: []WhatIfWear{{WearID: 11}}},
		"system": SystemPage{
			Layout: layout, Folder: "/srv/drop" + s, Looks: 40_000, Stale: 2, Database: 84_000_000, Free: 12_300_000_000, Sizes: []Size{{"Patients" + s, 260}}, Engine: "1" + s, Build: "abc" + s,
			Checks: []Check{{"room", true, "12.3 GB are left" + s}, {"backup" + s, false, "no backups are made" + s}},
			Jobs: []Job{
				{Name: "verify_log", Last: clock(17, 17, 30), Took: 400 * time.Millisecond, Good: clock(17, 17, 30), Next: clock(18, 17, 30)},
				{Name: "archive_check", Last: clock(17, 17, 15), Fault: "2 originals are missing" + s, Good: clock(16, 17, 15), Next: clock(18, 17, 15)},
				{Name: "new_job" + s, Next: clock(17, 9, 0)}, {Name: "tidy_database", Last: clock(17, 17, 15), Fault: "it is full"},
			},
			Lines: 1234, Chain: Chain{CheckedAt: clock(18, 3, 0), Rows: 900}, Notes: []Note{{Seq: 1230, Seal: "0a1b2c3d4e5f", At: clock(18, 10, 5)}, {}},
		},
		"error": ErrorPage{Layout: layout, Status: 404, Sentence: "this wear does not exist" + s, ToDo: "go back" + s, Reference: "k3v9" + s},
	}
}

func zeroPages() map[string]Page {
	stalled := Layout{Now: clock(18, 9, 0), System: System{Stalled: true}}
	looked := Layout{Now: clock(18, 9, 0), System: System{LastLook: clock(18, 9, 0), Seen: 4, Waiting: 1, Held: 1}}
	return map[string]Page{
		"round": RoundPage{}, "rows": RoundRows{}, "round stalled": RoundPage{Layout: stalled}, "round looked": RoundPage{Layout: looked}, "round filtered": RoundPage{Total: 3, Filter: RoundFilter{Text: "x"}},
		"wear": WearPage{}, "wear empty report": WearPage{Report: &wear.Report{}},
		"files": FilesPage{}, "files rows": FilesRows{}, "recipes": RecipesPage{}, "recipe": RecipePage{}, "names": NamesPage{}, "names rows": NameRows{},
		"files held none": FilesPage{Total: 3, Filter: FilesFilter{Fate: "held"}}, "files stalled": FilesPage{Layout: stalled}, "files filtered": FilesPage{Total: 3}, "files zero row": FilesPage{Total: 1, Rows: []FileRow{{}}},
		"round zero row": RoundPage{Total: 1, Rows: []RoundRow{{}}},
		"about":          AboutPage{}, "error": ErrorPage{}, "look": LookPage{}, "help": HelpPage{}, "tour": TourPage{Step: 1},
		"draft": ProtocolDraftPage{}, "version": ProtocolVersionPage{}, "what if": WhatIfPage{}, "what if whole": WhatIfPage{Finished: true},
		"protocol": ProtocolPage{}, "system": SystemPage{}, "system in trouble": SystemPage{Layout: stalled, NotesBad: true, Free: 1},
	}
}

func recipes(s string) []Recipe {
	return []Recipe{
		{ID: 3, Fingerprint: strings.Repeat("cd", 32), State: "in_force", Answers: []wear.Decision{{Code: "unit", Evidence: "a person answered: mmol/L" + s}}, SensorKind: "A", MadeAt: clock(17, 9, 0), FromFile: "a.csv" + s, Files: 12, Wears: 14},
		{ID: 2, State: "in_force", Files: 1, Wears: 1}, {ID: 1, State: "withdrawn", WithdrawnAt: clock(18, 9, 0), Reason: "read as mg/dL" + s, Files: 3, Wears: 2}, {State: "new" + s},
	}
}

func versions(s string) []ProtocolVersion {
	return []ProtocolVersion{
		{ID: 2, Name: "2027.1" + s, By: "Velo Tarim" + s, At: clock(17, 9, 0)},
		{ID: 1, Name: "2026.1" + s, By: "Velo Tarim" + s, At: clock(1, 9, 0), SignedBy: "Sel" + s, SignedAt: clock(2, 9, 0), From: clock(3, 0, 0), InForce: true},
	}
}

func settings(s string) []wear.Setting {
	return []wear.Setting{
		{Name: "limit.above_7_8" + s, Value: "7.8" + s, Unit: "mmol/L" + s, Source: "Diabetes Care" + s, Range: "1 to 2" + s, Status: "published"},
		{Name: "flag.above_10_days", Value: "3", Unit: "days", Source: "set here in place of 4 (proposal)", Status: "own", ProposedBy: "somebody"},
		{Name: "new" + s, Status: "proposal" + s}, {Name: "tier.new", Value: "Today", Range: "a tier", Status: "proposal"},
	}
}

const hostile = `"><script>alert(1)</script><img src=x onerror=alert(1)>' style='x`

func TestPagesAreSound(t *testing.T) {
	for set, pages := range map[string]map[string]Page{"zero": zeroPages(), "full": fullPages(""), "hostile": fullPages(hostile)} {
		for name, page := range pages {
			t.Run(set+" "+name, func(t *testing.T) {
				_, block := page.view()
				check(t, rendered(t, page), block == "page")
			})
		}
	}
}

// Every set of templates is among the pages that are shown with everything on
// them and with hostile text.
func TestEveryPageIsTried(t *testing.T) {
	tried := map[string]bool{}
	for _, p := range allPages("") {
		set, _ := p.view()
		tried[set] = true
	}
	for set := range views {
		if !tried[set] {
			t.Errorf("no page of %s is tried: add one with everything on it to fullPages, and an empty one to zeroPages", set)
		}
	}
}

// rendered is the text of a page, without what no value may turn into.
func rendered(t *testing.T, page Page) string {
	t.Helper()
	var b bytes.Buffer
	if err := Render(&b, page); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"NaN", "%!", "<nil>", "ZgotmplZ", "0001"} {
		if strings.Contains(b.String(), bad) {
			t.Errorf("%q on the page", bad)
		}
	}
	return b.String()
}

// check fails on what no page may have.
func check(t *testing.T, text string, whole bool) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	ids, labels, refs := map[string]bool{}, map[string]bool{}, map[string]string{}
	var inputs []*html.Node
	headings, scripts := 0, 0
	for n := range root.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		for _, a := range n.Attr {
			if a.Key == "style" || strings.HasPrefix(a.Key, "on") {
				t.Errorf("<%s> has the attribute %s=%q", n.Data, a.Key, a.Val)
			}
			if (a.Key == "href" || a.Key == "src" || a.Key == "action") && (!strings.HasPrefix(a.Val, "/") || strings.HasPrefix(a.Val, "//")) && !strings.HasPrefix(a.Val, "#") && !strings.HasPrefix(a.Val, "tel:") {
				t.Errorf("<%s %s=%q> leads elsewhere", n.Data, a.Key, a.Val)
			}
			switch a.Key {
			case "id":
				if ids[a.Val] {
					t.Errorf("id %q stands twice", a.Val)
				}
				ids[a.Val] = true
			case "aria-labelledby", "aria-describedby":
				for _, id := range strings.Fields(a.Val) {
					refs[id] = n.Data
				}
			case "for":
				labels[a.Val] = true
			}
		}
		switch n.Data {
		case "h1":
			headings++
		case "style", "img", "iframe":
			t.Errorf("a <%s> on the page", n.Data)
		case "script":
			scripts++
			if attr(n, "src") == "" || n.FirstChild != nil {
				t.Error("a script of its own on the page")
			}
		case "input", "select", "textarea":
			if attr(n, "type") != "hidden" {
				inputs = append(inputs, n)
			}
		case "table":
			heads := 0
			for d := range n.Descendants() {
				if d.Data == "th" {
					heads++
					if attr(d, "scope") == "" {
						t.Errorf("a table head without scope in %q", opening(n))
					}
				}
			}
			if heads == 0 {
				t.Errorf("a table without heads: %q", opening(n))
			}
		}
	}
	// A circle or box that shares its parent with another has a line break between
	// it and its words wherever the line ends, and then the wrong one is ticked.
	ticks := map[*html.Node]string{}
	for _, n := range inputs {
		id := attr(n, "id")
		if !labels[id] {
			t.Errorf("<%s id=%q> has no label", n.Data, id)
		}
		if kind := attr(n, "type"); kind == "radio" || kind == "checkbox" {
			if other, there := ticks[n.Parent]; there {
				t.Errorf("%q and %q share one parent: each to be ticked needs a .choice of its own", other, id)
			}
			ticks[n.Parent] = id
		}
	}
	for id, element := range refs {
		if !ids[id] {
			t.Errorf("<%s> is named by %q, which is not there", element, id)
		}
	}
	if whole && (headings != 1 || scripts > 3) {
		t.Errorf("%d main headings and %d scripts", headings, scripts)
	}
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// opening is the text of an element in one line, cut short.
func opening(n *html.Node) string { return limitRunes(pageText(n), 60) }

func pageText(n *html.Node) string {
	var out []string
	for d := range n.Descendants() {
		if d.Type == html.TextNode && strings.TrimSpace(d.Data) != "" {
			out = append(out, strings.Fields(d.Data)...)
		}
	}
	return strings.Join(out, " ")
}

// parsed is a page as a browser has it.
func parsed(t *testing.T, page Page) *html.Node {
	t.Helper()
	var b bytes.Buffer
	if err := Render(&b, page); err != nil {
		t.Fatal(err)
	}
	root, err := html.Parse(&b)
	if err != nil {
		t.Fatal(err)
	}
	return root
}

func shown(t *testing.T, page Page) string {
	t.Helper()
	return pageText(parsed(t, page))
}

func TestPagesSay(t *testing.T) {
	full, zero := fullPages(""), zeroPages()
	for _, c := range []struct {
		name string
		page Page
		want []string
	}{
		{"round", full["round"], []string{
			"2 of 240 open wears shown: 51 to 52 of 120 with “Handed to me”, tier “This week”, flag “above 10 often”, name or code containing “tar”.",
			"This list mixes 2 sensor kinds.", "Velo Tarim", "2 days overdue", "Why here: 30.4 points", "18.4 % of readings, 1 point each", "Quality: 1/2 days usable, high confidence", "Page 2 of 3",
		}},
		{"round looked", zero["round looked"], []string{"1 file is still to be read.", "No wear is open so far.", "Wed 18 Mar 2026 09:00", "held 4 files; 1 file waits for an answer"}},
		{"round stalled", zero["round stalled"], []string{"that does not mean that none is waiting", "restart the service"}},
		{"wear", full["wear"], []string{
			"Above 7.8 on 11 of 13 usable days.", "born 9 Apr 1961", "wear 3 – 17 Mar 2026", "no data 8 h", "1 h 15", "symptom: shaky at 14:20", "abababababab", "Symptoms override the sensor", "warm-up", "19.6", "Diabetes 1970;19:644", "How much does it move?",
		}},
		{"zoom", full["zoom"], []string{"3 days, 5 – 7 Mar 2026", "Earlier", "Later"}},
		{"files", full["files"], []string{"Waits for an answer", "3 April 2026", "Give these answers", "An answer is due by Thu 19 Mar 2026 09:00", "4 000 new readings, 32 the same as before, 2 differing", "88 kB", "See the wear", "No such patient"}},
		{"files of a person who waits too long", FilesPage{Layout: Layout{Zone: zone, Now: clock(21, 9, 0)}, Rows: []FileRow{{SeenAt: clock(18, 9, 0), Fate: "held"}}}, []string{"It has waited for 3 days: an answer was due by Thu 19 Mar 2026 09:00."}},
		{"recipes", full["recipes"], []string{"Answered by people", "Unit. A person answered: mmol/L.", "12 files, 14 wears", "Settled by the values", "No longer used", "Withdrawn on Wed 18 Mar 2026 09:00: “read as mg/dL”."}},
		{"recipe", full["recipe"], []string{"Velo Tarim", "Read by a withdrawn recipe.", "Withdraw this recipe", "Say why."}},
		{"recipe withdrawn", full["recipe withdrawn"], []string{"in doubt until read again", "3 files are read again from the originals", "Read them again"}},
		{"names", full["names"], []string{"finds a patient in 1; the rule tried here would find one in 0", "a (not on the register)", "The rule is saved"}},
		{"about", full["about"], []string{"does not diagnose", "unsigned proposal", "Others’ work inside"}},
		{"protocol", full["protocol"], []string{"Protocol 2026.1 is an unsigned proposal", "4 settings: 1 “published”, 1 “own”, 2 “proposal”.", "flag.above_10_days is 3 days: set here in place of 4 (proposal).", "1 wear by 2025.9", "--protocol FILE"}},
		{"protocol that was signed", ProtocolPage{Layout: Layout{Protocol: "7", ProtocolStatus: "signed by a clinician on 3 March"}}, []string{"Protocol 7: Signed by a clinician on 3 March.", "Every value is as shipped."}},
		{"system", full["system"], []string{
			"The folder is being looked at, and something needs somebody.", "A scheduled job failed: “See that the original of every file is in the archive”. 2 originals are missing.",
			"Tue 17 Mar 2026 17:30, took 0.4 s", "failed; it last ran well Mon 16 Mar 2026 17:15", "failed; it never ran well", "Was due Tue 17 Mar 2026 09:00", "has not run at its time: “New job”", "84.0 MB", "12.3 GB", "0a1b2c3d4e5f",
		}},
		{"system in trouble", zero["system in trouble"], []string{"Not all is well", "restart the service", "second place where the log is noted cannot be read", "nearly full: 1 byte are left", "longer ago than it should be", "No job is scheduled", "has not been checked yet"}},
		{"system before the first look", zero["system"], []string{"has not been looked at yet"}},
		{"look", full["look"], []string{"13.9 : 1", "paper on ink", "No wear is open.", "that does not mean that none is waiting", "The page could not be made.", "Nobody Invented"}},
		{"tour", full["tour"], []string{"Step 4 of 10", "A wear: the finding first", "Next step"}},
		{"help", full["help"], []string{"A tour in ten steps", "Where do I look when", "Single keys do something on two pages only"}},
		{"error", full["error"], []string{"This wear does not exist.", "k3v9"}},
	} {
		text := shown(t, c.page)
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q:\n%s", c.name, want, text)
			}
		}
	}
}

// Where nothing is on the round, the page says why in different words for each
// reason: an empty queue must never look like a worker that stands still.
func TestEmptyRoundsDiffer(t *testing.T) {
	seen := map[string]string{}
	for _, name := range []string{"round", "round stalled", "round looked", "round filtered"} {
		text := shown(t, zeroPages()[name])
		_, text, _ = strings.Cut(text, "Routine 0") // after the filters
		text, _, _ = strings.Cut(text, "One column is one day")
		if other, ok := seen[text]; ok {
			t.Errorf("%s reads like %s: %s", name, other, text)
		}
		seen[text] = name
	}
}

// A page that fails half-way sends nothing.
func TestRenderIsWhole(t *testing.T) {
	var b bytes.Buffer
	if err := Render(&b, brokenPage{}); err == nil || b.Len() != 0 {
		t.Errorf("error %v after %d bytes", err, b.Len())
	}
}

type brokenPage struct{ Layout }

func (brokenPage) view() (set, block string) { return "files", "page" }

// Hostile text is shown as text, not dropped.
func TestHostileTextIsShown(t *testing.T) {
	for name, page := range allPages(hostile) {
		if name == "sheet" { // holds nothing from outside
			continue
		}
		text := shown(t, page)
		if !strings.Contains(text, "<script>alert(1)</script>") {
			t.Errorf("%s hides what it was given", name)
		}
	}
}

func BenchmarkRound50(b *testing.B) {
	page := fullPages("")["round"].(RoundPage)
	row := page.Rows[0]
	row.Days = make([]wear.Day, 14)
	page.Rows = nil
	for i := range 50 {
		row.WearID = int64(i)
		page.Rows = append(page.Rows, row)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := Render(discard{}, page); err != nil {
			b.Fatal(err)
		}
	}
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }

func ExampleLayout_When() {
	fmt.Println(Layout{Zone: zone}.When(time.Date(2026, 3, 3, 8, 15, 0, 0, time.UTC)))
	// Output: Tue 3 Mar 2026 18:15
}

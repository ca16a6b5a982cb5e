package web

import (
	"html/template"
	"reflect"
	"strings"
	"testing"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// keptBy counts what was made.
type keptBy map[StoryKey]template.HTML

func (k keptBy) keep(key StoryKey, make func() (template.HTML, error)) (template.HTML, error) {
	if h, ok := k[key]; ok {
		return h, nil
	}
	h, err := make()
	k[key] = h
	return h, err
}

// storyPages are pages with all that there is to show, with and without a claim
// and another zone.
func storyPages() map[string]WearPage {
	full := fullPages("")["wear"].(WearPage)
	full.Evidence, full.Among = 7, &wear.WithinKind{}
	mine := full
	mine.Work = &Work{
		Form: form.Form{Task: "note"}, Version: 7, Claim: Claim{By: "V", Mine: true, Until: clock(18, 9, 0)}, Results: []Result{{ID: 1}}, Trail: []Entry{{}},
		Answered: map[int64]Answered{full.Report.Episodes[0].From.Unix(): {}},
	}
	abroad := full
	abroad.Layout = full.Layout.On(time.FixedZone("abroad", 7200))
	zoom := full
	zoom.Window = Window{From: "2026-03-05", Days: 3}
	return map[string]WearPage{"full": full, "mine": mine, "abroad": abroad, "zoom": zoom}
}

// TestStoryHangsOnWhatItIsKeptBy makes each story with and without all that its
// key leaves out: who looks, when, and what they may do.
func TestStoryHangsOnWhatItIsKeptBy(t *testing.T) {
	k := keptBy{}
	for name, p := range storyPages() {
		var whole strings.Builder
		if err := views["wear"]().ExecuteTemplate(&whole, "story", p); err != nil {
			t.Fatal(err)
		}
		p.Keep = k.keep
		for range 2 {
			got, err := p.Story()
			if err != nil {
				t.Fatal(err)
			}
			if string(got) != whole.String() {
				t.Errorf("the story of %s is another once it is kept", name)
			}
			p.Now, p.User.CSRF, p.Version = p.Now.AddDate(1, 0, 0), "other", p.Version+1
		}
	}
	if len(k) != len(storyPages()) {
		t.Errorf("%d stories were made of %d pages", len(k), len(storyPages()))
	}
}

// TestStoryIsMadeAnew changes one thing at a time.
func TestStoryIsMadeAnew(t *testing.T) {
	for name, change := range map[string]func(*WearPage){
		"evidence":        func(p *WearPage) { p.Evidence++ },
		"waiting file":    func(p *WearPage) { r := *p.Report; r.Waiting++; p.Report = &r },
		"recipe":          func(p *WearPage) { p.Files = []WearFile{{InDoubt: true}} },
		"the other's":     func(p *WearPage) { b := p.Beside[0]; b.Evidence++; p.Beside = []Beside{b} },
		"before":          func(p *WearPage) { p.Before = nil },
		"among":           func(p *WearPage) { p.Among = nil },
		"sensor kind":     func(p *WearPage) { p.SensorKind = "C" },
		"zone":            func(p *WearPage) { p.Layout = p.Layout.On(time.FixedZone("abroad", 7200)) },
		"practice's zone": func(p *WearPage) { p.Zone = time.FixedZone("home", 3600) },
		"window":          func(p *WearPage) { p.Window = Window{From: "2026-03-06", Days: 1} },
		"claim":           func(p *WearPage) { p.Work = &Work{Claim: Claim{Mine: true}} },
		"answer":          func(p *WearPage) { p.Work = &Work{Answered: map[int64]Answered{1: {}}} },
	} {
		k, p := keptBy{}, storyPages()["full"]
		p.Keep = k.keep
		for range 2 {
			if _, err := p.Story(); err != nil {
				t.Fatal(err)
			}
			change(&p)
		}
		if len(k) != 2 {
			t.Errorf("the story stays as it was after another %s", name)
		}
	}
}

// TestNothingOfAStoryIsLeftOutOfItsKey looks for fields that the key would not
// take in.
func TestNothingOfAStoryIsLeftOutOfItsKey(t *testing.T) {
	allowed := map[string]bool{
		"WearPage.Read": true, "WearPage.Keep": true, // how it is had
	}
	seen := map[reflect.Type]bool{
		reflect.TypeFor[time.Time](): true, reflect.TypeFor[*time.Location](): true, reflect.TypeFor[wear.Figure](): true,
		reflect.TypeFor[*wear.Report](): true, reflect.TypeFor[wear.Reading](): true, reflect.TypeFor[wear.Event](): true, // the evidence
		reflect.TypeFor[System](): true, reflect.TypeFor[User](): true, reflect.TypeFor[Daily](): true, reflect.TypeFor[Work](): true, // not told
	}
	var look func(reflect.Type)
	look = func(x reflect.Type) {
		if seen[x] {
			return
		}
		seen[x] = true
		switch x.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
			look(x.Elem())
		case reflect.Struct:
			for i := range x.NumField() {
				f := x.Field(i)
				if name := x.Name() + "." + f.Name; (!f.IsExported() || f.Tag.Get("json") == "-") && !allowed[name] {
					t.Errorf("%s is in no key", name)
				}
				if f.Tag.Get("json") != "-" {
					look(f.Type)
				}
			}
		}
	}
	look(reflect.TypeFor[WearPage]())
	look(reflect.TypeFor[Answered]())
}

package web

import (
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// One tick answers for every dip, those too that the sheet does not list, but
// for what is answered or written down.
func TestNothingFeltAtAnyDip(t *testing.T) {
	var episodes []wear.Episode
	for i := range 20 {
		from := clock(3, i, 0)
		episodes = append(episodes,
			wear.Episode{Kind: wear.EpisodeBelow3_9, From: from, To: from.Add(15 * time.Minute), ExtremeMmol: wear.Of(3.5)},
			wear.Episode{Kind: wear.EpisodeAbove7_8, From: from.Add(30 * time.Minute), To: from.Add(45 * time.Minute)})
	}
	at := func(hour int) int64 { return clock(3, hour, 0).Unix() }
	p := CallPage{Layout: fullLayout(""), Report: &wear.Report{Episodes: episodes},
		Answered: map[int64]Answered{at(1): {Answer: form.Answer{Asked: at(1), Felt: "unsure"}}},
		Events:   []wear.Event{{At: at(2), Kind: wear.Symptom, Label: "shaky"}}}
	if label := p.NoneLabel(); !strings.Contains(label, "18 dips") {
		t.Errorf("the tick says %q", label)
	}
	others := p.Others([]form.Answer{{Asked: at(3), Felt: "yes"}})
	if len(others) != 17 {
		t.Fatalf("%d dips are answered for, want 17", len(others))
	}
	for _, a := range others {
		if a.Felt != "no" || a.Asked == at(1) || a.Asked == at(2) || a.Asked == at(3) {
			t.Errorf("answered for: %+v", a)
		}
	}
}

// What the sheet asks about comes back under the same numbers.
func TestCallSheetRoundTrip(t *testing.T) {
	var episodes []wear.Episode
	for i := range 20 {
		from := clock(3+i/2, 14, 0)
		episodes = append(episodes,
			wear.Episode{Kind: wear.EpisodeBelow3_9, From: from, To: from.Add(time.Hour), Minutes: 60, ExtremeMmol: wear.Of(3.8 - float64(i)/100)},
			wear.Episode{Kind: wear.EpisodeBelow3_0, From: from, To: from.Add(time.Hour), Minutes: 60}, // the same dip once more
			wear.Episode{Kind: wear.EpisodeAbove13_9, From: from.Add(4 * time.Hour), To: from.Add(5 * time.Hour), Minutes: 60, ExtremeMmol: wear.Of(14 + float64(i)/10)},
			wear.Episode{Kind: wear.EpisodeAbove7_8, From: from.Add(2 * time.Hour), To: from.Add(3 * time.Hour), Minutes: 60})
	}
	asks := CallPage{Layout: fullLayout(""), Report: &wear.Report{Episodes: episodes}}.Asks()
	if len(asks) != form.MostAsked {
		t.Fatalf("%d questions, want %d", len(asks), form.MostAsked)
	}
	v := url.Values{}
	for i, a := range asks {
		if i > 0 && a.Asked < asks[i-1].Asked {
			t.Errorf("question %d goes back in time", a.N)
		}
		v.Set("asked-"+strconv.Itoa(a.N), strconv.FormatInt(a.Asked, 10))
		v.Set(a.Felt.Name, "yes")
		v.Add(a.What.Name, a.What.Options[0].Value)
		v.Set(a.When.Name, a.When.Value)
	}
	c, errs := form.ParseCall(v, zone, clock(3, 9, 15), clock(17, 9, 10))
	if len(errs) > 0 || len(c.Answers) != form.MostAsked {
		t.Fatalf("%d answers, %v", len(c.Answers), errs)
	}
	for i, a := range c.Answers {
		if a.Asked != asks[i].Asked || a.At != a.Asked || a.Words != asks[i].What.Options[0].Value {
			t.Errorf("answer %d is %+v", i+1, a)
		}
	}
	last := len(asks) - 1 // the lowest dip and the highest rise are the last of their kind
	if asks[last-1].Asked != episodes[76].From.Unix() || asks[last].Asked != episodes[78].From.Unix() || !strings.Contains(asks[last].Evidence, "the highest of 20 such times") {
		t.Errorf("the furthest are not asked about: %+v, %+v", asks[last-1], asks[last])
	}
}

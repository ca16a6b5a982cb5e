package web

import (
	"html/template"
	"math"
	"slices"
	"strconv"
	"time"

	"wearround/web/chart"
	"wearround/worker/wear"
)

// Address is this wear's page showing the window w.
func (p WearPage) Address(w Window) string { return wearAddress(p.WearID, w) }

// Ledger is the wear as a pip a day.
func (p WearPage) Ledger() template.HTML { return ledger("ledger", p.Report.Days) }

// Quality says how far the report can be trusted.
func (p WearPage) Quality() string { return quality(p.Report.Days, p.Report.Confidence, p.InDoubt()) }

// InDoubt reports whether some file of the wear was read by a recipe that was
// withdrawn.
func (p WearPage) InDoubt() bool {
	return slices.ContainsFunc(p.Files, func(f WearFile) bool { return f.InDoubt })
}

// zone is the clock that the wear's days are counted on.
func (p WearPage) zone() *time.Location {
	if p.Zone != nil {
		return p.Zone
	}
	return p.Report.Start.Location()
}

// days are the first day of the wear and how many it touches.
func (p WearPage) days() (first time.Time, n int) {
	start, end := p.Report.Start.In(p.zone()), p.Report.End.In(p.zone())
	first = time.Date(start.Year(), start.Month(), start.Day(), 0, 0, 0, 0, p.zone())
	return first, min(max(dayNumber(end)-dayNumber(start)+1, 1), 366)
}

// window is the part that is drawn: as asked for, moved to lie within the wear.
func (p WearPage) window() (first time.Time, n int) {
	first, n = p.days()
	asked, ok := isoDay(p.Window.From)
	if p.Window.Whole() || !ok || p.Window.Days >= n {
		return first, n
	}
	ahead := min(max(dayNumber(asked)-dayNumber(first), 0), n-p.Window.Days)
	return first.AddDate(0, 0, ahead), p.Window.Days
}

// Shown says in words which part of the wear is drawn.
func (p WearPage) Shown() string {
	first, n := p.window()
	if _, all := p.days(); n == all {
		return "The whole wear, " + count(n, "day")
	}
	if n == 1 {
		return p.Day(first)
	}
	return count(n, "day") + ", " + p.Span(first, first.AddDate(0, 0, n-1))
}

// Picture is the tracks for one width of paper or screen; the stylesheet
// shows the one that fits.
type Picture struct {
	Class string
	SVG   template.HTML
}

// trackWidths are the widths that the tracks are drawn for, in pixels.
var trackWidths = []struct {
	class string
	width int
}{{"wide", 1240}, {"middle", 720}, {"slim", 310}}

// Pictures are the tracks of the window, once a width.
func (p WearPage) Pictures() []Picture {
	first, days := p.window()
	t := chart.Tracks{
		First: first, Days: days, MaxStep: 2 * int64(max(p.Report.IntervalS, 60)),
		Points: p.points(), Gaps: p.gaps(), Suspect: p.doubts(), Bars: p.bars(), Marks: p.marks(),
	}
	var out []Picture
	for _, w := range trackWidths {
		t.ID, t.Width = "tracks-"+w.class, w.width
		out = append(out, Picture{Class: w.class, SVG: template.HTML(t.Draw().SVG)})
	}
	return out
}

func (p WearPage) points() []chart.Point {
	out := make([]chart.Point, len(p.Readings))
	suspect := p.Report.Suspect
	for i, r := range p.Readings {
		for len(suspect) > 0 && suspect[0].To.Unix() < r.At {
			suspect = suspect[1:]
		}
		q := chart.Point{At: r.At, Mmol: r.Mmol(), Suspect: r.Mark&wear.MarkError != 0}
		if len(suspect) > 0 && r.At >= suspect[0].From.Unix() {
			q.Suspect = true
		}
		if r.Bound != wear.Exact && r.Num == 0 { // a bare word: known to be off the scale, not where
			q.Mmol, q.Edge = math.NaN(), chart.LowEdge
			if r.Bound == wear.Above {
				q.Edge = chart.HighEdge
			}
		}
		if wear.Limit7_8.Above(r) {
			q.Past |= chart.Above78
		}
		if wear.Limit10_0.Above(r) {
			q.Past |= chart.Above10
		}
		if wear.Limit3_9.Below(r) {
			q.Past |= chart.Below39
		}
		out[i] = q
	}
	return out
}

func (p WearPage) gaps() []chart.Stretch {
	var out []chart.Stretch
	for _, g := range p.Report.Gaps {
		out = append(out, chart.Stretch{From: g.From.Unix(), To: g.To.Unix(), Caption: "no data " + length(g.Minutes)})
	}
	return out
}

func (p WearPage) doubts() []chart.Stretch {
	var out []chart.Stretch
	for _, s := range p.Report.Suspect {
		out = append(out, chart.Stretch{From: s.From.Unix(), To: s.To.Unix(), Caption: "not believed: " + suspectName(s.Kind)})
	}
	return out
}

func suspectName(kind string) string {
	if w := suspectWords[kind]; w != "" {
		return w
	}
	return "other doubt"
}

func (p WearPage) bars() []chart.Bar {
	var out []chart.Bar
	for _, e := range p.Report.Episodes {
		b := chart.Bar{Number: e.Number, From: e.From.Unix(), To: e.To.Unix(), Length: length(e.Minutes)}
		switch e.Kind {
		case wear.EpisodeAbove7_8:
			b.Past = chart.Above78
		case wear.EpisodeAbove10:
			b.Past = chart.Above10
		case wear.EpisodeAbove13_9:
			b.Past, b.Far = chart.Above10, true
		case wear.EpisodeBelow3_9:
			b.Past = chart.Below39
		case wear.EpisodeBelow3_0:
			b.Past, b.Far = chart.Below39, true
		default:
			continue
		}
		out = append(out, b)
	}
	return out
}

var signs = map[wear.EventKind]chart.Sign{
	wear.Meal: chart.SignMeal, wear.Symptom: chart.SignSymptom, wear.Fingerstick: chart.SignFinger, wear.Note: chart.SignNote,
	wear.Exercise: chart.SignExercise, wear.Sleep: chart.SignSleep, wear.Medicine: chart.SignMedicine,
}

func (p WearPage) marks() []chart.Mark {
	var out []chart.Mark
	for _, e := range p.Events {
		m := chart.Mark{At: e.At, Sign: signs[e.Kind], Text: e.Label}
		switch {
		case e.Kind == wear.Fingerstick:
			m.Text = wear.Of(e.Value.Mmol()).Fixed(1)
		case m.Text == "":
			m.Text = string(e.Kind)
		}
		out = append(out, m)
	}
	return out
}

// Zooms are the links that choose how many days are drawn.
func (p WearPage) Zooms() []Choice {
	first, shown := p.window()
	_, all := p.days()
	out := []Choice{{Words: "Whole wear", Address: p.Address(Window{}) + "#tracks", Current: shown == all}}
	for _, n := range []int{7, 3, 1} {
		if n < all {
			w := Window{From: first.Format(time.DateOnly), Days: n}
			out = append(out, Choice{Words: count(n, "day"), Address: p.Address(w) + "#tracks", Current: shown == n})
		}
	}
	return out
}

// Earlier and Later are the addresses of the windows before and after, or "".
func (p WearPage) Earlier() string { return p.beside(-1) }

// Later is the address of the window after this one, or "".
func (p WearPage) Later() string { return p.beside(1) }

func (p WearPage) beside(way int) string {
	start, all := p.days()
	first, shown := p.window()
	next := first.AddDate(0, 0, way*shown)
	at := dayNumber(next) - dayNumber(start)
	if shown == all || at <= -shown || at >= all {
		return ""
	}
	return p.Address(Window{From: next.Format(time.DateOnly), Days: shown}) + "#tracks"
}

// DayAddress is the window of the one day 2006-01-02.
func (p WearPage) DayAddress(date string) string {
	return p.Address(Window{From: date, Days: 1}) + "#tracks"
}

// EpisodeRow is an episode as the list shows it.
type EpisodeRow struct {
	wear.Episode
	Words   string // "above 7.8"
	Shape   string // class of its shape
	Address string // the day it began
	Symptom string // of a matched symptom, with its time
}

// EpisodeRows are the numbered list of episodes.
func (p WearPage) EpisodeRows() []EpisodeRow {
	symptoms := map[int]string{}
	for _, m := range p.Report.Matches {
		symptoms[m.Episode] = m.Symptom + " at " + p.Clock(m.SymptomAt)
	}
	shapes := map[string]string{
		wear.EpisodeAbove7_8: "high", wear.EpisodeAbove10: "peak", wear.EpisodeAbove13_9: "peak",
		wear.EpisodeBelow3_9: "low", wear.EpisodeBelow3_0: "low",
	}
	var out []EpisodeRow
	for _, e := range p.Report.Episodes {
		row := EpisodeRow{Episode: e, Words: episodeWords[e.Kind], Shape: shapes[e.Kind], Symptom: symptoms[e.Number]}
		if row.Words == "" {
			row.Words = "other"
		}
		row.Address = p.DayAddress(e.From.In(p.zone()).Format(time.DateOnly))
		out = append(out, row)
	}
	return out
}

// Length is the episode's length in words.
func (e EpisodeRow) Length() string { return length(e.Minutes) }

// SuspectName names a kind of suspect stretch in a few words.
func (p WearPage) SuspectName(kind string) string { return sentenceCase(suspectName(kind)) }

// ShortLayout is enough of the layout's fingerprint to tell it from others.
func (f WearFile) ShortLayout() string { return limitRunes(f.Layout, 12) }

// RecipeAddress is the page of the recipe that the file was filed with, or "".
func (f WearFile) RecipeAddress() string {
	if f.RecipeID == 0 {
		return ""
	}
	return RecipeAddress(f.RecipeID)
}

// ShortHash is enough of a file's hash to tell it from the others.
func (f WearFile) ShortHash() string { return limitRunes(f.SHA256, 12) }

// percent writes a margin of 0 to 1 as "87 %".
func percent(v float64) string { return strconv.Itoa(int(math.Round(v*100))) + " %" }

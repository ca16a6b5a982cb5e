package web

import (
	"math"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/worker/wear"
)

// WearTracks is the part of a [WearPage] that changes with its window.
type WearTracks struct{ WearPage }

func (WearTracks) view() (set, block string) { return "wear", "tracks" }

// Beside is another wear of the patient at the same time: a second sensor.
type Beside struct {
	WearID     int64
	SensorKind string
	Evidence   int64 // as [WearPage.Evidence]
	Report     *wear.Report
	Readings   []wear.Reading
}

// Address is the page of the other wear.
func (b Beside) Address() string { return wearAddress(b.WearID, Window{}) }

// Name is what the other sensor is called in the picture.
func (b Beside) Name() string {
	if b.SensorKind == "" {
		return "sensor, kind not set"
	}
	return "sensor kind " + b.SensorKind
}

// Pictures are the tracks of the window.
func (p WearPage) Pictures() []Picture {
	t := p.tracks()
	t.First, t.Days = p.window()
	return draw("tracks", whole, func(id string, width int) string {
		t.ID, t.Width = id, width
		return t.Draw().SVG
	})
}

// Overview is the whole wear in one low row, the days of the window framed
// where it leaves days out.
func (p WearPage) Overview() []Picture {
	t := p.tracks()
	t.First, t.Days = p.days()
	first, n := p.window()
	return draw("overview", whole, func(id string, width int) string {
		t.ID, t.Width = id, width
		return t.Overview(first, n).SVG
	})
}

// TrackKey says how the tracks are read.
func (p WearPage) TrackKey() string { return chart.TrackKey }

func (p WearPage) tracks() chart.Tracks {
	t := chart.Tracks{
		MaxStep: maxStep(p.Report), Finding: form.Sentence(p.Report.Headline),
		Points: p.points(), Gaps: p.gaps(), Suspect: p.doubts(), Bars: p.bars(), Marks: p.marks(),
	}
	for _, b := range p.Beside {
		t.Beside = append(t.Beside, chart.Beside{Name: b.Name(), MaxStep: maxStep(b.Report), Points: chartPoints(b.Readings, b.Report.Suspect)})
	}
	return t
}

// maxStep is how far apart two readings are still joined by a line, in seconds.
func maxStep(r *wear.Report) int64 { return 2 * int64(max(r.IntervalS, 60)) }

func (p WearPage) points() []chart.Point { return chartPoints(p.Readings, p.Report.Suspect) }

// chartPoints are readings as they are drawn, those of the stretches as not believed.
func chartPoints(readings []wear.Reading, suspect []wear.Stretch) []chart.Point {
	out := make([]chart.Point, len(readings))
	for i, r := range readings {
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
		name := suspectName(s.Kind)
		out = append(out, chart.Stretch{From: s.From.Unix(), To: s.To.Unix(), Caption: "not believed: " + name, Short: name})
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
		if e.Kind == wear.Undated { // at no moment
			continue
		}
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

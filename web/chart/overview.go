package chart

import (
	"html"
	"time"
)

// Overview draws the whole of t in one low row: the value, a bar an episode
// and a triangle a symptom. Where it leaves days out, a frame stands around
// those that are shown elsewhere in full: so many from first. Its readings count
// as those of [Tracks.Draw] do. Days are not named: links beneath it do that.
func (t *Tracks) Overview(first time.Time, days int) Drawn {
	p := &plan{Tracks: t, id: html.EscapeString(clean(t.ID)), narrow: true}
	width := float64(max(t.Width, 300))
	p.scale()
	p.plotHeight = 84
	p.perMmol = p.plotHeight / (p.high - p.low)

	midnights := t.midnights()
	r := &row{midnights: midnights, left: 30, right: width - 6, top: 8, from: midnights[0].Unix(), to: midnights[len(midnights)-1].Unix()}
	p.from, p.to = r.from, r.to
	base := r.top + p.plotHeight + 5 + p.laneHeight()
	bottom := base + p.hangHeight() + 3
	p.layer(r, 0, bottom)
	p.hatches(r, r.top-4, bottom)
	p.overviewDays(r, bottom)
	p.limits(r)
	p.trace(r)
	p.bars(r, base)
	p.symptoms(r)
	framed := "."
	if days < len(midnights)-1 {
		from, to := max(r.x(first.Unix()), r.left), min(r.x(first.AddDate(0, 0, days).Unix()), r.right)
		p.rect("frame", from, 1, max(to-from, 2), bottom-2)
		framed = ". Framed: " + first.Format("2 Jan 2006") + " to " + first.AddDate(0, 0, days-1).Format("2 Jan 2006") + "."
	}

	var s svg
	s.open("tracks overview", t.ID, width, bottom, "The whole wear, "+count(len(midnights)-1, "day"), told(t.Finding, p.account())+framed)
	p.hatching(&s)
	s.raw(p.b.String())
	p.drawn.SVG = s.close()
	return p.drawn
}

// symptoms marks the moments of symptoms on the lower edge of the plot.
func (p *plan) symptoms(r *row) {
	var low pen
	for _, m := range p.Marks {
		if m.Sign == SignSymptom && m.At >= r.from && m.At < r.to {
			low.triangle(r.x(m.At), r.top+p.plotHeight-3, 8)
		}
	}
	p.path("fill-low", low.String())
}

// overviewDays draws the midnights; what stands beside the strip names the days.
func (p *plan) overviewDays(r *row, bottom float64) {
	var lines pen
	for _, midnight := range r.midnights {
		x := r.x(midnight.Unix())
		lines.move(x, 2)
		lines.line(x, bottom)
	}
	p.path("line-day", lines.String())
}

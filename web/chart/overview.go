package chart

import (
	"html"
	"math"
	"time"
)

// Overview draws the whole of t in one low row, with a frame around the days
// that are shown elsewhere in full: so many from first. It has the value
// alone; its readings count as those of [Tracks.Draw] do.
func (t *Tracks) Overview(first time.Time, days int) Drawn {
	p := &plan{Tracks: t, id: html.EscapeString(clean(t.ID)), narrow: true}
	width := float64(max(t.Width, 300))
	p.scale()
	p.plotHeight = 56
	p.perMmol = p.plotHeight / (p.high - p.low)

	midnights := t.midnights()
	r := &row{midnights: midnights, left: 30, right: width - 6, top: 20, from: midnights[0].Unix(), to: midnights[len(midnights)-1].Unix()}
	p.from, p.to = r.from, r.to
	bottom := r.top + p.plotHeight + 7
	p.layer(r, 0, bottom)
	p.hatches(r, r.top-4, bottom)
	p.overviewDays(r, bottom)
	p.limits(r)
	p.trace(r)
	from, to := max(r.x(first.Unix()), r.left), min(r.x(first.AddDate(0, 0, days).Unix()), r.right)
	p.rect("frame", from, 1, max(to-from, 2), bottom-2)

	last := first.AddDate(0, 0, days-1)
	var s svg
	s.open("tracks overview", t.ID, width, bottom, "The whole wear, "+count(len(midnights)-1, "day"),
		"Framed: "+first.Format("2 Jan 2006")+" to "+last.Format("2 Jan 2006")+". "+p.traced()+".")
	p.hatching(&s)
	s.raw(p.b.String())
	p.drawn.SVG = s.close()
	return p.drawn
}

// overviewDays draws the midnights, and names as many days as have room.
func (p *plan) overviewDays(r *row, bottom float64) {
	var lines pen
	layout, every := p.dayLayout(r), 1
	if layout == "2" {
		day := (r.right - r.left) / float64(len(r.midnights)-1)
		every = int(math.Ceil((textWidth("22", daySize) + 8) / day))
	}
	for i, midnight := range r.midnights {
		x := r.x(midnight.Unix())
		lines.move(x, 2)
		lines.line(x, bottom)
		if i%every == 0 && i+every < len(r.midnights) {
			p.text("day", "start", x+4, 13, daySize, midnight.Format(layout))
		}
	}
	p.path("line-day", lines.String())
}

package chart

import (
	"strconv"
	"time"
)

// Tier is how soon a wear needs a person, as a mark shows it.
type Tier uint8

// Tiers: a post with a bar for each step of urgency, or a struck box where
// nothing can be said.
const (
	TierRoutine    Tier = iota // a bare post
	TierThisMonth              // one bar
	TierThisWeek               // two bars
	TierToday                  // three bars
	TierCannotTell             // struck box
)

// YearWear is one wear among a patient's wears.
type YearWear struct {
	From time.Time // first reading, in the wearer's zone
	Tier Tier
	Text string // "This month"
}

// Years draws a patient's wears on one ruler of years, a mark a wear in the
// shape of its tier.
type Years struct {
	ID      string
	Width   int        // pixels, at least 300
	Wears   []YearWear // in time order
	Finding string     // a sentence about it, or ""
}

// YearKey says how the marks are read.
const YearKey = "A mark a wear. A bare post: routine. One bar: this month. Two bars: this week. Three bars: today. Struck box: cannot tell."

// Measures of a ruler of years in pixels.
const (
	tierMark  = 14.0 // width of a mark
	yearLines = 4    // lines of labels
)

// drawTier draws a mark around its centre.
func drawTier(lines, bars *pen, t Tier, x, y float64) {
	if t >= TierCannotTell {
		lines.box(x, y, 9, 12)
		lines.move(x-4.5, y+6)
		lines.line(x+4.5, y-6)
		return
	}
	lines.move(x-4, y+6.5)
	lines.line(x-4, y-6.5)
	for i := range int(t) {
		bars.box(x+0.8, y-5+4.6*float64(i), 8, 2.8)
	}
}

// Draw makes the picture. Its values are the wears.
func (q *Years) Draw() Shown {
	width := float64(max(q.Width, 300))
	r := q.ruler(8, width-8)
	// Where there are more marks than places, the newest keep theirs.
	wears := q.Wears[max(0, len(q.Wears)-int((r.right-r.left)/tierMark)):]
	at := make([]float64, len(wears))
	for i, w := range wears {
		at[i] = r.x(yearOf(w.From))
	}
	at = spread(at, tierMark, r.left+tierMark/2, r.right-tierMark/2)
	labels := make([]label, len(wears))
	for i, w := range wears {
		date := w.From.Format("2 Jan 2006")
		labels[i] = label{
			at: at[i], mark: 4, index: i, texts: []string{date + ": " + shorten(w.Text, 24), date},
			first: len(wears) - i, // the newest finds its place first
		}
	}
	done, rest := stagger(labels, yearLines, r.left, r.right)
	shown := Shown{Values: len(wears), Hidden: len(q.Wears) - len(wears)}

	// The first line stands nearest the marks.
	base := labelLine * float64(lines(done, rest, yearLines))
	var s svg
	s.open("plot years", q.ID, width, base+44+labelLine*float64(one(shown.Hidden > 0)), "Wears over the years", told(q.Finding, q.account(shown.Hidden)))
	if len(wears) > 0 {
		s.years(r, base+26)
	}
	var leaders, posts, bars pen
	for i, w := range wears {
		drawTier(&posts, &bars, w.Tier, at[i], base+12)
	}
	for _, l := range done {
		x := max(l.x+2, min(at[l.index]-4, l.x+textWidth(l.text, fontSize)))
		leaders.move(x, base+4)
		leaders.line(x, base-labelLine*float64(l.line))
	}
	s.path("line-stone", leaders.String())
	s.path("line-mark", posts.String())
	s.path("fill-ink", bars.String())
	for _, l := range done {
		s.text("label", "start", l.x+4, base-labelLine*float64(l.line)-3, fontSize, l.text)
	}
	if unnamed := len(wears) - len(done); unnamed > 0 {
		s.text("small", "start", 0, 11, fontSize, count(unnamed, "wear")+" without a name")
	}
	if shown.Hidden > 0 {
		s.text("small", "start", 0, base+55, fontSize, count(shown.Hidden, "earlier wear")+" not drawn")
	}
	shown.SVG = s.close()
	return shown
}

// ruler runs from the first of January before the first wear to that after
// the last.
func (q *Years) ruler(left, right float64) ruler {
	if len(q.Wears) == 0 {
		return ruler{left, right, 0, 1}
	}
	first, last := q.Wears[0].From.Year(), q.Wears[0].From.Year()
	for _, w := range q.Wears {
		first, last = min(first, w.From.Year()), max(last, w.From.Year())
	}
	return ruler{left, right, float64(first), float64(last + 1)}
}

// yearOf is a moment as a year and the part of it that has gone by.
func yearOf(t time.Time) float64 {
	days := time.Date(t.Year(), time.December, 31, 0, 0, 0, 0, time.UTC).YearDay()
	return float64(t.Year()) + float64(t.YearDay()-1)/float64(days)
}

// years draws the ruler with the names of as many years as it has room for.
func (s *svg) years(r ruler, y float64) {
	var line pen
	line.move(r.left, y)
	line.line(r.right, y)
	room := textWidth("2000", 10) + 10
	step := int(r.step(room))
	for year := int(r.low); year <= int(r.high); year++ {
		x := r.x(float64(year))
		line.move(x, y)
		line.line(x, y+4)
		if year%step == 0 && x+room <= r.right+7 {
			s.text("small", "start", x+3, y+14, 10, strconv.Itoa(year))
		}
	}
	s.path("line-day", line.String())
}

// account says what the ruler shows.
func (q *Years) account(hidden int) string {
	if len(q.Wears) == 0 {
		return "No wear is on record."
	}
	newest := q.Wears[0]
	for _, w := range q.Wears {
		if !w.From.Before(newest.From) {
			newest = w
		}
	}
	s := count(len(q.Wears), "wear") + "; the newest began on " + newest.From.Format("2 Jan 2006")
	if text := clean(newest.Text); text != "" {
		s += ": " + text
	}
	s += "."
	if hidden > 0 {
		s += " " + count(hidden, "earlier wear") + " not drawn."
	}
	return s
}

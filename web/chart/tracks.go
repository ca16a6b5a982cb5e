package chart

import (
	"cmp"
	"html"
	"math"
	"slices"
	"strconv"
	"time"
)

// Past says which limits a reading is past. The caller compares, in the unit
// that the value was recorded in; the drawing never does.
type Past uint8

// Limits that a reading can be past, in any combination.
const (
	Above78 Past = 1 << iota
	Above10
	Below39
)

// Point is one reading.
type Point struct {
	At      int64   // seconds since 1970-01-01 UTC
	Mmol    float64 // what is not a finite number is not drawn, and counted
	Past    Past
	Suspect bool // not believed: drawn faint and apart
	Edge    Edge
}

// Edge says that a reading is only known to lie beyond what the sensor can
// report, without a number: it is drawn at that edge of the scale.
type Edge int8

// Edges.
const (
	LowEdge  Edge = -1
	HighEdge Edge = 1
)

// Stretch is a time that is hatched over all tracks.
type Stretch struct {
	From, To int64
	Caption  string // "not believed: pressure dip"
	Short    string // where there is less room: "pressure dip"
}

// Bar is one episode on the evidence track.
type Bar struct {
	Number   int
	From, To int64
	Past     Past   // one bit: which limit it is past
	Far      bool   // past the outer limit of its side: 13.9 or 3.0 mmol/L
	Length   string // "1 h 15"
}

// Sign is the shape of a mark on the context track.
type Sign uint8

// Signs.
const (
	SignNote     Sign = iota // three short lines
	SignMeal                 // open square
	SignSymptom              // downward triangle, with its words
	SignFinger               // ring, with its value
	SignExercise             // open diamond
	SignSleep                // bar lying down
	SignMedicine             // cross
)

// Mark is something the wearer or the file recorded.
type Mark struct {
	At   int64
	Sign Sign
	Text string // the wearer's own words, or a fingerstick's value
}

// Beside is another sensor that was worn at the same time, drawn dashed on the
// same scale. What is not believed of it is not drawn, and counted.
type Beside struct {
	Name    string // "sensor kind B"
	MaxStep int64  // seconds; readings further apart are never joined
	Points  []Point
}

// Tracks is one wear, or a part of it, on one ruler of time: the value, the
// evidence (a bar an episode) and the context (what was recorded beside it).
type Tracks struct {
	ID      string    // unique on the page
	Width   int       // pixels, at least 300
	First   time.Time // any moment of the first day, in the zone whose days are drawn
	Days    int       // how many days, 1 or more
	MaxStep int64     // seconds; readings further apart are never joined

	Points  []Point // in time order; those outside the days are left out
	Gaps    []Stretch
	Suspect []Stretch
	Bars    []Bar
	Marks   []Mark
	Beside  []Beside
	Finding string // the report's sentence about it, or ""
}

// TrackKey says how tracks are read.
const TrackKey = "The dotted line is 7.8; the trace is thicker above 10 and below 3.9. Evidence: short bar above 7.8, tall bar above 10, taller above 13.9, hanging bar below 3.9, each with its number and length. Context: square, a meal; triangle, a symptom; ring, a fingerstick; diamond, exercise; bar lying down, sleep; cross, a medicine; three lines, a note. Slanted lines: no data. Rows of dashes: readings not believed, drawn faint and in no measure."

// Drawn is a picture and the account of what it shows.
type Drawn struct {
	SVG      string
	Readings int // readings drawn, faint ones included
	Faint    int // of those, not believed
	Hidden   int // readings within the days that could not be drawn

	Beside       int // readings of other sensors drawn
	BesideHidden int // readings of other sensors within the days that are not drawn
}

// Measures of the tracks in pixels.
const (
	fontSize  = 11.0
	daySize   = 12.0
	labelLine = 15.0
)

// row is one line of days with its own ruler.
type row struct {
	midnights   []time.Time // one more than days
	from, to    int64
	left, right float64
	top         float64 // of the value plot
}

func (r *row) x(at int64) float64 {
	return r.left + float64(at-r.from)/float64(r.to-r.from)*(r.right-r.left)
}

// holds reports whether any part of from-to lies in the row.
func (r *row) holds(from, to int64) bool { return to >= r.from && from < r.to }

// plan is what the rows of one picture share.
type plan struct {
	*Tracks
	svg
	id          string // escaped
	from, to    int64  // the first midnight and the last
	left, right float64
	low, high   float64 // of the value scale, mmol/L
	perMmol     float64 // pixels
	plotHeight  float64
	roomy       bool // three days or fewer to a row
	narrow      bool // no room for track names beside the tracks
	drawn       Drawn
}

// Draw makes the picture. A part with three days or fewer to a row is drawn
// taller, with hours; more days than the width has room for go on several rows.
func (t *Tracks) Draw() Drawn {
	p := &plan{Tracks: t, id: html.EscapeString(clean(t.ID)), narrow: t.Width < 600}
	width := float64(max(t.Width, 300))
	p.left, p.right = 78, width-12
	if p.narrow {
		p.left, p.right = 30, width-6
	}
	days := max(t.Days, 1)
	most := max(1, min(8, int((p.right-p.left)/75))) // days that a row has room for
	rows := (days + most - 1) / most
	perRow := (days + rows - 1) / rows
	p.roomy = perRow <= 3 && !p.narrow
	p.scale()

	midnights := t.midnights()
	p.from, p.to = midnights[0].Unix(), midnights[days].Unix()
	bottom := 0.0
	for i := 0; i < days; i += perRow {
		last := min(i+perRow, days)
		r := &row{midnights: midnights[i : last+1], left: p.left, right: p.right,
			from: midnights[i].Unix(), to: midnights[last].Unix()}
		if i > 0 {
			bottom += 14
			r.right = p.left + (p.right-p.left)*float64(last-i)/float64(perRow)
		}
		bottom = p.row(r, bottom)
	}

	title := "Value, evidence and context, " + midnights[0].Format("2 Jan 2006") + " to " + midnights[days-1].Format("2 Jan 2006")
	var s svg
	s.open("tracks", t.ID, width, bottom+2, title, told(t.Finding, p.account()))
	p.hatching(&s)
	s.raw(p.b.String())
	p.drawn.SVG = s.close()
	return p.drawn
}

// midnights are the ends of the days, one more than days.
func (t *Tracks) midnights() []time.Time {
	out := make([]time.Time, max(t.Days, 1)+1)
	y, m, d := t.First.Date()
	for i := range out {
		out[i] = time.Date(y, m, d+i, 0, 0, 0, 0, t.First.Location())
	}
	return out
}

// hatching defines the two patterns.
func (p *plan) hatching(s *svg) {
	s.raw(`<defs><pattern id="`, p.id, `-gap" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(20)"><path class="hatch-gap" d="M4 0V9"/></pattern>`,
		`<pattern id="`, p.id, `-doubt" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)"><path class="hatch-doubt" d="M0 3H2.5"/></pattern></defs>`)
}

// account says what the picture holds, for those who cannot see it.
func (p *plan) account() string {
	episodes, records := 0, 0
	for _, b := range p.Bars {
		episodes += one(b.To > p.from && b.From < p.to)
	}
	for _, m := range p.Marks {
		records += one(m.At >= p.from && m.At < p.to)
	}
	return p.traced() + "; " + count(episodes, "episode") + " and " + count(records, "record") + " beside the trace. The tables on this page hold the same facts."
}

// traced says what the lines hold.
func (p *plan) traced() string {
	s := count(p.drawn.Readings, "reading") + " drawn"
	if p.drawn.Faint > 0 {
		s += ", " + strconv.Itoa(p.drawn.Faint) + " of them faint because they are not believed"
	}
	if p.drawn.Hidden > 0 {
		s += ", " + strconv.Itoa(p.drawn.Hidden) + " not drawn because they are not numbers"
	}
	if p.drawn.Beside > 0 {
		s += "; dashed, " + count(p.drawn.Beside, "reading") + " of another sensor"
	}
	if p.drawn.BesideHidden > 0 {
		s += "; " + count(p.drawn.BesideHidden, "reading") + " of another sensor not drawn because they are not believed"
	}
	gaps := 0
	for _, g := range p.Gaps {
		gaps += one(g.To >= p.from && g.From < p.to)
	}
	return s + "; " + count(gaps, "gap") + " hatched"
}

// scale fits the value scale: the same for every ordinary wear, so that two
// pictures can be compared, and wider only where a reading asks for it.
func (p *plan) scale() {
	p.low, p.high = 3, 11
	fit := func(points []Point) {
		for _, q := range points {
			if finite(q.Mmol) && q.Edge == 0 {
				p.low = min(p.low, math.Floor(q.Mmol))
				p.high = max(p.high, math.Ceil(q.Mmol))
			}
		}
	}
	fit(p.Points)
	for _, b := range p.Beside {
		fit(b.Points)
	}
	p.low, p.high = max(p.low, -5)-0.3, min(p.high, 60)+0.3
	p.perMmol, p.plotHeight = 13, 230
	if p.roomy {
		p.perMmol, p.plotHeight = 22, 320
	}
	p.perMmol = min(p.perMmol, p.plotHeight/(p.high-p.low))
	p.plotHeight = p.perMmol * (p.high - p.low)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// y is the height of a value in a row.
func (p *plan) y(r *row, mmol float64) float64 {
	return r.top + (p.high-max(p.low, min(p.high, mmol)))*p.perMmol
}

// row draws one row from the height top down and returns where it ends.
func (p *plan) row(r *row, top float64) float64 {
	captions, captionRest := stagger(p.captions(r), 2, r.left+3, r.right)
	r.top = top + 18 + labelLine*float64(lines(captions, captionRest, 2)) + 4
	evidence := r.top + p.plotHeight + 10
	if p.narrow {
		evidence += labelLine
	}
	base := evidence + p.laneHeight()
	barLabels, barRest := stagger(p.barLabels(r), 2, r.left+1, r.right)
	labelTop := base + p.hangHeight()
	context := labelTop + labelLine*float64(lines(barLabels, barRest, 2)) + 8
	if p.narrow {
		context += labelLine
	}
	marks, markRest := stagger(p.markLabels(r), 2, r.left+1, r.right)
	bottom := context + labelLine*float64(max(1, lines(marks, markRest, 2))) + 2

	p.layer(r, top, bottom)
	p.hatches(r, r.top-4, bottom)
	p.ruler(r, top, bottom)
	p.names(r, evidence, context)
	p.limits(r)
	for _, c := range captions {
		p.text("small", "start", c.x, top+18+labelLine*float64(c.line)+11, fontSize, c.text)
	}
	for _, c := range captionRest {
		p.text("small", "start", c.x, top+18+labelLine*2+11, fontSize, c.text)
	}
	p.beside(r)
	p.trace(r)

	p.bars(r, base)
	for _, l := range barLabels {
		p.text("label", "start", l.x, labelTop+labelLine*float64(l.line)+11, fontSize, l.text)
	}
	for _, l := range barRest {
		p.text("small", "start", l.x, labelTop+labelLine*2+11, fontSize, l.text)
	}
	p.marks(marks, context)
	if len(marks)+len(markRest) == 0 {
		p.text("small", "start", r.left+4, context+11, fontSize, "nothing recorded")
	}
	for _, l := range markRest {
		p.text("small", "start", l.x, context+labelLine*2+11, fontSize, l.text)
	}
	return bottom
}

// layer is an empty group beneath the row with the row's measures, for a
// script that draws a cursor: its times and sides, its edges, the height of
// nought and the pixels of one mmol/L.
func (p *plan) layer(r *row, top, bottom float64) {
	p.raw(`<g class="layer" data-from="`, strconv.FormatInt(r.from, 10), `" data-to="`, strconv.FormatInt(r.to, 10),
		`" data-left="`, num(r.left), `" data-right="`, num(r.right), `" data-top="`, num(top), `" data-bottom="`, num(bottom),
		`" data-zero="`, num(r.top+p.high*p.perMmol), `" data-per="`, strconv.FormatFloat(p.perMmol, 'f', 3, 64), `"></g>`)
}

// lines counts the label lines that are in use; what is left over stands on
// one more, below all the others.
func lines(done []placed, rest []leftOver, all int) int {
	if len(rest) > 0 {
		return all + 1
	}
	n := 0
	for _, d := range done {
		n = max(n, d.line+1)
	}
	return n
}

// ruler draws the days, and the hours where there is room.
func (p *plan) ruler(r *row, top, bottom float64) {
	var days, hours pen
	layout := p.dayLayout(r)
	for i, midnight := range r.midnights {
		x := r.x(midnight.Unix())
		days.move(x, top+2)
		days.line(x, bottom)
		if i+1 == len(r.midnights) {
			break
		}
		name := midnight.Format(layout)
		p.text("day", "start", x+5, top+13, daySize, name)
		p.hours(r, midnight, x+5+textWidth(name, daySize), top, bottom, &hours)
	}
	p.path("line-hour", hours.String())
	p.path("line-day", days.String())
}

// dayLayout is the fullest way to write dates for which every day of the row
// has room.
func (p *plan) dayLayout(r *row) string {
	layouts := []string{"Mon 2 Jan 2006", "Mon 2 Jan", "2 Jan"}
next:
	for _, layout := range layouts {
		for i, midnight := range r.midnights[:len(r.midnights)-1] {
			if textWidth(midnight.Format(layout), daySize)+10 > r.x(r.midnights[i+1].Unix())-r.x(midnight.Unix()) {
				continue next
			}
		}
		return layout
	}
	return "2"
}

// hours draws a fine line at every third or sixth hour of one day, and names
// the hour where the day is wide enough and its own name has ended.
func (p *plan) hours(r *row, midnight time.Time, nameEnd, top, bottom float64, lines *pen) {
	y, m, d := midnight.Date()
	perHour := (r.right - r.left) / float64(r.to-r.from) * 3600
	step := 6
	switch {
	case perHour*6 < 30:
		return
	case perHour*3 > 60:
		step = 3
	}
	for h := step; h < 24; h += step {
		at := time.Date(y, m, d, h, 0, 0, 0, midnight.Location())
		x := r.x(at.Unix())
		lines.move(x, r.top-4)
		lines.line(x, bottom)
		name := at.Format("15:04")
		if half := textWidth(name, 10) / 2; perHour*float64(step) > 2*half+6 && x-half > nameEnd+8 {
			p.text("small", "middle", x, top+13, 10, name)
		}
	}
}

// names writes the tracks' names: beside them, or above where it is narrow.
func (p *plan) names(r *row, evidence, context float64) {
	if p.narrow {
		p.text("small", "start", r.left, evidence-4, 10, "evidence")
		p.text("small", "start", r.left, context-4, 10, "context")
		return
	}
	p.text("small", "start", 0, r.top+8, fontSize, "mmol/L")
	p.text("small", "start", 0, evidence+9, fontSize, "evidence")
	p.text("small", "start", 0, context+10, fontSize, "context")
}

// limits names the limits at the ruler's side: 7.8 with a dotted line across,
// 10 and 3.9 with a tick, since how far the trace went past them is told by the
// evidence and not by a space between lines.
func (p *plan) limits(r *row) {
	var dots, ticks pen
	limits := []float64{10, 7.8, 3.9}
	at := make([]float64, len(limits))
	for i, v := range limits {
		at[i] = p.y(r, v)
		if v == 7.8 {
			dots.move(r.left, at[i])
			dots.line(r.right, at[i])
			continue
		}
		ticks.move(r.left-3, at[i])
		ticks.line(r.left+5, at[i])
	}
	for i, y := range spread(at, fontSize+0.5, r.top, r.top+p.plotHeight) { // pushed apart where the scale is tight
		p.text("limit", "end", r.left-5, y+4, fontSize, strconv.FormatFloat(limits[i], 'f', -1, 64))
	}
	p.path("line-limit", dots.String())
	p.path("line-day", ticks.String())
}

// hatches draws gaps and suspect stretches over all tracks.
func (p *plan) hatches(r *row, top, bottom float64) {
	for _, g := range p.Gaps {
		p.hatch(r, g, "-gap", top, bottom)
	}
	for _, g := range p.Suspect {
		p.hatch(r, g, "-doubt", top, bottom)
	}
}

func (p *plan) hatch(r *row, g Stretch, pattern string, top, bottom float64) {
	if !r.holds(g.From, g.To) {
		return
	}
	from, to := r.x(max(g.From, r.from)), r.x(min(g.To, r.to))
	p.rect("hatch", from, top, max(to-from, 1.5), bottom-top, ` fill="url(#`, p.id, pattern, `)"`)
}

// captions are the texts over gaps and suspect stretches that are long enough
// to be seen.
func (p *plan) captions(r *row) []label {
	var out []label
	least := int64(3600)
	if p.roomy {
		least = 900
	}
	add := func(list []Stretch, noun string, first int) {
		for _, g := range list {
			if r.holds(g.From, g.To) && g.To-g.From >= least {
				x := r.x(max(g.From, r.from))
				out = append(out, label{at: x, texts: []string{shorten(g.Caption, 40), shorten(cmp.Or(g.Short, g.Caption), 16)}, noun: noun, first: first})
			}
		}
	}
	add(p.Gaps, "gap", 0)
	add(p.Suspect, "doubt", 1)
	for _, b := range p.Beside {
		i := after(b.Points, r.from)
		if i < len(b.Points) && b.Points[i].At < r.to {
			out = append(out, label{at: r.x(b.Points[i].At), texts: []string{"dashed: " + shorten(b.Name, 30), shorten(b.Name, 14)}, noun: "sensor", first: 2})
		}
	}
	return out
}

// laneHeight is the room above the base line for bars past the limits above;
// hangHeight that below it for bars past those beneath.
func (p *plan) laneHeight() float64 {
	for _, b := range p.Bars {
		if b.Past == Above10 {
			return 22
		}
	}
	return 10
}

func (p *plan) hangHeight() float64 {
	for _, b := range p.Bars {
		if b.Past == Below39 {
			return 12
		}
	}
	return 3
}

// bars draws the evidence: short bars for 7.8, tall ones over them for 10,
// and bars that hang below the line for lows.
func (p *plan) bars(r *row, base float64) {
	var high, peak, low, line pen
	line.move(r.left, base)
	line.line(r.right, base)
	for _, b := range p.Bars {
		if !r.holds(b.From, b.To-1) {
			continue
		}
		from, to := r.x(max(b.From, r.from)), r.x(min(b.To, r.to))
		w := max(to-from, 2)
		switch {
		case b.Past&Above10 != 0 && b.Far:
			peak.box(from+w/2, base-15, w, 14)
		case b.Past&Above10 != 0:
			peak.box(from+w/2, base-13, w, 10)
		case b.Past&Above78 != 0:
			high.box(from+w/2, base-3.5, w, 5)
		case b.Far:
			low.box(from+w/2, base+6, w, 9)
		default:
			low.box(from+w/2, base+4, w, 5)
		}
	}
	p.path("line-hour", line.String())
	p.path("fill-high", high.String())
	p.path("fill-peak", peak.String())
	p.path("fill-low", low.String())
}

func (p *plan) barLabels(r *row) []label {
	var out []label
	for i, b := range p.Bars {
		began := b.From >= r.from || r.from == p.from // named where it begins, or where the picture does
		if !began || !r.holds(b.From, b.To-1) {
			continue
		}
		n := strconv.Itoa(b.Number)
		first := 1
		if b.Past == Below39 {
			first = 0
		}
		out = append(out, label{at: r.x(max(b.From, r.from)), texts: []string{n + " · " + clean(b.Length), n}, first: first, index: i})
	}
	return out
}

var signNouns = map[Sign]string{
	SignNote: "note", SignMeal: "meal", SignSymptom: "symptom", SignFinger: "fingerstick",
	SignExercise: "exercise", SignSleep: "sleep", SignMedicine: "medicine",
}

// markLabels are the context's marks with their words. Symptoms find their
// place first, then fingersticks: neither should be what is counted away.
func (p *plan) markLabels(r *row) []label {
	var out []label
	for i, m := range p.Marks {
		if m.At < r.from || m.At >= r.to {
			continue
		}
		first := 2
		texts := []string{shorten(m.Text, 32), shorten(m.Text, 12), ""}
		switch m.Sign {
		case SignSymptom:
			first, texts = 0, texts[:2]
		case SignFinger:
			first = 1
		}
		noun := signNouns[m.Sign]
		if m.Sign >= SignExercise {
			noun = "" // "2 more": these have no good plural
		}
		out = append(out, label{at: r.x(m.At), texts: texts, mark: 14, noun: noun, first: first, index: i})
	}
	return out
}

// marks draws the context's shapes and words.
func (p *plan) marks(list []placed, top float64) {
	var open, low, cross pen
	for _, l := range list {
		m := p.Marks[l.index]
		x, y := l.x+6, top+labelLine*float64(l.line)+7
		class := "label"
		switch m.Sign {
		case SignMeal:
			open.box(x, y, 8, 8)
		case SignSymptom:
			low.triangle(x, y, 10)
			class = "label-low"
		case SignFinger:
			open.circle(x, y, 4.2)
		case SignExercise:
			open.diamond(x, y, 5)
		case SignSleep:
			open.box(x, y, 11, 4)
		case SignMedicine:
			cross.move(x-4, y)
			cross.line(x+4, y)
			cross.move(x, y-4)
			cross.line(x, y+4)
		default:
			for _, dy := range []float64{-3, 0, 3} {
				cross.move(x-4, y+dy)
				cross.line(x+4, y+dy)
			}
		}
		if l.text != "" {
			p.text(class, "start", l.x+14, y+4, fontSize, l.text)
		}
	}
	p.path("line-mark", open.String())
	p.path("line-mark", cross.String())
	p.path("fill-low", low.String())
}

// trace draws the readings: the line, broken wherever readings are missing or
// not believed, and thicker where it is above 10 or below 3.9.
func (p *plan) trace(r *row) {
	var line, faint, far trace
	var before *Point
	for i := after(p.Points, r.from); i < len(p.Points) && p.Points[i].At < r.to; i++ {
		q := &p.Points[i]
		if !finite(q.Mmol) && q.Edge == 0 {
			p.drawn.Hidden++
			continue
		}
		x, y := r.x(q.At), p.height(r, q)
		p.drawn.Readings++
		broken := before == nil || q.At-before.At > p.MaxStep || q.Suspect != before.Suspect || p.gapBetween(before.At, q.At)
		past := q.Past &^ Above78
		parted := broken || before.Past&^Above78 != past
		before = q
		if q.Suspect {
			p.drawn.Faint++
			faint.add(x, y, broken)
			line.finish()
			far.finish()
			continue
		}
		faint.finish()
		line.add(x, y, broken)
		if past != 0 {
			far.add(x, y, parted)
		} else {
			far.finish()
		}
	}
	line.finish()
	faint.finish()
	far.finish()
	p.path("line-faint", faint.String())
	p.path("line-value", line.String())
	p.path("line-far", far.String())
}

// after is the first of the points at or after an instant.
func after(points []Point, at int64) int {
	i, _ := slices.BinarySearchFunc(points, at, func(q Point, at int64) int { return cmp.Compare(q.At, at) })
	return i
}

// height is where a reading stands: what is only known to lie off the scale,
// at its edge.
func (p *plan) height(r *row, q *Point) float64 {
	switch q.Edge {
	case LowEdge:
		return p.y(r, p.low)
	case HighEdge:
		return p.y(r, p.high)
	}
	return p.y(r, q.Mmol)
}

// beside draws the lines of other sensors.
func (p *plan) beside(r *row) {
	var line trace
	for _, b := range p.Beside {
		var before *Point
		for i := after(b.Points, r.from); i < len(b.Points) && b.Points[i].At < r.to; i++ {
			q := &b.Points[i]
			if q.Suspect || !finite(q.Mmol) && q.Edge == 0 {
				p.drawn.BesideHidden++
				before = nil
				continue
			}
			p.drawn.Beside++
			line.add(r.x(q.At), p.height(r, q), before == nil || q.At-before.At > b.MaxStep)
			before = q
		}
		line.finish()
	}
	p.path("line-beside", line.String())
}

// gapBetween reports whether a declared gap lies between two readings.
func (p *plan) gapBetween(a, b int64) bool {
	i, found := slices.BinarySearchFunc(p.Gaps, a, func(g Stretch, at int64) int { return cmp.Compare(g.From, at) })
	if !found && i == len(p.Gaps) {
		return false
	}
	return p.Gaps[i].From >= a && p.Gaps[i].To <= b
}

// trace writes a line through readings. Where several fall on one column of
// pixels it keeps the lowest and the highest, in their order in time: the
// drawn line still covers every reading.
type trace struct {
	pen
	column     int
	n          int // readings in the column
	low, high  point
	lowIsFirst bool
	joined     bool // the column continues a line
}

type point struct{ x, y float64 }

func (t *trace) add(x, y float64, broken bool) {
	column := int(math.Floor(x))
	if broken || t.n > 0 && column != t.column {
		t.flush()
	}
	if broken {
		t.joined = false
	}
	if t.n == 0 {
		t.column, t.low, t.high, t.lowIsFirst = column, point{x, y}, point{x, y}, true
	}
	if y > t.low.y { // heights grow downwards
		t.low, t.lowIsFirst = point{x, y}, false
	}
	if y < t.high.y {
		t.high, t.lowIsFirst = point{x, y}, true
	}
	t.n++
}

// flush writes the column.
func (t *trace) flush() {
	if t.n == 0 {
		return
	}
	a, b := t.high, t.low
	if t.lowIsFirst {
		a, b = b, a
	}
	switch {
	case t.joined:
		t.line(a.x, a.y)
	case a == b:
		t.dot(a.x, a.y)
	default:
		t.move(a.x, a.y)
	}
	if a != b {
		t.line(b.x, b.y)
	}
	t.n, t.joined = 0, true
}

// finish ends the line: what comes next is not joined to it.
func (t *trace) finish() {
	t.flush()
	t.joined = false
}

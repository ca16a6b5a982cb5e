package wear_test

// Hand-made wears with a known answer, one a line of testdata/strangers.jsonl,
// and what turns a line into readings. They were thought out from published
// figures and the practice's rules by somebody who had not seen how the engine
// decides.

import (
	"bufio"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"math"
	"os"
	"sort"
	"strconv"
	"strings"
	"time"
)

// Case is one line of cases.jsonl. README.md says what every field means.
type Case struct {
	ID       string           `json:"id"`
	Class    string           `json:"class"`
	Title    string           `json:"title"`
	Why      string           `json:"why"`
	Covers   []string         `json:"covers"`
	Person   Person           `json:"person"`
	Results  []Result         `json:"results"`
	Trace    Trace            `json:"trace"`
	Events   []Event          `json:"events"`
	Notes    []string         `json:"notes"`
	RedFlags []string         `json:"red_flags"`
	Read     []Read           `json:"read"`
	Expect   Expect           `json:"expect"`
	Facts    map[string]Range `json:"facts"`
}

type Person struct {
	Age           int      `json:"age"`
	Sex           string   `json:"sex"`
	Asked         bool     `json:"asked"`
	SymptomsAsked *bool    `json:"symptoms_asked"`
	Medicines     []string `json:"medicines"`
	Pregnant      bool     `json:"pregnant"`
	Bariatric     bool     `json:"bariatric"`
	Steroid       bool     `json:"steroid"`
	LowCarb       bool     `json:"low_carb"`
	ShiftWork     bool     `json:"shift_work"`
}

type Result struct {
	Kind          string  `json:"kind"`
	Value         float64 `json:"value"`
	Unit          string  `json:"unit"`
	DaysBeforeEnd int     `json:"days_before_end"`
}

type Trace struct {
	Unit        string    `json:"unit"`
	IntervalMin int       `json:"interval_min"`
	Days        int       `json:"days"`
	Start       string    `json:"start"`
	SensorKind  string    `json:"sensor_kind"`
	Base        float64   `json:"base"`
	Noise       float64   `json:"noise"`
	Vary        *float64  `json:"vary"`
	Daily       []Rise    `json:"daily"`
	Segments    []Segment `json:"segments"`
	Gaps        []Gap     `json:"gaps"`
}

type Rise struct {
	At      string  `json:"at"`
	Rise    float64 `json:"rise"`
	Minutes int     `json:"minutes"`
	Days    []int   `json:"days"`
}

type Segment struct {
	Day     int      `json:"day"`
	Days    []int    `json:"days"`
	At      string   `json:"at"`
	Minutes int      `json:"minutes"`
	Shape   string   `json:"shape"`
	To      float64  `json:"to"`
	Lead    *int     `json:"lead"`
	Tail    *int     `json:"tail"`
	Wiggle  *float64 `json:"wiggle"`
}

type Gap struct {
	Day     int    `json:"day"`
	Days    []int  `json:"days"`
	At      string `json:"at"`
	Minutes int    `json:"minutes"`
}

type Event struct {
	Day     int     `json:"day"`
	At      string  `json:"at"`
	Kind    string  `json:"kind"`
	RawKind string  `json:"raw_kind,omitempty"`
	Text    string  `json:"text,omitempty"`
	Value   float64 `json:"value,omitempty"`
	Unit    string  `json:"unit,omitempty"`
	Minutes int     `json:"minutes,omitempty"`
}

type Read struct {
	Event *int   `json:"event"`
	Note  *int   `json:"note"`
	As    string `json:"as"`
}

type Expect struct {
	TierMin      string   `json:"tier_min"`
	TierMax      string   `json:"tier_max"`
	AllIsWell    *bool    `json:"all_is_well"`
	TierWhenRead string   `json:"tier_when_read"`
	AtLeastAs    string   `json:"at_least_as_pressing_as"`
	ScoreAbove   string   `json:"score_above"`
	MustNotSay   []string `json:"must_not_say"`
	MustMention  []string `json:"must_mention"`
	Open         string   `json:"open"`
}

// Range is [least, most], both allowed.
type Range [2]float64

// Reading is one cell: Text is what the file holds, Value the number behind it
// (the range limit where Text is LO or HI).
type Reading struct {
	Time  time.Time
	Text  string
	Value float64
}

const layout = "2006-01-02T15:04"

// tiers, least pressing first.
var tiers = []string{"routine", "cannot_tell", "this_month", "this_week", "today"}

// Start is the time of the first reading.
func (t Trace) start() time.Time {
	s := t.Start
	if s == "" {
		s = "2026-03-02T00:00"
	}
	v, err := time.Parse(layout, s)
	if err != nil {
		fail("start %q: %v", s, err)
	}
	return v
}

// when is minute number of "hh:mm" on a day (1 = the calendar day of the first reading).
func (t Trace) when(day int, at string) int {
	var h, m int
	if _, err := fmt.Sscanf(at, "%d:%d", &h, &m); err != nil {
		fail("time of day %q: %v", at, err)
	}
	s := t.start()
	return (day-1)*1440 + h*60 + m - (s.Hour()*60 + s.Minute())
}

func (t Trace) mg() bool { return t.Unit == "mg/dL" }

// scale is the size of 1 mmol/L in the trace's unit, for the built-in defaults only.
func (t Trace) scale() float64 {
	if t.mg() {
		return 18
	}
	return 1
}

// unitRand is in [-1, 1), the same for the same words every time.
func unitRand(parts ...any) float64 {
	h := fnv.New64a()
	fmt.Fprint(h, parts...)
	x := h.Sum64()
	x ^= x >> 33
	x *= 0xff51afd7ed558ccd
	x ^= x >> 33
	x *= 0xc4ceb9fe1a85ec53
	x ^= x >> 33
	return float64(x>>11)/float64(1<<52) - 1
}

func has(days []int, d int) bool {
	for _, x := range days {
		if x == d {
			return true
		}
	}
	return false
}

// Expand gives the readings in time order.
func Expand(c Case) []Reading {
	t := c.Trace
	if t.IntervalMin == 0 {
		t.IntervalMin = 5
	}
	n := t.Days * 1440 / t.IntervalMin
	vary := 0.08
	if t.Vary != nil {
		vary = *t.Vary
	}
	curve := make([]float64, n)
	censored := make([]string, n)
	phi := math.Exp(-float64(t.IntervalMin) / 20)
	slow := 0.0
	for i := range curve {
		m := i * t.IntervalMin
		slow = phi*slow + math.Sqrt(1-phi*phi)*unitRand(c.ID, "slow", i)*1.7
		v := t.Base + t.Noise*(0.8*slow+0.5*unitRand(c.ID, "fast", i))
		first := t.start()
		clock := first.Hour()*60 + first.Minute() + m
		for k, r := range t.Daily {
			for day := clock/1440 - 1; day <= clock/1440; day++ {
				if len(r.Days) > 0 && !has(r.Days, day+1) {
					continue
				}
				x := float64(m-t.when(day+1, r.At)) / float64(r.Minutes)
				if x < 0 || x >= 1 {
					continue
				}
				v += r.Rise * (1 + vary*unitRand(c.ID, "meal", k, day)) * hump(x)
			}
		}
		curve[i] = v
	}
	for k, s := range t.Segments {
		days := s.Days
		if len(days) == 0 {
			days = []int{s.Day}
		}
		for _, d := range days {
			applySegment(c.ID, t, s, k, t.when(d, s.At), curve, censored)
		}
	}
	lo, hi := 2.2, 22.2
	if t.mg() {
		lo, hi = 40, 400
	}
	held := heldReadings(t, n)
	missing := make([]bool, n)
	for _, g := range t.Gaps {
		days := g.Days
		if len(days) == 0 {
			days = []int{g.Day}
		}
		for _, d := range days {
			from := t.when(d, g.At)
			for i := range missing {
				if m := i * t.IntervalMin; m >= from && m < from+g.Minutes {
					missing[i] = true
				}
			}
		}
	}
	var out []Reading
	same, step := 1, 0.1
	if t.mg() {
		step = 1
	}
	most := max(4, 50/t.IntervalMin) // so many equal readings running, no more, but where a segment says so
	for i, v := range curve {
		if missing[i] {
			continue
		}
		r := Reading{Time: t.start().Add(time.Duration(i*t.IntervalMin) * time.Minute)}
		switch {
		case censored[i] == "LO":
			r.Text, r.Value = "LO", lo
		case censored[i] == "HI":
			r.Text, r.Value = "HI", hi
		default:
			v = math.Min(math.Max(v, lo), hi)
			if t.mg() {
				r.Value = math.Floor(v + 0.5)
				r.Text = strconv.FormatFloat(r.Value, 'f', 0, 64)
			} else {
				r.Value = math.Floor(v*10+0.5+1e-9) / 10
				r.Text = strconv.FormatFloat(r.Value, 'f', 1, 64)
			}
		}
		if k := len(out); k > 0 && out[k-1].Text == r.Text {
			same++
		} else {
			same = 1
		}
		if same > most && !held[i] {
			if unitRand(c.ID, "nudge", i) < 0 {
				step = -step
			}
			if r.Value+step < lo || r.Value+step > hi {
				step = -step
			}
			r.Value = math.Round((r.Value+step)*10) / 10
			digits := 1
			if t.mg() {
				digits = 0
			}
			r.Text, same = strconv.FormatFloat(r.Value, 'f', digits, 64), 1
		}
		out = append(out, r)
	}
	return out
}

// heldReadings marks what a segment lays down: nothing is nudged there.
func heldReadings(t Trace, n int) []bool {
	held := make([]bool, n)
	for _, s := range t.Segments {
		if s.Shape == "shift" {
			continue
		}
		days := s.Days
		if len(days) == 0 {
			days = []int{s.Day}
		}
		for _, d := range days {
			from := t.when(d, s.At)
			for i := max(0, ceilDiv(from-30, t.IntervalMin)); i < min(n, ceilDiv(from+s.Minutes+30, t.IntervalMin)); i++ {
				held[i] = true
			}
		}
	}
	return held
}

// hump rises to 1 at 40 % of its width and comes back.
func hump(x float64) float64 {
	if x < 0.4 {
		s := math.Sin(math.Pi / 2 * x / 0.4)
		return s * s
	}
	s := math.Cos(math.Pi / 2 * (x - 0.4) / 0.6)
	return s * s
}

// applySegment lays one segment over the curve. from is the minute at which
// its hold begins; lead and tail are the ways in and out.
func applySegment(id string, t Trace, s Segment, k, from int, curve []float64, censored []string) {
	n, d := len(curve), t.IntervalMin
	at := func(i int) float64 { // the curve before this segment, ends held
		return curve[max(0, min(n-1, i))]
	}
	to := from + s.Minutes
	first, last := ceilDiv(from, d), ceilDiv(to, d) // [first, last)
	switch s.Shape {
	case "shift":
		for i := max(0, first); i < min(n, last); i++ {
			curve[i] += s.To
		}
		return
	case "flat":
		for i := max(0, first); i < min(n, last); i++ {
			curve[i] = s.To
		}
		return
	case "bump", "dip":
		mid := float64(from) + float64(s.Minutes)/2
		peak := int(math.Round(mid / float64(d)))
		delta := s.To - at(peak)
		for i := max(0, first); i < min(n, last); i++ {
			x := math.Abs(float64((i-peak)*d)) / (float64(s.Minutes) / 2)
			if x > 1 {
				continue
			}
			w := (1 + math.Cos(math.Pi*x)) / 2
			if i == peak {
				curve[i] = s.To
				continue
			}
			curve[i] += w * delta
			if delta > 0 {
				curve[i] = math.Min(curve[i], s.To)
			} else {
				curve[i] = math.Max(curve[i], s.To)
			}
		}
		return
	}
	hold := s.To
	switch s.Shape {
	case "lo":
		hold = 2.2 * t.scale()
	case "hi":
		hold = 22.2 * t.scale()
	case "plateau", "ramp":
	default:
		fail("%s: unknown shape %q", id, s.Shape)
	}
	before, after := at(first-1), at(last)
	rate := 0.10 * t.scale() // up, a minute
	if hold < before {
		rate = 0.04 * t.scale() // down: slow, so that it is not taken for a pressure dip
	}
	lead := int(math.Max(20, math.Ceil(math.Abs(hold-before)/rate)))
	if s.Lead != nil {
		lead = *s.Lead
	}
	rate = 0.10 * t.scale()
	if hold < after {
		rate = 0.05 * t.scale()
	}
	tail := int(math.Max(20, math.Ceil(math.Abs(hold-after)/rate)))
	if s.Tail != nil {
		tail = *s.Tail
	}
	wiggle := 0.2 * t.scale()
	if s.Wiggle != nil {
		wiggle = *s.Wiggle
	}
	blend := func(i int, w float64) { curve[i] = curve[i]*(1-w) + hold*w }
	for i := max(0, ceilDiv(from-lead, d)); i < min(n, first); i++ {
		blend(i, 1-float64(from-i*d)/float64(lead))
	}
	for i := max(0, last); i < min(n, ceilDiv(to+tail, d)); i++ {
		blend(i, 1-float64(i*d-to+d)/float64(tail+d))
	}
	sign := 1.0
	if hold < before {
		sign = -1
	}
	for i := max(0, first); i < min(n, last); i++ {
		switch s.Shape {
		case "lo":
			curve[i], censored[i] = hold, "LO"
		case "hi":
			curve[i], censored[i] = hold, "HI"
		case "ramp":
			w := float64(i-first+1) / float64(last-first)
			curve[i] = before + (hold-before)*w
		default:
			curve[i] = hold + sign*wiggle*(1+unitRand(id, "seg", k, i))/2
		}
	}
}

func ceilDiv(a, b int) int { return int(math.Ceil(float64(a) / float64(b))) }

// Facts measures the whole trace, with nothing left out as suspect, in the
// file's own unit (CLINICAL 1.1, 1.3).
func Facts(c Case, rs []Reading) map[string]float64 {
	t := c.Trace
	mg := t.mg()
	pick := func(a, b float64) float64 {
		if mg {
			return b
		}
		return a
	}
	d := t.IntervalMin
	expected := t.Days * 1440 / d
	f := map[string]float64{"n": float64(len(rs)), "captured_pct": 100 * float64(len(rs)) / float64(expected)}
	if len(rs) == 0 {
		return f
	}
	share := func(name string, past func(Reading) bool) {
		k := 0
		perDay, all := map[string]int{}, map[string]int{}
		for _, r := range rs {
			day := r.Time.Format("2006-01-02")
			all[day]++
			if past(r) {
				k++
				perDay[day]++
			}
		}
		f[name+"_pct"] = 100 * float64(k) / float64(len(rs))
		days17, days12 := 0, 0
		least, most := 100.0, 0.0
		for day, a := range all {
			p := 100 * float64(perDay[day]) / float64(a)
			if p >= 17 {
				days17++
			}
			if p >= 12 {
				days12++
			}
			if len(rs) > a {
				q := 100 * float64(k-perDay[day]) / float64(len(rs)-a)
				least, most = math.Min(least, q), math.Max(most, q)
			}
		}
		f[name+"_days17"], f[name+"_days12"] = float64(days17), float64(days12)
		f[name+"_loo_least"], f[name+"_loo_most"] = least, most
	}
	above := func(x float64) func(Reading) bool {
		return func(r Reading) bool { return r.Text == "HI" || (r.Text != "LO" && r.Value > x) }
	}
	least := func(x float64) func(Reading) bool {
		return func(r Reading) bool { return r.Text == "HI" || (r.Text != "LO" && r.Value >= x) }
	}
	below := func(x float64) func(Reading) bool {
		return func(r Reading) bool { return r.Text == "LO" || (r.Text != "HI" && r.Value < x) }
	}
	lims := []struct {
		name string
		past func(Reading) bool
	}{
		{"above78", above(pick(7.8, 140))}, {"above10", above(pick(10, 180))},
		{"from111", least(pick(11.1, 200))}, {"above139", above(pick(13.9, 250))},
		{"below39", below(pick(3.9, 70))}, {"below30", below(pick(3.0, 54))},
	}
	for _, l := range lims {
		share(l.name, l.past)
		eps := episodes(rs, d, l.past)
		f[l.name+"_episodes"] = float64(len(eps))
		days, longest := map[string]bool{}, 0
		for _, e := range eps {
			days[e.from.Format("2006-01-02")] = true
			longest = max(longest, e.minutes)
		}
		f[l.name+"_episode_days"], f[l.name+"_longest"] = float64(len(days)), float64(longest)
	}
	lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
	lows, highs := 0, 0
	for _, r := range rs {
		lo, hi, sum = math.Min(lo, r.Value), math.Max(hi, r.Value), sum+r.Value
		if r.Text == "LO" {
			lows++
		}
		if r.Text == "HI" {
			highs++
		}
	}
	f["min"], f["max"], f["mean"] = lo, hi, sum/float64(len(rs))
	f["lo_readings"], f["hi_readings"] = float64(lows), float64(highs)
	f["day1_mean"] = dayMean(rs, rs[0].Time)
	return f
}

func dayMean(rs []Reading, day time.Time) float64 {
	s, k := 0.0, 0
	for _, r := range rs {
		if r.Time.Sub(day) < 24*time.Hour {
			s += r.Value
			k++
		}
	}
	return s / float64(k)
}

type episode struct {
	from    time.Time
	minutes int
}

// episodes follows CLINICAL 1.3: in at 15 minutes past the limit, out at 15
// minutes back; at 15-minute sampling two readings; a gap ends it.
func episodes(rs []Reading, d int, past func(Reading) bool) []episode {
	need := max(ceilDiv(15, d), 1)
	if d >= 15 {
		need = 2
	}
	var out []episode
	run, safe, in := 0, 0, false
	var from, lastPast time.Time
	end := func() {
		if in {
			out = append(out, episode{from, int(lastPast.Sub(from).Minutes()) + d})
		}
		run, safe, in = 0, 0, false
	}
	for i, r := range rs {
		if i > 0 && r.Time.Sub(rs[i-1].Time) > time.Duration(max(2*d, 10))*time.Minute {
			end()
		}
		if past(r) {
			if !in {
				if run == 0 {
					from = r.Time
				}
				run++
				in = run >= need
			}
			safe, lastPast = 0, r.Time
			continue
		}
		if !in {
			run = 0
			continue
		}
		if safe++; safe >= need {
			end()
		}
	}
	end()
	return out
}

func fail(f string, a ...any) {
	fmt.Fprintf(os.Stderr, f+"\n", a...)
	os.Exit(2)
}

func load(name string) []Case {
	file, err := os.Open(name)
	if err != nil {
		fail("%v", err)
	}
	defer file.Close()
	var out []Case
	sc := bufio.NewScanner(file)
	sc.Buffer(make([]byte, 1<<20), 1<<20)
	for line := 1; sc.Scan(); line++ {
		if len(strings.TrimSpace(sc.Text())) == 0 {
			continue
		}
		dec := json.NewDecoder(strings.NewReader(sc.Text()))
		dec.DisallowUnknownFields()
		var c Case
		if err := dec.Decode(&c); err != nil {
			fail("%s line %d: %v", name, line, err)
		}
		out = append(out, c)
	}
	if err := sc.Err(); err != nil {
		fail("%v", err)
	}
	return out
}

func rank(t string) int {
	for i, x := range tiers {
		if x == t {
			return i
		}
	}
	return -1
}

// check is what a case must satisfy to be a case at all.
func check(c Case, seen map[string]bool) (bad []string) {
	say := func(f string, a ...any) { bad = append(bad, c.ID+": "+fmt.Sprintf(f, a...)) }
	if c.ID == "" || seen[c.ID] {
		say("id empty or used twice")
	}
	seen[c.ID] = true
	if c.Class == "" || c.Title == "" || c.Why == "" {
		say("class, title or why is empty")
	}
	lo, hi := rank(c.Expect.TierMin), rank(c.Expect.TierMax)
	if lo < 0 || hi < 0 || lo > hi {
		say("tier band %q to %q", c.Expect.TierMin, c.Expect.TierMax)
	}
	if hi-lo > 1 && c.Expect.Open == "" {
		say("a band wider than one step needs a reason in open")
	}
	if c.Expect.AllIsWell != nil && *c.Expect.AllIsWell && hi > 0 {
		say("all is well, yet not surely routine")
	}
	if w := c.Expect.TierWhenRead; w != "" && rank(w) < 0 {
		say("tier_when_read %q", w)
	}
	for _, r := range c.Read {
		switch {
		case (r.Event == nil) == (r.Note == nil):
			say("read: say either event or note")
		case r.Event != nil && (*r.Event < 0 || *r.Event >= len(c.Events)):
			say("read: no event %d", *r.Event)
		case r.Note != nil && (*r.Note < 0 || *r.Note >= len(c.Notes)):
			say("read: no note %d", *r.Note)
		}
		if !strings.Contains(" nothing symptom severe thirst relief medicine meal alcohol exercise ", " "+r.As+" ") {
			say("read as %q", r.As)
		}
	}
	words := strings.Join(c.Notes, "\n")
	for _, e := range c.Events {
		words += "\n" + e.Text
		if m := c.Trace.when(e.Day, e.At); m < -720 || m > c.Trace.Days*1440+720 {
			say("event %q lies outside the wear", e.Text)
		}
	}
	if c.Expect.AllIsWell != nil && *c.Expect.AllIsWell {
		if !c.Person.Asked {
			say("all is well, yet nobody asked")
		}
		for i, e := range c.Events {
			if e.Text != "" && !isRead(c, i, -1) {
				say("all is well, yet event %d is unread", i)
			}
		}
		for i := range c.Notes {
			if !isRead(c, -1, i) {
				say("all is well, yet note %d is unread", i)
			}
		}
	}
	f := Facts(c, Expand(c))
	names := make([]string, 0, len(c.Facts))
	for name := range c.Facts {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, name := range names {
		r := c.Facts[name]
		v, ok := f[name]
		if !ok {
			say("no such fact %q", name)
		} else if v < r[0] || v > r[1] {
			say("%s is %.2f, wanted %g to %g", name, v, r[0], r[1])
		}
	}
	return bad
}

func isRead(c Case, event, note int) bool {
	for _, r := range c.Read {
		if r.Event != nil && *r.Event == event || r.Note != nil && *r.Note == note {
			return true
		}
	}
	return false
}

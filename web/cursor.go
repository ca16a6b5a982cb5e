package web

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"time"

	"wearround/web/chart"
	"wearround/worker/wear"
)

// CanOverrule reports whether the reader works on this wear, and so may say
// which readings are to be believed.
func (p WearPage) CanOverrule() bool { return p.Work != nil && p.Work.Claim.Mine }

// Trace is the window's readings for the script that moves a cursor over them.
// Runs are parted by "|"; each has its first instant, the clock's offset from
// UTC and the usual step, all in seconds, then the readings: the value in
// mmol/L, or L or H for one off the sensor's scale; a, b or c for above 7.8,
// above 10 and below 3.9, x for not believed; @ and the step where it is another.
func (p WearPage) Trace() string {
	first, n := p.window()
	from, to := first.Unix(), first.AddDate(0, 0, n).Unix()
	step := int64(max(p.Report.IntervalS, 1))
	var b strings.Builder
	last, offset := int64(0), 0
	for _, q := range p.points() {
		value, ok := shownValue(q)
		if q.At < from || q.At >= to || !ok {
			continue
		}
		_, now := time.Unix(q.At, 0).In(p.zone()).Zone()
		if b.Len() == 0 || now != offset {
			if b.Len() > 0 {
				b.WriteByte('|')
			}
			for _, v := range [3]int64{q.At, int64(now), step} {
				b.WriteString(strconv.FormatInt(v, 10))
				b.WriteByte(' ')
			}
			last, offset = q.At-step, now
		} else {
			b.WriteByte(' ')
		}
		b.WriteString(value)
		for _, f := range [...]struct {
			mark byte
			has  bool
		}{{'a', q.Past&chart.Above78 != 0}, {'b', q.Past&chart.Above10 != 0}, {'c', q.Past&chart.Below39 != 0}, {'x', q.Suspect}} {
			if f.has {
				b.WriteByte(f.mark)
			}
		}
		if q.At-last != step {
			b.WriteByte('@')
			b.WriteString(strconv.FormatInt(q.At-last, 10))
		}
		last = q.At
	}
	return b.String()
}

func shownValue(q chart.Point) (value string, ok bool) {
	switch {
	case q.Edge == chart.LowEdge:
		return "L", true
	case q.Edge == chart.HighEdge:
		return "H", true
	case math.IsNaN(q.Mmol) || math.IsInf(q.Mmol, 0):
		return "", false
	}
	return wear.FormatHalfUp(q.Mmol, 1), true
}

// Notes are what the cursor reads out beside the value, as JSON: from, to and
// words. A record stands for the quarter of an hour on both its sides.
func (p WearPage) Notes() (string, error) {
	first, n := p.window()
	from, to := first.Unix(), first.AddDate(0, 0, n).Unix()
	notes := make([][3]any, 0, 64)
	add := func(begin, end int64, words string) {
		if end >= from && begin < to {
			notes = append(notes, [3]any{begin, end, words})
		}
	}
	for _, list := range [2][]chart.Stretch{p.doubts(), p.gaps()} {
		for _, s := range list {
			add(s.From, s.To, s.Caption)
		}
	}
	for _, e := range p.Report.Episodes {
		add(e.From.Unix(), e.To.Unix()-1, "episode "+strconv.Itoa(e.Number)+", "+episodeWords[e.Kind]+" for "+length(e.Minutes))
	}
	for i, m := range p.marks() {
		words := string(p.Events[i].Kind)
		if m.Text != words {
			words += ": " + m.Text
		}
		add(m.At-900, m.At+900, words+" at "+p.Clock(time.Unix(m.At, 0)))
	}
	b, err := json.Marshal(notes)
	return string(b), err
}

package chart

import (
	"html"
	"strconv"
)

// Quarter says what a quarter of an hour held.
type Quarter uint8

// What a quarter hour can hold, in any combination. None of these is a quarter
// with readings past no limit.
const (
	QuarterAbove78 Quarter = 1 << iota // a hole
	QuarterAbove10                     // a tall slot
	QuarterBelow39                     // a notch in the lower edge
	QuarterNoData                      // torn: hatched
)

// Strip is one day of a tape.
type Strip struct {
	Name     string
	Quarters [96]Quarter // by the clock on the wall, from midnight
	Total    string      // "2 h 15"
}

// TapeKey says how a tape is read.
const TapeKey = "A strip a day; at its end the time above 7.8. Hole: half or more of a quarter hour above 7.8. Tall slot: a reading above 10. Notch under the edge: a reading below 3.9. Torn: nothing believed."

// Tape draws a strip of paper a day, punched wherever a quarter hour was past
// a limit. Height says how far past, never how high: no strip can be read as
// a small curve. Finding is the report's sentence about it, or "".
func Tape(id, finding string, strips []Strip, width int) string {
	const pitch, paper = 20.0, 12.0
	w := float64(max(width, 280))
	left, right := 70.0, w-52
	quarter := (right - left) / 96
	var s svg
	var holes, slots, notches pen
	s.open("tape", id, w, pitch*float64(len(strips))+18, "A strip a day", told(finding, tapeSentence(strips)))
	id = html.EscapeString(clean(id))
	s.raw(`<defs><pattern id="`, id, `-torn" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(35)"><path class="hatch-gap" d="M3 0V6"/></pattern></defs>`)
	for i, strip := range strips {
		top := pitch*float64(i) + 3
		middle := top + paper/2
		s.text("label", "start", 0, middle+4, fontSize, shorten(strip.Name, 10))
		for from := 0; from < 96; {
			torn := strip.Quarters[from]&QuarterNoData != 0
			to := from
			for to < 96 && strip.Quarters[to]&QuarterNoData != 0 == torn {
				to++
			}
			x, run := left+quarter*float64(from), quarter*float64(to-from)
			if torn {
				s.rect("torn", x, top, run, paper, ` fill="url(#`, id, `-torn)"`)
			} else {
				s.rect("paper", x, top, run, paper)
			}
			from = to
		}
		for k, q := range strip.Quarters {
			x := left + quarter*(float64(k)+0.5)
			punch := max(quarter-1.2, 1.6)
			switch {
			case q&QuarterAbove10 != 0:
				slots.box(x, middle, punch, paper+2)
			case q&QuarterAbove78 != 0:
				holes.box(x, middle, punch, paper-6)
			}
			if q&QuarterBelow39 != 0 {
				notches.box(x, top+paper+1, punch+0.6, 4)
			}
		}
		s.text("label", "end", w, middle+4, fontSize, shorten(strip.Total, 8))
	}
	hours := [5]string{"00:00", "06:00", "12:00", "18:00", "24:00"}
	for hour := 0; hour <= 24; hour += 6 {
		anchor := "middle"
		if hour == 24 {
			anchor = "end"
		}
		s.text("small", anchor, left+quarter*float64(4*hour), pitch*float64(len(strips))+14, 10, hours[hour/6])
	}
	s.path("fill-high", holes.String())
	s.path("fill-peak", slots.String())
	s.path("fill-low", notches.String())
	return s.close()
}

// tapeSentence says which part of the day is punched most.
func tapeSentence(strips []Strip) string {
	parts := [4]string{"night", "morning", "afternoon", "evening"}
	var holes [4]int
	all, most := 0, 0 // of the four parts, the one with the most holes
	for _, strip := range strips {
		for k, q := range strip.Quarters {
			if q&(QuarterAbove78|QuarterAbove10) != 0 {
				holes[k/24]++
				all++
			}
		}
	}
	for i := range holes {
		if holes[i] > holes[most] {
			most = i
		}
	}
	if all == 0 {
		return "No quarter hour on " + count(len(strips), "day") + " was above 7.8."
	}
	return count(all, "quarter hour") + " above 7.8 on " + count(len(strips), "day") + "; " + strconv.Itoa(holes[most]) + " of them in the " + parts[most] + "."
}

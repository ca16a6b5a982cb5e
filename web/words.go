package web

import (
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

// flagWords gives a flag as a filter names it, "" for no such flag.
func flagWords(code string) string {
	k, _ := wear.FlagOf(code)
	return k.Words
}

// fates are the ends that a file can come to, as people read them. Each
// has a shape of its own, so that no meaning hangs on colour.
var fates = map[string]struct{ words, shape string }{
	"held":    {"waits for an answer", "held"},
	"refused": {"cannot be read", "refused"},
	"filed":   {"filed", "filed"},
	"already": {"already received", "already"},
}

// fateOrder is the order in which outcomes are listed: those that need a
// person first.
var fateOrder = []string{"held", "refused", "filed", "already"}

// suspectWords name the kinds of suspect stretch in a caption's few words.
var suspectWords = map[string]string{
	wear.SuspectWarmUp:   "warm-up",
	wear.SuspectFlat:     "flat line",
	wear.SuspectSpike:    "spike",
	wear.SuspectRate:     "impossible rate",
	wear.SuspectPressure: "pressure dip",
	wear.SuspectTail:     "failing sensor",
	wear.SuspectLowStart: "low from the start",
	wear.SuspectMarked:   "marked in the file",
	wear.SuspectRange:    "outside what a sensor reports",
	wear.SuspectConflict: "two values at once",
	wear.SuspectPerson:   "a person's decision",
	wear.SuspectClock:    "clock trouble",
}

// episodeWords name the kinds of episode.
var episodeWords = map[string]string{
	wear.EpisodeAbove7_8:  "above 7.8",
	wear.EpisodeAbove10:   "above 10",
	wear.EpisodeAbove13_9: "above 13.9",
	wear.EpisodeBelow3_9:  "below 3.9",
	wear.EpisodeBelow3_0:  "below 3.0",
}

// in puts t on the practice's clock.
func (l Layout) in(t time.Time) time.Time {
	if l.Zone == nil {
		return t
	}
	return t.In(l.Zone)
}

// When writes a moment as every page does: "Tue 3 Mar 2026 18:15".
func (l Layout) When(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return l.in(t).Format("Mon 2 Jan 2006 15:04")
}

// Day writes the date of a moment: "Tue 3 Mar 2026".
func (l Layout) Day(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return l.in(t).Format("Mon 2 Jan 2006")
}

// ShortDay writes the date of a moment within a known year: "Tue 3 Mar".
func (l Layout) ShortDay(t time.Time) string { return l.in(t).Format("Mon 2 Jan") }

// Clock writes the time of day: "18:15".
func (l Layout) Clock(t time.Time) string { return l.in(t).Format("15:04") }

// Span writes a first and a last day without repeating what they share:
// "3 – 17 Mar 2026", "24 Feb – 10 Mar 2026".
func (l Layout) Span(from, to time.Time) string {
	if from.IsZero() || to.IsZero() {
		return "–"
	}
	from, to = l.in(from), l.in(to)
	first := "2 Jan 2006"
	switch {
	case from.Format(time.DateOnly) == to.Format(time.DateOnly):
		return to.Format("2 Jan 2006")
	case from.Year() == to.Year() && from.Month() == to.Month():
		first = "2"
	case from.Year() == to.Year():
		first = "2 Jan"
	}
	return from.Format(first) + " – " + to.Format("2 Jan 2006")
}

// Due says when a wear is due, in calendar days on the practice's clock.
func (l Layout) Due(due time.Time) string {
	if due.IsZero() {
		return "no due date"
	}
	switch n := wear.DayNumber(l.in(due)) - wear.DayNumber(l.in(l.Now)); {
	case n == 0:
		return "due today"
	case n > 0:
		return "due in " + count(n, "day")
	default:
		return count(-n, "day") + " overdue"
	}
}

// Overdue reports whether the due day has passed.
func (l Layout) Overdue(due time.Time) bool {
	return !due.IsZero() && wear.DayNumber(l.in(due)) < wear.DayNumber(l.in(l.Now))
}

// isoDay reads a date of the form 2006-01-02.
func isoDay(s string) (time.Time, bool) {
	t, err := time.Parse(time.DateOnly, s)
	return t, err == nil
}

// dateWords writes a 2006-01-02 date as "Tue 3 Mar", or as it came.
func dateWords(s string) string {
	if t, ok := isoDay(s); ok {
		return t.Format("Mon 2 Jan")
	}
	return s
}

// birthWords writes a date of birth as "3 Mar 1961", or nothing.
func birthWords(s string) string {
	if t, ok := isoDay(s); ok {
		return t.Format("2 Jan 2006")
	}
	return s
}

// length writes minutes as "45 min", "2 h", "2 h 05" or "3 days 4 h".
func length(minutes int) string {
	switch h, m := minutes/60, minutes%60; {
	case minutes < 60:
		return strconv.Itoa(minutes) + " min"
	case h >= 48 && h%24 == 0:
		return count(h/24, "day")
	case h >= 48:
		return count(h/24, "day") + " " + strconv.Itoa(h%24) + " h"
	case m == 0:
		return strconv.Itoa(h) + " h"
	case m < 10:
		return strconv.Itoa(h) + " h 0" + strconv.Itoa(m)
	default:
		return strconv.Itoa(h) + " h " + strconv.Itoa(m)
	}
}

// interval writes the time from reading to reading: "5 min", "20 s".
func interval(seconds int) string {
	if seconds%60 != 0 {
		return strconv.Itoa(seconds) + " s"
	}
	return length(seconds / 60)
}

// count writes a number with its noun: "1 wear", "2 wears".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return number(n) + " " + noun + "s"
}

// number writes a whole number with thin spaces between thousands.
func number(n int) string {
	s := strconv.Itoa(n)
	sign := ""
	if n < 0 {
		sign, s = "−", s[1:]
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return sign + s
}

// points writes a score or a part of one: one decimal, as it was rounded
// before summing.
func points(v float64) string {
	return strings.Replace(wear.FormatHalfUp(v, 1), "-", "−", 1)
}

// size writes a file's length.
func size(bytes int64) string {
	switch {
	case bytes < 1000:
		return count(int(bytes), "byte")
	case bytes < 1_000_000:
		return wear.FormatHalfUp(float64(bytes)/1000, 0) + " kB"
	case bytes < 1_000_000_000:
		return wear.FormatHalfUp(float64(bytes)/1_000_000, 1) + " MB"
	default:
		return wear.FormatHalfUp(float64(bytes)/1_000_000_000, 1) + " GB"
	}
}

// plain writes a code as words.
func plain(code string) string { return strings.ReplaceAll(code, "_", " ") }

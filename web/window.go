package web

import (
	"strings"
	"time"

	"wearround/worker/wear"
)

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
	return first, min(max(wear.DayNumber(end)-wear.DayNumber(start)+1, 1), 366)
}

// window is the part that is drawn: as asked for, moved to lie within the wear.
func (p WearPage) window() (first time.Time, n int) {
	first, n = p.days()
	asked, ok := isoDay(p.Window.From)
	if p.Window.Whole() || !ok || p.Window.Days >= n {
		return first, n
	}
	ahead := min(max(wear.DayNumber(asked)-wear.DayNumber(first), 0), n-p.Window.Days)
	return first.AddDate(0, 0, ahead), p.Window.Days
}

// Path is the wear's page without a window.
func (p WearPage) Path() string { return wearAddress(p.WearID, Window{}) }

// zoomed reports whether the window leaves days out.
func (p WearPage) zoomed() bool {
	_, n := p.window()
	_, all := p.days()
	return n < all
}

// Shown says in words which part of the wear is drawn.
func (p WearPage) Shown() string {
	first, n := p.window()
	if !p.zoomed() {
		return "The whole wear, " + count(n, "day")
	}
	if n == 1 {
		return p.Day(first)
	}
	return count(n, "day") + ", " + p.Span(first, first.AddDate(0, 0, n-1))
}

// DayPicks are the days of the wear as links that show one of them; those shown
// are current.
func (p WearPage) DayPicks() []DayPick {
	first, all := p.days()
	from, shown := p.window()
	ahead := wear.DayNumber(from) - wear.DayNumber(first)
	out := make([]DayPick, all)
	for i := range out {
		day := first.AddDate(0, 0, i)
		out[i] = DayPick{
			Weekday: day.Format("Mon"), Day: day.Day(), Month: day.Format("January 2006"), Address: p.DayAddress(day.Format(time.DateOnly)),
			Current: shown < all && i >= ahead && i < ahead+shown,
		}
	}
	return out
}

// DayPick is one day of the strip that chooses what is drawn.
type DayPick struct {
	Weekday string // "Mon"
	Day     int    // of the month
	Month   string // "March 2026", for those who hear it
	Address string
	Current bool
}

// Whole is the address of the whole wear, or "" where it is shown.
func (p WearPage) Whole() string {
	if !p.zoomed() {
		return ""
	}
	return p.Path() + "#tracks"
}

// FirstDay and AllDays tell the script what the strip spans.
func (p WearPage) FirstDay() string {
	first, _ := p.days()
	return first.Format(time.DateOnly)
}

// AllDays is how many days the wear touches.
func (p WearPage) AllDays() int {
	_, n := p.days()
	return n
}

// ShownDays is how many of them are drawn.
func (p WearPage) ShownDays() int {
	_, n := p.window()
	return n
}

// Within says what the window holds: the episodes that begin in it, by kind,
// and the time without data.
func (p WearPage) Within() string {
	first, n := p.window()
	last := first.AddDate(0, 0, n)
	s := counted(p.Report.Episodes, func(e wear.Episode) bool { return !e.From.Before(first) && e.From.Before(last) })
	missing := 0
	for _, g := range p.Report.Gaps {
		from, to := g.From, g.To
		if from.Before(first) {
			from = first
		}
		if to.After(last) {
			to = last
		}
		missing += max(0, int(to.Sub(from).Minutes()))
	}
	if missing > 0 {
		s += "; " + length(missing) + " without data"
	}
	return s
}

// counted are the kinds of those episodes that in holds of.
func counted(episodes []wear.Episode, in func(wear.Episode) bool) string {
	var parts []string
	for _, kind := range episodeKinds {
		n := 0
		for _, e := range episodes {
			n += bit(e.Kind == kind && in(e))
		}
		if n > 0 {
			parts = append(parts, count(n, "episode")+" "+episodeWords[kind])
		}
	}
	if len(parts) == 0 {
		return "no run past a limit that lasted 15 minutes"
	}
	return strings.Join(parts, ", ")
}

// episodeKinds is the order in which kinds of episode are counted out.
var episodeKinds = []string{wear.EpisodeAbove7_8, wear.EpisodeAbove10, wear.EpisodeAbove13_9, wear.EpisodeBelow3_9, wear.EpisodeBelow3_0}

// Earlier and Later are the addresses of the windows before and after, or "".
func (p WearPage) Earlier() string { return p.beside(-1) }

// Later is the address of the window after this one, or "".
func (p WearPage) Later() string { return p.beside(1) }

func (p WearPage) beside(way int) string {
	start, all := p.days()
	first, shown := p.window()
	next := first.AddDate(0, 0, way*shown)
	at := wear.DayNumber(next) - wear.DayNumber(start)
	if shown == all || at <= -shown || at >= all {
		return ""
	}
	return p.Address(Window{From: next.Format(time.DateOnly), Days: shown}) + "#tracks"
}

// DayAddress is the window of the one day 2006-01-02.
func (p WearPage) DayAddress(date string) string {
	return p.Address(Window{From: date, Days: 1}) + "#tracks"
}

package web

import (
	"testing"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

func TestDue(t *testing.T) {
	l := Layout{Now: clock(18, 23, 30), Zone: zone}
	for _, c := range []struct {
		due     time.Time
		want    string
		overdue bool
	}{
		{clock(18, 0, 5), "due today", false},
		{clock(18, 23, 59), "due today", false},
		{clock(19, 0, 0), "due in 1 day", false},
		{clock(24, 9, 0), "due in 6 days", false},
		{clock(17, 23, 59), "1 day overdue", true},
		{clock(15, 9, 0), "3 days overdue", true},
		{clock(18, 23, 30).UTC(), "due today", false}, // another zone's date does not count
		{time.Time{}, "no due date", false},
	} {
		if got := l.Due(c.due); got != c.want || l.Overdue(c.due) != c.overdue {
			t.Errorf("Due(%v) = %q, overdue %v; want %q, %v", c.due, got, l.Overdue(c.due), c.want, c.overdue)
		}
	}
}

func TestSpan(t *testing.T) {
	l := Layout{Zone: zone}
	for want, c := range map[string][2]time.Time{
		"3 Mar 2026":                {clock(3, 1, 0), clock(3, 9, 0)},
		"3 – 17 Mar 2026":           {clock(3, 1, 0), clock(17, 9, 0)},
		"28 Feb – 3 Mar 2026":       {clock(-0, 1, 0), clock(3, 9, 0)},
		"30 Dec 2025 – 13 Jan 2026": {time.Date(2025, 12, 30, 1, 0, 0, 0, zone), time.Date(2026, 1, 13, 1, 0, 0, 0, zone)},
		"–":                         {},
	} {
		if got := l.Span(c[0], c[1]); got != want {
			t.Errorf("Span = %q, want %q", got, want)
		}
	}
}

func TestSmallWords(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{length(0), "0 min"}, {length(59), "59 min"}, {length(60), "1 h"}, {length(65), "1 h 05"}, {length(135), "2 h 15"}, {length(2880), "2 days"}, {length(3000), "2 days 2 h"},
		{interval(300), "5 min"}, {interval(20), "20 s"},
		{count(1, "wear"), "1 wear"}, {count(0, "wear"), "0 wears"}, {count(1234567, "wear"), "1\u202f234\u202f567 wears"},
		{number(-1234), "−1\u202f234"}, {number(999), "999"},
		{points(13.35), "13.4"}, {points(-2), "−2.0"},
		{size(9), "9 bytes"}, {size(88123), "88 kB"}, {size(1_200_000), "1.2 MB"},
		{form.Sentence("two dips"), "Two dips."}, {form.Sentence("Why?"), "Why?"}, {form.Sentence(""), ""}, {form.Sentence("é"), "é."},
		{limitRunes("äöü", 2), "äö"}, {limitRunes("ä", 2), "ä"},
		{dateWords("2026-03-03"), "Tue 3 Mar"}, {dateWords("soon"), "soon"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// Every flag, kind and outcome that the engine knows has words here.
func TestNothingIsWithoutWords(t *testing.T) {
	if len(fateOrder) != len(fates) {
		t.Error("an order and its words differ in length")
	}
	for _, kind := range []string{wear.SuspectWarmUp, wear.SuspectFlat, wear.SuspectSpike, wear.SuspectRate, wear.SuspectPressure, wear.SuspectTail, wear.SuspectLowStart, wear.SuspectMarked, wear.SuspectRange, wear.SuspectConflict} {
		if suspectWords[kind] == "" {
			t.Errorf("suspect kind %s has no words", kind)
		}
	}
}

func TestSystemSpeaks(t *testing.T) {
	l := Layout{Zone: zone, Now: clock(18, 9, 0)}
	for _, c := range []struct {
		system       System
		line, banner string
	}{
		{System{}, "The folder has not been looked at yet.", ""},
		{System{Unknown: true, Stalled: true}, "How things stand cannot be read.", "How things stand cannot be read just now, so what waits or is overdue may be missing here. Load the page again; if this stays, ask whoever looks after the computer to restart the service."},
		{System{LastLook: clock(18, 8, 59)}, "Last look 08:59, nothing waiting.", ""},
		{System{LastLook: clock(18, 8, 59), Waiting: 3}, "Last look 08:59, reading 3 files.", ""},
		{System{LastLook: clock(17, 8, 59), Stalled: true}, "Not looking: last look Tue 17 Mar 2026 08:59.", "The watched folder was last looked at on Tue 17 Mar 2026 08:59. The round may be incomplete: ask whoever looks after the computer to restart the service."},
		{System{LastLook: clock(18, 8, 59), Waiting: 1, FilesProblem: "a file cannot be saved"}, "Last look 08:59, some files do not reach the round.", "A file cannot be saved. Some wears do not reach the round until this is put right."},
		{System{FolderProblem: "the folder is not there"}, "The watched folder cannot be read.", "The folder is not there. New wears do not reach the round until this is put right."},
	} {
		l.System = c.system
		if l.SystemLine() != c.line || l.Banner() != c.banner {
			t.Errorf("%+v:\n%s\n%s", c.system, l.SystemLine(), l.Banner())
		}
	}
}

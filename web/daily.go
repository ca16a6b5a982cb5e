package web

import (
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// DailyLine says what would be lost if nobody looked: always the same four
// counts, so that nothing and not counted never look alike. It promises no more
// than it counted, and under a banner not even that.
func (l Layout) DailyLine() string {
	d := l.Daily
	if d.CountedAt.IsZero() {
		return "What is overdue could not be counted."
	}
	var parts []string
	if d.UnclaimedOverdue > 0 {
		parts = append(parts, count(d.UnclaimedOverdue, "wear")+" overdue with nobody working on it")
	}
	if d.HeldOverDay > 0 {
		parts = append(parts, count(d.HeldOverDay, "file")+" held for more than a day")
	}
	if d.RecallsWithoutContact > 0 {
		parts = append(parts, count(d.RecallsWithoutContact, "recall")+" overdue that nobody has tried")
	}
	if d.OutsOverdue > 0 {
		parts = append(parts, count(d.OutsOverdue, "sensor")+" out whose file is overdue")
	}
	if len(parts) == 0 {
		none := "no overdue wear without a person, no file held for more than a day, no overdue recall untried, no file of a sensor overdue."
		if l.Banner() != "" {
			return "As far as it can be counted: " + none
		}
		return form.SentenceCase(none)
	}
	return form.SentenceCase(strings.Join(parts, "; ")) + "."
}

// DailyLinks lead to what the daily line counts.
func (l Layout) DailyLinks() []Link {
	d := l.Daily
	var out []Link
	if d.HeldOverDay > 0 {
		out = append(out, Link{Words: "Held files", Address: FilesFilter{Fate: "held"}.Address()})
	}
	if d.RecallsWithoutContact > 0 {
		out = append(out, Link{Words: "Untried recalls", Address: RecallsFilter{State: "untried"}.Address()})
	}
	if d.OutsOverdue > 0 {
		out = append(out, Link{Words: "Out now", Address: "/out"})
	}
	return out
}

// ClaimWords says who has the wear: "with V. Tarim, 12 min left".
func (l Layout) ClaimWords(c Claim) string {
	if c.By == "" && !c.Mine {
		return "not claimed"
	}
	who := "with " + shortName(c.By)
	if c.Mine {
		who = "yours"
	}
	if left := int(c.Until.Sub(l.Now).Minutes()); left > 0 {
		return who + ", " + length(left) + " left"
	}
	return who + ", ends now"
}

// shortName shortens all names but the last to their first letter.
func shortName(name string) string {
	parts := strings.Fields(name)
	for i := range max(0, len(parts)-1) {
		parts[i] = limitRunes(parts[i], 1) + "."
	}
	return strings.Join(parts, " ")
}

// TriedWords says how often somebody tried to reach the patient, and when the
// next try is due.
func (r RoundRow) TriedWords(l Layout) string {
	s := "Tried " + wear.Times(r.Attempts)
	if !r.NextTry.IsZero() {
		s += ", next try " + l.ShortDay(r.NextTry)
	}
	return s
}

// Narrow reports whether the filter leaves anything out.
func (f RoundFilter) Narrow() bool { return f.words() != "" }

// Words is the saved filter as a person would say it.
func (f SavedFilter) Words() string {
	if w := f.Filter.words(); w != "" {
		return w
	}
	return "the whole round"
}

// DropAddress is where the filter is forgotten.
func (f SavedFilter) DropAddress() string {
	return "/filters/" + strconv.FormatInt(f.ID, 10) + "/delete"
}

// Daily is what would be lost if nobody counted it.
type Daily struct {
	CountedAt             time.Time // zero: could not be counted, which is not the same as nothing
	UnclaimedOverdue      int       // open wears past due that nobody has claimed
	HeldOverDay           int       // files held for more than a day
	RecallsWithoutContact int       // recalls past due that nobody has tried to keep
	OutsOverdue           int       // sensors out whose file is past due
	ChainProblem          string    // where the log does not hold together, a plain sentence, or ""
}

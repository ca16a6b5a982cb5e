package web

import (
	"cmp"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// WearPage is all that is said about one wear.
type WearPage struct {
	Layout
	WearID     int64
	Patient    form.Patient
	SensorKind string
	ReceivedAt time.Time
	DueAt      time.Time
	Report     *wear.Report   // nil shows "not analysed yet"
	Readings   []wear.Reading // in time order, suspect ones included
	Events     []wear.Event
	Files      []WearFile
	Rereading  bool // a file of it waits to be read again
	Window     Window
	LikeMeals  int              // like meals that are compared, by the protocol
	Beside     []Beside         // other wears of the patient at the same time
	Before     *Before          // nil where the patient had no wear before this one
	Among      *wear.WithinKind // nil where the practice has too few wears of the sensor kind
	Work       *Work            // nil: the reader may look but not work

	// Evidence is the version of what Report is made from, readings and events
	// too; 0: not known.
	Evidence int64
	// Read gives readings and events once they are needed; nil: they are there.
	Read func() ([]wear.Reading, []wear.Event, error) `json:"-"`
	// Keep gives a story that was made before, or makes it; nil always makes it.
	Keep func(StoryKey, func() (template.HTML, error)) (template.HTML, error) `json:"-"`
}

// WearFile is one file that a wear's readings came from.
type WearFile struct {
	SHA256     string // only its first digits are shown
	ReceivedAt time.Time
	Layout     string
	Rows       int
	Skipped    int
	Decisions  []wear.Decision // how the file was read, and why
	Brought    Brought
	RecipeID   int64        // the recipe it was filed with, or 0
	InDoubt    bool         // that recipe was withdrawn
	Account    wear.Account // what became of its cells
}

// ExportAddress is where the wear can be had in an open format.
func (p WearPage) ExportAddress(format string) string {
	return "/wears/" + strconv.FormatInt(p.WearID, 10) + "/export/" + format
}

// Brought counts the readings of a file by what was there before.
type Brought struct {
	New       int // not there before
	Same      int // there already
	Conflicts int // same instant, another value: the earlier one was kept
	Results   int // of a laboratory, that count
}

func (WearPage) view() (set, block string) { return "wear", "page" }

// Address is this wear's page showing the window w.
func (p WearPage) Address(w Window) string { return wearAddress(p.WearID, w) }

// Ledger is the wear as a pip a day.
func (p WearPage) Ledger() template.HTML { return ledger("ledger", p.Report.Days) }

// Quality says how far the report can be trusted.
func (p WearPage) Quality() string { return quality(p.Report.Days, p.Report.Confidence, p.InDoubt()) }

// InDoubt reports whether some file of the wear was read by a recipe that was
// withdrawn.
func (p WearPage) InDoubt() bool {
	return slices.ContainsFunc(p.Files, func(f WearFile) bool { return f.InDoubt })
}

// Pressed is one piece of evidence as it stands first on the page.
type Pressed struct {
	Kicker   string // a tier, or what sort of sentence it is
	Text     string
	Evidence string
	Method   string // address of how it is decided, or ""
	Flag     bool
}

// mostPressed is how many pieces of evidence stand first: what a reader takes in
// before the trace.
const mostPressed = 3

// Pressing are the most pressing pieces of evidence: flags in their order, then
// doubts, then what was seen and is no reason for follow-up.
func (p WearPage) Pressing() []Pressed {
	r := p.Report
	var out []Pressed
	for _, f := range r.Flags {
		out = append(out, Pressed{f.Tier.Words(), f.Text, f.Evidence, methodAddress(f.Code), true})
	}
	if len(r.Flags) == 0 {
		out = append(out, Pressed{Kicker: "Needs review", Text: "Nothing in this wear passed a limit of the protocol."})
	}
	rest := func(kicker string, remarks []wear.Remark) {
		for _, m := range remarks {
			out = append(out, Pressed{Kicker: kicker, Text: m.Text})
		}
	}
	if r.Confidence != "high" {
		rest("How far to trust it", r.Quality)
	}
	rest("Also seen", r.NotFlagged)
	rest("How far to trust it", r.Quality)
	return out[:min(len(out), mostPressed)]
}

// SeenWords say how much the part on all that was seen holds.
func (p WearPage) SeenWords() string {
	r := p.Report
	return count(len(r.Flags), "flag") + "; " + count(len(r.NotFlagged)+len(p.Explained()), "other thing") + " seen; " + points(r.Priority.Score) + " points"
}

// DaysWords, EatenWords, TrustWords and BeforeWords do the same for the other
// parts of the page that are folded.
func (p WearPage) DaysWords() string {
	usable := 0
	for _, d := range p.Report.Days {
		usable += bit(d.Usable)
	}
	return number(usable) + " of " + count(len(p.Report.Days), "day") + " usable, " + count(len(p.Report.Nights), "night")
}

// EatenWords counts meals and bouts of exercise.
func (p WearPage) EatenWords() string {
	return count(len(p.Report.Meals), "meal") + ", " + count(len(p.Report.Exercise), "bout") + " of exercise written down"
}

// TrustWords counts the readings that are not believed, and the files.
func (p WearPage) TrustWords() string {
	return number(p.Report.Readings-p.Report.Believed) + " of " + count(p.Report.Readings, "reading") + " not believed; " + count(len(p.Files), "file")
}

// BeforeWords say what there is to compare with.
func (p WearPage) BeforeWords() string {
	s := "no wear before this one"
	if p.Before != nil {
		s = "a wear of " + p.Span(p.Before.Start, p.Before.End)
	}
	return s + "; " + count(len(p.Report.Labs), "laboratory result")
}

// DoubtedDay are the stretches of one kind that begin on one day.
type DoubtedDay struct {
	Kind     string
	From, To time.Time
	Until    string // the clock, with the day where it is another
	Runs     int
	Readings int
	Reason   string
	Address  string
}

// DoubtedDays are the readings not believed by day and kind, since a failing
// sensor can leave a stretch a minute. Where reasons differ the first is given,
// and how many more there are.
func (p WearPage) DoubtedDays() []DoubtedDay {
	var out []DoubtedDay
	var reasons []map[string]bool
	at := map[string]int{}
	for _, s := range p.Report.Suspect {
		date := s.From.In(p.zone()).Format(time.DateOnly)
		i, ok := at[date+s.Kind]
		if !ok {
			i, at[date+s.Kind] = len(out), len(out)
			out = append(out, DoubtedDay{Kind: s.Kind, From: s.From, Reason: s.Reason, Address: p.DayAddress(date)})
			reasons = append(reasons, map[string]bool{})
		}
		d := &out[i]
		d.To, d.Runs, d.Readings = s.To, d.Runs+1, d.Readings+s.Readings
		reasons[i][s.Reason] = true
	}
	for i := range out {
		d := &out[i]
		d.Until = p.Clock(d.To)
		if p.ShortDay(d.To) != p.ShortDay(d.From) {
			d.Until = p.ShortDay(d.To) + " " + d.Until
		}
		if more := len(reasons[i]) - 1; more > 0 {
			d.Reason = form.Sentence(d.Reason) + " And " + number(more) + " like it."
		}
	}
	return out
}

// EpisodeRow is an episode as the list shows it.
type EpisodeRow struct {
	wear.Episode
	Words   string // "above 7.8"
	Shape   string // class of its shape
	Address string // the day it began
	Symptom string // of a matched symptom, with its time
	Said    string // what was answered on a call, or ""
}

// EpisodeRows are the numbered list of episodes.
func (p WearPage) EpisodeRows() []EpisodeRow {
	symptoms := map[int]string{}
	for _, m := range p.Report.Matches {
		symptoms[m.Episode] = m.Symptom + " (no time given)"
		if m.SymptomAt != nil {
			symptoms[m.Episode] = m.Symptom + " at " + p.Clock(*m.SymptomAt)
		}
	}
	shapes := map[string]string{
		wear.EpisodeAbove7_8: "high", wear.EpisodeAbove10: "peak", wear.EpisodeAbove13_9: "peak",
		wear.EpisodeBelow3_9: "low", wear.EpisodeBelow3_0: "low",
	}
	var out []EpisodeRow
	for _, e := range p.Report.Episodes {
		row := EpisodeRow{Episode: e, Words: episodeWords[e.Kind], Shape: shapes[e.Kind], Symptom: symptoms[e.Number]}
		if row.Words == "" {
			row.Words = "other"
		}
		if p.Work != nil {
			if a, ok := p.Work.Answered[e.From.Unix()]; ok {
				row.Said = answeredWords(a.Answer)
			}
		}
		row.Address = p.DayAddress(e.From.In(p.zone()).Format(time.DateOnly))
		out = append(out, row)
	}
	return out
}

// EpisodeSentence counts the episodes out and names the longest.
func (p WearPage) EpisodeSentence() string {
	all := p.Report.Episodes
	longest := slices.MaxFunc(all, func(a, b wear.Episode) int { return cmp.Compare(a.Minutes, b.Minutes) })
	return form.Sentence(counted(all, func(wear.Episode) bool { return true }) + "; the longest " + episodeWords[longest.Kind] + ", " + length(longest.Minutes) + " from " + p.ShortDay(longest.From) + " " + p.Clock(longest.From))
}

// Length is the episode's length in words.
func (e EpisodeRow) Length() string { return length(e.Minutes) }

// SuspectName names a kind of suspect stretch in a few words.
func (p WearPage) SuspectName(kind string) string { return form.SentenceCase(suspectName(kind)) }

// ShortLayout is enough of the layout's fingerprint to tell it from others.
func (f WearFile) ShortLayout() string { return limitRunes(f.Layout, 12) }

// RecipeAddress is the page of the recipe that the file was filed with, or "".
func (f WearFile) RecipeAddress() string {
	if f.RecipeID == 0 {
		return ""
	}
	return RecipeAddress(f.RecipeID)
}

// ShortHash is enough of a file's hash to tell it from the others.
func (f WearFile) ShortHash() string { return limitRunes(f.SHA256, 12) }

// percent writes a margin of 0 to 1 as "87 %".
func percent(v float64) string { return strconv.Itoa(int(math.Round(v*100))) + " %" }

// fateWords say what became of cells.
var fateWords = map[wear.Fate]string{
	wear.FateReading: "readings", wear.FateEvent: "events", wear.FateTime: "times and units", wear.FateFact: "facts about the file, its person or sensor",
	wear.FateRepeat: "say again what others say", wear.FateTotal: "totals and remarks", wear.FateAside: "set aside",
}

// CellsTold says in one line how the filled cells of the file were used.
func (f WearFile) CellsTold() string { return cellsTold(f.Account, "filled cell", fateWords) }

func cellsTold(a wear.Account, noun string, words map[wear.Fate]string) string {
	if a.Cells == 0 {
		return ""
	}
	sums := map[wear.Fate]int{}
	for _, l := range a.Lines {
		sums[l.Fate] += l.Cells
	}
	var parts []string
	for _, fate := range []wear.Fate{wear.FateReading, wear.FateEvent, wear.FateTime, wear.FateFact, wear.FateRepeat, wear.FateTotal, wear.FateAside} {
		if n := sums[fate]; n > 0 {
			parts = append(parts, number(n)+" "+words[fate])
		}
	}
	return "Of " + count(a.Cells, noun) + ": " + strings.Join(parts, ", ") + "."
}

// SetAside are the cells of the file that gave nothing, place by place, each
// with its reason.
func (f WearFile) SetAside() []string { return setAside(f.Account, "cell") }

func setAside(a wear.Account, noun string) (lines []string) {
	for _, l := range a.Lines {
		if l.Fate == wear.FateAside {
			lines = append(lines, form.SentenceCase(l.Where)+": "+count(l.Cells, noun)+" set aside: "+l.Why+".")
		}
	}
	return lines
}

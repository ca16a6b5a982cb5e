package web

import (
	"cmp"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// SheetPage is the routine sheet: wears of which the patient may be told that
// all is well, to be read down, marked line by line and signed once. Posts told
// (several, each a wear and its evidence) to /sheet.
type SheetPage struct {
	Layout
	form.Form
	Rows    []SheetRow
	Ready   int            // wears that may be on a sheet, with those beyond the rows
	Against map[string]int // routine wears that may not, by the code of the reason
	Taken   int            // with somebody else, or to be tried again later
	Signed  *SignedSheet   // nil unless one was signed just now
}

// SheetRow is a wear on the sheet.
type SheetRow struct {
	WearID     int64
	Mark       string // what the form sends for it
	Patient    form.Patient
	SensorKind string
	Days       []wear.Day
	Report     *wear.Report
	Limits     wear.FlagRules
	Unwritten  string // why no letter can be written yet, a plain sentence, or ""
	NoAddress  bool   // no postal address on the register
}

// SignedSheet is a sheet that was signed. Posts to /sheet/ID/undo: outcome, or
// nothing for all of it.
type SignedSheet struct {
	ID    int64
	Lines []SignedLine
	Until time.Time // when it can no longer be taken back
	Mine  bool
}

// SignedLine is a line of it.
type SignedLine struct {
	WearID    int64
	OutcomeID int64
	Patient   form.Patient
	Undone    bool
	Refused   string // why it was left on the round, or ""
}

func (SheetPage) view() (set, block string) { return "sheet", "page" }

// Sentence says how much of the routine is shown.
func (p SheetPage) Sentence() string {
	off := p.Taken + p.against()
	s := number(len(p.Rows)) + " of " + count(p.Ready, "wear") + " that may be told all is well"
	if off > 0 {
		s += "; " + number(off) + " more in Routine may not be on this sheet"
	}
	return s + "."
}

// against counts the routine wears that a reason keeps off the sheet.
func (p SheetPage) against() (n int) {
	for _, of := range p.Against {
		n += of
	}
	return n
}

// offWords say what keeps a routine wear off the sheet, by the code of the
// reason, in the order in which most can be done about it.
var offOrder = []string{wear.ReasonWaiting, wear.ReasonRecipe, wear.ReasonRefused, wear.ReasonAnew, wear.ReasonFirst, wear.ReasonOther, wear.ReasonAwaited, wear.ReasonUnread, wear.ReasonUnasked, wear.ReasonDips, wear.ReasonSymptom, wear.ReasonNear, wear.ReasonAge, wear.ReasonDoubt, wear.ReasonShort, wear.ReasonFlagged, wear.ReasonNoData}

var offWords = map[string]string{
	wear.ReasonWaiting: "with a file that may change it and waits for an answer", wear.ReasonUnread: "with words that nobody has read", wear.ReasonUnasked: "never asked about medicines, pregnancy and surgery",
	wear.ReasonRecipe: "with a file whose recipe was withdrawn", wear.ReasonFirst: "whose patient has another wear to see to first", wear.ReasonOther: "whose patient has another wear to see to",
	wear.ReasonDips: "with dips below 3.9 that nobody has asked about", wear.ReasonSymptom: "with a symptom written down", wear.ReasonShort: "too short for more than a provisional answer",
	wear.ReasonRefused: "with a file that was refused when it was read again",
	wear.ReasonAnew:    "waiting to be judged by the protocol in force",
	wear.ReasonAwaited: "whose patient still awaits a result, a decision or to be seen",
	wear.ReasonNear:    "near a limit", wear.ReasonAge: "without an age on record", wear.ReasonDoubt: "of low confidence",
	wear.ReasonFlagged: "with something to follow up", wear.ReasonNoData: "without a usable day",
}

// Off are the reasons why other routine wears are not on the sheet, with counts.
func (p SheetPage) Off() []string {
	var out []string
	rest := p.against()
	for _, code := range offOrder {
		if n := p.Against[code]; n > 0 {
			out = append(out, number(n)+" "+offWords[code])
			rest -= n
		}
	}
	if rest > 0 { // none is left out, whatever keeps it off
		out = append(out, number(rest)+" for a reason that the page of the wear says")
	}
	if p.Taken > 0 {
		out = append(out, number(p.Taken)+" with somebody else, or to be tried again later")
	}
	return out
}

// FilesWait reports whether an answer about a file would bring wears on.
func (p SheetPage) FilesWait() bool { return p.Against[wear.ReasonWaiting] > 0 }

// Address is the page of the wear.
func (r SheetRow) Address() string { return wearAddress(r.WearID, Window{}) }

// Ledger is the row's picture.
func (r SheetRow) Ledger() template.HTML {
	return ledger("ledger-"+strconv.FormatInt(r.WearID, 10), r.Days)
}

// Who says the code, the age, the days of the wear and its sensor.
func (r SheetRow) Who(l Layout) string {
	parts := []string{r.Patient.Code, l.Span(r.Report.Start, r.Report.End)}
	if r.Report.Age >= 0 {
		parts = slices.Insert(parts, 1, "age "+strconv.Itoa(r.Report.Age))
	}
	if r.SensorKind != "" {
		parts = append(parts, "kind "+r.SensorKind)
	}
	return strings.Join(parts, " · ")
}

// Read says what the wearer wrote and what people said that it is, and when the
// patient was asked.
func (r SheetRow) Read() string {
	said := map[wear.ReadAs]int{}
	texts := 0
	for _, w := range r.Report.Words {
		n := max(1, w.Times)
		texts += n
		said[w.ReadAs] += n
	}
	s := "No words."
	if texts > 0 {
		var parts []string
		for _, as := range readOrder {
			if n := said[as]; n > 0 {
				parts = append(parts, number(n)+" "+string(as))
			}
		}
		s = count(texts, "text") + " read: " + strings.Join(parts, ", ") + "."
	}
	return s + " Asked " + dateWords(r.Report.AskedOn) + ": " + cmp.Or(r.asked(), "none of it") + "."
}

// readOrder is the order in which what words are is said.
var readOrder = []wear.ReadAs{wear.ReadNothing, wear.ReadMeal, wear.ReadRelief, wear.ReadSymptom, wear.ReadThirst, wear.ReadMedicine, wear.ReadSevere}

// asked is what the record says beside that the patient was asked.
func (r SheetRow) asked() string {
	var parts []string
	for _, c := range r.Report.Context {
		if c.Code != "asked" && c.Code != "age" {
			first, _, _ := strings.Cut(c.Text, ". ") // what it means stands on the wear's page
			parts = append(parts, lowerStart(strings.TrimSuffix(first, ".")))
		}
	}
	return strings.Join(parts, "; ")
}

func lowerStart(s string) string {
	if s == "" || len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// Nearest says how far the wear stays from the limits that it comes closest to.
func (r SheetRow) Nearest() string {
	m := r.Report.Metrics
	share := func(x wear.Figure, limit float64, of string) (string, float64) {
		if !x.OK || limit <= 0 {
			return "", -1
		}
		return x.Fixed(1) + " % above " + of + "; the limit is " + wear.FormatHalfUp(limit, 0) + " %", x.V / limit
	}
	s, near := share(m.Above7_8Pct, r.Limits.Above7_8Pct, "7.8")
	if t, n := share(m.Above10Pct, r.Limits.Above10Pct, "10"); n > near && n > 0 {
		s = t
	}
	low, dips := "", 0
	for _, e := range r.Report.Episodes {
		if e.Kind == wear.EpisodeBelow3_9 {
			if dips++; e.ExtremeMmol.OK && (low == "" || e.ExtremeMmol.Fixed(1) < low) {
				low = e.ExtremeMmol.Fixed(1)
			}
		}
	}
	if dips > 0 {
		s += ". " + count(dips, "dip") + " below 3.9, lowest " + low
	}
	return s
}

// UndoAddress is where the sheet is taken back.
func (s SignedSheet) UndoAddress() string { return "/sheet/" + strconv.FormatInt(s.ID, 10) + "/undo" }

// Told is how many lines stand.
func (s SignedSheet) Told() int {
	n := 0
	for _, l := range s.Lines {
		if l.Refused == "" && !l.Undone {
			n++
		}
	}
	return n
}

// Address is the page of the wear.
func (l SignedLine) Address() string { return wearAddress(l.WearID, Window{}) }

// CanUndo reports whether the sheet can still be taken back by its reader.
func (p SheetPage) CanUndo() bool {
	return p.Signed != nil && p.Signed.Mine && p.Now.Before(p.Signed.Until) && p.Signed.Told() > 0
}

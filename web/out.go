package web

import (
	"strconv"
	"time"

	"wearround/web/form"
	"wearround/web/letter"
)

// OutPage lists the sensors that are out: who wears one, and whose file should
// have come. Its rows are worked on as recalls are; see [RecallsPage].
type OutPage struct {
	Layout
	form.Form
	Rows []Recall // the most overdue first
	Open int64    // the row whose forms are shown open, or 0
	Done string   // what was done last, a plain sentence, or ""
}

// HandOutPage hands a sensor out. Posts to /out; [form.ParseHandOut] reads it.
type HandOutPage struct {
	Layout
	form.Form
	PatientID int64        // 0: not chosen yet, or new
	Patient   form.Patient // as on the register, where PatientID is set
	AskedOn   string       // 2006-01-02, when they were last asked, or ""
	Kinds     []string     // of sensor, that the practice has
}

// StartPage is the sheet for the start of a wear, for the wearer it is handed to.
type StartPage struct {
	Layout
	Out  Recall
	Text string
}

func (OutPage) view() (set, block string) { return "out", "page" }

func (HandOutPage) view() (set, block string) { return "handout", "page" }

func (StartPage) view() (set, block string) { return "start", "page" }

// Sentence says how much is shown.
func (p OutPage) Sentence() string {
	late := 0
	for _, r := range p.Rows {
		if p.Overdue(r.Due) {
			late++
		}
	}
	s := "Everything is shown: " + count(len(p.Rows), "sensor") + " out, "
	if late == 0 {
		return s + "no file overdue."
	}
	return s + count(late, "file") + " overdue."
}

// OpenAddress is the list with the forms of one row.
func (p OutPage) OpenAddress(id int64) string {
	n := strconv.FormatInt(id, 10)
	return "/out?open=" + n + "#recall-" + n
}

// Worn says how long the sensor has been out: "day 9".
func (l Layout) Worn(given time.Time) string {
	if given.IsZero() {
		return ""
	}
	y, m, d := l.in(l.Now).Date()
	gy, gm, gd := l.in(given).Date()
	days := int(time.Date(y, m, d, 12, 0, 0, 0, time.UTC).Sub(time.Date(gy, gm, gd, 12, 0, 0, 0, time.UTC)) / (24 * time.Hour))
	return "day " + strconv.Itoa(days+1)
}

// SensorWords names the sensor: "kind A, serial 0417-22".
func (r Recall) SensorWords() string {
	s := "kind not said"
	if r.SensorKind != "" {
		s = "kind " + r.SensorKind
	}
	if r.Serial != "" {
		s += ", serial " + r.Serial
	}
	return s
}

// Today is today's date as a field writes it.
func (l Layout) Today() string { return l.in(l.Now).Format(time.DateOnly) }

// DueHint says what an empty date by which the file is due stands for.
func (p HandOutPage) DueHint() string {
	return "hint=Left empty: " + strconv.Itoa(form.WearDays+form.SendWithin) + " days after it is put on"
}

// KindField is the kind of sensor: typed, with those that the practice has to
// choose from.
func (p HandOutPage) KindField() form.Input {
	more := []string{"most=20", "hint=The practice’s own letter for it"}
	if len(p.Kinds) == 1 {
		more = append(more, "value="+p.Kinds[0])
	}
	return p.Input("text", "kind", "Kind of sensor", more...)
}

// Blocks are the parts of the sheet.
func (p StartPage) Blocks() []letter.Block { return letter.Blocks(p.Text) }

// RunningHead stands on every page of the paper.
func (p StartPage) RunningHead() string {
	return SentPage{Patient: p.Out.Patient, Kind: letter.Unremarkable}.RunningHead()
}

package sim

import (
	"bytes"
	"encoding/binary"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"

	"wearround/worker/wear"
)

// Layout is one way an export file is arranged. All are our own invention.
type Layout struct {
	Name   string    // our name for it
	Sensor string    // opaque code of the sensor kind whose files look so
	Unit   wear.Unit // the unit of its files
	Events bool      // whether the file carries what the wearer logged

	extension   string
	comma       string
	quoted      bool // every cell in quotes
	crlf        bool
	newestFirst bool
	decimal     string              // "." or ","
	low, high   string              // words for readings out of range; "" writes "<2.2"
	preamble    []string            // lines before the headings; {code} stands for the patient's code
	headings    []string            // {unit} stands for the unit
	cells       func(row) []string  // nil where the row is not written; an empty first cell becomes the row's number
	encode      func(string) []byte // nil for UTF-8
}

// row is one reading or event on its way into a file.
type row struct {
	at    time.Time
	value string // of a reading or fingerstick
	unit  string
	event wear.Event // Kind "" for a reading
}

// is gives text where the row is an event of one of the kinds, else nothing.
func (r row) is(text string, kinds ...wear.EventKind) string {
	if slices.Contains(kinds, r.event.Kind) {
		return text
	}
	return ""
}

// reading gives the value where the row is a reading.
func (r row) reading() string { return r.is(r.value, "") }

// label is the wearer's words, or the value of a fingerstick.
func (r row) label() string {
	if r.event.Kind == wear.Fingerstick {
		return r.value
	}
	return r.event.Label
}

// carbs and minutes give a number where one was stated.
func (r row) carbs() string   { return stated(int(r.event.Carbs)) }
func (r row) minutes() string { return stated(r.event.Minutes) }

func stated(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// word gives an event kind in another language, in the order of eventKinds.
func (r row) word(words ...string) string {
	return words[slices.Index(eventKinds, r.event.Kind)]
}

var eventKinds = []wear.EventKind{"", wear.Meal, wear.Symptom, wear.Exercise, wear.Sleep, wear.Fingerstick, wear.Medicine, wear.Note}

// Layouts lists every arrangement, always in the same order.
func Layouts() []Layout {
	return []Layout{
		{
			Name: "diary", Sensor: "A", Unit: wear.MmolL, Events: true,
			extension: "csv", comma: ",", decimal: ".",
			headings: []string{"Time", "Glucose ({unit})", "Event", "Words", "Carbohydrate (g)", "Minutes"},
			cells: func(r row) []string {
				return []string{r.at.Format("2006-01-02 15:04:05"), r.reading(), string(r.event.Kind), r.label(), r.carbs(), r.minutes()}
			},
		},
		{
			Name: "spalten", Sensor: "B", Unit: wear.MmolL, Events: true,
			extension: "csv", comma: ";", decimal: ",", crlf: true,
			preamble: []string{"Messbericht;Gewebezucker", "Kennung;{code}", ""},
			headings: []string{"Nr", "Datum", "Uhrzeit", "Glukose ({unit})", "Mahlzeit", "Kohlenhydrate (g)", "Symptom", "Bewegung", "Dauer (min)", "Blutzucker Finger ({unit})", "Medikament", "Notiz"},
			cells: func(r row) []string {
				return []string{"", r.at.Format("02.01.2006"), r.at.Format("15:04"), r.reading(),
					r.is(r.label(), wear.Meal), r.carbs(), r.is(r.label(), wear.Symptom), r.is(r.label(), wear.Exercise), r.minutes(),
					r.is(r.value, wear.Fingerstick), r.is(r.label(), wear.Medicine), r.is(r.label(), wear.Note, wear.Sleep)}
			},
			encode: withBOM,
		},
		{
			Name: "newest", Sensor: "A", Unit: wear.MgdL, Events: true,
			extension: "csv", comma: ",", decimal: ".", quoted: true, crlf: true, newestFirst: true, low: "LOW", high: "HIGH",
			headings: []string{"Date and time", "Glucose {unit}", "Logged", "Detail"},
			cells: func(r row) []string {
				return []string{r.at.Format("01/02/2006 3:04 PM"), r.reading(), string(r.event.Kind), r.label()}
			},
		},
		{
			Name: "records", Sensor: "C", Unit: wear.MmolL, Events: true,
			extension: "txt", comma: "\t", decimal: ".", crlf: true,
			headings: []string{"Record", "When", "Value", "Unit", "Text"},
			cells: func(r row) []string {
				kind := r.word("glucose", "meal", "symptom", "exercise", "sleep", "fingerstick", "medicine", "note")
				return []string{kind, r.at.Format("2006-01-02 15:04"), r.value, r.unit, r.event.Label}
			},
			encode: asUTF16,
		},
		{
			Name: "carnet", Sensor: "B", Unit: wear.MmolL, Events: true,
			extension: "csv", comma: ";", decimal: ",", crlf: true,
			headings: []string{"Date et heure", "Glycémie ({unit})", "Type d'événement", "Commentaire", "Glucides (g)", "Durée (min)"},
			cells: func(r row) []string {
				kind := r.word("", "repas", "symptôme", "activité", "sommeil", "glycémie capillaire", "médicament", "note")
				return []string{r.at.Format("02/01/2006 15:04"), r.reading(), kind, r.label(), r.carbs(), r.minutes()}
			},
			encode: asLatin1,
		},
		{
			Name: "libreta", Sensor: "A", Unit: wear.MgdL, Events: true,
			extension: "tsv", comma: "\t", decimal: ",", low: "BAJO", high: "ALTO",
			preamble: []string{"Registro de glucosa", "Código del paciente\t{code}", ""},
			headings: []string{"Fecha", "Hora", "Glucosa ({unit})", "Comida", "Hidratos (g)", "Síntoma", "Ejercicio", "Minutos", "Medicación", "Glucemia capilar ({unit})", "Nota"},
			cells: func(r row) []string {
				return []string{r.at.Format("02/01/2006"), r.at.Format("15:04"), r.reading(), r.is(r.label(), wear.Meal), r.carbs(),
					r.is(r.label(), wear.Symptom), r.is(r.label(), wear.Exercise), r.minutes(), r.is(r.label(), wear.Medicine),
					r.is(r.value, wear.Fingerstick), r.is(r.label(), wear.Note, wear.Sleep)}
			},
		},
		{
			Name: "offset", Sensor: "A", Unit: wear.MmolL,
			extension: "csv", comma: ",", decimal: ".",
			headings: []string{"sequence", "timestamp", "glucose", "unit"},
			cells: func(r row) []string {
				if r.event.Kind != "" {
					return nil
				}
				return []string{"", r.at.Format(time.RFC3339), r.value, r.unit}
			},
		},
		{
			Name: "epoch", Sensor: "B", Unit: wear.MgdL,
			extension: "csv", comma: "|", decimal: ".", low: "low", high: "high",
			headings: []string{"epoch_s", "glucose_mg_dl"},
			cells: func(r row) []string {
				if r.event.Kind != "" {
					return nil
				}
				return []string{strconv.FormatInt(r.at.Unix(), 10), r.value}
			},
		},
	}
}

// Render writes a wear as an export file. The name starts with the patient's
// code and the month the wear began: "P-0417_2026-03.csv". Times are the
// wearer's wall clock, so a wear across a clock change has the repeated hour
// that a real file has. The file names no person.
func Render(w *Wear, l Layout) (name string, data []byte) {
	start := time.Time{}
	if len(w.Readings) > 0 {
		start = time.Unix(w.Readings[0].At, 0).In(w.Zone)
	}
	name = w.Person.Code + "_" + start.Format("2006-01") + "." + l.extension

	rows := l.rows(w)
	fill := strings.NewReplacer("{code}", w.Person.Code, "{unit}", w.Unit.String())
	end := "\n"
	if l.crlf {
		end = "\r\n"
	}
	var b strings.Builder
	b.Grow(len(rows) * 48)
	for _, line := range l.preamble {
		b.WriteString(fill.Replace(line) + end)
	}
	headings := make([]string, len(l.headings))
	for i, h := range l.headings {
		headings[i] = fill.Replace(h)
	}
	l.line(&b, headings, end)
	number := 0
	for _, r := range rows {
		cells := l.cells(r)
		if cells == nil {
			continue
		}
		if number++; cells[0] == "" {
			cells[0] = strconv.Itoa(number)
		}
		l.line(&b, cells, end)
	}
	if l.encode != nil {
		return name, l.encode(b.String())
	}
	return name, []byte(b.String())
}

// rows puts readings and events in the order of the file.
func (l Layout) rows(w *Wear) []row {
	rows := make([]row, 0, len(w.Readings)+len(w.Events))
	events := w.Events
	for _, r := range w.Readings {
		for len(events) > 0 && events[0].At <= r.At {
			rows = append(rows, l.event(w, events[0]))
			events = events[1:]
		}
		rows = append(rows, row{at: time.Unix(r.At, 0).In(w.Zone), value: l.value(r), unit: r.Unit.String()})
	}
	for _, e := range events {
		rows = append(rows, l.event(w, e))
	}
	if l.newestFirst {
		slices.Reverse(rows)
	}
	return rows
}

func (l Layout) event(w *Wear, e wear.Event) row {
	r := row{at: e.Time(w.Zone), event: e}
	if e.Kind == wear.Fingerstick {
		r.value, r.unit = l.value(e.Value), e.Value.Unit.String()
	}
	return r
}

// value writes a reading the layout's way.
func (l Layout) value(r wear.Reading) string {
	switch {
	case r.Bound == wear.Below && l.low != "":
		return l.low
	case r.Bound == wear.Above && l.high != "":
		return l.high
	case l.decimal == ",":
		return strings.Replace(r.Text(), ".", ",", 1)
	}
	return r.Text()
}

// line writes one line of cells, quoting those that need it.
func (l Layout) line(b *strings.Builder, cells []string, end string) {
	for i, c := range cells {
		if i > 0 {
			b.WriteString(l.comma)
		}
		if l.quoted || strings.Contains(c, l.comma) || strings.ContainsAny(c, "\"\r\n") {
			c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		b.WriteString(c)
	}
	b.WriteString(end)
}

func withBOM(s string) []byte { return append([]byte("\xEF\xBB\xBF"), s...) }

// asUTF16 is little-endian with a byte-order mark.
func asUTF16(s string) []byte {
	units := utf16.Encode([]rune(s))
	out := make([]byte, 2, 2+2*len(units))
	out[0], out[1] = 0xFF, 0xFE
	for _, u := range units {
		out = binary.LittleEndian.AppendUint16(out, u)
	}
	return out
}

// asLatin1 writes one byte a letter; the layouts that use it have no others.
func asLatin1(s string) []byte {
	var b bytes.Buffer
	b.Grow(len(s))
	for _, r := range s {
		if r > 0xFF {
			r = '?'
		}
		b.WriteByte(byte(r))
	}
	return b.Bytes()
}

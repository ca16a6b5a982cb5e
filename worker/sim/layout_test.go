package sim_test

import (
	"bytes"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"wearround/worker/sim"
	"wearround/worker/wear"
)

// text undoes the encodings the layouts use, by their first bytes.
func text(data []byte) string {
	if after, ok := bytes.CutPrefix(data, []byte("\xFF\xFE")); ok {
		var units []uint16
		for i := 0; i+1 < len(after); i += 2 {
			units = append(units, uint16(after[i])|uint16(after[i+1])<<8)
		}
		return string(utf16.Decode(units))
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	if utf8.Valid(data) {
		return string(data)
	}
	var b strings.Builder
	for _, c := range data {
		b.WriteRune(rune(c))
	}
	return b.String()
}

// TestRenderedByHand pins the first lines of each layout for three readings
// and two events, so that a change of arrangement is seen.
func TestRenderedByHand(t *testing.T) {
	at := time.Date(2026, 3, 4, 18, 5, 0, 0, time.FixedZone("", 11*60*60))
	w := func(unit wear.Unit) *sim.Wear {
		r := func(minutes int, mmol, mgdl int64, bound wear.Bound) wear.Reading {
			x := wear.Reading{At: at.Unix() + int64(minutes)*60, Num: mmol, Scale: 1, Unit: unit, Bound: bound}
			if unit == wear.MgdL {
				x.Num, x.Scale = mgdl, 0
			}
			return x
		}
		return &sim.Wear{
			Person: sim.Person{Code: "P-0417"}, Unit: unit, Zone: at.Location(),
			Readings: []wear.Reading{r(0, 56, 101, wear.Exact), r(15, 50, 90, wear.Exact), r(30, 22, 40, wear.Below)},
			Events: []wear.Event{
				{At: at.Unix() + 600, Kind: wear.Meal, Label: "dal, rice", Carbs: 70},
				{At: at.Unix() + 1200, Kind: wear.Symptom, Label: "shaky"},
			},
		}
	}
	want := map[string]struct{ name, body string }{
		"diary": {"P-0417_2026-03.csv", "Time,Glucose (mmol/L),Event,Words,Carbohydrate (g),Minutes\n" +
			"2026-03-04 18:05:00,5.6,,,,\n2026-03-04 18:15:00,,meal,\"dal, rice\",70,\n2026-03-04 18:20:00,5.0,,,,\n" +
			"2026-03-04 18:25:00,,symptom,shaky,,\n2026-03-04 18:35:00,<2.2,,,,\n"},
		"spalten": {"P-0417_2026-03.csv", "Messbericht;Gewebezucker\r\nKennung;P-0417\r\n\r\n" +
			"Nr;Datum;Uhrzeit;Glukose (mmol/L);Mahlzeit;Kohlenhydrate (g);Symptom;Bewegung;Dauer (min);Blutzucker Finger (mmol/L);Medikament;Notiz\r\n" +
			"1;04.03.2026;18:05;5,6;;;;;;;;\r\n2;04.03.2026;18:15;;dal, rice;70;;;;;;\r\n3;04.03.2026;18:20;5,0;;;;;;;;\r\n" +
			"4;04.03.2026;18:25;;;;shaky;;;;;\r\n5;04.03.2026;18:35;<2,2;;;;;;;;\r\n"},
		"newest": {"P-0417_2026-03.csv", `"Date and time","Glucose mg/dL","Logged","Detail"` + "\r\n" +
			`"03/04/2026 6:35 PM","LOW","",""` + "\r\n" + `"03/04/2026 6:25 PM","","symptom","shaky"` + "\r\n" +
			`"03/04/2026 6:20 PM","90","",""` + "\r\n" + `"03/04/2026 6:15 PM","","meal","dal, rice"` + "\r\n" +
			`"03/04/2026 6:05 PM","101","",""` + "\r\n"},
		"records": {"P-0417_2026-03.txt", "Record\tWhen\tValue\tUnit\tText\r\nglucose\t2026-03-04 18:05\t5.6\tmmol/L\t\r\n" +
			"meal\t2026-03-04 18:15\t\t\tdal, rice\r\nglucose\t2026-03-04 18:20\t5.0\tmmol/L\t\r\n" +
			"symptom\t2026-03-04 18:25\t\t\tshaky\r\nglucose\t2026-03-04 18:35\t<2.2\tmmol/L\t\r\n"},
		"carnet": {"P-0417_2026-03.csv", "Date et heure;Glycémie (mmol/L);Type d'événement;Commentaire;Glucides (g);Durée (min)\r\n" +
			"04/03/2026 18:05;5,6;;;;\r\n04/03/2026 18:15;;repas;dal, rice;70;\r\n04/03/2026 18:20;5,0;;;;\r\n" +
			"04/03/2026 18:25;;symptôme;shaky;;\r\n04/03/2026 18:35;<2,2;;;;\r\n"},
		"libreta": {"P-0417_2026-03.tsv", "Registro de glucosa\nCódigo del paciente\tP-0417\n\n" +
			"Fecha\tHora\tGlucosa (mg/dL)\tComida\tHidratos (g)\tSíntoma\tEjercicio\tMinutos\tMedicación\tGlucemia capilar (mg/dL)\tNota\n" +
			"04/03/2026\t18:05\t101\t\t\t\t\t\t\t\t\n04/03/2026\t18:15\t\tdal, rice\t70\t\t\t\t\t\t\n04/03/2026\t18:20\t90\t\t\t\t\t\t\t\t\n" +
			"04/03/2026\t18:25\t\t\t\tshaky\t\t\t\t\t\n04/03/2026\t18:35\tBAJO\t\t\t\t\t\t\t\t\n"},
		"offset": {"P-0417_2026-03.csv", "sequence,timestamp,glucose,unit\n1,2026-03-04T18:05:00+11:00,5.6,mmol/L\n" +
			"2,2026-03-04T18:20:00+11:00,5.0,mmol/L\n3,2026-03-04T18:35:00+11:00,<2.2,mmol/L\n"},
		"epoch": {"P-0417_2026-03.csv", "epoch_s|glucose_mg_dl\n1772607900|101\n1772608800|90\n1772609700|low\n"},
	}
	for _, l := range sim.Layouts() {
		name, data := sim.Render(w(l.Unit), l)
		if x := want[l.Name]; name != x.name || text(data) != x.body {
			t.Errorf("%s gave %s:\n%q\nwant %s:\n%q", l.Name, name, text(data), x.name, x.body)
		}
	}
}

// TestRenderedWhole renders a real wear in each layout: as many rows as there
// are readings and events, all cells of one width, and no person's name.
func TestRenderedWhole(t *testing.T) {
	for _, l := range sim.Layouts() {
		w := sim.NewWear(3, sim.Spec{Kind: sim.MedicineLows, Layout: l, Start: start, Days: 4})
		_, data := sim.Render(w, l)
		body := text(data)
		rows := len(w.Readings)
		if l.Events {
			rows += len(w.Events)
		}
		lines := strings.Split(strings.TrimRight(body, "\r\n"), "\n")
		head := len(lines) - rows
		if head < 1 || head > 5 {
			t.Errorf("%s: %d lines for %d rows", l.Name, len(lines), rows)
		}
		for _, word := range strings.Fields(w.Person.Name) {
			if strings.Contains(body, word) {
				t.Errorf("%s names a person", l.Name)
			}
		}
		if l.Unit != w.Unit || !l.Events && strings.Contains(body, "meal") {
			t.Errorf("%s: unit %v, events %v", l.Name, w.Unit, l.Events)
		}
	}
}

// TestClockChange renders a wear over the end of summer time: the wall clock
// repeats an hour, the readings do not.
func TestClockChange(t *testing.T) {
	zone, err := time.LoadLocation("Australia/Melbourne")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	l := sim.Layouts()[0]
	w := sim.NewWear(1, sim.Spec{Layout: l, Start: time.Date(2026, 4, 4, 12, 0, 0, 0, zone), Days: 1})
	_, data := sim.Render(w, l)
	if n := strings.Count(string(data), "2026-04-05 02:30:00,"); n != 2 {
		t.Errorf("half past two appears %d times, want 2", n)
	}
	if n := len(w.Readings); n < 270 || n > 289 {
		t.Errorf("%d readings in 24 hours", n)
	}
}

func TestOddities(t *testing.T) {
	end := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	odd := sim.Oddities(4, end, time.UTC)
	again := sim.Oddities(4, end, time.UTC)
	byName := map[string][]byte{}
	for i, o := range odd {
		if o.Why == "" || byName[o.Name] != nil {
			t.Errorf("%s: no reason given, or the name twice", o.Name)
		}
		byName[o.Name] = o.Data
		if !bytes.Equal(o.Data, again[i].Data) {
			t.Errorf("%s: the same seed gave other bytes", o.Name)
		}
	}
	if n := len(byName["P-9001_empty.csv"]); n != 0 {
		t.Errorf("the empty file has %d bytes", n)
	}
	if !bytes.HasPrefix(byName["P-9002_screen.csv"], []byte("\x89PNG")) {
		t.Error("the picture is not one")
	}
	if cut := byName["P-9998_copy.csv"]; bytes.HasSuffix(cut, []byte("\n")) {
		t.Error("the cut-short file ends in a whole line")
	}
	for _, line := range strings.Split(strings.TrimSpace(string(byName["P-9003_numbers.csv"])), "\n")[1:] {
		_, value, _ := strings.Cut(line, ",")
		if n, err := strconv.Atoi(value); err != nil || n < 22 || n > 222 {
			t.Fatalf("value %q in the file without a unit", value)
		}
	}
	dates := map[string]bool{}
	for _, line := range strings.Split(strings.TrimSpace(string(byName["P-9004_oneday.csv"])), "\n")[1:] {
		date, _, _ := strings.Cut(line, ",")
		dates[date] = true
	}
	if len(dates) != 1 {
		t.Errorf("the one-day file has the dates %v", dates)
	}
	for d := range dates {
		a, errA := time.Parse("02/01/2006", d)
		b, errB := time.Parse("01/02/2006", d)
		if errA != nil || errB != nil || a.Equal(b) || a.After(end) || b.After(end) {
			t.Errorf("the date %s is not open", d)
		}
	}
	last, before := odd[len(odd)-1], odd[len(odd)-2]
	if !bytes.Equal(last.Data, before.Data) || last.Name == before.Name {
		t.Error("the last file is not a copy of the one before it")
	}
}

func BenchmarkRender(b *testing.B) {
	w := sim.NewWear(7, sim.Spec{Start: start})
	for b.Loop() {
		sim.Render(w, w.Layout)
	}
}

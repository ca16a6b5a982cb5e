package intake_test

import (
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// with replaces the cells after the time on some rows of a wear of 100.
func with(heading, usual string, rows map[int]string) string {
	return heading + "\n" + lines(100, march, func(i int, at time.Time) string {
		cells, ok := rows[i]
		if !ok {
			cells = strings.ReplaceAll(usual, "#", value(i, wear.MmolL))
		}
		return at.Format("2006-01-02 15:04:05") + "," + cells
	})
}

func TestReadEvents(t *testing.T) {
	at := func(i int) int64 { return march.Unix() + int64(i)*900 }
	finger := func(i int, num int64, scale uint8, u wear.Unit) wear.Event {
		return wear.Event{At: at(i), Kind: wear.Fingerstick, Value: wear.Reading{At: at(i), Num: num, Scale: scale, Unit: u}}
	}
	for _, c := range []struct {
		name, data string
		readings   int
		onDemand   int
		events     []wear.Event
	}{
		{"one column", with("time,glucose,event", "#,", map[int]string{
			10: "5.5,meal", 20: "5.5,meal: porridge 45 g", 30: "5.5,symptom: shaky", 40: "5.5,walked the dog", 50: "5.5,felt shaky", 60: "5.5,not shaky any more", 70: ",exercise",
		}), 99, 0, []wear.Event{
			{At: at(10), Kind: wear.Meal}, {At: at(20), Kind: wear.Meal, Label: "porridge 45 g", Carbs: 45}, {At: at(30), Kind: wear.Symptom, Label: "shaky"},
			{At: at(40), Kind: wear.Note, Label: "walked the dog"}, {At: at(50), Kind: wear.Symptom, Label: "felt shaky"},
			{At: at(60), Kind: wear.Note, Label: "not shaky any more"}, {At: at(70), Kind: wear.Exercise},
		}},
		{"own columns", with("time,glucose,carbs,food,symptom,fingerstick,note", "#,,,,,", map[int]string{
			10: "5.5,45,porridge,,,", 20: "5.5,,,dizzy,,", 30: "5.5,,,,6.1,", 40: `5.5,,,,,"long, and` + "\n" + `over lines"`, 50: "5.5,,,,108,",
		}), 100, 0, []wear.Event{
			{At: at(10), Kind: wear.Meal, Label: "porridge", Carbs: 45}, {At: at(20), Kind: wear.Symptom, Label: "dizzy"}, finger(30, 61, 1, wear.MmolL),
			{At: at(40), Kind: wear.Note, Label: "long, and\nover lines"}, finger(50, 108, 0, wear.MgdL),
		}},
		{"German columns", with("Zeit,Gewebeglukose mmol/L,Kohlenhydrate (g),Beschwerden,Bewegung,Bemerkung,Symptome", "#,,,,,", map[int]string{
			10: "5.5,45,,,,", 20: "5.5,,,30,,", 30: "5.5,,,,gut,", 40: "5.5,,,,,Schwindel",
		}), 100, 0, []wear.Event{
			{At: at(10), Kind: wear.Meal, Carbs: 45}, {At: at(20), Kind: wear.Exercise, Minutes: 30}, {At: at(30), Kind: wear.Note, Label: "gut"}, {At: at(40), Kind: wear.Symptom, Label: "Schwindel"},
		}},
		{"record types in one value column", with("time,kind,value,label", "sensor,#,", map[int]string{
			10: "carbs,45,porridge", 20: "fingerstick,6.1,", 30: "scan,6.2,", 40: "note,,slept badly", 50: "insulin,4,",
		}), 96, 1, []wear.Event{
			{At: at(10), Kind: wear.Meal, Label: "porridge", Carbs: 45}, finger(20, 61, 1, wear.MmolL), {At: at(40), Kind: wear.Note, Label: "slept badly"}, {At: at(50), Kind: wear.Medicine, Label: "4"},
		}},
		{"a column of kinds beside words", with("Time,Glucose (mmol/L),Event,Words,Carbohydrate (g),Minutes", "#,,,,", map[int]string{
			10: ",meal,pancakes,60,", 20: ",exercise,cycling,,51", 30: ",fingerstick,8.9,,", 40: ",symptom,heart racing,,", 50: ",sleep,,,450", 60: ",note,family lunch,,",
		}), 94, 0, []wear.Event{
			{At: at(10), Kind: wear.Meal, Label: "pancakes", Carbs: 60}, {At: at(20), Kind: wear.Exercise, Label: "cycling", Minutes: 51}, finger(30, 89, 1, wear.MmolL),
			{At: at(40), Kind: wear.Symptom, Label: "heart racing"}, {At: at(50), Kind: wear.Sleep, Minutes: 450}, {At: at(60), Kind: wear.Note, Label: "family lunch"},
		}},
		{"codes and columns", with("time,record type,glucose,scan glucose,carbs", "0,#,,", map[int]string{
			10: "5,,,45", 20: "1,,6.2,", 30: "1,,6.3,",
		}), 99, 2, []wear.Event{{At: at(10), Kind: wear.Meal, Carbs: 45}}},
		{"formula in a note", with("time,glucose,note", "#,", map[int]string{10: `5.5,"=HYPERLINK(""x"")"`}), 100, 0, []wear.Event{{At: at(10), Kind: wear.Note, Label: `=HYPERLINK("x")`}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := intake.Read([]byte(c.data), intake.Options{Zone: time.UTC, Now: now})
			if res.Refusal != nil || len(res.Questions) > 0 {
				t.Fatalf("refusal %+v, questions %+v", res.Refusal, res.Questions)
			}
			onDemand := 0
			for _, r := range res.Readings {
				if r.Mark&wear.MarkOnDemand != 0 {
					onDemand++
				}
			}
			if len(res.Readings) != c.readings || onDemand != c.onDemand {
				t.Errorf("%d readings, %d on demand; want %d and %d; %v", len(res.Readings), onDemand, c.readings, c.onDemand, res.Ignored)
			}
			if len(res.Events) != len(c.events) {
				t.Fatalf("events %+v, want %+v", res.Events, c.events)
			}
			for i, e := range res.Events {
				if e != c.events[i] {
					t.Errorf("event %d is %+v, want %+v", i, e, c.events[i])
				}
			}
		})
	}
}

func TestReadOutOfRange(t *testing.T) {
	res := intake.Read([]byte(with("time,glucose", "#", map[int]string{
		1: "<2.2", 2: ">25", 3: "LOW", 4: "Hi", 5: "niedrig", 6: "élevé", 7: "---", 8: "5.827441142844457", 9: `"≥ 25,0"`,
	})), intake.Options{Zone: time.UTC, Now: now})
	if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != 99 || res.Skipped != 1 {
		t.Fatalf("refusal %+v, questions %+v, %d readings", res.Refusal, res.Questions, len(res.Readings))
	}
	for i, want := range map[int]string{1: "<2.2", 2: ">25", 3: "low", 4: "high", 5: "low", 6: "high", 7: "5.827441142844457", 8: ">25.0"} {
		if got := res.Readings[i].Text(); got != want {
			t.Errorf("reading %d is %s, want %s", i, got, want)
		}
	}
}

// Each row's own unit wins where its values bear it out.
func TestReadUnitPerRow(t *testing.T) {
	text := "time,glucose,unit\n" + lines(100, march, func(i int, at time.Time) string {
		u := wear.MmolL
		if i >= 70 {
			u = wear.MgdL
		}
		return at.Format("2006-01-02 15:04") + "," + value(i, u) + "," + u.String()
	})
	res := intake.Read([]byte(text), intake.Options{Zone: time.UTC, Now: now})
	if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != 100 || res.Unit != wear.MmolL {
		t.Fatalf("refusal %+v, questions %+v, %d readings in %v", res.Refusal, res.Questions, len(res.Readings), res.Unit)
	}
	if res.Readings[69].Unit != wear.MmolL || res.Readings[70].Unit != wear.MgdL {
		t.Error("the unit does not switch with the rows")
	}
}

// The fingerprint knows the arrangement and no person.
func TestLayout(t *testing.T) {
	file := func(person, heading string, u wear.Unit) string {
		return "Patient," + person + "\n" + heading + "\n" + lines(100, march, func(i int, at time.Time) string {
			return at.Format("2006-01-02 15:04") + "," + value(i, u) + "," + person
		})
	}
	read := func(text string) *intake.Result {
		return intake.Read([]byte(text), intake.Options{Zone: time.UTC, Now: now})
	}
	a, b, c := read(file("Ombrel", "Time,Glucose,Patient", wear.MmolL)), read(file("Tavosh", "TIME , glucose,patient", wear.MmolL)), read(file("Ombrel", "Time,Sugar,Patient", wear.MmolL))
	if a.PatientHint != "Ombrel" || b.PatientHint != "Tavosh" {
		t.Errorf("patients %q and %q", a.PatientHint, b.PatientHint)
	}
	if len(a.Layout) != 64 || a.Layout != b.Layout || a.Layout == c.Layout {
		t.Errorf("layouts %s, %s, %s: want two the same and one different", a.Layout, b.Layout, c.Layout)
	}
}

package intake_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// TestWorkbookOfAWard reads a sheet as hospitals and universities keep them: the
// sensor, fingersticks, ketones, food in two languages and medicines side by
// side. Nothing of it is lost: each value is a reading, a fingerstick, a meal, a
// medicine or words.
func TestWorkbookOfAWard(t *testing.T) {
	const n = 14 * 96
	f := excelize.NewFile()
	heading := []any{"Date", "Sensor glucose (mg / dl)", "Capillary glucose (mg / dl)", "Blood ketone (mmol / L)", "Dietary intake", "饮食", "Insulin dose (units)", "Other medicines"}
	f.SetSheetRow("Sheet1", "A1", &heading)
	sticks, low := 0, false
	want := map[string]int{}
	for i, v := range curve(n, 1) {
		at := march.Add(time.Duration(i) * 15 * time.Minute)
		row := make([]any, len(heading))
		row[0], row[1] = at, 18*v/10
		if i%33 == 5 {
			row[2] = 18*v/10 + 4 - i%9
			if i == 33*20+5 {
				row[2], low = 50, true
			}
			sticks++
		}
		add := func(col int, kind wear.EventKind, text any) {
			row[col] = text
			want[fmt.Sprintf("%s %d %s", kind, at.Unix(), strings.TrimSpace(fmt.Sprint(text)))]++
		}
		switch {
		case i%96 == 28:
			add(4, wear.Meal, "rice porridge 150 g; egg 1")
		case i%96 == 50:
			add(5, wear.Meal, "米饭 100 g")
		case i%96 == 30:
			add(7, wear.Medicine, "metformin 0.5 g")
		case i == 200:
			add(6, wear.Medicine, 4)
		case i == 300:
			add(3, wear.Note, "3.4")
		}
		f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+2), &row)
	}
	var data bytes.Buffer
	if err := f.Write(&data); err != nil {
		t.Fatal(err)
	}
	res := intake.Read(data.Bytes(), intake.Options{Zone: time.UTC, Now: now})
	if res.Refusal != nil || len(res.Questions) > 0 {
		t.Fatalf("refusal %+v, questions %+v", res.Refusal, res.Questions)
	}
	got, below := 0, false
	for _, e := range res.Events {
		if e.Kind == wear.Fingerstick {
			got++
			below = below || e.Value.Num == 50 && e.Value.Unit == wear.MgdL
			continue
		}
		for w := range want {
			var kind string
			var at int64
			fmt.Sscanf(w, "%s %d", &kind, &at)
			if text := strings.SplitN(w, " ", 3)[2]; kind == string(e.Kind) && at == e.At && strings.Contains(e.Label, text) {
				delete(want, w)
			}
		}
	}
	if len(res.Readings) != n || got != sticks || !low || !below {
		t.Errorf("%d readings of %d, %d fingersticks of %d, the one below 3.0 among them: %v", len(res.Readings), n, got, sticks, below)
	}
	for w := range want {
		t.Errorf("lost: %s", w)
	}
	if !res.Account.Balanced() {
		t.Errorf("the account does not balance: %+v", res.Account)
	}
}

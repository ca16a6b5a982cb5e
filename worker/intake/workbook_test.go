package intake_test

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// book26 makes a workbook with the library that reads it; the generator of
// messy files makes others by hand.
func book26(t *testing.T, fill func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	fill(f)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// readings writes 60 readings to a sheet, a quarter of an hour apart.
func readings(t *testing.T, f *excelize.File, sheet string, when func(at time.Time) any) {
	t.Helper()
	set := func(cell string, v any) {
		if err := f.SetCellValue(sheet, cell, v); err != nil {
			t.Fatal(err)
		}
	}
	set("A1", "Time")
	set("B1", "Glucose")
	for i := range 60 {
		set(fmt.Sprintf("A%d", i+2), when(march.Add(time.Duration(i)*15*time.Minute)))
		set(fmt.Sprintf("B%d", i+2), 5.2+float64(i%31)*0.1)
	}
}

func TestReadWorkbook(t *testing.T) {
	asDate := func(at time.Time) any { return at }
	asText := func(at time.Time) any { return at.Format("2006-01-02 15:04") }
	yes := true
	for _, c := range []struct {
		name   string
		fill   func(f *excelize.File)
		code   string // asked
		answer string
	}{
		{"dates", func(f *excelize.File) { readings(t, f, "Sheet1", asDate) }, "", ""},
		{"dates as text", func(f *excelize.File) { readings(t, f, "Sheet1", asText) }, "", ""},
		{"days counted from 1904", func(f *excelize.File) {
			if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}); err != nil {
				t.Fatal(err)
			}
			readings(t, f, "Sheet1", asDate)
		}, "", ""},
		{"a hidden sheet of another person", func(f *excelize.File) {
			readings(t, f, "Sheet1", asDate)
			f.NewSheet("other")
			readings(t, f, "other", func(at time.Time) any { return at.Add(500 * time.Hour) })
			f.SetSheetVisible("other", false)
		}, "sheet", "1"},
		{"two sheets", func(f *excelize.File) {
			f.NewSheet("other")
			readings(t, f, "other", asDate)
			readings(t, f, "Sheet1", asDate)
			f.SetCellValue("other", "B1", "sensor glucose")
		}, "sheet", "2"},
		{"a cover sheet", func(f *excelize.File) {
			f.SetCellValue("Sheet1", "A1", "Wear report")
			f.NewSheet("data")
			readings(t, f, "data", asDate)
		}, "", ""},
		{"some dates as text, day and month open", func(f *excelize.File) {
			readings(t, f, "Sheet1", func(at time.Time) any {
				if at.Minute() == 0 {
					return at.Format("02/01/2006 15:04")
				}
				return at
			})
		}, "mixed_dates", "stop"},
	} {
		t.Run(c.name, func(t *testing.T) {
			data := book26(t, c.fill)
			o := intake.Options{Zone: time.UTC, Now: now}
			res := intake.Read(data, o)
			if c.code != "" {
				found := false
				for _, q := range res.Questions {
					found = found || q.Code == c.code
				}
				if !found {
					t.Fatalf("questions %+v, refusal %+v; want %s", res.Questions, res.Refusal, c.code)
				}
				o.Answers = map[string]string{c.code: c.answer}
				res = intake.Read(data, o)
			}
			if c.answer == "stop" {
				if res.Refusal == nil || res.Refusal.Code != c.code {
					t.Errorf("%d readings, refusal %+v", len(res.Readings), res.Refusal)
				}
				return
			}
			if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != 60 || res.Layout == "" {
				t.Fatalf("%d readings, refusal %+v, questions %+v", len(res.Readings), res.Refusal, res.Questions)
			}
			if r := res.Readings[7]; r.At != march.Unix()+7*900 || r.Text() != "5.9" || r.Unit != wear.MmolL {
				t.Errorf("reading 7 is %v %s", time.Unix(r.At, 0).UTC(), r.Text())
			}
		})
	}
}

func TestReadWorkbookRefused(t *testing.T) {
	locked := append([]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), "E\x00n\x00c\x00r\x00y\x00p\x00t\x00e\x00d\x00P\x00a\x00c\x00k\x00a\x00g\x00e\x00"...)
	for _, c := range []struct {
		name, code string
		data       []byte
	}{
		{"macros", "workbook_macros", []byte(zipped("[Content_Types].xml", "<a/>", "xl/workbook.xml", "<a/>", "xl/vbaProject.bin", "x"))},
		{"password", "workbook_locked", locked},
		{"empty", "empty", book26(t, func(*excelize.File) {})},
		{"no table", "no_table", book26(t, func(f *excelize.File) { f.SetCellValue("Sheet1", "A1", "hello") })},
		{"heading only", "no_readings", book26(t, func(f *excelize.File) {
			f.SetCellValue("Sheet1", "A1", "Time")
			f.SetCellValue("Sheet1", "B1", "Glucose")
		})},
		{"a very wide row", "too_big", book26(t, func(f *excelize.File) { f.SetCellValue("Sheet1", "XFD1", 1) })},
		{"many empty rows", "too_big", book26(t, func(f *excelize.File) { f.SetCellValue("Sheet1", "A1048576", 1) })},
		{"half", "zip_damaged", book26(t, func(*excelize.File) {})[:2000]},
	} {
		res := intake.Read(c.data, intake.Options{Zone: time.UTC, Now: now})
		if res.Refusal == nil || res.Refusal.Code != c.code {
			t.Errorf("%s: refusal %+v, want %s", c.name, res.Refusal, c.code)
		}
	}
}

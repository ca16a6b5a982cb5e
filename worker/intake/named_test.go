package intake_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// toldOfNames reads a table under some names and gives the words that it has.
func toldOfNames(t *testing.T, data string, names ...string) (words []string) {
	t.Helper()
	res := intake.Read([]byte(data), intake.Options{Zone: time.UTC, Names: names, Known: func(w string) bool { return w == "KLMN" }})
	if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) == 0 || !res.Account.Balanced() {
		t.Fatalf("%q: not filed: %+v %+v", names, res.Refusal, res.Questions)
	}
	for _, e := range res.Events {
		if e.Kind != wear.Undated || e.At != res.Readings[0].At {
			t.Errorf("%q: %+v", names, e)
		}
		words = append(words, e.Label)
	}
	return words
}

func wearNamed(heading, cell string) string {
	return wearFileOf(heading, 3*96, func(at time.Time, _ int, v string) string { return at.Format(minutes) + "," + v + cell })
}

// TestNoTextIsDroppedUnseen: whatever people write into what names, packs or
// heads a table is words, and what programs write there is not.
func TestNoTextIsDroppedUnseen(t *testing.T) {
	const plainHeading = "time,glucose mmol/L"
	table := wearNamed(plainHeading, "")
	sayings := []string{"woke up in hospital", "found unconscious on the 14th", "blacked out", "passed_out_twice", "wife found me out cold", "ohnmächtig geworden", "se desmayó", "晕倒", "collapsed-2026", "P-9019_woke_up_in_hospital", "fainted twice", "16 weeks pregnant", "takes insulin"}
	ways := map[string]func(said string) []string{
		"file":   func(s string) []string { return toldOfNames(t, table, s+".csv") },
		"code":   func(s string) []string { return toldOfNames(t, table, "P-1001_"+s+"_2026-10-01.csv") },
		"folder": func(s string) []string { return toldOfNames(t, table, "P-9131 "+s, "P-9131_export.csv") },
		"heading": func(s string) []string {
			return toldOfNames(t, wearNamed(plainHeading+",notes ("+s+" then and there)", ","), "P-1_export.csv")
		},
		"first heading": func(s string) []string {
			return toldOfNames(t, wearNamed(plainHeading+",\"extra "+s+" then and there\"", ","), "P-1_export.csv")
		},
		"entry": func(s string) []string { return toldOfNames(t, zipWith(t, s+".csv", "", "", table), "P-1.zip") },
		"note of the archive": func(s string) []string {
			return toldOfNames(t, zipWith(t, "export.csv", s, "", table), "P-1.zip")
		},
		"note of the entry": func(s string) []string {
			return toldOfNames(t, zipWith(t, "export.csv", "", s, table), "P-1.zip")
		},
		"gzip": func(s string) []string {
			var b bytes.Buffer
			z := gzip.NewWriter(&b)
			if strings.ContainsFunc(s, func(r rune) bool { return r > 255 }) { // Latin-1 there
				s = "blacked out"
			}
			z.Name = s + ".csv"
			if _, err := z.Write([]byte(table)); err != nil {
				t.Fatal(err)
			}
			z.Close()
			return toldOfNames(t, b.String(), "P-1.csv.gz")
		},
	}
	for way, told := range ways {
		for _, said := range sayings {
			words := strings.Join(told(said), "|")
			if way == "gzip" && !strings.Contains(words, said) && strings.Contains(words, "blacked out") {
				continue
			}
			if !strings.Contains(words, said) {
				t.Errorf("%s: %q was dropped unseen; words %q", way, said, words)
			}
		}
	}
	for _, name := range []string{
		"P-1001_2026-10-01_export.csv", "Trace 3.csv", "glucose export (2).csv", "P-0417_wear.csv", "export-00012.csv", "sensor data (1) copy.csv", "cgm_P-0417_20261001T0800.csv",
		"Messdaten März 2026.csv", "P-0417.csv", "readings.txt", "wear 3 final v2.csv", "KLMN_export.csv", "inbox", "ward", "2026-10", "download.csv", "glucose_mmol_L.csv", "AB12345_2026.csv", "two weeks October.csv", "report 14 days.csv", "P-1007_דוח.csv", "P-1013_تقرير.csv", "P-1039_quer.csv", "preamble-decimal-comma.csv", "record-types-utf16.txt", "two-weeks-dips.csv",
	} {
		if words := toldOfNames(t, table, name); len(words) > 0 {
			t.Errorf("%q became words", name)
		}
	}
	for _, heading := range []string{"notes", "meal notes", "Symptoms and notes", "Carbohydrate (g)", "Exercise in minutes", "comment", "device serial number", "fingerstick mmol/L"} {
		if words := toldOfNames(t, wearNamed(plainHeading+","+heading, ","), "P-1_export.csv"); len(words) > 0 {
			t.Errorf("the heading %q became words: %q", heading, words)
		}
	}
}

func zipWith(t *testing.T, name, note, entryNote, table string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	if err := z.SetComment(note); err != nil {
		t.Fatal(err)
	}
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Comment: entryNote, Method: zip.Deflate})
	if err == nil {
		_, err = w.Write([]byte(table))
	}
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestALabelWithNothingBehindItIsNoRemark: "Name:" with nothing behind it is a form.
func TestALabelWithNothingBehindItIsNoRemark(t *testing.T) {
	for line, want := range map[string]int{"Name:": 0, "Patient name:": 0, "Date of birth:": 0, "Clinic:": 0, "Remark: collapsed": 1, "collapsed": 1} {
		if words := toldOfNames(t, line+"\n"+wearNamed("time,glucose mmol/L", "")); len(words) != want {
			t.Errorf("%q: %q", line, words)
		}
	}
}

package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"wearround/worker/wear"
)

// openData is where the open cohorts lie; they are read there, never copied.
// Sources: "Glucotypes reveal new patterns of glucose dysregulation", PLoS Biol
// 2018;16:e2005143, doi:10.1371/journal.pbio.2005143 (hall2018, CC BY 4.0);
// "Uncovering personalized glucose responses and circadian rhythms", Cell
// Reports Methods 2023;3:100545, doi:10.1016/j.crmeth.2023.100545 (mss2023,
// Apache-2.0).
const openData = "../../../shared/data"

// cohort writes each person of an open cohort as one file and gives the folder
// and each person's values in the recorded text.
func cohort(t *testing.T, name string) (dir string, values map[string][]string) {
	t.Helper()
	f, err := os.Open(filepath.Join(openData, name, "readings.csv.gz"))
	if err != nil {
		if os.Getenv("WEARROUND_REQUIRE_DATA") != "" {
			t.Fatal("the open data are required here:", err)
		}
		t.Skip("the open data are not here:", err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(z).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	dir, values = t.TempDir(), map[string][]string{}
	files := map[string]*bytes.Buffer{}
	for _, r := range rows[1:] {
		b := files[r[0]]
		if b == nil {
			b = new(bytes.Buffer)
			fmt.Fprintf(b, "%s,%s,%s\n", rows[0][0], rows[0][1], rows[0][2])
			files[r[0]] = b
		}
		fmt.Fprintf(b, "%s,%s,%s\n", r[0], r[1], r[2])
		values[r[0]] = append(values[r[0]], r[2])
	}
	for who, b := range files {
		if err := os.WriteFile(filepath.Join(dir, who+".csv"), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir, values
}

// analyseFolder runs the command and gives its lines by person.
func analyseFolder(t *testing.T, dir string) map[string][]analysed {
	t.Helper()
	var out, errs bytes.Buffer
	if status := run(context.Background(), []string{"analyse", "--json", "--zone", "UTC", dir}, &out, &errs); status != exitOK {
		t.Errorf("exit status %d: %s", status, errs.String())
	}
	people := map[string][]analysed{}
	for d := json.NewDecoder(bufio.NewReader(&out)); ; {
		var a analysed
		err := d.Decode(&a)
		if err == io.EOF {
			return people
		}
		if err != nil {
			t.Fatal(err)
		}
		if a.State != "read" {
			t.Errorf("%s is held: %+v %+v", a.File, a.Questions, a.Refusal)
			continue
		}
		people[a.PatientHint] = append(people[a.PatientHint], a)
	}
}

func TestHall2018(t *testing.T) {
	dir, _ := cohort(t, "hall2018")
	people := analyseFolder(t, dir)
	if len(people) != 57 {
		t.Errorf("%d people, want 57", len(people))
	}
	readings, severalWears := 0, 0
	for _, wears := range people {
		for _, w := range wears {
			readings += w.Readings
		}
		if len(wears) > 1 {
			severalWears++
		}
	}
	if readings != 105_426 {
		t.Errorf("%d readings, want 105426", readings)
	}
	// Nine people have readings more than 72 hours apart; the longest gap of
	// everybody else is 67.2 hours (longest_gap_h of stats.csv).
	if severalWears != 9 {
		t.Errorf("%d people have several wears, want 9", severalWears)
	}

	f, err := os.Open(filepath.Join(openData, "hall2018", "stats.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, h := range rows[0] {
		column[h] = i
	}
	for _, row := range rows[1:] {
		who := row[column["subject"]]
		got := pool(people[who])
		for _, c := range []struct {
			name string
			got  float64
			half float64 // half a unit of the last decimal that stats.csv prints
		}{
			{"readings", got.n, 0},
			{"mean", got.mean, 0.005}, {"sd", got.sd, 0.005},
			{"pct_gt140", got.above78, 0.0005}, {"pct_gt180", got.above10, 0.0005},
			{"pct_70_140", got.within, 0.0005}, {"pct_lt70", got.below39, 0.0005}, {"pct_lt54", got.below30, 0.0005},
		} {
			want, err := strconv.ParseFloat(row[column[c.name]], 64)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(c.got-want) > c.half+1e-4 { // the JSON has six decimals of a mmol/L
				t.Errorf("%s: %s is %.5f, want %v", who, c.name, c.got, want)
			}
		}
	}
}

// pooled are the figures of all of a person's wears together, in mg/dL.
type pooled struct{ n, mean, sd, above78, above10, within, below39, below30 float64 }

func pool(wears []analysed) pooled {
	var p pooled
	var squares float64
	for _, w := range wears {
		m := w.MetricsAll
		n, mean, sd := float64(m.Readings), m.MeanMmol.V*wear.MgdlPerMmol, m.SDMmol.V*wear.MgdlPerMmol
		p.n += n
		p.mean += n * mean
		squares += (n-1)*sd*sd + n*mean*mean
		p.above78 += n * m.Above7_8Pct.V
		p.above10 += n * m.Above10Pct.V
		p.within += n * m.Within3_9To7_8.V
		p.below39 += n * m.Below3_9Pct.V
		p.below30 += n * m.Below3_0Pct.V
	}
	p.mean /= p.n
	p.sd = math.Sqrt((squares - p.n*p.mean*p.mean) / (p.n - 1))
	for _, v := range []*float64{&p.above78, &p.above10, &p.within, &p.below39, &p.below30} {
		*v /= p.n
	}
	return p
}

func TestMss2023(t *testing.T) {
	dir, values := cohort(t, "mss2023")
	people := analyseFolder(t, dir)
	if len(people) != 31 {
		t.Errorf("%d sensor records, want 31", len(people))
	}
	at := map[string]int{} // how often the limits themselves were read
	for who, texts := range values {
		var above78, above10 float64
		for _, s := range texts {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			if v > 7.8 {
				above78++
			}
			if v > 10.0 {
				above10++
			}
			at[s]++
		}
		got := pool(people[who])
		if got.n != float64(len(texts)) || math.Abs(got.above78*got.n/100-above78) > 0.01 || math.Abs(got.above10*got.n/100-above10) > 0.01 {
			t.Errorf("%s: %v readings, %.2f above 7.8, %.2f above 10.0; want %d, %v, %v",
				who, got.n, got.above78*got.n/100, got.above10*got.n/100, len(texts), above78, above10)
		}
		for _, w := range people[who] {
			for _, f := range w.Flags {
				switch f.Code {
				case wear.FlagDipSymptom, wear.FlagVeryLow, wear.FlagLowMedicine:
					t.Errorf("%s: a healthy volunteer has the low flag %s", who, f.Code)
				}
			}
			if w.Priority.Tier != wear.Routine && len(w.Flags) == 0 {
				t.Errorf("%s stands in %s without a named finding", who, w.Priority.Tier)
			}
		}
	}
	if at["7.8"] == 0 || at["10"]+at["10.0"] == 0 {
		t.Errorf("the cohort has %d readings of 7.8 and %d of 10.0: the check of the limits checks nothing", at["7.8"], at["10"]+at["10.0"])
	}
}

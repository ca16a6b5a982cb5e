package layouts

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math"
	"os"
	"reflect"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

var number = regexp.MustCompile(`[0-9]+(\.[0-9]+)?`)

// plain folds digits and marks and takes the one number out of a value cell.
func plain(t *testing.T, s string) float64 {
	s = strings.Map(func(r rune) rune {
		for _, z := range []rune{'٠', '۰', '०', '০', '๐', '௦', '０'} {
			if r >= z && r < z+10 {
				return '0' + r - z
			}
		}
		switch r {
		case ',', '．', '٫':
			return '.'
		}
		return r
	}, s)
	f := number.FindAllString(s, -1)
	if len(f) != 1 {
		t.Fatalf("value cell %q holds %d numbers", s, len(f))
	}
	v, _ := strconv.ParseFloat(f[0], 64)
	return v
}

func checkTruth(t *testing.T, f File) {
	t.Helper()
	tr := f.Truth
	fail := func(m string, a ...any) {
		t.Fatalf("%s %s: %s", f.Name, f.Layout, fmt.Sprintf(m, a...))
	}
	if tr.Decidable != (len(tr.Ask) == 0) {
		fail("decidable %v but asks %v", tr.Decidable, tr.Ask)
	}
	if tr.Decidable && (tr.Refuse || len(tr.Readings) == 0 || tr.People != 1) {
		fail("decidable, yet nothing to file")
	}
	if tr.People == 2 && (len(tr.ByPerson) != 2 || tr.Readings != nil || len(tr.ByPerson[0].Readings) == 0 || len(tr.ByPerson[1].Readings) == 0) {
		fail("two people without their tables")
	}
	if !tr.Decidable && tr.Why == "" {
		fail("no reason")
	}
	for _, a := range append(append([]string{}, tr.Ask...), tr.MayAsk...) {
		if !strings.Contains(" unit date_order person columns zone kind sheet none ", " "+a+" ") {
			fail("unknown question %q", a)
		}
	}
	sets := [][]Reading{tr.Readings, tr.Fingersticks}
	for _, p := range tr.ByPerson {
		sets = append(sets, p.Readings)
	}
	for _, rs := range sets {
		for i, r := range rs {
			if _, err := time.Parse("2006-01-02T15:04:05", r.Local); err != nil {
				fail("%v", err)
			}
			v, err := strconv.ParseFloat(r.Value, 64)
			if err != nil || r.Unit == "mmol/L" && (v < 2 || v > 28) || r.Unit == "mg/dL" && (v < 39 || v > 501) {
				fail("reading %v", r)
			}
			if i > 0 && rs[i-1].Local > r.Local {
				fail("truth out of order")
			}
		}
	}
	for i := 1; i < len(tr.Readings); i++ {
		if tr.Readings[i].Local == tr.Readings[i-1].Local {
			fail("two readings at %s", tr.Readings[i].Local)
		}
	}
	for _, e := range tr.Events {
		if _, err := time.Parse("2006-01-02T15:04:05", e.Local); err != nil || e.Text == "" {
			fail("event %v", e)
		}
	}
}

// cells gives every cell of a workbook.
func cells(t *testing.T, b []byte) map[float64]int {
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m := map[float64]int{}
	for _, s := range f.GetSheetList() {
		rows, err := f.GetRows(s, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			for _, c := range r {
				if v, err := strconv.ParseFloat(strings.Replace(c, ",", ".", 1), 64); err == nil {
					m[v]++
				}
			}
		}
	}
	return m
}

// readBack finds in the bytes what the generator says it wrote, in order, and reads each value and time again.
func readBack(t *testing.T, f File) {
	t.Helper()
	if strings.HasSuffix(f.Name, ".xlsx") {
		if f.Layout == "half-copied-workbook" {
			return
		}
		m := cells(t, f.Bytes)
		rs := f.Truth.Readings
		for _, p := range f.Truth.ByPerson {
			rs = append(rs, p.Readings...)
		}
		for _, r := range rs {
			v, _ := strconv.ParseFloat(r.Value, 64)
			if m[v]--; m[v] < 0 {
				t.Fatalf("%s %s: %v is not in the workbook", f.Name, f.Layout, r)
			}
		}
		return
	}
	text := string(f.Bytes)
	if f.probe.decoded != nil {
		text = string(f.probe.decoded)
	}
	pos := 0
	for _, k := range f.probe.toks {
		if strings.ContainsAny(k, "\"<>&'") {
			continue
		}
		i := strings.Index(text[pos:], k)
		if i < 0 {
			t.Fatalf("%s %s: %q is not found after byte %d", f.Name, f.Layout, k, pos)
		}
		pos += i + len(k)
	}
	if f.Truth.Refuse {
		return
	}
	for i, c := range f.probe.vals {
		want, _ := strconv.ParseFloat(c.r.Value, 64)
		if got := plain(t, strings.NewReplacer(c.r.Unit, "", "㎎/㎗", "").Replace(c.raw)); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%s %s: %q reads %v, truth %v", f.Name, f.Layout, c.raw, got, c.r)
		}
		if f.probe.golay != "" && i < len(f.probe.times) {
			g, err := time.Parse(f.probe.golay, f.probe.times[i])
			if err != nil || local(g) != c.r.Local {
				t.Fatalf("%s %s: time %q reads %v (%v), truth %v", f.Name, f.Layout, f.probe.times[i], g, err, c.r)
			}
		}
	}
}

func sum(f File) string {
	h := sha256.New()
	fmt.Fprint(h, f.Name, f.Layout, f.Class, f.Truth)
	h.Write(f.Bytes)
	return string(h.Sum(nil))
}

// The times of a workbook's date cells read as the truth says, from either base date.
func TestWorkbookDates(t *testing.T) {
	long(t)
	for _, d := range defs {
		if d.name != "workbook-base-1904" && d.name != "workbook-numbers-and-serial-dates" {
			continue
		}
		f := d.f(newGen(3, d.name, 0))
		x, err := excelize.OpenReader(bytes.NewReader(f.Bytes))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := x.GetRows("Table")
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range f.Truth.Readings {
			if got := strings.Replace(rows[i+1][0], " ", "T", 1) + ":00"; got != r.Local {
				t.Fatalf("%s: row %d reads %s, truth %s", d.name, i+2, got, r.Local)
			}
		}
	}
}

func TestFiles(t *testing.T) {
	long(t)
	lays, classes, names := map[string]bool{}, map[string]int{}, map[string]bool{}
	dec, ref, asked, size, readings := 0, 0, 0, 0, 0
	n := 0
	sums := map[string]string{}
	Each(1, 1<<30, func(f File) bool {
		n++
		if names[f.Name] {
			t.Fatal("name twice", f.Name)
		}
		names[f.Name] = true
		lays[f.Layout] = true
		classes[f.Class]++
		size += len(f.Bytes)
		readings += len(f.Truth.Readings)
		switch {
		case f.Truth.Decidable:
			dec++
		case f.Truth.Refuse:
			ref++
		default:
			asked++
		}
		t.Run(f.Layout, func(t *testing.T) {
			checkTruth(t, f)
			readBack(t, f)
		})
		sums[f.Name] = sum(f)
		return true
	})
	if len(lays) != len(defs) || len(lays) < 160 || n < 1100 || len(langCode) < 20 {
		t.Fatalf("%d layouts (%d defined), %d files, %d languages", len(lays), len(defs), n, len(langCode))
	}
	t.Logf("%d layouts, %d files, %d MB, %d readings; %d decidable, %d to ask, %d to refuse; %d languages", len(lays), n, size>>20, readings, dec, asked, ref, len(langCode))
	var cs []string
	for c, n := range classes {
		cs = append(cs, fmt.Sprintf("%s %d", c, n))
	}
	sort.Strings(cs)
	t.Log(strings.Join(cs, ", "))
	for _, f := range Some(1, 2) {
		if sums[f.Name] != sum(f) {
			t.Fatalf("%s %s: the same seed gives another file", f.Name, f.Layout)
		}
	}
}

func TestSeedsDiffer(t *testing.T) {
	long(t)
	d := defs[0]
	if bytes.Equal(d.f(newGen(1, d.name, 0)).Bytes, d.f(newGen(2, d.name, 0)).Bytes) {
		t.Fatal("another seed gives the same bytes")
	}
}

func TestDistort(t *testing.T) {
	long(t)
	done := map[string]int{}
	for s := int64(0); s < 300; s++ {
		tab := TrueTable(s)
		before := fmt.Sprint(tab)
		f := Distort(s, tab)
		if fmt.Sprint(tab) != before {
			t.Fatal("the true table was changed")
		}
		if s%10 == 0 {
			if g := Distort(s, TrueTable(s)); !bytes.Equal(f.Bytes, g.Bytes) || !reflect.DeepEqual(f.Truth, g.Truth) {
				t.Fatalf("seed %d: %s: not the same twice", s, f.Layout)
			}
		}
		checkTruth(t, f)
		readBack(t, f)
		if f.Truth.People == 1 && !reflect.DeepEqual(f.Truth.Readings, tab.Truth.Readings) {
			t.Fatalf("seed %d: %s: the truth moved", s, f.Layout)
		}
		for _, n := range strings.Split(strings.TrimPrefix(f.Layout, "distorted: "), " + ") {
			done[n]++
		}
	}
	for _, n := range Distortions() {
		f := DistortWith(7, TrueTable(9), n)
		checkTruth(t, f)
		readBack(t, f)
		if done[n] == 0 {
			t.Errorf("%s never happened in 300 seeds", n)
		}
	}
}

// long keeps the generator's tests of itself, which take minutes, out of every
// run.
func long(t *testing.T) {
	if os.Getenv("LAYOUTS") == "" {
		t.Skip("takes minutes; set LAYOUTS=1")
	}
}

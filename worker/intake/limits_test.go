package intake_test

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
)

// A year at one reading a minute is read within 64 bytes a reading above the
// file. All that reading allocates is counted, whether or not it was freed in
// between, so the peak cannot be higher.
func TestReadYearMemory(t *testing.T) {
	const rows = 365 * 1440
	zone, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		t.Fatal(err)
	}
	oldestFirst := plainWear(rows, time.Minute)
	body := bytes.Split(bytes.TrimSpace(oldestFirst), []byte("\n"))
	slices.Reverse(body[1:])
	newestFirst := append(bytes.Join(body, []byte("\n")), '\n')
	known := intake.Read(oldestFirst, intake.Options{Zone: zone, Now: now.AddDate(1, 0, 0)}).Recipe
	for _, c := range []struct {
		name   string
		data   []byte
		recipe func(string) (intake.Recipe, bool)
	}{
		{"first sight", oldestFirst, nil},
		{"first sight, newest first", newestFirst, nil},
		{"no line end at the end", bytes.TrimSuffix(plainWear(rows, time.Minute), []byte("\n")), nil},
		{"known recipe", oldestFirst, func(string) (intake.Recipe, bool) { return known, true }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			res := intake.Read(c.data, intake.Options{Zone: zone, Now: now.AddDate(1, 0, 0), Recipe: c.recipe})
			runtime.ReadMemStats(&after)
			if res.Refusal != nil || len(res.Questions) > 0 || len(res.Readings) != rows {
				t.Fatalf("%d readings, refusal %+v, questions %+v", len(res.Readings), res.Refusal, res.Questions)
			}
			each := float64(after.TotalAlloc-before.TotalAlloc) / rows
			t.Logf("%.1f bytes a reading", each)
			if each > 64 && !intake.RaceDetector {
				t.Errorf("%.1f bytes a reading, want 64 at most", each)
			}
		})
	}
}

// bomb is a zip whose one entry unpacks to size bytes of nought. It is put
// together from one packed piece, so that making it is quick.
func bomb(t *testing.T, size int) []byte {
	t.Helper()
	const piece = 16 << 20
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	w.Write(bytes.Repeat([]byte("0"), piece))
	w.Flush()
	one := bytes.Clone(packed.Bytes())
	packed.Reset()
	w.Reset(&packed)
	w.Close()
	stream := append(bytes.Repeat(one, size/piece), packed.Bytes()...)
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	f, err := z.CreateRaw(&zip.FileHeader{Name: "export.csv", Method: zip.Deflate, CompressedSize64: uint64(len(stream)), UncompressedSize64: uint64(size)})
	if err != nil {
		t.Fatal(err)
	}
	f.Write(stream)
	z.Close()
	return b.Bytes()
}

// emptyRows is a workbook whose one sheet has as many rows as a sheet can have,
// and nothing in them.
func emptyRows() []byte {
	var rows strings.Builder
	for i := range 1 << 20 {
		fmt.Fprintf(&rows, `<row r="%d" spans="1:3" ht="15" customHeight="1"/>`, i+1)
	}
	const main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	const office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	const packages = "http://schemas.openxmlformats.org/package/2006/"
	return []byte(zipped(
		"[Content_Types].xml", `<Types xmlns="`+packages+`content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`,
		"_rels/.rels", `<Relationships xmlns="`+packages+`relationships"><Relationship Id="rId1" Type="`+office+`/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml", `<workbook xmlns="`+main+`" xmlns:r="`+office+`"><sheets><sheet name="Sheet 1" sheetId="1" r:id="rId1"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels", `<Relationships xmlns="`+packages+`relationships"><Relationship Id="rId1" Type="`+office+`/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml", `<worksheet xmlns="`+main+`"><sheetData>`+rows.String()+`</sheetData></worksheet>`))
}

// TestReadHostile checks files made to cost time or memory: each gets a plain
// refusal. How long it took is written to the log.
func TestReadHostile(t *testing.T) {
	plain := "time,glucose\n" + lines(60, march, iso)
	nested := strings.Repeat(`{"entry":[`, 200) + strings.Repeat(`]}`, 200)
	wide := `{"resourceType":"Bundle"`
	for i := range 500 {
		wide += fmt.Sprintf(`,"k%d":1`, i)
	}
	manyCells := "time,glucose\n" + strings.Repeat(strings.Repeat(",", 1000)+"\n", 40000)
	for _, c := range []struct {
		name string
		data []byte
		want []string
	}{
		{"zip bomb of 1 GiB", bomb(t, 1<<30), []string{"too_big"}},
		{"zip in a zip", []byte(zipped("a.zip", zipped("a.csv", plain))), []string{"zip_nested"}},
		{"gzip in a zip", []byte(zipped("a.csv", gz(plain))), []string{"zip_nested"}},
		{"a line of 60 MiB", bytes.Repeat([]byte("x"), 60<<20), []string{"too_big"}},
		{"a JSON line of 60 MiB", append([]byte(`{"resourceType":"`), bytes.Repeat([]byte("x"), 60<<20)...), []string{"cut_short", "json"}},
		{"60 MiB of brackets", bytes.Repeat([]byte("["), 60<<20), []string{"json_depth"}},
		{"60 MiB of quotes", bytes.Repeat([]byte("\"\n,"), 20<<20), []string{"open_quote", "too_big", "no_table"}},
		{"60 MiB of delimiters", []byte(manyCells), []string{"too_big"}},
		{"a workbook of empty rows", emptyRows(), []string{"too_big"}},
		{"deep JSON", []byte(nested), []string{"json_depth"}},
		{"wide JSON", []byte(wide + "}"), []string{"json_depth"}},
		{"65 MiB", make([]byte, 65<<20), []string{"too_big"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			start := time.Now()
			res := intake.Read(c.data, intake.Options{Zone: time.UTC, Now: now})
			if res.Refusal == nil || !slices.Contains(c.want, res.Refusal.Code) {
				t.Fatalf("refusal %+v, questions %+v; want one of %v", res.Refusal, res.Questions, c.want)
			}
			t.Logf("%s after %d ms", res.Refusal.Code, time.Since(start).Milliseconds())
		})
	}
}

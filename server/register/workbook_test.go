package register

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// book is a workbook of a list, with birth dates as numbers in a date's style.
func book(t *testing.T, format string, base1904 bool) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &base1904}))
	_, err := f.NewSheet("List")
	must(err)
	style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	must(err)
	day := 22380.0 // 9 April 1961
	if base1904 {
		day -= 1462
	}
	for at, v := range map[string]any{"A1": "Code", "B1": "Name", "C1": "Date of birth", "D1": "Sex", "E1": "Phone", "A2": "P-0417", "B2": "Tarim, Velo", "C2": day, "D2": "F", "E2": 255501000} {
		must(f.SetCellValue("List", at, v))
	}
	must(f.SetCellStyle("List", "C2", "C2", style))
	b, err := f.WriteToBuffer()
	must(err)
	return b.Bytes()
}

// TestWorkbook reads a list out of a workbook, whatever way it shows its dates.
func TestWorkbook(t *testing.T) {
	for _, format := range []string{"dd/mm/yyyy", "m/d/yy", "yyyy-mm-dd"} {
		for _, base := range []bool{false, true} {
			text, err := listOf(book(t, format, base))
			if err != nil {
				t.Fatal(err)
			}
			l, err := readList(text, "")
			if err != nil || len(l.lines) != 1 {
				t.Fatalf("%q: %+v, %v", text, l, err)
			}
			got := l.lines[0]
			if got.Code != "P-0417" || got.Name != "Tarim, Velo" || got.BirthDate != "1961-04-09" || got.Sex != "F" || got.Contact.Telephone != "255501000" {
				t.Errorf("%s: %+v", format, got)
			}
		}
	}
}

func said(err error) string {
	var out []string
	for _, f := range listFaults(err) {
		out = append(out, f.Text)
	}
	return strings.Join(out, " ")
}

func TestWorkbookRefused(t *testing.T) {
	for name, b := range map[string][]byte{"no workbook": []byte("PK\x03\x04 and nothing"), "cut short": book(t, "m/d/yy", false)[:900]} {
		if _, err := listOf(b); said(err) != "This workbook cannot be read. Save its sheet as CSV in UTF-8 and send that." {
			t.Errorf("%s: %v", name, err)
		}
	}
	f := excelize.NewFile()
	defer f.Close()
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := listOf(b.Bytes()); said(err) != "This workbook holds no row." {
		t.Errorf("empty: %v", err)
	}
	if text, err := listOf([]byte("code,name\n1,x\n")); err != nil || !bytes.Contains([]byte(text), []byte("1,x")) {
		t.Errorf("plain text: %q, %v", text, err)
	}
}

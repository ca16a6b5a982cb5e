package messy

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"fmt"
	"html"
	"strconv"
	"strings"
	"time"
)

// bookForm is how a document is written as a workbook.
type bookForm struct {
	from1904 bool
	dates    string // "text", "number" or "mixed"
	sheets   int    // visible sheets with a table
	hidden   bool   // a hidden sheet holds another person's readings
}

func asWorkbook(c chance, d *document) {
	d.workbook = true
	d.book = bookForm{from1904: c.happens(0.3), dates: pick(c, []string{"text", "number", "number", "mixed"}), sheets: 1, hidden: c.happens(0.3)}
	d.answers["blocks"] = "aside" // of what another sheet holds
	d.open = d.open || d.book.hidden
	if d.clock.write != nil || d.split || d.clock.numbers || d.clock.clock != "15:04:05" && d.clock.clock != "15:04" {
		d.book.dates = "text"
	}
	if c.happens(0.2) {
		d.book.sheets = 2
		d.undecided("sheet", "1")
	}
	if count := d.answers["day_numbers"]; count != "" {
		d.book.from1904 = count == "1904"
	}
	d.decimal, d.mixed = ".", false
	if d.book.dates == "mixed" {
		d.answers["mixed_dates"] = "right"
	}
}

// write makes an Office Open XML workbook by hand, so that the reader is not
// measured against its own library.
func (f bookForm) write(d *document, rows [][]string) []byte {
	return f.pack(func(number int) string {
		if number == 1 {
			return f.sheet(d, rows)
		}
		// another wear, which must not be read
		return f.sheet(d, [][]string{{"Time", "Glucose"}, {"2026-01-05 09:00", "5.5"}, {"2026-01-05 09:05", "5.6"}, {"2026-01-05 09:10", "5.7"}})
	})
}

// pack puts the sheets, by their numbers, together with what belongs to a
// workbook.
func (f bookForm) pack(sheet func(number int) string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	add := func(name, text string) {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write([]byte(`<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n" + text))
		}
		if err != nil {
			panic("messy: " + err.Error()) // cannot be: a buffer takes everything
		}
	}
	total := f.sheets
	if f.hidden {
		total++
	}
	var types, list, links strings.Builder
	for i := 1; i <= total; i++ {
		state := ""
		if i > f.sheets {
			state = ` state="hidden"`
		}
		fmt.Fprintf(&types, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`, i)
		fmt.Fprintf(&list, `<sheet name="Sheet %d" sheetId="%d"%s r:id="rId%d"/>`, i, i, state, i)
		fmt.Fprintf(&links, `<Relationship Id="rId%d" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet%d.xml"/>`, i, i)
	}
	add("[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>`+types.String()+`</Types>`)
	add("_rels/.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`)
	props := ""
	if f.from1904 {
		props = `<workbookPr date1904="1"/>`
	}
	add("xl/workbook.xml", `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">`+props+`<sheets>`+list.String()+`</sheets></workbook>`)
	add("xl/_rels/workbook.xml.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">`+links.String()+`</Relationships>`)
	for i := 1; i <= total; i++ {
		add(fmt.Sprintf("xl/worksheets/sheet%d.xml", i), sheet(i))
	}
	if err := z.Close(); err != nil {
		panic("messy: " + err.Error())
	}
	return b.Bytes()
}

// sheet writes the cells of one sheet: numbers as numbers, times as the form
// says, all else as text.
func (f bookForm) sheet(d *document, rows [][]string) string {
	var b strings.Builder
	for r, cells := range rows {
		fmt.Fprintf(&b, `<row r="%d">`, r+1)
		for c, text := range cells {
			if text == "" {
				continue
			}
			at := columnName(c) + strconv.Itoa(r+1)
			if number, ok := f.number(r, text); ok {
				fmt.Fprintf(&b, `<c r="%s"><v>%s</v></c>`, at, number)
				continue
			}
			fmt.Fprintf(&b, `<c r="%s" t="inlineStr"><is><t xml:space="preserve">%s</t></is></c>`, at, html.EscapeString(text))
		}
		b.WriteString(`</row>`)
	}
	return sheetXML(b.String())
}

func sheetXML(rows string) string {
	return `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>` + rows + `</sheetData></worksheet>`
}

// number gives the stored number of a cell.
func (f bookForm) number(row int, text string) (string, bool) {
	if _, err := strconv.ParseFloat(text, 64); err == nil && !strings.ContainsAny(text, "eExXnN_+") {
		v, _ := strconv.ParseFloat(text, 64)
		return strconv.FormatFloat(v, 'g', 17, 64), true
	}
	if f.dates == "text" || f.dates == "mixed" && row%7 == 3 {
		return "", false
	}
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04"} {
		if at, err := time.Parse(layout, text); err == nil {
			zero := 25569.0
			if f.from1904 {
				zero = 24107
			}
			return strconv.FormatFloat(float64(at.Unix())/86400+zero, 'g', 17, 64), true
		}
	}
	return "", false
}

// columnName is the letter of a column: A, B, ….
func columnName(c int) string { return string(rune('A' + c)) }

// packed puts a file into a zip or gzip, at times in a way that is refused.
func packed(c chance, d *document, data []byte) []byte {
	if d.workbook {
		d.refused("zip_nested") // a workbook is a zip itself
	}
	switch c.IntN(6) {
	case 0, 1:
		return gzipped(data)
	case 2, 3:
		return zipOf("export/table.csv", data, "__system/._table.csv", []byte("clutter"), ".index", []byte("clutter"))
	case 4:
		d.refused("zip_nested", "workbook", "archive")
		return zipOf("inner.zip", zipOf("table.csv", data))
	}
	d.refused("zip_several")
	return zipOf("a.csv", data, "b.csv", data)
}

func gzipped(data []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	_, _ = w.Write(data) // cannot fail: a buffer takes everything
	_ = w.Close()
	return b.Bytes()
}

// zipOf packs names and contents in turn.
func zipOf(files ...any) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i+1 < len(files); i += 2 {
		w, err := z.Create(files[i].(string))
		if err == nil {
			_, err = w.Write(files[i+1].([]byte))
		}
		if err != nil {
			panic("messy: " + err.Error())
		}
	}
	_ = z.Close()
	return b.Bytes()
}

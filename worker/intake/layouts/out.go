package layouts

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"html"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

func csvText(rows [][]string, delim, eol string) []byte {
	var w bytes.Buffer
	for _, r := range rows {
		for i, c := range r {
			if i > 0 {
				w.WriteString(delim)
			}
			if strings.Contains(c, delim) || strings.ContainsAny(c, "\"\r\n") {
				c = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
			}
			w.WriteString(c)
		}
		w.WriteString(eol)
	}
	return w.Bytes()
}

func fixedText(rows [][]string, gap int, right bool) []byte {
	wd := map[int]int{}
	for _, r := range rows {
		if len(r) < 2 {
			continue
		}
		for i, c := range r {
			wd[i] = max(wd[i], utf8.RuneCountInString(c))
		}
	}
	var w bytes.Buffer
	for _, r := range rows {
		ln := ""
		for i, c := range r {
			pad := strings.Repeat(" ", max(0, wd[i]-utf8.RuneCountInString(c)))
			if i > 0 {
				ln += strings.Repeat(" ", gap)
			}
			if right {
				ln += pad + c
			} else {
				ln += c + pad
			}
		}
		w.WriteString(strings.TrimRight(ln, " ") + "\n")
	}
	return w.Bytes()
}

func htmlText(rows [][]string, lang string, thead bool) []byte {
	var w bytes.Buffer
	fmt.Fprintf(&w, "<!DOCTYPE html>\n<html lang=\"%s\"><head><meta charset=\"utf-8\"><title>Table</title></head><body>\n<table border=\"1\">\n", lang)
	for i, r := range rows {
		tag := "td"
		if i == 0 && thead {
			tag = "th"
		}
		w.WriteString("<tr>")
		for _, c := range r {
			fmt.Fprintf(&w, "<%s>%s</%s>", tag, html.EscapeString(c), tag)
		}
		w.WriteString("</tr>\n")
	}
	w.WriteString("</table>\n</body></html>\n")
	return w.Bytes()
}

type kv struct {
	k string
	v any
}

func obj(kvs []kv) string {
	var s []string
	for _, x := range kvs {
		s = append(s, js(x.k)+":"+js(x.v))
	}
	return "{" + strings.Join(s, ",") + "}"
}

func js(v any) string {
	if r, ok := v.(raw); ok {
		return string(r)
	}
	var w bytes.Buffer
	e := json.NewEncoder(&w)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic(err)
	}
	return strings.TrimSpace(w.String())
}

type raw string // JSON written as it stands

func utf16Text(b []byte, be, bom bool) []byte {
	u := utf16.Encode([]rune(string(b)))
	if bom {
		u = append([]uint16{0xFEFF}, u...)
	}
	o := make([]byte, 0, 2*len(u))
	for _, x := range u {
		if be {
			o = append(o, byte(x>>8), byte(x))
		} else {
			o = append(o, byte(x), byte(x>>8))
		}
	}
	return o
}

func latin1(b []byte) ([]byte, bool) {
	var o []byte
	for _, r := range string(b) {
		if r > 255 {
			return nil, false
		}
		o = append(o, byte(r))
	}
	return o, true
}

type member struct {
	name string
	data []byte
}

var fixedTime = time.Date(2026, 10, 20, 9, 0, 0, 0, time.UTC)

func zipped(ms ...member) []byte {
	var w bytes.Buffer
	z := zip.NewWriter(&w)
	for _, m := range ms {
		f, err := z.CreateHeader(&zip.FileHeader{Name: m.name, Method: zip.Deflate, Modified: fixedTime})
		if err != nil {
			panic(err)
		}
		f.Write(m.data)
	}
	z.Close()
	return w.Bytes()
}

func gzipped(b []byte) []byte {
	var w bytes.Buffer
	z := gzip.NewWriter(&w)
	z.Write(b)
	z.Close()
	return w.Bytes()
}

// sheet is one page of a workbook. A cell that reads as a plain number is stored as one unless text is set;
// a cell that begins with "@date:" holds a time stored as a serial number with a date style.
type sheet struct {
	name   string
	rows   [][]string
	text   bool
	hidden bool
}

func workbook(base1904 bool, sheets ...sheet) []byte {
	f := excelize.NewFile()
	defer f.Close()
	if base1904 {
		t := true
		f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &t})
	}
	// fixed creation dates, so that equal seeds give equal bytes
	f.SetDocProps(&excelize.DocProperties{Created: "2026-10-20T09:00:00Z", Modified: "2026-10-20T09:00:00Z", Creator: "table"})
	fm := "yyyy-mm-dd hh:mm"
	st, err := f.NewStyle(&excelize.Style{CustomNumFmt: &fm})
	if err != nil {
		panic(err)
	}
	for i, s := range sheets {
		if i == 0 {
			f.SetSheetName("Sheet1", s.name)
		} else {
			f.NewSheet(s.name)
		}
		sw, err := f.NewStreamWriter(s.name)
		if err != nil {
			panic(err)
		}
		for y, r := range s.rows {
			out := make([]any, len(r))
			for x, c := range r {
				if t, ok := strings.CutPrefix(c, "@date:"); ok {
					tt, _ := time.Parse("2006-01-02T15:04:05", t)
					out[x] = excelize.Cell{StyleID: st, Value: serial(tt, base1904)}
				} else if v, err := strconv.ParseFloat(c, 64); err == nil && !s.text && strings.Trim(c, "0123456789.") == "" {
					out[x] = v
				} else if c != "" {
					out[x] = c
				}
			}
			ref, _ := excelize.CoordinatesToCellName(1, y+1)
			sw.SetRow(ref, out)
		}
		if err := sw.Flush(); err != nil {
			panic(err)
		}
		if s.hidden {
			f.SetSheetVisible(s.name, false)
		}
	}
	w, err := f.WriteToBuffer()
	if err != nil {
		panic(err)
	}
	return normalZip(w.Bytes())
}

// normalZip writes a zip again with fixed times and order.
func normalZip(b []byte) []byte {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		panic(err)
	}
	var ms []member
	for _, f := range z.File {
		r, _ := f.Open()
		var w bytes.Buffer
		w.ReadFrom(r)
		ms = append(ms, member{f.Name, w.Bytes()})
	}
	// the list of content types first, the rest by name: the order of a map must not show
	for i := range ms {
		for j := i + 1; j < len(ms); j++ {
			if ms[j].name < ms[i].name {
				ms[i], ms[j] = ms[j], ms[i]
			}
		}
	}
	return zipped(ms...)
}

// serial is a spreadsheet's day number.
func serial(t time.Time, base1904 bool) float64 {
	b := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if base1904 {
		b = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	return t.Sub(b).Hours() / 24
}

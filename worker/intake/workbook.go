package intake

import (
	"archive/zip"
	"bytes"
	"fmt"
	"html"
	"io"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"wearround/worker/wear"
)

// Limits on a workbook. Two weeks at one reading a minute are 20,160 rows and
// about 3 MiB of markup.
const (
	maxWorkbook   = 64 << 20 // unpacked
	maxSheets     = 20
	maxEmptyRows  = 10_000 // in a row
	maxSheetCells = 1_000  // in one row
)

// macros and locked are the marks of workbooks that are not opened.
const macros = "vbaProject.bin"

// workbook reads the sheet of an Office Open XML workbook that holds the table.
// Stored values are read and no formula is worked out.
func (l *ledger) workbook(data []byte, parts []*zip.File) (list []sheet, ref *wear.Refusal) {
	defer func() {
		// The reader of the format is not ours; a fault in it must not stop
		// anything but this file.
		if recover() != nil {
			list, ref = nil, refuseWorkbook()
		}
	}()
	total := int64(0)
	for _, p := range parts {
		if strings.HasSuffix(p.Name, macros) {
			return nil, refuse("workbook_macros", "The workbook holds a program (macros), so it is not opened.",
				"Save the sheet with the readings as plain text (CSV), and drop that file.")
		}
		if total += int64(min(p.UncompressedSize64, maxWorkbook+1)); total > maxWorkbook || p.UncompressedSize64 > uint64(len(data))*maxRatio+smallFile {
			return nil, refuseTooBig("it unpacks to far more than readings could need")
		}
	}
	f, err := excelize.OpenReader(bytes.NewReader(data), excelize.Options{
		RawCellValue: true, UnzipSizeLimit: maxWorkbook, UnzipXMLSizeLimit: maxWorkbook, // nothing goes to a temporary file
	})
	if err != nil {
		return nil, refuseWorkbook()
	}
	defer f.Close()
	props, err := f.GetWorkbookProps()
	if err != nil {
		return nil, refuseWorkbook()
	}
	days := days1900
	if props.Date1904 != nil && *props.Date1904 {
		days = days1904
	}
	l.hearMarkup(parts)
	l.note("container", "workbook", fmt.Sprintf("its days are counted from %s, as the workbook itself says", days.value), "values")
	return l.pickSheet(f, days)
}

func refuseWorkbook() *wear.Refusal {
	return refuse("workbook", "The workbook is damaged or of a kind that cannot be opened here.",
		"Open it, save the sheet with the readings as plain text (CSV), and drop that file.")
}

// pickSheet reads every sheet, hidden ones too: what they hold must be accounted
// for.
func (l *ledger) pickSheet(f *excelize.File, days dayCount) (list []sheet, ref *wear.Refusal) {
	names := f.GetSheetList()
	if len(names) > maxSheets {
		return nil, refuseTooBig("more than 20 sheets")
	}
	for _, name := range names {
		t, ref := readSheet(f, name)
		if ref != nil {
			return nil, ref
		}
		if comments, err := f.GetComments(name); err == nil { // what somebody pinned to a cell
			for _, c := range comments {
				text := c.Text
				for _, run := range c.Paragraph {
					text += run.Text
				}
				if text = strings.TrimSpace(text); text == "" || t != nil && t.pin(c.Cell, text) {
					continue
				} else {
					l.account.before++
					l.beside = append(l.beside, aside{text: text})
				}
			}
		}
		if t == nil {
			continue
		}
		s := sheet{name: name, holders: []string{name}, t: t}
		if date, _ := dateInName(name); date != "" {
			s.t = s.t.hoursAlone()
		}
		if s.t, ref = l.dated(s.t, days); ref != nil {
			return nil, ref
		}
		if visible, err := f.GetSheetVisible(name); err == nil && !visible {
			s.name += " (hidden)"
		}
		list = append(list, s)
	}
	if len(list) == 0 {
		return nil, refuseEmpty()
	}
	return list, nil
}

// Parts of a workbook that speak beside its cells, and where their texts stand.
var (
	margins  = regexp.MustCompile(`(?s)<(?:odd|even|first)(?:Header|Footer)>(.*?)</`)
	drawn    = regexp.MustCompile(`(?s)<a:t(?: [^>]*)?>(.*?)</a:t>`)
	titled   = regexp.MustCompile(`(?s)<dc:(?:title|subject|description)(?: [^>]*)?>(.*?)</`)
	marginal = regexp.MustCompile(`&"[^"]*"|&K[0-9A-Fa-f]{6}|&\d+|&[A-Za-z]`) // fonts, sizes and fields of a margin
)

// hearMarkup keeps what stands in the margins of the printed sheets, in drawings
// and in the title of a workbook.
func (l *ledger) hearMarkup(parts []*zip.File) {
	for _, p := range parts {
		find := map[string]*regexp.Regexp{"xl/worksheets": margins, "xl/drawings": drawn, "docProps": titled}[path.Dir(p.Name)]
		if find == nil || path.Ext(p.Name) != ".xml" {
			continue
		}
		r, err := p.Open()
		if err != nil {
			continue // the reader of the workbook says what is wrong
		}
		text, err := io.ReadAll(io.LimitReader(r, maxWorkbook))
		r.Close()
		if err != nil {
			continue
		}
		if i := bytes.Index(text, []byte("<headerFooter")); find == margins {
			text = text[max(i, 0):]
			if i < 0 {
				continue
			}
		}
		for _, m := range find.FindAllSubmatch(text, mostSaid) {
			said := html.UnescapeString(string(m[1]))
			if find == margins {
				said = marginal.ReplaceAllString(said, " ")
			}
			if said = strings.Join(strings.Fields(said), " "); said != "" {
				l.account.before++
				l.beside = append(l.beside, aside{text: said})
			}
		}
	}
}

// readSheet reads the stored values of one sheet; nil for one without any.
func readSheet(f *excelize.File, name string) (*table, *wear.Refusal) {
	rows, err := f.Rows(name)
	if err != nil {
		return nil, nil // a chart has no rows
	}
	defer rows.Close()
	var b tableBuilder
	struck := newStruckStyles(f)
	empty := 0
	for line := int32(1); rows.Next(); line++ {
		cells, err := rows.Columns()
		if err != nil {
			return nil, refuseWorkbook()
		}
		if len(cells) == 0 {
			if empty++; empty > maxEmptyRows {
				return nil, refuseTooBig("a sheet has more than 10,000 empty rows in a row")
			}
			continue
		}
		empty = 0
		if len(cells) > maxSheetCells {
			return nil, refuseTooBig("a sheet has rows of more than 1,000 cells")
		}
		for i, c := range cells {
			if c = storedNumber(c); c != "" && struck.cell(name, i+1, int(line)) {
				c += struckOut
			}
			b.cell(c)
		}
		b.end(line)
		if len(b.t.line) > maxRows || len(b.text) > maxBytes {
			return nil, refuseTooBig("more than 2,000,000 lines")
		}
	}
	if rows.Error() != nil {
		return nil, refuseWorkbook()
	}
	if len(b.t.line) > 0 {
		b.pad()
	}
	return b.table(), nil
}

// pin pins words to the cell of a sheet that has an address such as B400, or where
// its row ends before that, to its row. It reports false for a row without cells.
func (t *table) pin(address, text string) bool {
	col, row, err := excelize.CellNameToCoordinates(address)
	if err != nil {
		return false
	}
	r, found := slices.BinarySearch(t.line, int32(row))
	if !found || t.width(r) == 0 {
		return false
	}
	i := t.first[r] + int32(min(col, t.width(r))-1)
	if t.pins == nil {
		t.pins = make(map[int32]string)
	}
	t.pins[i] = join(t.pins[i], text)
	return true
}

// struckStyles are the cell styles of a workbook with a line through the text.
type struckStyles struct {
	f     *excelize.File
	any   bool
	known map[int]bool
}

func newStruckStyles(f *excelize.File) struckStyles {
	s := struckStyles{f: f, known: make(map[int]bool)}
	if f.Styles != nil && f.Styles.Fonts != nil {
		for _, font := range f.Styles.Fonts.Font {
			s.any = s.any || font != nil && font.Strike != nil && (font.Strike.Val == nil || *font.Strike.Val)
		}
	}
	return s
}

// cell reports whether a cell is struck out.
func (s *struckStyles) cell(sheet string, col, row int) bool {
	if !s.any {
		return false
	}
	at, err := excelize.CoordinatesToCellName(col, row)
	if err != nil {
		return false
	}
	id, err := s.f.GetCellStyle(sheet, at)
	if err != nil {
		return false
	}
	is, known := s.known[id]
	if !known {
		style, err := s.f.GetStyle(id)
		is = err == nil && style != nil && style.Font != nil && style.Font.Strike
		s.known[id] = is
	}
	return is
}

// storedNumber writes a stored number as it is shown: a workbook keeps 5.6 as
// 5.5999999999999996 at times, and shows 15 digits.
func storedNumber(s string) string {
	if len(s) <= 15 && !strings.ContainsAny(s, "eE") || s[0] != '-' && (s[0] < '0' || s[0] > '9') {
		return s
	}
	if strings.Trim(s, "0123456789.eE+-") != "" {
		return s
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || strings.Count(s, ".") == 0 && !strings.ContainsAny(s, "eE") {
		return s
	}
	if v, err = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64); err != nil {
		return s
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// tableBuilder makes a table of cells that do not come from delimited text.
type tableBuilder struct {
	t    table
	text []byte
}

func (b *tableBuilder) cell(s string) {
	from := len(b.text)
	b.text = append(b.text, s...)
	b.t.cells = append(b.t.cells, span{int32(from), int32(len(b.text))})
}

// copy adds a cell of another table, with what is pinned to it.
func (b *tableBuilder) copy(t *table, r, c int) {
	b.pinOf(t, r, c)
	b.cell(t.cell(r, c))
}

// pinOf pins what is pinned to a cell of another table to the cell that comes next.
func (b *tableBuilder) pinOf(t *table, r, c int) {
	if at := t.inRoot(t.first[r] + int32(c)); at >= 0 {
		b.pin(t.root().pins[at])
	}
}

// pin pins words to the cell that comes next.
func (b *tableBuilder) pin(text string) {
	if text == "" {
		return
	}
	if b.t.pins == nil {
		b.t.pins = make(map[int32]string)
	}
	i := int32(len(b.t.cells))
	if was := b.t.pins[i]; was != "" && was != text {
		text = was + "; " + text
	}
	b.t.pins[i] = text
}

// end closes a row that stands on a line of the file.
func (b *tableBuilder) end(line int32) {
	if len(b.t.first) == 0 {
		b.t.first = append(b.t.first, 0)
	}
	b.t.first = append(b.t.first, int32(len(b.t.cells)))
	b.t.line = append(b.t.line, line)
}

// pad gives every row the same width, as a sheet has it.
func (b *tableBuilder) pad() {
	width := 0
	for r := range b.t.rows() {
		width = max(width, min(b.t.width(r), maxColumns))
	}
	cells := make([]span, 0, width*b.t.rows())
	first := make([]int32, 1, len(b.t.first))
	for r := range b.t.rows() {
		cells = append(cells, b.t.cells[b.t.first[r]:b.t.first[r+1]]...)
		for range width - b.t.width(r) {
			cells = append(cells, span{})
		}
		first = append(first, int32(len(cells)))
	}
	b.t.cells, b.t.first = cells, first
}

// table gives the finished table, or nil if it has no row.
func (b *tableBuilder) table() *table {
	if len(b.t.line) == 0 {
		return nil
	}
	b.t.text, b.t.whole = string(b.text), true
	for i, s := range b.t.cells {
		b.t.cells[i] = trim(b.t.text, int(s.start), int(s.end))
	}
	b.t.classify()
	return &b.t
}

package register

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"wearround/server/door"
)

// mostUnpacked bounds what a workbook may unpack to, in bytes.
const mostUnpacked = 64 << 20

// listOf gives the text of a list that was sent: of a workbook the first sheet
// that holds anything, its dates as 2006-01-02; of all else the bytes.
func listOf(b []byte) (string, error) {
	if !bytes.HasPrefix(b, []byte("PK")) {
		return string(b), nil
	}
	unread := door.InvalidField("list", "This workbook cannot be read. Save its sheet as CSV in UTF-8 and send that.")
	f, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{UnzipSizeLimit: mostUnpacked, UnzipXMLSizeLimit: mostUnpacked})
	if err != nil {
		return "", unread
	}
	defer f.Close()
	for _, sheet := range f.GetSheetList() {
		shown, err := f.GetRows(sheet)
		if err != nil {
			return "", unread
		}
		raw, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			return "", unread
		}
		if len(shown) == 0 {
			continue
		}
		var out strings.Builder
		w := csv.NewWriter(&out)
		for y, row := range shown {
			cells := make([]string, len(row))
			for x, cell := range row {
				if cells[x] = cell; y < len(raw) && x < len(raw[y]) {
					cells[x] = cellText(f, sheet, x, y, cell, raw[y][x])
				}
			}
			if err := w.Write(cells); err != nil {
				return "", err
			}
		}
		w.Flush()
		return out.String(), w.Error()
	}
	return "", door.InvalidField("list", "This workbook holds no row.")
}

// cellText is what a cell says: a number that is kept as a date as 2006-01-02,
// and all else as the workbook shows it.
func cellText(f *excelize.File, sheet string, x, y int, shown, raw string) string {
	n, err := strconv.ParseFloat(raw, 64)
	if err != nil || shown == raw {
		return shown
	}
	at, err := excelize.CoordinatesToCellName(x+1, y+1)
	if err != nil {
		return shown
	}
	id, err := f.GetCellStyle(sheet, at)
	if err != nil {
		return shown
	}
	style, err := f.GetStyle(id)
	if err != nil || !dated(style) {
		return shown
	}
	props, err := f.GetWorkbookProps()
	if err != nil {
		return shown
	}
	t, err := excelize.ExcelDateToTime(n, props.Date1904 != nil && *props.Date1904)
	if err != nil {
		return shown
	}
	return t.Format(time.DateOnly)
}

// dated reports whether a style shows a number as a date: the formats of that
// kind that are built in (ECMA-376 part 1, 18.8.30), or one with a year.
func dated(s *excelize.Style) bool {
	if s.CustomNumFmt != nil {
		return strings.ContainsAny(*s.CustomNumFmt, "yY")
	}
	return s.NumFmt >= 14 && s.NumFmt <= 17 || s.NumFmt == 22 || s.NumFmt >= 27 && s.NumFmt <= 36 || s.NumFmt >= 50 && s.NumFmt <= 58
}

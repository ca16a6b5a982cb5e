package intake

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// pieceWords name columns that hold one piece of a time each.
var pieceWords = [5]*vocabulary{
	newVocabulary("year yr jahr année annee año ano anno jaar rok vuosi år yıl год 年"),
	newVocabulary("month mon monat mois mes mês mese maand miesiąc měsíc kuukausi måned månad ay месяц 月"),
	newVocabulary("day dom tag jour día dia giorno dag dzień den päivä gün день 日"),
	newVocabulary("hour hours hr std stunde heure hora ora uur godzina hodina tunti time timme saat час 時 时"),
	newVocabulary("minute minutes min minuut minuto minuta minutt minuutti dakika минута 分"),
}

// timeFromPieces adds a column with the whole time to a table that has year,
// month, day, hour and minute in columns of their own, by their headings; nil
// for any other table.
func (t *table) timeFromPieces() *table {
	for head := range min(t.rows(), headRows) {
		cols := [len(pieceWords)]int{-1, -1, -1, -1, -1}
		for c := range min(t.width(head), maxColumns) {
			for i, words := range pieceWords {
				if s := plain(t.cell(head, c)); s != "" && cols[i] < 0 && words.whole[s] {
					cols[i] = c
				}
			}
		}
		if slices.Min(cols[:]) < 0 {
			continue
		}
		for r := head + 1; r < min(t.rows(), head+headRows); r++ {
			if slices.Contains(t.kinds[t.first[r]:t.first[r+1]], moment) {
				return nil // the time stands beside its pieces
			}
		}
		d, good := derive(t), 0
		for r := range t.rows() {
			for c := range t.width(r) {
				d.cell(t.cell(r, c), t.first[r]+int32(c))
			}
			for c := t.width(r); c < t.width(head); c++ {
				d.cell("", -1)
			}
			whole := ""
			if r == head {
				whole = "time"
			} else if r > head {
				if whole = t.pieced(r, cols[:]); whole != "" {
					good++
				}
			}
			d.cell(whole, -1)
			d.end(t.line[r])
		}
		if good*10 < 9*(t.rows()-head-1) {
			return nil
		}
		out := d.table()
		out.pieces = cols[:]
		return out
	}
	return nil
}

// pieced writes the time of a row whose pieces stand in columns, or "".
func (t *table) pieced(r int, cols []int) string {
	var n [len(pieceWords)]int
	for i, c := range cols {
		s := t.cell(r, c)
		if len(s) > 4 || !onlyDigits(s) {
			return ""
		}
		n[i], _ = strconv.Atoi(s)
	}
	if _, ok := dayNumber(n[0], n[1], n[2]); !ok || n[0] < 1900 || n[3] > 23 || n[4] > 59 {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d %02d:%02d", n[0], n[1], n[2], n[3], n[4])
}

// recordLines reads text that is records one below the other, a line a member
// ("Glucose: 8.3"), each beginning with the same key; nil for any other text.
func recordLines(text string) *table {
	if t := pairLines(text); t != nil {
		return t
	}
	const fewest, widest = 5, 20
	var keys []string
	var rows [][]string
	var lines []int32
	n := int32(0)
	for s := range strings.Lines(text) {
		n++
		if s = strings.TrimSpace(s); s == "" {
			continue
		}
		m := sayingIn(s)
		if m.key == "" || len(m.key) > 60 || n > maxRows {
			return nil
		}
		at := -1
		for i, k := range keys {
			if k == m.key {
				at = i
			}
		}
		if at < 0 {
			if len(keys) == widest {
				return nil
			}
			at, keys = len(keys), append(keys, m.key)
		}
		if at == 0 || len(rows) == 0 {
			rows, lines = append(rows, nil), append(lines, n)
		}
		row := &rows[len(rows)-1]
		for len(*row) <= at {
			*row = append(*row, "")
		}
		if (*row)[at] != "" {
			return nil // a member twice in one record
		}
		(*row)[at] = m.value
	}
	if len(rows) < fewest || len(keys) < 2 {
		return nil
	}
	var b tableBuilder
	for _, k := range keys {
		b.cell(k)
	}
	b.end(1)
	for i, row := range rows {
		for c := range keys {
			if c < len(row) {
				b.cell(row[c])
			} else {
				b.cell("")
			}
		}
		b.end(lines[i])
	}
	return b.table()
}

// pair is one name with its value, in quotation marks where it has a space.
var pair = regexp.MustCompile(`([^\s=",;]+)=("[^"]*"|[^\s",;]+)`)

// pairLines reads lines that each hold a record, written name=value name=value. It
// gives nil where the names of most lines are not the same, or a line holds more.
func pairLines(text string) *table {
	const fewest = 5
	if strings.Count(text, "=") < 2*fewest {
		return nil
	}
	var b tableBuilder
	var keys []string
	n, rows, others := int32(0), 0, 0
	for s := range strings.Lines(text) {
		n++
		if s = strings.TrimSpace(s); s == "" {
			continue
		}
		found := pair.FindAllStringSubmatch(s, maxColumns)
		same := len(found) > 1 && strings.Trim(pair.ReplaceAllString(s, ""), " \t,;") == ""
		for i := range found {
			if keys != nil {
				same = same && len(found) == len(keys) && keys[i] == found[i][1]
			}
		}
		if !same {
			if others++; others > 20+rows/50 {
				return nil
			}
			b.cell(s)
			b.end(n)
			continue
		}
		if keys == nil {
			for _, m := range found {
				keys = append(keys, m[1])
				b.cell(m[1])
			}
			b.end(n)
		}
		for _, m := range found {
			b.cell(strings.Trim(m[2], `"`))
		}
		b.end(n)
		rows++
	}
	if rows < fewest {
		return nil
	}
	return b.table()
}

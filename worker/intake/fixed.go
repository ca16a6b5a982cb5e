package intake

import (
	"strings"
)

// fixedWidth cuts text whose columns stand one below the other, kept apart by
// spaces: a column of characters that is blank on nearly every line parts two
// columns. It gives nil where no such table can be seen.
func fixedWidth(text string) *table {
	lines := strings.Split(strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n"), "\n")
	if len(lines) > maxRows {
		return nil
	}
	// Lines of readings look alike: the commonest shape is theirs.
	count := make(map[string]int)
	shape, most := "", 0
	for _, s := range lines {
		if len(s) > 400 || !strings.ContainsAny(s, "0123456789") {
			continue
		}
		k := wordsShape(s)
		if count[k]++; count[k] > most {
			shape, most = k, count[k]
		}
	}
	if most < 5 || strings.Count(shape, " ") < 1 {
		return nil
	}
	var blankAt []int // how often each place is blank, over lines of that shape
	n := 0
	for _, s := range lines {
		if len(s) > 400 || wordsShape(s) != shape {
			continue
		}
		n++
		r := []rune(s)
		for len(blankAt) < len(r) {
			blankAt = append(blankAt, n-1)
		}
		for i := range blankAt {
			if i >= len(r) || r[i] == ' ' || r[i] == '\t' {
				blankAt[i]++
			}
		}
	}
	var starts []int
	inside := false
	for i, k := range blankAt {
		if k*100 < 98*n {
			if !inside {
				starts = append(starts, i)
			}
			inside = true
		} else {
			inside = false
		}
	}
	if len(starts) < 2 || len(starts) > maxColumns {
		return nil
	}
	var b tableBuilder
	for i, s := range lines {
		if i == len(lines)-1 && s == "" {
			break
		}
		r := []rune(s)
		fits := true
		for k := 1; k < len(starts); k++ { // a cell runs over where the next begins
			if at := starts[k]; at-1 < len(r) && r[at-1] != ' ' && r[at-1] != '\t' {
				fits = false
			}
		}
		if !fits {
			b.cell(s)
			b.end(int32(i + 1))
			continue
		}
		for k, from := range starts {
			to := len(r)
			if k+1 < len(starts) {
				to = min(starts[k+1], len(r))
			}
			if k == 0 {
				from = 0
			}
			if from < to {
				b.cell(string(r[from:to]))
			} else {
				b.cell("")
			}
		}
		b.end(int32(i + 1))
	}
	t := b.table()
	if t != nil {
		t.whole = strings.HasSuffix(text, "\n") || strings.HasSuffix(text, "\r")
	}
	return t
}

// wordsShape tells a line by what its words are made of: digits or others.
func wordsShape(s string) string {
	var b strings.Builder
	for w := range strings.FieldsSeq(s) {
		if b.Len() > 0 {
			b.WriteByte(' ')
		}
		if w[0] >= '0' && w[0] <= '9' {
			b.WriteByte('9')
		} else {
			b.WriteByte('a')
		}
		if b.Len() > 80 {
			break
		}
	}
	return b.String()
}

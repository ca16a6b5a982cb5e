package intake

import (
	"fmt"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// halves takes a table apart whose headings come again from left to right, each
// time over times of their own: it is several tables side by side. What stands over
// each of them in the line above is its name. It gives nil for any other table.
func (t *table) halves() []sheet {
	const look = 10
	for head := range min(t.rows(), look) {
		starts := t.sideBySide(head)
		if starts == nil {
			continue
		}
		bounds := append(starts, 1<<30)
		named := head > 0 && !slices.ContainsFunc(starts, func(c int) bool {
			from := slices.Index(bounds, c)
			return t.firstIn(head-1, c, bounds[from+1]) == ""
		})
		var list []sheet
		for i, from := range starts {
			if i == 0 {
				from = 0
			}
			to := t.filledTo(from, bounds[i+1])
			s := sheet{place: fmt.Sprintf("columns %d to %d", from+1, to)}
			var b tableBuilder
			for r := range t.rows() {
				if named && r == head-1 {
					s.name = t.firstIn(r, from, bounds[i+1])
					s.holders = []string{s.name}
					continue
				}
				if t.firstIn(r, from, bounds[i+1]) == "" {
					continue
				}
				for c := from; c < min(to, t.width(r)); c++ {
					b.copy(t, r, c)
				}
				b.end(t.line[r])
			}
			if len(b.t.line) > 0 {
				b.pad()
			}
			if s.t = b.table(); s.t == nil || s.t.score() == 0 {
				return nil
			}
			list = append(list, s)
		}
		return list
	}
	return nil
}

// filledTo is the end of the columns of a part that say something anywhere.
func (t *table) filledTo(from, to int) (end int) {
	for r := range t.rows() {
		for c := max(from, end); c < min(to, t.width(r)); c++ {
			if t.kind(r, c) != blank {
				end = c + 1
			}
		}
	}
	return end
}

// firstIn is the first cell of a row between two columns that says something.
func (t *table) firstIn(r, from, to int) string {
	for c := from; c < min(to, t.width(r)); c++ {
		if t.kind(r, c) != blank {
			return t.cell(r, c)
		}
	}
	return ""
}

// sideBySide gives the columns at which the headings of a row begin again, or nil.
func (t *table) sideBySide(head int) (starts []int) {
	var cols []int
	var words []string
	for c := range min(t.width(head), maxColumns) {
		switch t.kind(head, c) {
		case blank:
		case word:
			cols, words = append(cols, c), append(words, strings.ToLower(t.cell(head, c)))
		default:
			return nil
		}
	}
	for parts := 2; parts <= len(words)/2; parts++ {
		each := len(words) / parts
		if len(words)%parts != 0 || !slices.Equal(words[each:], words[:len(words)-each]) {
			continue
		}
		starts = nil
		for i := range parts {
			from, to := cols[i*each], 1<<30
			if i+1 < parts {
				to = cols[(i+1)*each]
			}
			times := 0
			for r := head + 1; r < min(t.rows(), head+headRows); r++ {
				for c := from; c < min(to, t.width(r)); c++ {
					if k := t.kind(r, c); k == moment || k == clock || k == epoch {
						times++
					}
				}
			}
			if times < 3 {
				return nil
			}
			starts = append(starts, from)
		}
		return starts
	}
	return nil
}

// apart replaces tables that stand side by side by each of them.
func (l *ledger) apart(list []sheet) (out []sheet) {
	for _, s := range list {
		parts := s.t.halves()
		if parts == nil {
			out = append(out, s)
			continue
		}
		for _, p := range parts {
			if len(p.holders) > 0 {
				l.account.before++
				l.account.add(placeOther, wear.FateFact, "names one of the tables side by side", 1)
			}
			p.holders = append(slices.Clip(s.holders), p.holders...)
			if p.name == "" {
				p.name = s.name
			}
			out = append(out, p)
		}
	}
	return out
}

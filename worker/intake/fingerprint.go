package intake

import (
	"crypto/sha256"
	"encoding/hex"
	"strconv"
	"strings"
)

// fingerprint names an arrangement of columns: delimiter, headings without
// accents and case, and what each column holds. It has no cell of a data row
// in it, so that no person's data can be in it.
func (lay *layout) fingerprint(t *table) string {
	var b strings.Builder
	b.WriteString("layout 1\n")
	b.WriteString(strconv.Itoa(int(t.delim)))
	for c := range lay.cols {
		col := &lay.cols[c]
		b.WriteByte('\n')
		b.WriteString(plain(col.heading))
		b.WriteByte('\t')
		b.WriteString(strconv.Itoa(int(lay.use(c))))
		b.WriteByte('\t')
		b.WriteString(strconv.Itoa(int(col.looks())))
	}
	sum := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(sum[:])
}

// use is what a column was taken for.
func (lay *layout) use(c int) role {
	switch c {
	case lay.g.when.col, lay.g.when.date:
		return roleTime
	case lay.auto:
		return roleGlucose
	case lay.scan:
		return roleScan
	case lay.finger:
		return roleFinger
	case lay.unit:
		return roleUnit
	case lay.kind:
		return roleType
	case lay.person:
		return rolePerson
	}
	return lay.cols[c].said
}

// looks is the kind of most filled cells of a column; whole numbers and
// decimals count as one, because a mean of whole numbers may be either.
func (c *column) looks() kind {
	best, most := blank, 0
	for k, n := range c.n {
		if kind(k) == integer {
			continue
		}
		if kind(k) == decimal {
			n += c.n[integer]
		}
		if kind(k) != blank && n > most {
			best, most = kind(k), n
		}
	}
	return best
}

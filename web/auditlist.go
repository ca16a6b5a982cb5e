package web

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"
)

// fewPeople is the largest count that could point at somebody: smaller ones
// are not passed on. A proposal; four and five are both common practice.
const fewPeople = 4

// List is the tables as delimited text (RFC 4180) to pass on: one line a
// number. Counts of few people read "under 5" and others are rounded to the
// nearest five, each by itself, so that none can be had by subtraction.
func (p AuditPage) List() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	write := func(fields ...string) {
		for i := range fields {
			fields[i] = unformula(fields[i])
		}
		_ = w.Write(fields) // a buffer takes everything
	}
	write("table", "row", "column", "value", "of")
	for _, t := range p.Tables() {
		for _, line := range t.Rows {
			for i, c := range line.Cells {
				head := t.Heads[i+1]
				switch {
				case c.List != nil:
					for _, x := range c.List {
						write(t.Title, line.Head, head+": "+x.Words, veiled(x.N), "")
					}
				case c.Words != "" && c.Basis > 0 && c.Basis <= fewPeople:
					write(t.Title, line.Head, head, "of too few to say", "")
				case c.Words != "":
					write(t.Title, line.Head, head, strings.ReplaceAll(c.Words, "\u202f", ""), "")
				case c.Of > 0:
					write(t.Title, line.Head, head, veiled(c.N), veiled(c.Of))
				default:
					write(t.Title, line.Head, head, veiled(c.N), "")
				}
			}
		}
	}
	w.Flush()
	return b.Bytes()
}

// veiled is a count that points at nobody.
func veiled(n int) string {
	switch {
	case n == 0:
		return "0"
	case n <= fewPeople:
		return "under " + strconv.Itoa(fewPeople+1)
	}
	return strconv.Itoa((n + 2) / 5 * 5)
}

// unformula keeps a spreadsheet from taking a text for a formula.
func unformula(s string) string {
	if s != "" && strings.ContainsAny(s[:1], "=+-@\t\r") {
		return "'" + s
	}
	return s
}

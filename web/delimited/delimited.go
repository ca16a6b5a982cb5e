// Package delimited writes the tables that people open in a spreadsheet: text by
// RFC 4180, of which no cell is worked out as a formula.
package delimited

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strings"
)

// Table is a table as it is written, row by row.
type Table struct {
	text bytes.Buffer
	w    *csv.Writer
}

// New begins a table with its heading.
func New(heading ...string) *Table {
	t := &Table{}
	t.w = csv.NewWriter(&t.text)
	t.w.UseCRLF = true
	t.Row(heading...)
	return t
}

// Row adds a row; see [Plain] for what becomes of its cells.
func (t *Table) Row(cells ...string) {
	plain := make([]string, len(cells))
	for i, c := range cells {
		plain[i] = Plain(c)
	}
	_ = t.w.Write(plain) // into memory, which does not fail
}

// Bytes is the table so far.
func (t *Table) Bytes() []byte {
	t.w.Flush()
	return t.text.Bytes()
}

// Plain is a cell that a spreadsheet shows as it is: an apostrophe stands before
// what would begin a formula (OWASP, CSV Injection). Only a number below nought
// keeps its sign bare: a telephone number that begins with "+" is guarded too, or
// its plus would be lost.
func Plain(cell string) string {
	if i := strings.IndexAny(cell, "=+-@\t\r\n＝＋－＠"); i == 0 && !belowNought.MatchString(cell) {
		return "'" + cell
	}
	return cell
}

var belowNought = regexp.MustCompile(`^-[0-9]+(\.[0-9]+)?$`)

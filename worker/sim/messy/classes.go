package messy

import "fmt"

// Classes lists every difficulty, in the order of the practice's checklist of
// messy exports.
func Classes() []Class {
	return []Class{
		{1, "lines above the table", nil, preambleLines, nil},
		{2, "heading in another language, missing or repeated", nil, otherHeadings, nil},
		{3, "delimiter", nil, otherDelimiter, nil},
		{4, "decimal comma", nil, decimalComma, nil},
		{5, "encoding", nil, otherEncoding, nil},
		{6, "12-hour clock", nil, halfDays, nil},
		{7, "order of day and month", nil, dayOrder, nil},
		{8, "decimal mark lost", lostMark, nil, nil},
		{9, "date and clock apart", nil, dateApart, nil},
		{10, "times as numbers", nil, numberTimes, nil},
		{11, "offset and zone", nil, offsets, nil},
		{12, "change of the hour", changeOfHour, nil, nil},
		{13, "two glucose columns", twoColumns, nil, nil},
		{14, "record types by row", nil, recordTypes, nil},
		{15, "words for out of range", outOfRange, nil, nil},
		{16, "many limited values", limitedValues, nil, nil},
		{17, "unit", nil, unitStated, nil},
		{18, "duplicates", duplicates, nil, nil},
		{19, "overlapping exports", nil, overlapping, nil},
		{20, "unsorted rows", nil, unsorted, nil},
		{21, "totals and signatures", nil, totals, nil},
		{22, "line ends inside quotes", quotedLines, nil, openQuote},
		{23, "thousands marks", nil, thousands, nil},
		{24, "empty wear", emptyWear, nil, nil},
		{25, "clock reset", clockReset, nil, nil},
		{26, "workbook", nil, asWorkbook, nil},
		{27, "cells that look like formulas", formulas, nil, nil},
		{28, "zip and gzip", nil, nil, packed},
		{29, "huge", huge, nil, hugeLine},
		{30, "several people", nil, severalPeople, nil},
		{31, "person stated in the file", nil, statedPerson, nil},
		{32, "half copied", nil, nil, halfCopied},
		{33, "wrong kind of file", nil, nil, wrongKind},
	}
}

// Class is one kind of difficulty that export files bring.
type Class struct {
	Number  int
	Name    string
	content func(c chance, d *document) // changes what is in the file
	form    func(c chance, d *document) // changes how it is written
	bytes   func(c chance, d *document, data []byte) []byte
}

// String gives number and name.
func (k Class) String() string { return fmt.Sprintf("%2d %s", k.Number, k.Name) }

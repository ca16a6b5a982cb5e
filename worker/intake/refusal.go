package intake

import (
	"fmt"
	"iter"
	"strconv"
	"strings"

	"wearround/worker/wear"
)

// Limits on what is read. A year at one reading a minute is 525,600 rows.
const (
	maxBytes = 64 << 20
	maxRows  = 2_000_000
	maxCells = 12_000_000
	maxLine  = 1 << 20
)

// exportAsText is what to do about most files that hold no plain table.
const exportAsText = "Export the readings again as plain text (CSV) and drop that file."

func refuse(code, text, todo string) *wear.Refusal {
	return &wear.Refusal{Code: code, Text: text, ToDo: todo}
}

func refuseEmpty() *wear.Refusal {
	return refuse("empty", "The file is empty.", "Copy the export again and check its size before dropping it.")
}

// codeNoReadings is the code of a refusal that leaves the events to be shown.
const codeNoReadings = "no_readings"

func refuseNoReadings() *wear.Refusal {
	return refuse(codeNoReadings, "The file was received but holds no sensor readings: nothing to judge.",
		"Ring the person: the sensor may not have been worn or read out. This is not a normal result.")
}

func refuseBinary() *wear.Refusal {
	return refuse("binary", "The file is not text and not a kind of file that can be read here.", exportAsText)
}

func refuseTooBig(what string) *wear.Refusal {
	return refuse("too_big", "The file is too big: "+what+".", "Export a shorter period, two weeks at a time, and drop that file.")
}

// A reason names what was found and what of it could not be read. It denies nothing
// but what the reader looked for and did not read: the file may hold more.

// refuseNoTable shows the commonest of the lines with a digit.
func refuseNoTable(lines iter.Seq[string]) *wear.Refusal {
	found, most := "no line of it holds a digit", 0
	counts := make(map[string]int)
	for s := range lines {
		if !strings.ContainsAny(s, "0123456789") || len(counts) > maxShapes {
			continue
		}
		shape := shapeOf(short(s))
		if counts[shape]++; counts[shape] > most {
			most = counts[shape]
			found = "its commonest lines with digits look like “" + short(strings.TrimSpace(s)) + "”, and no time and value could be told apart in them"
		}
	}
	return refuse("no_table", "No table of times and values was found in the file: "+found+".",
		"Check that this is the export of a sensor's readings, one reading a line, and export it again as plain text (CSV).")
}

// refuseLists refuses a document in which no list holds times and values: it shows
// the longest list.
func refuseLists(code, what string, lists []sheet) *wear.Refusal {
	found, most := "no list or table was found in it", 0
	for _, s := range lists {
		if n := s.t.rows(); n > most {
			most = n
			found = "no time and value could be told apart in the longest of its lists, of " + strconv.Itoa(n) + " row(s) such as “" + s.t.show(n-1) + "”"
		}
	}
	return refuse(code, "The file is "+what+", and "+found+".", exportAsText)
}

// maxShapes is how many forms of line are told apart for a reason.
const maxShapes = 1000

// lines are the rows of a table, their cells apart.
func (t *table) lines() iter.Seq[string] {
	return func(yield func(string) bool) {
		for r := range t.rows() {
			if !t.empty(r) && !yield(t.show(r)) {
				return
			}
		}
	}
}

// beside tells what stands beside the times, for a reason.
func (lay *layout) beside() string {
	var found []string
	for c := range lay.cols {
		col := &lay.cols[c]
		if lay.reserved[c] || len(col.distinct) == 0 {
			continue
		}
		holds := "words"
		if col.numbers()*2 > col.filled {
			holds = "numbers"
		}
		found = append(found, fmt.Sprintf("%s (%s such as “%s”)", lay.title(c), holds, short(col.distinct[0])))
	}
	const shown = 3
	switch n := len(found); {
	case n == 0:
		return "with nothing beside them"
	case n > shown:
		found = append(found[:shown], fmt.Sprintf("%d more", n-shown))
	}
	return "and beside them " + strings.Join(found, ", ") + "; no column was understood as glucose"
}

func refuseNoGlucose(found string) *wear.Refusal {
	return refuse("no_glucose", "The file has a table with times, "+found+".",
		"Check that glucose readings were chosen in the export, and export again.")
}

func refuseCutShort(line int) *wear.Refusal {
	return refuse("cut_short", fmt.Sprintf("The file stops in the middle of line %d: it was probably copied before it was finished.", line),
		"Copy or export the file again and drop the whole of it.")
}

func refuseOpenQuote(line int) *wear.Refusal {
	return refuse("open_quote", fmt.Sprintf("A quotation mark opened on line %d is not closed in its cell, so the rows after it cannot be told apart.", line),
		"Export the file again without editing it.")
}

func refuseSeveralPeople() *wear.Refusal {
	return refuse("several_people", "The file holds readings of more than one person.",
		"Export each person's readings to a file of their own and drop those files.")
}

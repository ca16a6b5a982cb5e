package intake

import (
	"fmt"

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

func refuseNoTable() *wear.Refusal {
	return refuse("no_table", "No table of times and values was found in the file.",
		"Check that this is the export of a sensor's readings, one reading a line, and export it again as plain text (CSV).")
}

func refuseNoGlucose() *wear.Refusal {
	return refuse("no_glucose", "The file has a table with times, but no column that can be glucose.",
		"Check that glucose readings were chosen in the export, and export again.")
}

func refuseCutShort(line int) *wear.Refusal {
	return refuse("cut_short", fmt.Sprintf("The file stops in the middle of line %d: it was probably copied before it was finished.", line),
		"Copy or export the file again and drop the whole of it.")
}

func refuseOpenQuote(line int) *wear.Refusal {
	return refuse("open_quote", fmt.Sprintf("A quotation mark opened on line %d is never closed, so the rows after it cannot be told apart.", line),
		"Export the file again without editing it.")
}

func refuseSeveralPeople() *wear.Refusal {
	return refuse("several_people", "The file holds readings of more than one person.",
		"Export each person's readings to a file of their own and drop those files.")
}

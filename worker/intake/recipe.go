package intake

import "strings"

// Recipe is how one layout was read: what a person answered about it, and the
// plan that reads the next file of it in one pass. It holds nothing of a
// person: no reading, no name, no code. It is kept as JSON.
//
// A recipe only saves work and questions. Every file is checked again from its
// own values: where they contradict the recipe, the file is read as if it had
// none.
type Recipe struct {
	Layout  string            `json:"layout"`            // the fingerprint it belongs to
	Answers map[string]string `json:"answers,omitempty"` // a person's answers that belong to the layout
	Plan    *Plan             `json:"plan,omitempty"`    // how its files are read in one pass, if they can be
}

// Remembered reports whether the answer to a question belongs to the layout,
// so that the next file of it need not ask again, and not to the one file or
// its person.
func Remembered(code string) bool {
	name, _, _ := strings.Cut(code, ":")
	switch name {
	case "delimiter", "heading_row", "time_column", "glucose_column", "second_glucose", "fingerstick_value",
		"day_order", "day_numbers", "half_day", "zone", "unit", "type", "word", "mark", "pair", "sheet", "part", "bundle", "specimen", "limits", "holds", "said", "named", "midnight":
		return true
	}
	return false
}

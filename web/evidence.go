package web

import (
	_ "embed" // the figures are kept as they were made
	"encoding/json"
	"strconv"
)

// evidenceJSON is made from the open cohorts by a test of the engine, which says
// how and holds it to what the engine makes of them.
//
//go:embed evidence.json
var evidenceJSON []byte

// Evidence is a table of what the engine makes of the open cohorts.
type Evidence struct {
	Title string     `json:"title"`
	Says  string     `json:"says"`
	Head  []string   `json:"head"`
	Rows  [][]string `json:"rows"`
	ID    string     `json:"-"`
}

// evidence are the tables in their order.
func evidence() (out []Evidence, err error) {
	err = json.Unmarshal(evidenceJSON, &out)
	for i := range out {
		out[i].ID = "evidence-" + strconv.Itoa(i+1)
	}
	return out, err
}

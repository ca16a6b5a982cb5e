// Package view turns what the store holds into what pages show: rows into the
// words and structs of web. It changes nothing.
package view

import "wearround/server/door"

// View reads through the door's store.
type View struct {
	*door.Door
	norms norms
}

// New makes a view.
func New(d *door.Door) *View { return &View{Door: d, norms: norms{kind: map[string]keptNorms{}}} }

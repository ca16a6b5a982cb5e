// Package review is the work on wears: the round, one wear, claims, calls, what
// people add, outcomes, letters and recalls.
package review

import (
	"html/template"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
	"wearround/store/kept"
	"wearround/web"
)

// Review shows wears and takes what people do to them.
type Review struct {
	*door.Door
	*act.Acts
	*view.View
	rows    *kept.By[web.ShownRow, template.HTML]
	stories *kept.By[web.StoryKey, template.HTML]
}

// How much is kept of what was made, in bytes of markup: some thousands of rows
// of the round, and some dozens of wears.
const (
	keptRows    = 8 << 20
	keptStories = 32 << 20
)

// New makes the pages of review.
func New(d *door.Door, acts *act.Acts, v *view.View) *Review {
	markup := func(h template.HTML) int { return len(h) }
	return &Review{Door: d, Acts: acts, View: v, rows: kept.New[web.ShownRow](keptRows, markup), stories: kept.New[web.StoryKey](keptStories, markup)}
}

// Package review is the work on wears: the round, one wear, claims, calls, what
// people add, outcomes, letters and recalls.
package review

import (
	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
)

// Review shows wears and takes what people do to them.
type Review struct {
	*door.Door
	*act.Acts
	*view.View
}

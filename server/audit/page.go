// Package audit is how the practice and the program answer for what was done: the
// year in numbers, the log, the limits in force, whether it works, and help.
package audit

import (
	"wearround/server/act"
	"wearround/server/door"
)

// Audit shows what was done and by which rules.
type Audit struct {
	*door.Door
	*act.Acts
	trials trials
}

// Package register is the practice's list of patients: looking somebody up,
// adding, changing, joining two entries, importing a list.
package register

import (
	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
)

// Register shows patients and takes what is changed about them.
type Register struct {
	*door.Door
	*act.Acts
	*view.View
}

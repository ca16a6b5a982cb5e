package handout_test

import (
	"testing"

	"wearround/server/servertest"
	"wearround/store"
)

// A page about sensors that are out never leaves out what could not be read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	sheet := f.Must(store.RoleNurse, "/out", typed("P-7", "name", "Lumo Tevi"))
	f.Tells(store.RoleNurse, "/out", "/out/new?patient=1", sheet)
}

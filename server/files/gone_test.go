package files_test

import (
	"testing"

	"wearround/server/servertest"
	"wearround/store"
)

// A page about files and how they are read never leaves out what could not be
// read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	f.Teach(1)
	f.Tells(store.RoleNurse, "/files", "/recipes", "/recipes/1")
}

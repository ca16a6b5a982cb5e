package audit_test

import (
	"testing"

	"wearround/server/servertest"
	"wearround/store"
)

// A page of the year, the log or the system never leaves out what could not be
// read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	f.Tells(store.RoleLead, "/audit", "/audit.csv", "/log", "/system", "/protocol")
}

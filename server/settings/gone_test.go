package settings_test

import (
	"testing"

	"wearround/server/servertest"
	"wearround/store"
)

// A page of settings never leaves out what could not be read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	f.Tells(store.RoleLead, "/settings", "/people", "/account")
}

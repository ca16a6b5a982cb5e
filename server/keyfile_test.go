package server_test

import (
	"bytes"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// TestTheKeyOfTheLogIsWatched: while the file with the key is gone, or is
// another, the practice cannot be relied on, and every page says so.
func TestTheKeyOfTheLogIsWatched(t *testing.T) {
	f := servertest.New(t)
	path := filepath.Join(t.TempDir(), "audit.key")
	put := func(key []byte) {
		t.Helper()
		if err := os.WriteFile(path, key, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put(storetest.AuditKey())
	f.Store.WatchKey(path)
	is := func(what string) {
		t.Helper()
		ready := f.AskAs(servertest.Nobody, http.MethodGet, door.ReadyPath, nil)
		page := f.AskAs(store.RoleNurse, http.MethodGet, "/recalls", nil).Body.String()
		if what == "" && (ready.Code != http.StatusOK || strings.Contains(page, "key of the log")) {
			t.Errorf("with its key the practice is %d: %s", ready.Code, ready.Body)
		}
		if what != "" && (ready.Code != http.StatusServiceUnavailable || !strings.Contains(ready.Body.String(), `"key"`) || !strings.Contains(page, what)) {
			t.Errorf("the key %s: status %d: %s", what, ready.Code, ready.Body)
		}
	}
	is("")
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	is("is gone from the data folder")
	put(bytes.Repeat([]byte{8}, store.LogKeySize))
	is("was replaced by another")
	put(storetest.AuditKey())
	is("")
}

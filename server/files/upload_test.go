package files_test

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// TestSendingInWithoutTheFolder: while the watched folder is gone nothing counts
// as sent, and the very same can be sent again once it is there.
func TestSendingInWithoutTheFolder(t *testing.T) {
	drop := filepath.Join(t.TempDir(), "drop")
	f := servertest.New(t, func(c *door.Config) { c.Drop = drop })
	token := f.Token(store.RoleNurse, store.ScopeDrop)
	f.SignIn(store.RoleNurse) // making the token ended the session
	byPage := func() *httptest.ResponseRecorder {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		w, err := m.CreateFormFile("file", "P-1.csv")
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprint(w, "by a person")
		for k, v := range map[string]string{"csrf": door.FormToken(f.Sessions[store.RoleNurse]), "once": "one"} {
			if err := m.WriteField(k, v); err != nil {
				t.Fatal(err)
			}
		}
		if err := m.Close(); err != nil {
			t.Fatal(err)
		}
		return f.AskAs(store.RoleNurse, http.MethodPost, "/files/upload", nil, func(r *http.Request) {
			r.Header.Set("Content-Type", m.FormDataContentType())
			r.Body, r.ContentLength = io.NopCloser(&b), int64(b.Len())
		})
	}
	byProgram := func() *httptest.ResponseRecorder {
		return f.AskAs(servertest.Nobody, http.MethodPost, "/api/v1/files", nil, servertest.Bearer(token),
			servertest.AsJSON(`{"name": "P-2.csv", "data": "YnkgYSBwcm9ncmFt"}`), func(r *http.Request) { r.Header.Set("Idempotency-Key", "two") })
	}
	for way, send := range map[string]func() *httptest.ResponseRecorder{"P-1.csv": byPage, "P-2.csv": byProgram} {
		if a := send(); a.Code != http.StatusServiceUnavailable || !strings.Contains(a.Body.String(), "The watched folder cannot be written to") {
			t.Errorf("%s without the folder: status %d: %s", way, a.Code, servertest.SaidOn(a))
		}
		if err := os.MkdirAll(drop, 0o700); err != nil {
			t.Fatal(err)
		}
		if a := send(); a.Code/100 != 2 {
			t.Errorf("%s once it is there: status %d: %s", way, a.Code, servertest.SaidOn(a))
		}
		if _, err := os.Stat(filepath.Join(drop, way)); err != nil {
			t.Errorf("%s: %v", way, err)
		}
		if err := os.RemoveAll(drop); err != nil {
			t.Fatal(err)
		}
	}
	if strings.Contains(f.Log.String(), "P-1") {
		t.Error("the log names a file")
	}
}

// TestFilesAreSentIn: what comes by page or by a program lies in the watched
// folder as it was sent, under a name that can harm nothing and takes no
// other's place.
func TestFilesAreSentIn(t *testing.T) {
	drop := t.TempDir()
	f := servertest.New(t, func(c *door.Config) { c.Drop = drop })
	names := []string{"P-1_march.csv", "P-1_march.csv", "../../etc/passwd", `C:\exports\P-2.csv`, ".hidden", "a?b:c.txt", strings.Repeat("long", 90) + ".csv"}
	for i, name := range names {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		w, err := m.CreateFormFile("file", name)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(w, "content %d", i)
		if err := m.WriteField("csrf", door.FormToken(f.Sessions[store.RoleNurse])); err != nil {
			t.Fatal(err)
		}
		if err := m.Close(); err != nil {
			t.Fatal(err)
		}
		a := f.AskAs(store.RoleNurse, http.MethodPost, "/files/upload", nil, func(r *http.Request) {
			r.Header.Set("Content-Type", m.FormDataContentType())
			r.Body, r.ContentLength = io.NopCloser(&b), int64(b.Len())
		})
		if a.Code != http.StatusOK {
			t.Errorf("%q: status %d: %s", name, a.Code, servertest.SaidOn(a))
		}
	}
	token := f.Token(store.RoleNurse, store.ScopeDrop)
	body := `{"name": "P-9.csv", "data": "` + base64.StdEncoding.EncodeToString([]byte("by a program")) + `"}`
	if a := f.AskAs(servertest.Nobody, http.MethodPost, "/api/v1/files", nil, servertest.Bearer(token), servertest.AsJSON(body)); a.Code >= 300 {
		t.Errorf("by a program: status %d: %s", a.Code, a.Body)
	}
	if a := f.AskAs(servertest.Nobody, http.MethodPost, "/api/v1/files", nil, servertest.Bearer(f.Token(store.RoleClinician, store.ScopeRead)), servertest.AsJSON(body)); a.Code != http.StatusForbidden {
		t.Errorf("with another scope: status %d", a.Code)
	}
	var found []string
	err := filepath.WalkDir(drop, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			found = append(found, filepath.Base(path))
		}
		return err
	})
	if err != nil || len(found) != len(names)+1 {
		t.Fatalf("in the folder: %q (%v)", found, err)
	}
	for _, want := range []string{"P-1_march.csv", "P-1_march-2.csv", "P-2.csv", "passwd", "hidden", "P-9.csv"} {
		if !slices.Contains(found, want) {
			t.Errorf("%q is not in the folder: %q", want, found)
		}
	}
	if b, err := os.ReadFile(filepath.Join(drop, "P-1_march-2.csv")); err != nil || string(b) != "content 1" {
		t.Errorf("the second holds %q (%v)", b, err)
	}
}

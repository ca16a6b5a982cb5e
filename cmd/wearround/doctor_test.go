package main

import (
	"crypto/sha256"
	"errors"
	"html"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker"
)

// TestDoctorAndSystemSayTheSame: whatever doctor looked at of an installation
// stands on the page System in the same words, the place for backups too, and
// both know the practice's name that was set in the browser.
func TestDoctorAndSystemSayTheSame(t *testing.T) {
	ctx, dir, secret := t.Context(), filepath.Join(t.TempDir(), "practice"), "the session of somebody who looks"
	s := newPracticeAt(t, dir, nil)
	lead, err := (&desk{Store: s}).actor(ctx)
	err1 := s.SetPractice(ctx, lead, store.Practice{Name: "Practice of Ludo Street", Telephone: "5550 1000"})
	_, err2 := s.StartSession(ctx, lead.UserID, storetest.Proof(t, s, lead.UserID), sha256.Sum256([]byte(secret)), "127.0.0.1", "test")
	err3 := os.WriteFile(filepath.Join(dir, "audit.key"), storetest.AuditKey(), 0o600)
	rule, err4 := worker.ParseNameRule(worker.DefaultNameRule)
	if err := errors.Join(err, err1, err2, err3, err4, s.Close()); err != nil {
		t.Fatal(err)
	}
	c := config{
		data: dir, addr: "127.0.0.1:0", zone: time.UTC, rule: rule, settle: time.Second, open: true,
		now: faultTime, backup: filepath.Join(dir+".place", "backups"),
	}
	c.defaults()
	said := examine(ctx, &c)
	a, err := open(ctx, c, slog.New(slog.NewTextHandler(io.Discard, nil)))
	if err != nil {
		t.Fatal(err)
	}
	defer a.close()
	q := httptest.NewRequest(http.MethodGet, "http://127.0.0.1:8470/system", nil)
	q.RemoteAddr = "127.0.0.1:50000"
	q.AddCookie(&http.Cookie{Name: "s", Value: secret})
	w := httptest.NewRecorder()
	a.server.ServeHTTP(w, q)
	page := strings.ReplaceAll(html.UnescapeString(w.Body.String()), "’", "'")
	if w.Code != http.StatusOK {
		t.Fatal(w.Code, page)
	}
	looked := map[string]bool{}
	for _, f := range said {
		looked[f.What] = f.Good
		if f.What == "log" || f.What == "data" { // which have places of their own on the page
			continue
		}
		if f.What == "room" { // which changes meanwhile
			_, f.Said, _ = strings.Cut(f.Said, " are left")
		}
		if !strings.Contains(strings.ToLower(page), strings.ToLower("<dt>"+f.What+"</dt>")) || !strings.Contains(strings.ToLower(page), strings.ToLower(strings.TrimSuffix(f.Said, "."))) {
			t.Errorf("System does not say of %q: %q", f.What, f.Said)
		}
	}
	if len(looked) < 12 || !looked["practice"] || !looked["log"] || !looked["data"] {
		t.Errorf("doctor says %+v", said)
	}
	if !strings.Contains(page, c.backup) {
		t.Error("System does not say where backups go")
	}
}

package main

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"wearround/store"
)

func TestAuditKey(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	s, err := store.Open(ctx, filepath.Join(dir, "w.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	path := filepath.Join(dir, "audit.key")
	if _, err := useLogKey(ctx, s, path); err != nil {
		t.Fatal(err)
	}
	key, err := os.ReadFile(path)
	if err != nil || len(key) != store.LogKeySize {
		t.Fatalf("%d bytes, %v", len(key), err)
	}
	if info, err := os.Stat(path); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("the key's file: %v, %v", info.Mode(), err)
	}
	if err := s.AddPatients(ctx, []store.Patient{{Code: "P1"}}); err != nil {
		t.Fatal(err)
	}
	if _, err := useLogKey(ctx, s, path); err != nil {
		t.Errorf("a second start: %v", err)
	}
	if c, err := s.VerifyLog(ctx); err != nil || !c.OK() || c.Rows == 0 {
		t.Errorf("the log: %+v, %v", c, err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if _, err := useLogKey(ctx, s, path); err == nil || !strings.Contains(err.Error(), "put "+path+" back") {
		t.Errorf("a lost key: %v", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("another key was made for a log that is there already")
	}
	if err := os.WriteFile(path, make([]byte, store.LogKeySize), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := useLogKey(ctx, s, path); err == nil || !strings.Contains(err.Error(), "not the key") {
		t.Errorf("the key of another log: %v", err)
	}
	if err := os.WriteFile(path, key[:7], 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := useLogKey(ctx, s, path); err == nil {
		t.Error("a key that was cut short was taken")
	}
}

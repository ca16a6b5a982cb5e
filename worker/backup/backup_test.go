package backup_test

import (
	"bytes"
	"context"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"filippo.io/age"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker"
	"wearround/worker/backup"
	"wearround/worker/wear"
)

var ctx = context.Background()

// practice is a small one with its folder.
type practice struct {
	*store.Store
	clock *storetest.Clock
	dir   string
	files int
	src   backup.Source
}

func newPractice(t *testing.T, files int) *practice {
	t.Helper()
	p := &practice{clock: storetest.NewClock(), dir: t.TempDir()}
	var err error
	if err := storetest.Empty(filepath.Join(p.dir, "wearround.db")); err != nil {
		t.Fatal(err)
	}
	if p.Store, err = store.Open(ctx, filepath.Join(p.dir, "wearround.db"), p.clock.Now); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	if err := p.SetLogKey(storetest.AuditKey()); err != nil {
		t.Fatal(err)
	}
	archive, err := worker.OpenArchive(filepath.Join(p.dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	p.src = backup.Source{Store: p.Store, Originals: archive, Data: p.dir, Key: storetest.AuditKey(), Program: "test", Now: p.clock.Now}
	for range files {
		p.file(t, archive)
	}
	return p
}

// file files one more wear with its original.
func (p *practice) file(t *testing.T, archive *worker.Archive) {
	t.Helper()
	p.files++
	who := storetest.AddPatient(t, p.Store, p.files)
	data := bytes.Repeat([]byte{byte(p.files)}, 100+p.files)
	f := storetest.Filing(p.files, who.ID, p.clock.Now(), 3, wear.Routine, float64(p.files))
	f.SHA256, f.Drop.Size = worker.Hash(data), int64(len(data))
	if err := archive.Put(f.SHA256, data); err != nil {
		t.Fatal(err)
	}
	storetest.File(t, p.Store, f)
}

func (p *practice) make(t *testing.T, place string) backup.Manifest {
	t.Helper()
	p.clock.Advance(time.Minute)
	m, err := backup.Make(ctx, place, p.src)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func restore(place, into string, way backup.Way) (backup.Back, error) {
	found, err := backup.Find(place)
	if err != nil {
		return backup.Back{}, err
	}
	way.Now = time.Now
	return backup.Restore(ctx, found, into, way)
}

// TestRoundTrip brings back all there was, plain and encrypted, while the
// practice goes on.
func TestRoundTrip(t *testing.T) {
	who, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	for name, way := range map[string]backup.Way{"plain": {Key: storetest.AuditKey()}, "encrypted": {Identity: who}} {
		t.Run(name, func(t *testing.T) {
			p, place := newPractice(t, 5), t.TempDir()
			if way.Identity != nil {
				p.src.Recipient = who.Recipient()
			}
			first := p.make(t, place)
			p.file(t, p.src.Originals.(*worker.Archive))
			second := p.make(t, place)
			if first.Wears != 5 || second.Wears != 6 || second.Originals != 6 {
				t.Fatalf("%d, then %d wears and %d originals", first.Wears, second.Wears, second.Originals)
			}
			into := filepath.Join(t.TempDir(), "new")
			back, err := restore(place, into, way)
			if err != nil {
				t.Fatal(err)
			}
			if back.ID != second.ID || back.Originals != 6 || len(back.Missing) != 0 || !back.Check.OK() {
				t.Errorf("brought back %+v", back)
			}
			s, err := store.Open(ctx, filepath.Join(into, "wearround.db"), p.clock.Now)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			n, err := s.Counts(ctx)
			if want, _ := p.Counts(ctx); err != nil || n != want {
				t.Errorf("counts %+v, %v; want %+v", n, err, want)
			}
		})
	}
}

// TestEveryDamageIsNoticed flips one byte at a time, cuts or takes away one file
// of a backup: it is refused, or the original is named as missing.
func TestEveryDamageIsNoticed(t *testing.T) {
	p, place := newPractice(t, 3), t.TempDir()
	p.make(t, place)
	var files []string
	err := filepath.WalkDir(place, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			files = append(files, path)
		}
		return err
	})
	if err != nil || len(files) < 6 {
		t.Fatal(files, err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	for i := range 40 {
		name := files[i%len(files)]
		good, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		bad := bytes.Clone(good)
		switch i / len(files) % 3 {
		case 0:
			bad[random.IntN(len(bad))] ^= 1 << random.IntN(8)
		case 1:
			bad = bad[:random.IntN(len(bad))]
		}
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
		if i/len(files)%3 != 2 {
			if err := os.WriteFile(name, bad, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		into := filepath.Join(t.TempDir(), "new")
		back, err := restore(place, into, backup.Way{Key: storetest.AuditKey()})
		if err == nil && len(back.Missing) == 0 {
			t.Errorf("damage %d to %s was not noticed", i, filepath.Base(name))
		}
		if err != nil {
			if _, e := os.Stat(into); e == nil {
				t.Errorf("a refused backup left %s", into)
			}
		}
		if err := os.RemoveAll(name); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, good, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := restore(place, filepath.Join(t.TempDir(), "new"), backup.Way{Key: storetest.AuditKey()}); err != nil {
		t.Errorf("the backup put back as it was: %v", err)
	}
}

// TestMissingOriginal makes a backup all the same, and says so.
func TestMissingOriginal(t *testing.T) {
	p, place := newPractice(t, 2), t.TempDir()
	err := filepath.WalkDir(filepath.Join(p.dir, "archive"), func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			_ = os.Remove(path)
			return fs.SkipAll
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	m, err := backup.Make(ctx, place, p.src)
	if err == nil || !strings.Contains(err.Error(), "1 originals are missing") || len(m.Missing) != 1 {
		t.Errorf("%v, %+v", err, m.Missing)
	}
}

package store_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

func version(t *testing.T, s *store.Store) int64 {
	t.Helper()
	n, err := s.DataVersion(ctx)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// must fails the test on an error.
func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func unitQuestion() wear.Question {
	return wear.Question{Code: "unit", Text: "Which unit are the values in?", Choices: []wear.Choice{
		{Value: "mmol/L", Text: "mmol/L"}, {Value: "mg/dL", Text: "mg/dL"},
	}}
}

func patientQuestion() wear.Question {
	return wear.Question{Code: "patient", Text: "Whose file is this?"}
}

// holding is the filing of the nth file as it looks before it is understood.
func holding(n int, seen time.Time, questions ...wear.Question) store.Holding {
	f := storetest.Filing(n, 0, seen, 1, wear.Routine, 0)
	return store.Holding{Drop: f.Drop, SHA256: f.SHA256, Layout: f.Layout, Questions: questions, Rows: f.Rows, Skipped: 3}
}

func TestHeldAnsweredFiled(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	arrived := clock.Now()
	id, err := s.Hold(ctx, holding(1, arrived, unitQuestion(), patientQuestion()))
	must(t, err)
	answered := func() []store.File {
		t.Helper()
		files, err := s.AnsweredFiles(ctx)
		must(t, err)
		return files
	}
	if got := answered(); len(got) != 0 {
		t.Fatalf("%d files are answered before anybody was asked", len(got))
	}

	for _, test := range []struct {
		name        string
		file        int64
		code, value string
		want        store.Code
	}{
		{"no such file", 99, "unit", "mmol/L", store.NotFound},
		{"not asked", id, "day_order", "dmy", store.Conflict},
		{"not offered", id, "unit", "mol/L", store.Invalid},
		{"not on the register", id, "patient", "nobody", store.Invalid},
	} {
		if err := s.Answer(ctx, test.file, map[string]string{test.code: test.value}); store.CodeOf(err) != test.want || err == nil {
			t.Errorf("%s: %v, want %s", test.name, err, test.want)
		}
	}
	if got := answered(); len(got) != 0 {
		t.Fatal("a refused answer counts")
	}

	clock.Advance(48 * time.Hour)
	must(t, s.Answer(ctx, id, map[string]string{"unit": "mg/dL"}))
	must(t, s.Answer(ctx, id, map[string]string{"patient": p.Code}))
	must(t, s.Answer(ctx, id, map[string]string{"unit": "mmol/L"})) // thought better of
	got := answered()
	if len(got) != 1 || got[0].ID != id || got[0].PatientID != p.ID || got[0].Path != "ward/export-00001.csv" {
		t.Fatalf("answered files: %+v", got)
	}
	if diff := cmp.Diff(map[string]string{"unit": "mmol/L", "patient": p.Code}, got[0].Answers); diff != "" {
		t.Errorf("answers (-want +got):\n%s", diff)
	}

	// It is read again: one question is left, and an answer comes while it is read.
	before := got[0].Answered
	order := wear.Question{Code: "day_order", Text: "Which comes first?", Choices: []wear.Choice{{Value: "dmy"}, {Value: "mdy"}}}
	h := holding(1, arrived, order, unitQuestion())
	h.Drop, h.Answered = store.Drop{FileID: id, SeenAt: clock.Now()}, before
	must(t, s.Answer(ctx, id, map[string]string{"unit": "mg/dL"}))
	again, err := s.Hold(ctx, h)
	must(t, err)
	if got = answered(); again != id || len(got) != 1 {
		t.Fatalf("file %d held again as %d; %d answered, want the late answer to count", id, again, len(got))
	}
	h.Answered = got[0].Answered
	_, err = s.Hold(ctx, h)
	must(t, err)
	if got = answered(); len(got) != 0 {
		t.Fatal("a file that was read with all its answers is to be read again")
	}
	must(t, s.Answer(ctx, id, map[string]string{"day_order": "dmy"}))
	got = answered()

	f := storetest.Filing(1, p.ID, clock.Now(), 2, wear.ThisWeek, 3)
	f.Drop = store.Drop{FileID: id, SeenAt: clock.Now()}
	f.Answered = before
	if _, _, err := s.File(ctx, f); !errors.Is(err, store.ErrStale) {
		t.Errorf("filed with an old answer: %v, want ErrStale", err)
	}
	f.Answered = got[0].Answered
	wearID := storetest.File(t, s, f)
	if got = answered(); len(got) != 0 {
		t.Error("a filed file is to be read again")
	}
	w, err := s.Wear(ctx, wearID)
	must(t, err)
	if !w.ReceivedAt.Equal(arrived) {
		t.Errorf("received %v, want when the file arrived, %v", w.ReceivedAt, arrived)
	}
	if file := w.Files[0]; file.State != store.Filed || len(file.Questions) != 0 || file.Answers["day_order"] != "dmy" {
		t.Errorf("file: %+v", file)
	}
	if err := s.Answer(ctx, id, map[string]string{"unit": "mmol/L"}); store.CodeOf(err) != store.Conflict || !strings.Contains(store.Words(err), "no longer waiting") {
		t.Errorf("an answer to a filed file: %v", err)
	}
	if _, err := s.Hold(ctx, h); !errors.Is(err, store.ErrKnown) {
		t.Errorf("holding a filed file: %v, want ErrKnown", err)
	}
	page, err := s.Drops(ctx, store.DropQuery{Limit: 10})
	must(t, err)
	if len(page.Rows) != 1 || page.Rows[0].Fate != store.Filed || page.Rows[0].Reason != "" || !slices.Equal(page.Rows[0].WearIDs, []int64{wearID}) {
		t.Errorf("the look did not follow its file: %+v", page.Rows)
	}
}

func TestRefuseFile(t *testing.T) {
	s, clock := storetest.Open(t)
	f := storetest.Filing(1, 0, clock.Now(), 1, wear.Routine, 0)
	f.Drop.Code, f.Drop.Reason, f.Drop.ToDo = "binary", "This is a picture.", "Drop the export file."
	id, err := s.RefuseFile(ctx, f.Drop, f.SHA256)
	must(t, err)
	file, ok, err := s.KnownFile(ctx, f.SHA256)
	if err != nil || !ok || file.ID != id || file.State != store.Refused {
		t.Errorf("known as %+v, %t, %v", file, ok, err)
	}
	page, err := s.Drops(ctx, store.DropQuery{Limit: 10, Fate: store.Refused})
	must(t, err)
	if len(page.Rows) != 1 || page.Rows[0].Reason != f.Drop.Reason || page.Rows[0].FileID != id || page.Rows[0].Patient != nil {
		t.Errorf("page: %+v", page.Rows)
	}
	if _, err := s.RefuseFile(ctx, f.Drop, "short"); store.CodeOf(err) != store.Invalid {
		t.Errorf("a bad hash: %v", err)
	}
}

func TestDropsPage(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	id := storetest.File(t, s, storetest.Filing(1, p.ID, clock.Now(), 1, wear.Routine, 0))
	file, _, err := s.KnownFile(ctx, storetest.Hash(1))
	must(t, err)
	for i := range 5 {
		clock.Advance(time.Minute)
		must(t, s.RecordDrop(ctx, store.Drop{
			Path: fmt.Sprint("copy", i), Size: 9, ModTime: clock.Now(), SeenAt: clock.Now(), Fate: store.Already, FileID: file.ID,
		}))
	}
	_, err = s.Hold(ctx, holding(2, clock.Now(), unitQuestion()))
	must(t, err)

	page, err := s.Drops(ctx, store.DropQuery{Limit: 4, Offset: 2})
	must(t, err)
	var paths []string
	for _, r := range page.Rows {
		paths = append(paths, r.Path)
	}
	if diff := cmp.Diff([]string{"copy3", "copy2", "copy1", "copy0"}, paths); diff != "" {
		t.Errorf("newest first (-want +got):\n%s", diff)
	}
	if r := page.Rows[0]; r.Patient == nil || r.Patient.Code != p.Code || !slices.Equal(r.WearIDs, []int64{id}) || r.File.SHA256 != file.SHA256 {
		t.Errorf("row: %+v", r)
	}
	if diff := cmp.Diff(map[store.Fate]int{store.Filed: 1, store.Held: 1, store.Already: 5}, page.Counts); diff != "" || page.Total != 7 || page.Matching != 7 {
		t.Errorf("total %d, matching %d, counts (-want +got):\n%s", page.Total, page.Matching, diff)
	}
	page, err = s.Drops(ctx, store.DropQuery{Limit: 4, Fate: store.Held})
	must(t, err)
	if page.Matching != 1 || page.Total != 7 || len(page.Rows) != 1 || page.Rows[0].File.Questions[0].Code != "unit" {
		t.Errorf("held: %+v", page)
	}
	for _, q := range []store.DropQuery{{}, {Limit: 201}, {Limit: 1, Offset: -1}} {
		if _, err := s.Drops(ctx, q); store.CodeOf(err) != store.Invalid {
			t.Errorf("%+v: %v, want it refused", q, err)
		}
	}
}

func TestSeenDrops(t *testing.T) {
	s, clock := storetest.Open(t)
	mod := clock.Now().Add(123 * time.Nanosecond)
	d := store.Drop{Path: "a/b.csv", Size: 10, ModTime: mod, SeenAt: clock.Now(), Fate: store.Refused, Code: "empty"}
	must(t, s.RecordDrop(ctx, d))
	has := func(path string, size int64, mod time.Time) bool {
		t.Helper()
		seen, err := s.SeenDrops(ctx, []store.Drop{{Path: path, Size: size, ModTime: mod}})
		must(t, err)
		return seen[0]
	}
	if !has("a/b.csv", 10, mod.Local()) {
		t.Error("a recorded look is not seen")
	}
	if has("a/b.csv", 11, mod) || has("a/b.csv", 10, mod.Add(1)) || has("a/c.csv", 10, mod) {
		t.Error("other bytes under the same name count as seen")
	}

	at := version(t, s)
	must(t, s.RecordDrop(ctx, d))
	if version(t, s) != at {
		t.Error("recording the same again raised the data version")
	}

	d.Path, d.Size, d.Code = "locked.csv", store.SizeUnread, "no_permission"
	must(t, s.RecordDrop(ctx, d))
	if has("locked.csv", 10, mod) {
		t.Error("a file that could not be opened counts as dealt with")
	}
	p := storetest.AddPatient(t, s, 1)
	f := storetest.Filing(1, p.ID, clock.Now(), 1, wear.Routine, 0)
	f.Drop.Path, f.Drop.Size, f.Drop.ModTime = "locked.csv", 10, mod
	storetest.File(t, s, f)
	if !has("locked.csv", 10, mod) {
		t.Error("a filed look is not seen")
	}
	page, err := s.Drops(ctx, store.DropQuery{Limit: 10})
	must(t, err)
	if page.Total != 2 || page.Counts[store.Refused] != 1 {
		t.Errorf("the look that could not open the file is still there: %v", page.Counts)
	}
}

func TestEachFile(t *testing.T) {
	s, clock := storetest.Open(t)
	clock.Tampered()
	writer, _ := s.Pools()
	_, err := writer.Exec(`WITH RECURSIVE n (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < 2001)
		INSERT INTO files (sha256, size, received_at, state, layout, questions, decisions, rows, skipped)
		SELECT format('%064d', n), n, 0, 'refused', '', '[]', '[]', 0, 0 FROM n`)
	must(t, err)
	var last int64
	must(t, s.EachFile(ctx, func(hash string, size int64) error {
		if last++; size != last || hash != fmt.Sprintf("%064d", last) {
			t.Fatalf("file %d is listed as %s of %d bytes", last, hash, size)
		}
		return nil
	}))
	if last != 2001 {
		t.Errorf("%d files listed, want 2001", last)
	}
	stop := errors.New("stop")
	if err := s.EachFile(ctx, func(string, int64) error { return stop }); !errors.Is(err, stop) {
		t.Errorf("got %v, want the caller's own error", err)
	}
}

func TestDataVersion(t *testing.T) {
	s, clock := storetest.Open(t)
	p := storetest.AddPatient(t, s, 1)
	var held int64
	for _, step := range []struct {
		name string
		do   func() error
		up   bool
	}{
		{"add a patient", func() error { return s.AddPatients(ctx, []store.Patient{storetest.Patient(2)}) }, true},
		{"hold", func() (err error) {
			held, err = s.Hold(ctx, holding(1, clock.Now(), unitQuestion()))
			return err
		}, true},
		{"answer", func() error { return s.Answer(ctx, held, map[string]string{"unit": "mg/dL"}) }, true},
		{"file", func() error {
			_, _, err := s.File(ctx, storetest.Filing(2, p.ID, clock.Now(), 1, wear.Routine, 0))
			return err
		}, true},
		{"beat", func() error { return s.Beat(ctx, store.Beat{At: clock.Now()}) }, false},
		{"run a job", func() error { return s.RecordRun(ctx, "tidy", clock.Now(), 0, "") }, false},
		{"tidy", func() error { return s.Tidy(ctx) }, false},
	} {
		before := version(t, s)
		must(t, step.do())
		if up := version(t, s) > before; up != step.up {
			t.Errorf("%s: the data version rose: %t, want %t", step.name, up, step.up)
		}
	}
}

func BenchmarkSeenDrops(b *testing.B) {
	s, clock := storetest.Open(b)
	looks := make([]store.Drop, 10_000)
	for n := range looks {
		looks[n] = store.Drop{Path: fmt.Sprint(n), ModTime: clock.Now(), Fate: store.Refused}
		if err := s.RecordDrop(ctx, looks[n]); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		if seen, err := s.SeenDrops(ctx, looks); err != nil || !seen[0] {
			b.Fatal(err)
		}
	}
}

package worker

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"wearround/store"
	"wearround/store/storetest"
)

// bench is a worker on a real store and a real folder, with a clock that the
// test moves.
type bench struct {
	*Worker
	t   *testing.T
	now time.Time
	mu  sync.Mutex
}

func newBench(t *testing.T, codes ...string) *bench {
	t.Helper()
	b := &bench{t: t, now: time.Date(2026, 3, 20, 9, 0, 0, 0, time.UTC)}
	dir := t.TempDir()
	if err := storetest.Empty(filepath.Join(dir, "w.db")); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(context.Background(), filepath.Join(dir, "w.db"), b.clock)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SetLogKey(make([]byte, store.LogKeySize)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	var people []store.Patient
	for _, c := range codes {
		people = append(people, store.Patient{Code: c})
	}
	if err := s.AddPatients(context.Background(), people); err != nil {
		t.Fatal(err)
	}
	archive, err := OpenArchive(filepath.Join(dir, "archive"))
	if err != nil {
		t.Fatal(err)
	}
	rule, err := ParseNameRule(DefaultNameRule)
	if err != nil {
		t.Fatal(err)
	}
	drop := filepath.Join(dir, "drop")
	if err := os.Mkdir(drop, 0o700); err != nil {
		t.Fatal(err)
	}
	b.Worker = New(Config{
		Drop: drop, Archive: archive, Settle: settle, Zone: time.UTC, Rule: rule,
		Now: b.clock, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Metrics: NewMetrics(prometheus.NewRegistry()),
	}, s)
	return b
}

func (b *bench) clock() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.now
}

// settleAndLook gives the worker the two looks it needs.
func (b *bench) settleAndLook() {
	b.look(context.Background())
	b.mu.Lock()
	b.now = b.now.Add(settle)
	b.mu.Unlock()
	b.look(context.Background())
}

// drops gives what became of each name, newest look first.
func (b *bench) drops() map[string]store.DropRow {
	b.t.Helper()
	page, err := b.store.Drops(context.Background(), store.DropQuery{Limit: 200})
	if err != nil {
		b.t.Fatal(err)
	}
	byPath := map[string]store.DropRow{}
	for _, d := range page.Rows {
		if _, later := byPath[d.Path]; !later {
			byPath[d.Path] = d
		}
	}
	return byPath
}

// export is a plain wear of n days at five minutes beginning on the given day
// of March 2026, with a mild wave from 5.2 to 6.8 mmol/L, shifted by tenths.
func export(firstDay, days, shift int) string {
	var b strings.Builder
	b.WriteString("time,glucose mmol/L\n")
	wave := []int{0, 1, 2, 4, 7, 9, 11, 12, 11, 9, 7, 5, 3, 1, 0, -1, -2, -3, -4, -4, -3, -3, -2, -1}
	at := time.Date(2026, 3, firstDay, 0, 0, 0, 0, time.UTC)
	for i := range days * 288 {
		tenths := 56 + shift + wave[i/3%len(wave)]
		fmt.Fprintf(&b, "%s,%d.%d\n", at.Add(time.Duration(i)*5*time.Minute).Format("2006-01-02 15:04"), tenths/10, tenths%10)
	}
	return b.String()
}

// TestClockSetBackRefusesNoFile: a clock that was set wrong by a year makes no
// reading one of the future where files came before.
func TestClockSetBackRefusesNoFile(t *testing.T) {
	b := newBench(t, "P-0417", "P-0093")
	write(t, b.Drop, "P-0417_a.csv", export(1, 8, 0))
	b.settleAndLook()
	b.want("P-0417_a.csv", store.Filed, "")
	b.mu.Lock()
	b.now = b.now.AddDate(-1, 0, 0)
	b.mu.Unlock()
	write(t, b.Drop, "P-0093_b.csv", export(2, 8, 1))
	b.settleAndLook()
	b.want("P-0093_b.csv", store.Filed, "")
}

func TestEachFileEndsInItsPlace(t *testing.T) {
	b := newBench(t, "P-0417", "P-0093")
	good := export(1, 10, 0)
	write(t, b.Drop, "P-0417_march.csv", good)
	write(t, b.Drop, "P-0093_empty.csv", "")
	write(t, b.Drop, "P-0093_binary.csv", "\x00\x01\x02\xff\x00\x00\x10"+strings.Repeat("\x00\x07\x9c", 400))
	write(t, b.Drop, "P-0093_broken.csv", "this is not\na table of anything\n")
	cut := export(1, 9, 1)
	write(t, b.Drop, "P-0093_cut.csv", cut[:len(cut)-9])
	write(t, b.Drop, "X-9999_unknown.csv", export(1, 8, 2))
	target := write(t, t.TempDir(), "elsewhere.csv", good)
	if err := os.Symlink(target, filepath.Join(b.Drop, "P-0093_link.csv")); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	b.settleAndLook()
	write(t, b.Drop, "P-0417_again.csv", good)
	b.settleAndLook()

	got := b.drops()
	for _, tt := range []struct {
		path    string
		outcome store.Fate
		code    string
		says    string
	}{
		{"P-0417_march.csv", store.Filed, "", ""},
		{"P-0417_again.csv", store.Already, "already", "Already received"},
		{"P-0093_empty.csv", store.Refused, "empty", "empty"},
		{"P-0093_binary.csv", store.Refused, "binary", ""},
		{"P-0093_broken.csv", store.Refused, "no_table", ""},
		{"P-0093_cut.csv", store.Refused, "cut_short", "stops in the middle"},
		{"P-0093_link.csv", store.Refused, "link", "link"},
		{"X-9999_unknown.csv", store.Held, "patient", "Whose"},
	} {
		d, ok := got[tt.path]
		if !ok {
			t.Errorf("%s: nothing on the Files page", tt.path)
			continue
		}
		if d.Fate != tt.outcome || d.Code != tt.code || !strings.Contains(d.Reason, tt.says) {
			t.Errorf("%s: %s (%s) %q, want %s (%s) with %q", tt.path, d.Fate, d.Code, d.Reason, tt.outcome, tt.code, tt.says)
		}
		if d.Fate != store.Filed && (d.Reason == "" || d.ToDo == "") {
			t.Errorf("%s: reason %q, what to do %q; both must be said", tt.path, d.Reason, d.ToDo)
		}
	}
	if len(got) != 8 {
		t.Errorf("%d names on the Files page, want 8", len(got))
	}
	n, err := b.store.Counts(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if n.OpenWears != 1 || n.Readings != 2880 {
		t.Errorf("%d wears with %d readings, want 1 with 2880", n.OpenWears, n.Readings)
	}
	// Every look from now on changes nothing.
	before, err := b.store.DataVersion(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	b.settleAndLook()
	if after, _ := b.store.DataVersion(context.Background()); after != before {
		t.Errorf("looking again at the same files changed the data (version %d, then %d)", before, after)
	}
	if f := testutil.ToFloat64(b.Metrics.faults); f != 0 {
		t.Errorf("%v faults were counted", f)
	}
}

func TestTakenOnceReadable(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("the superuser may read everything")
	}
	b := newBench(t, "P-0417")
	path := write(t, b.Drop, "P-0417_a.csv", export(1, 8, 0))
	if err := os.Chmod(path, 0); err != nil {
		t.Fatal(err)
	}
	b.settleAndLook()
	if d := b.drops()["P-0417_a.csv"]; d.Code != "no_permission" {
		t.Fatalf("an unreadable file is %s (%s)", d.Fate, d.Code)
	}
	if err := os.Chmod(path, 0o600); err != nil {
		t.Fatal(err)
	}
	b.settleAndLook()
	if d := b.drops()["P-0417_a.csv"]; d.Fate != store.Filed {
		t.Fatalf("once readable it is %s (%s)", d.Fate, d.Code)
	}
}

func TestAnswerFilesTheHeld(t *testing.T) {
	b := newBench(t, "P-0417")
	ctx := context.Background()
	write(t, b.Drop, "who.csv", export(1, 8, 0))
	b.settleAndLook()
	d := b.drops()["who.csv"]
	if d.Fate != store.Held {
		t.Fatalf("%s (%s), want held", d.Fate, d.Reason)
	}
	if err := b.store.Answer(ctx, d.FileID, map[string]string{"patient": "P-0417"}); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	d = b.drops()["who.csv"]
	if d.Fate != store.Filed || len(d.WearIDs) != 1 {
		t.Fatalf("after the answer: %s (%s) with wears %v", d.Fate, d.Reason, d.WearIDs)
	}
	w, err := b.store.Wear(ctx, d.WearIDs[0])
	if err != nil {
		t.Fatal(err)
	}
	if w.Patient.Code != "P-0417" || w.Report.Readings != 8*288 {
		t.Errorf("filed under %s with %d readings", w.Patient.Code, w.Report.Readings)
	}
}

func TestExportsOfOneSensorAreJoined(t *testing.T) {
	b := newBench(t, "P-0417")
	ctx := context.Background()
	whole := export(1, 14, 0)
	lines := strings.SplitAfter(whole, "\n")
	part := func(from, to int) string { return lines[0] + strings.Join(lines[1+from*288:1+to*288], "") }

	write(t, b.Drop, "P-0417_1.csv", part(0, 4))
	write(t, b.Drop, "P-0417_2.csv", part(8, 14))
	b.settleAndLook()
	if n, _ := b.store.Counts(ctx); n.OpenWears != 2 {
		t.Fatalf("%d wears, want the two ends apart", n.OpenWears)
	}
	write(t, b.Drop, "P-0417_3.csv", part(3, 9)) // bridges them
	b.settleAndLook()
	d := b.drops()["P-0417_3.csv"]
	n, err := b.store.Counts(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if d.Fate != store.Filed || n.OpenWears != 1 || n.Readings != 14*288 {
		t.Fatalf("%s (%s); %d wears with %d readings, want 1 with %d", d.Fate, d.Reason, n.OpenWears, n.Readings, 14*288)
	}

	// An export with a hole longer than the gap between wears is still of this one.
	write(t, b.Drop, "P-0417_hole.csv", part(1, 3)+strings.Join(lines[1+8*288:1+10*288], ""))
	b.settleAndLook()
	if n, _ := b.store.Counts(ctx); n.OpenWears != 1 || n.Readings != 14*288 {
		t.Fatalf("%d wears with %d readings after an export with a hole, want the one as it was", n.OpenWears, n.Readings)
	}

	// Other values at the same instants are a corrected export or another sensor
	// on the other arm, which is asked.
	write(t, b.Drop, "P-0417_4.csv", export(3, 8, 14))
	b.settleAndLook()
	if err := b.store.Answer(ctx, b.drops()["P-0417_4.csv"].FileID, map[string]string{"overlap": "two_sensors"}); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	if n, _ := b.store.Counts(ctx); n.OpenWears != 2 {
		t.Errorf("%d wears, want the second sensor to stay its own", n.OpenWears)
	}
	// A mixture is asked about, and the answer is followed.
	mixed := part(0, 7) + strings.Join(strings.SplitAfter(export(8, 3, 14), "\n")[1:], "")
	write(t, b.Drop, "P-0417_5.csv", mixed)
	b.settleAndLook()
	d = b.drops()["P-0417_5.csv"]
	if d.Fate != store.Held || d.Code != "overlap" {
		t.Fatalf("a mixture is %s (%s)", d.Fate, d.Code)
	}
	if err := b.store.Answer(ctx, d.FileID, map[string]string{"overlap": "two_sensors"}); err != nil {
		t.Fatal(err)
	}
	b.look(ctx)
	if n, _ := b.store.Counts(ctx); n.OpenWears != 3 {
		t.Errorf("%d wears after the answer, want 3", n.OpenWears)
	}
}

func TestSubfolderNamesThePatient(t *testing.T) {
	b := newBench(t, "P-0417", "P-0093")
	write(t, b.Drop, "P-0417/export one.csv", export(1, 8, 0))
	write(t, b.Drop, "P-0417/P-0093_x.csv", export(1, 8, 1)) // two clues that disagree
	b.settleAndLook()
	got := b.drops()
	if d := got["P-0417/export one.csv"]; d.Fate != store.Filed || d.Patient == nil || d.Patient.Code != "P-0417" {
		t.Errorf("the sub-folder was not followed: %s (%s)", d.Fate, d.Reason)
	}
	d := got["P-0417/P-0093_x.csv"]
	if d.Fate != store.Held || d.File == nil || len(d.File.Questions) != 1 || len(d.File.Questions[0].Choices) != 2 {
		t.Errorf("clues that disagree: %s (%s), want a question with both patients", d.Fate, d.Reason)
	}
}

func TestRunStopsWithItsContext(t *testing.T) {
	b := newBench(t)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		b.Run(ctx)
	}()
	b.Look()
	cancel()
	<-done
}

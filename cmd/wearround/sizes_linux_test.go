package main

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"wearround/store"
	"wearround/web/letter"
	"wearround/worker"
	"wearround/worker/sim"
)

// Practices of any size are made of a small one: a few dozen invented wears are
// read and judged as any other, and every row that came of them is copied, its
// ids moved on, until there are enough.

// makeSized makes one. With worked set a year was worked through and the copies
// lie over ten years; otherwise every wear is on the round.
func makeSized(t testing.TB, data string, wears int, worked bool) {
	t.Helper()
	ctx, now := context.Background(), time.Now()
	if _, err := os.Stat(filepath.Join(data, "sized")); err == nil {
		return
	}
	a := openSized(t, data)
	p := sim.NewPractice(demoSeed, now, time.UTC, 60)
	past, err := openPast(ctx, a, now)
	must(t, err)
	must(t, addDemoPeople(ctx, past.Store))
	must(t, past.AddPatients(ctx, register(p)))
	if worked {
		gone, _ := divide(p, now)
		must(t, past.play(ctx, p, gone))
	} else {
		past.now = now.Add(-time.Hour)
		for i := range p.Len() {
			w := p.Wear(i)
			name, file := sim.Render(w, w.Layout)
			must(t, os.WriteFile(filepath.Join(past.worker.Drop, name), file, 0o600))
			_, err := past.worker.Take(ctx, name)
			must(t, err)
		}
		must(t, past.Close())
	}
	must(t, a.close())
	multiply(t, filepath.Join(data, "wearround.db"), wears, worked)
	a = openSized(t, data)
	must(t, a.close())
	must(t, os.WriteFile(filepath.Join(data, "sized"), nil, 0o600))
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func openSized(t testing.TB, data string) *app {
	t.Helper()
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	must(t, err)
	a, err := open(context.Background(), config{
		data: data, drop: filepath.Join(data, "drop"), addr: "127.0.0.1:0", zone: time.UTC, rule: rule,
		settle: 50 * time.Millisecond, open: true,
		practice: letter.Practice{Name: "The invented practice", Phone: "5550 1000", Emergency: "000"},
	}, slog.New(slog.NewTextHandler(io.Discard, nil)))
	must(t, err)
	return a
}

// fixedTables are the tables of which a practice has as many rows at any size.
var fixedTables = []string{
	"users", "recovery_codes", "sessions", "tokens", "setup_token", "signin_failures", "signin_places", "factor_steps", "settings", "recipes",
	"letter_templates", "saved_filters", "kept_audits", "protocols", "data_version", "beats", "jobs", "migrations", "audit_head", "seals", "seal_root",
	"damage", "sqlite_sequence", "drafts", "posts", "sqlite_stat1",
}

// multiply copies the rows of a practice until it has so many wears.
func multiply(t testing.TB, path string, wears int, worked bool) {
	t.Helper()
	must(t, copyFile(path, path+".few"))
	db, err := sql.Open("sqlite", path+"?_pragma=journal_mode(OFF)&_pragma=synchronous(OFF)&_pragma=cache_size(-200000)")
	must(t, err)
	defer db.Close()
	db.SetMaxOpenConns(1)
	exec := func(query string, args ...any) {
		if _, err := db.Exec(query, args...); err != nil {
			t.Fatalf("%s: %v", query, err)
		}
	}
	exec("ATTACH ? AS few", path+".few")
	var again []string // what is put aside meanwhile
	for _, x := range strs(t, db, "SELECT type || ' ' || name || char(10) || sql FROM sqlite_schema WHERE type IN ('trigger', 'index') AND sql IS NOT NULL") {
		name, text, _ := strings.Cut(x, "\n")
		exec("DROP " + name)
		again = append(again, text)
	}
	have := numberOf(t, db, "SELECT count(*) FROM few.wears")
	step := int64(1)
	var inserts []string
	for _, table := range strs(t, db, "SELECT name FROM few.sqlite_schema WHERE type = 'table'") {
		if slices.Contains(fixedTables, table) {
			continue
		}
		var columns, values []string
		for _, c := range strs(t, db, "SELECT name FROM pragma_table_info('"+table+"')") {
			columns = append(columns, `"`+c+`"`)
			v, moved := copied(t, db, table, c)
			if values = append(values, v); moved {
				step = max(step, numberOf(t, db, `SELECT coalesce(max("`+c+`"), 0) FROM few."`+table+`"`)+1)
			}
		}
		inserts = append(inserts, fmt.Sprintf(`INSERT INTO main."%s" (%s) SELECT %s FROM few."%[1]s"`, table, strings.Join(columns, ", "), strings.Join(values, ", ")))
	}
	for k := int64(1); k*have < int64(wears); k++ {
		shift := int64(0)
		if worked {
			shift = -(k % 10) * 365 * 86400
		}
		exec("BEGIN")
		for _, q := range inserts {
			exec(strings.NewReplacer(":off", strconv.FormatInt(k*step, 10), ":k", strconv.FormatInt(k, 10), ":shift", strconv.FormatInt(shift, 10)).Replace(q))
		}
		exec("COMMIT")
	}
	if worked { // what is years old was dealt with
		long := time.Now().AddDate(0, 0, -300).Unix()
		exec("UPDATE recalls SET state = 'cancelled', closed_at = due_at, closed_by = 0 WHERE closed_at IS NULL AND due_at < ?", long)
		exec("UPDATE wears SET open = 0 WHERE open = 1 AND received_at < ?", long)
	}
	exec("UPDATE audit_head SET (seq, mac) = (SELECT seq, mac FROM audit ORDER BY seq DESC LIMIT 1)")
	for _, text := range again {
		exec(text)
	}
	exec("DELETE FROM seals")
	exec("DELETE FROM seal_root")
	exec("PRAGMA analysis_limit = 400")
	exec("PRAGMA optimize")
}

// copied is what a copy holds in a column, and whether that is an id.
func copied(t testing.TB, db *sql.DB, table, column string) (value string, moved bool) {
	c := `"` + column + `"`
	of := strs(t, db, "SELECT \"table\" FROM pragma_foreign_key_list('"+table+"') WHERE \"from\" = '"+column+"'")
	switch {
	case table == "audit" && column == "object_id":
		return "iif(object IN ('user', 'data', 'token', 'sheet'), object_id, object_id + :off)", true
	case column == "seq", column == "row", len(of) == 0 && (column == "id" || strings.HasSuffix(column, "_id") && column != "user_id"), len(of) > 0 && !slices.Contains(fixedTables, of[0]):
		return c + " + :off", true
	case table == "patients" && column == "code":
		return "code || '-' || :k", false
	case column == "sha256":
		return "printf('%08x', :k) || substr(sha256, 9)", false
	case column == "path":
		return ":k || '/' || path", false
	case column == "print":
		return "print + :k * 1000003", false
	case table == "wear_days" && column == "day":
		return "day + :shift / 86400", false
	case column == "at" || strings.HasSuffix(column, "_at") || column == "next_try":
		return "iif(" + c + " > 0, " + c + " + :shift, " + c + ")", false
	}
	return c, false
}

func strs(t testing.TB, db *sql.DB, query string) (list []string) {
	t.Helper()
	rows, err := db.Query(query)
	must(t, err)
	defer rows.Close()
	for rows.Next() {
		var s string
		must(t, rows.Scan(&s))
		list = append(list, s)
	}
	must(t, rows.Err())
	return list
}

func numberOf(t testing.TB, db *sql.DB, query string) (n int64) {
	t.Helper()
	if err := db.QueryRow(query).Scan(&n); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return n
}

func copyFile(from, to string) error {
	b, err := os.ReadFile(from)
	if err != nil {
		return err
	}
	return os.WriteFile(to, b, 0o600)
}

// cpu is the processor time that this process has taken.
func cpu() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// least is the least processor time that something took of some batches, each
// of so many.
func least(batches, of int, do func()) time.Duration {
	do()
	best := time.Hour
	for range batches {
		runtime.GC()
		began := cpu()
		for range of {
			do()
		}
		best = min(best, (cpu()-began)/time.Duration(of))
	}
	return best
}

// sessionOf makes a session of somebody, by the database itself.
func sessionOf(t testing.TB, data, login string) *http.Cookie {
	t.Helper()
	secret := "a session of " + login
	sum := sha256.Sum256([]byte(secret))
	db, err := sql.Open("sqlite", filepath.Join(data, "wearround.db")+"?_pragma=busy_timeout(5000)")
	must(t, err)
	defer db.Close()
	now := time.Now().Unix()
	_, err = db.Exec(`INSERT INTO sessions (hash, user_id, address, started_at, seen_at) SELECT ?, id, '', ?, ? FROM users WHERE login = ?
		ON CONFLICT DO UPDATE SET started_at = excluded.started_at, seen_at = excluded.seen_at, ended_at = NULL`, sum[:], now, now, login)
	must(t, err)
	return &http.Cookie{Name: "s", Value: secret}
}

// plainExport is an export of 14 days at five minutes that needs no answer.
func plainExport(n int, end time.Time) []byte {
	var b strings.Builder
	b.WriteString("time,glucose mmol/L\n")
	for i := range 14 * 288 {
		at := end.Add(time.Duration(i-14*288) * 5 * time.Minute)
		fmt.Fprintf(&b, "%s,%.1f\n", at.Format("2006-01-02 15:04"), 5.4+0.8*math.Sin(float64(i*(n%7+3))/60)+0.3*math.Sin(float64(i+n)/7))
	}
	return []byte(b.String())
}

// TestSizes prints what a practice of so many wears costs, pages in processor
// time a request with what it depends on unchanged:
//
//	WEARROUND_SIZES=1000,100000 go test ./cmd/wearround -run Sizes -v -timeout 1h
//
// WEARROUND_SIZES_DIR keeps the practices for the next time. With
// WEARROUND_SIZES_OPEN=1 every wear is on the round, and nothing was worked.
func TestSizes(t *testing.T) {
	if os.Getenv("WEARROUND_SIZES") == "" {
		t.Skip("set WEARROUND_SIZES=1000,100000 to measure practices of these sizes (minutes)")
	}
	for _, size := range strings.Split(os.Getenv("WEARROUND_SIZES"), ",") {
		t.Run(size, func(t *testing.T) {
			wears, err := strconv.Atoi(size)
			must(t, err)
			worked, data := os.Getenv("WEARROUND_SIZES_OPEN") == "", t.TempDir()
			if dir := os.Getenv("WEARROUND_SIZES_DIR"); dir != "" {
				data = filepath.Join(dir, fmt.Sprintf("%s-%v", size, worked))
			}
			makeSized(t, data, wears, worked)
			measureSized(t, data)
		})
	}
}

func measureSized(t *testing.T, data string) {
	ctx := context.Background()
	began, spent := time.Now(), cpu()
	s, err := store.Open(ctx, filepath.Join(data, "wearround.db"), time.Now)
	must(t, err)
	t.Logf("%-34s %8.0f ms, %6.0f ms CPU", "database opened", ms(time.Since(began)), ms(cpu()-spent))
	must(t, s.Close())
	began, spent = time.Now(), cpu()
	a := openSized(t, data)
	defer a.close()
	t.Logf("%-34s %8.0f ms, %6.0f ms CPU", "opened, log and seals verified", ms(time.Since(began)), ms(cpu()-spent))
	n, err := a.store.Counts(ctx)
	must(t, err)
	at, err := os.Stat(filepath.Join(data, "wearround.db"))
	must(t, err)
	t.Logf("%d wears, %d on the round; %.2f bytes a reading", n.Wears, n.OpenWears, float64(at.Size())/float64(n.Readings))
	began, spent = time.Now(), cpu()
	now := time.Now().UTC()
	_, err = a.store.YearAudit(ctx, now, time.UTC, store.Span{From: now.AddDate(-1, 0, 0), To: now})
	must(t, err)
	t.Logf("%-34s %8.0f ms, %6.0f ms CPU", "audit of a year, cold", ms(time.Since(began)), ms(cpu()-spent))
	began, spent = time.Now(), cpu()
	r, err := a.store.Round(ctx, store.RoundQuery{Limit: 50, Now: now})
	must(t, err)
	t.Logf("%-34s %8.0f ms, %6.0f ms CPU", "round, cold", ms(time.Since(began)), ms(cpu()-spent))
	ask := asker(t, a, sessionOf(t, data, "lead"))
	id := r.Rows[0].WearID
	for _, path := range []string{"/healthz", "/", "/live", fmt.Sprintf("/wears/%d", id), "/patients", "/files", "/audit"} {
		if only := os.Getenv("WEARROUND_SIZES_PAGE"); only == "" || only == path {
			size := ask(path)
			t.Logf("%-34s %8.2f ms CPU, %d bytes as sent", path, ms(least(7, 10, func() { ask(path) })), size)
		}
	}
	fileSome(t, a, n.Wears)
	t.Logf("%-34s %8.0f MB", "resident", resident())
}

// fileSome prints what filing one more wear costs, on the median.
func fileSome(t *testing.T, a *app, wears int) {
	ctx := context.Background()
	var spent []time.Duration
	for i := range 15 {
		code := fmt.Sprintf("N-%d-%d", wears, time.Now().UnixNano())
		must(t, a.store.AddPatients(ctx, []store.Patient{{Code: code}}))
		name := code + "_export.csv"
		must(t, os.WriteFile(filepath.Join(a.drop, name), plainExport(i+int(time.Now().UnixNano()%1000), time.Now()), 0o600))
		before := cpu()
		_, err := a.worker.Take(ctx, name)
		spent = append(spent, cpu()-before)
		must(t, err)
		d, err := a.store.Drops(ctx, store.DropQuery{Limit: 1})
		must(t, err)
		if d.Rows[0].Fate != store.Filed {
			t.Fatalf("%s: %s", d.Rows[0].Fate, d.Rows[0].Reason)
		}
	}
	slices.Sort(spent)
	t.Logf("%-34s %8.2f ms CPU", "filing one more", ms(spent[len(spent)/2]))
}

// asker asks for pages as somebody who is signed in, and gives the bytes as sent.
func asker(t *testing.T, a *app, who *http.Cookie) func(path string) int {
	return func(path string) int {
		req := httptest.NewRequest(http.MethodGet, "http://127.0.0.1"+path, nil)
		req.Header.Set("Accept-Encoding", "gzip")
		req.AddCookie(who)
		w := httptest.NewRecorder()
		a.server.ServeHTTP(w, req)
		if w.Code != http.StatusOK {
			t.Fatalf("%s: %d", path, w.Code)
		}
		return w.Body.Len()
	}
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// resident is the memory that this process holds, in MB; 0 where the system does
// not say.
func resident() float64 {
	b, _ := os.ReadFile("/proc/self/statm")
	f := strings.Fields(string(b))
	if len(f) < 2 {
		return 0
	}
	pages, _ := strconv.ParseFloat(f[1], 64)
	return pages * float64(os.Getpagesize()) / 1e6
}

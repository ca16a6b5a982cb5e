package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"html"
	"io"
	"io/fs"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker"
	"wearround/worker/backup"
	"wearround/worker/sim"
	"wearround/worker/wear"
)

var corruptions = flag.Int("corruptions", 5, "how many random corruptions TestEveryCorruptionIsNoticed makes; 200 for a whole run")

// rotting is a practice that is copied, damaged and looked at.
type rotting struct {
	good   string            // its folder; the backups lie in good.place
	pages  []string          // addresses that somebody signed in can open
	whole  map[string]string // what they show while all is well
	secret string            // of the session that asks
}

// newRotting makes a practice with wears, an outcome, notes of the log and two
// backups, at one moment of the clock.
func newRotting(t *testing.T) *rotting {
	t.Helper()
	ctx, r := t.Context(), &rotting{good: filepath.Join(t.TempDir(), "practice"), secret: "the session of somebody who looks"}
	practice := sim.NewPractice(7, faultTime(), time.UTC, 20)
	s := newPracticeAt(t, r.good, register(practice))
	if err := errors.Join(s.Close(), os.WriteFile(filepath.Join(r.good, "audit.key"), storetest.AuditKey(), 0o600)); err != nil {
		t.Fatal(err)
	}
	const wears = 6
	for i := range wears {
		w := practice.Wear(i)
		name, data := sim.Render(w, w.Layout)
		if err := errors.Join(os.WriteFile(filepath.Join(r.good, "drop", name), data, 0o600), os.Chtimes(filepath.Join(r.good, "drop", name), faultTime(), faultTime())); err != nil {
			t.Fatal(err)
		}
	}
	err := withPractice(ctx, r.good, func(s *store.Store, w *worker.Worker) error {
		names, err := os.ReadDir(filepath.Join(r.good, "drop"))
		for _, n := range names {
			_, e := w.Take(ctx, n.Name())
			err = errors.Join(err, e)
		}
		lead, err1 := (&desk{Store: s}).actor(ctx)
		_, err2 := s.StartSession(ctx, lead.UserID, storetest.Proof(t, s, lead.UserID), sha256.Sum256([]byte(r.secret)), "127.0.0.1", "test")
		return errors.Join(err, err1, err2, s.Beat(ctx, store.Beat{At: faultTime(), FolderOK: true, Seen: wears}))
	})
	for _, act := range []string{"backup", "log", "outcome", "log", "backup", "log"} {
		err = errors.Join(err, faultActs[act](ctx, r.good))
	}
	if err != nil {
		t.Fatal(err)
	}
	r.look(t, r.copy(t))
	seen := r.look(t, r.copy(t))
	if len(seen.words) > 0 || len(seen.wrong) > 0 {
		t.Fatalf("before anything is damaged: %q, %q", seen.words, seen.wrong)
	}
	r.whole = seen.shown
	if seen := r.look(t, r.copy(t)); len(seen.words) > 0 || len(seen.wrong) > 0 {
		for _, page := range seen.wrong {
			t.Logf("%s: %s", page, cmp.Diff(r.whole[page], seen.shown[page]))
		}
		t.Fatalf("a copy shows something else: %q, %q", seen.words, seen.wrong)
	}
	return r
}

func (r *rotting) copy(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "practice")
	for _, suffix := range []string{"", ".place"} {
		if err := os.CopyFS(dir+suffix, os.DirFS(r.good+suffix)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(filepath.Join(dir, "audit.key"), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// seen is what a damaged practice says and shows.
type seen struct {
	words []string          // that tell of the damage, in the order met
	shown map[string]string // page to text
	wrong []string          // pages that showed something else while nothing told of it
}

// look starts the program on a folder, reads every page, and then runs the
// commands that check.
func (r *rotting) look(t *testing.T, dir string) (out seen) {
	t.Helper()
	out.shown = map[string]string{}
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	if err != nil {
		t.Fatal(err)
	}
	quiet := slog.New(slog.NewTextHandler(io.Discard, nil))
	a, err := open(t.Context(), config{
		data: dir, drop: filepath.Join(dir, "drop"), addr: "127.0.0.1:0", zone: time.UTC, rule: rule, protocol: wear.DefaultProtocol(),
		settle: time.Second, open: true, now: faultTime,
	}, quiet)
	if err != nil {
		out.words = append(out.words, "start: "+wordsOf(err))
		return out
	}
	reasons := func() (list []string) {
		for _, x := range a.server.Reasons(t.Context()) {
			list = append(list, x.Words())
		}
		return list
	}
	out.words = append(out.words, reasons()...)
	if r.pages == nil { // the look that it is found out by is none to compare with
		r.pages = r.pagesOf(a)
	}
	for _, page := range r.pages {
		w := r.ask(a, page)
		text := fmt.Sprint(w.Code, " ", w.Header().Get("Location"), " ", lasting(w.Body.String()))
		out.shown[page] = text
		if r.whole == nil || text == r.whole[page] || w.Code >= 300 {
			continue
		}
		now, body := reasons(), html.UnescapeString(text)
		said := slices.ContainsFunc(now, func(words string) bool {
			return strings.Contains(body, words) || strings.Contains(body, "no longer fits its seal")
		})
		if !said && (len(now) == 0 || strings.HasPrefix(w.Header().Get("Content-Type"), "text/html")) && !strings.Contains(body, "second place where the log is noted cannot be read") {
			out.wrong = append(out.wrong, page)
		}
	}
	out.words = append(out.words, reasons()...)
	if err := a.close(); err != nil {
		out.words = append(out.words, "stop: "+wordsOf(err))
	}
	checks := [][]string{{"verify", "--all", "--data", dir}, {"drill", dir + ".place", "--data", dir}}
	for _, older := range olderThanNewest(t, dir+".place") {
		checks = append(checks, []string{"restore", older, "--data", dir + ".back", "--audit-key", filepath.Join(dir, "audit.key")})
	}
	for _, args := range checks {
		var said, errs bytes.Buffer
		if status := run(context.Background(), args, &said, &errs); status != exitOK {
			out.words = append(out.words, args[0]+": "+strings.TrimSpace(errs.String()+" "+firstLine(said.String())))
		}
	}
	return out
}

// olderThanNewest are the backups that a drill does not bring back.
func olderThanNewest(t *testing.T, place string) (list []string) {
	t.Helper()
	all, err := backup.List(place)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range all {
		if i > 0 {
			list = append(list, filepath.Join(place, e.ID))
		}
	}
	return list
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

// lasting is a page without what differs from one opening to the next: keys of
// forms, veiled names, the reference of a request, and what it says of the
// running program. All but the first are looked for by how they begin: exports
// of whole wears are searched too.
func lasting(page string) string {
	var b strings.Builder
	for rest := page; rest != ""; {
		n := strings.IndexFunc(rest, func(r rune) bool { return !inKey(r) })
		if n < 0 {
			n = len(rest)
		}
		if n < 20 {
			b.WriteString(rest[:n])
		}
		next := strings.IndexFunc(rest[n:], inKey)
		if next < 0 {
			next = len(rest) - n
		}
		b.WriteString(rest[n : n+next])
		rest = rest[n+next:]
	}
	text := b.String()
	for _, x := range passing {
		text = x.ReplaceAllString(text, "")
	}
	return text
}

func inKey(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-'
}

var passing = []*regexp.Regexp{
	regexp.MustCompile(`<code>[A-Z2-7]{10}</code>`), regexp.MustCompile(`/tmp/\S*`), regexp.MustCompile(`/dev/shm/\S*`),
	regexp.MustCompile(`<dt>(?:Left on its disk|Database|Room)</dt><dd>[^<]*`),
}

// pagesOf follows the links of pages, to three at most of each kind. The archive of
// a person is left out: it holds the log, and so who asked for it.
func (r *rotting) pagesOf(a *app) []string {
	list, kinds := []string{"/"}, map[string]int{}
	for i := 0; i < len(list); i++ {
		for _, m := range hrefs.FindAllStringSubmatch(r.ask(a, list[i]).Body.String(), -1) {
			to := html.UnescapeString(m[1])
			if k := digits.ReplaceAllString(to, "0"); !slices.Contains(list, to) && kinds[k] < 3 && lasting(to) == to && !strings.HasSuffix(to, "/export") {
				kinds[k]++
				list = append(list, to)
			}
		}
	}
	return list
}

var hrefs = regexp.MustCompile(`<a [^>]*href="(/[^"#]*)["#]`)

// ask opens one page.
func (r *rotting) ask(a *app, page string) *httptest.ResponseRecorder {
	q := httptest.NewRequest(http.MethodGet, "http://127.0.0.1:8470"+page, nil)
	q.RemoteAddr = "127.0.0.1:50000"
	q.AddCookie(&http.Cookie{Name: "s", Value: r.secret})
	w := httptest.NewRecorder()
	a.server.ServeHTTP(w, q)
	return w
}

// damage puts one corruption into a copy, and says what it did.
func damage(t *testing.T, random *rand.Rand, dir string, n int) (kind, what string) {
	t.Helper()
	kinds := []string{"database", "original", "key", "anchors", "backup", "database", "database", "backup", "database", "database"}
	kind = kinds[n%len(kinds)]
	var name string
	switch kind {
	case "database":
		name = filepath.Join(dir, "wearround.db")
	case "key":
		name = filepath.Join(dir, "audit.key")
	case "anchors":
		name = filepath.Join(dir, "audit.anchors")
	case "original":
		name = anyFile(t, random, filepath.Join(dir, "archive"))
	case "backup":
		name = anyFile(t, random, dir+".place")
	}
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	bad, what := spoil(random, kind, data)
	if kind == "database" && n%60 == 0 { // the whole file is one of before
		old, err := filepath.Glob(filepath.Join(dir+".place", "0000001-*", "wearround.db"))
		if err != nil || len(old) != 1 {
			t.Fatal(old, err)
		}
		if bad, err = os.ReadFile(old[0]); err != nil {
			t.Fatal(err)
		}
		what = "put back to an older state"
	}
	if err := os.Remove(name); err != nil {
		t.Fatal(err)
	}
	if bad != nil {
		if err := os.WriteFile(name, bad, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	rel, _ := filepath.Rel(filepath.Dir(dir), name)
	return kind, rel + " " + what
}

// anyFile is one of the files beneath a folder.
func anyFile(t *testing.T, random *rand.Rand, dir string) string {
	t.Helper()
	var list []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			list = append(list, path)
		}
		return err
	})
	if err != nil || len(list) == 0 {
		t.Fatal(list, err)
	}
	return list[random.IntN(len(list))]
}

// spoil gives other bytes in place of those, or nil for a file that is gone.
func spoil(random *rand.Rand, kind string, data []byte) ([]byte, string) {
	const page = 4096
	bad := bytes.Clone(data)
	at := random.IntN(len(bad))
	switch way := random.IntN(10); {
	case way < 5:
		n := 1 + random.IntN(3)
		for range n {
			at = random.IntN(len(bad))
			bad[at] ^= 1 << random.IntN(8)
		}
		return bad, fmt.Sprintf("%d bits turned, the last at %d of %d", n, at, len(bad))
	case way < 7 && len(bad) > 2*page:
		from, to := random.IntN(len(bad)/page)*page, random.IntN(len(bad)/page)*page
		copy(bad[to:to+page], data[from:from+page])
		return bad, fmt.Sprintf("page %d written over page %d", from/page, to/page)
	case way < 8:
		end := min(len(bad), at+page)
		clear(bad[at:end])
		return bad, fmt.Sprintf("%d bytes from %d blanked", end-at, at)
	case way < 9 || kind == "database": // one that is gone is another test's
		return bad[:at], fmt.Sprintf("cut at %d of %d", at, len(bad))
	case kind == "anchors":
		return append(bad[:at:at], data[min(len(data), at+7):]...), fmt.Sprintf("7 bytes taken out at %d", at)
	}
	return nil, "taken away"
}

// TestEveryCorruptionIsNoticed damages a practice at random, again and again:
// pages of its database, originals, the key and the notes of the log, its
// backups. Each time the program is started on it, every page is opened and the
// checks are run. No page shows another value while nothing tells of it, and what
// no word tells of has changed nothing that is shown.
func TestEveryCorruptionIsNoticed(t *testing.T) {
	r := newRotting(t)
	random := rand.New(rand.NewPCG(5, 6))
	noticed, idle := map[string]int{}, map[string]int{}
	for n := range *corruptions {
		dir := r.copy(t)
		kind, what := damage(t, random, dir, n)
		seen := r.look(t, dir)
		if len(seen.wrong) > 0 {
			t.Errorf("%d: %s: these pages show something else and nothing tells of it: %q", n, what, seen.wrong)
		}
		if len(seen.words) == 0 {
			idle[kind]++
			t.Logf("%3d  %s: hit nothing that is kept", n, what)
		} else {
			noticed[kind]++
			t.Logf("%3d  %s: %s", n, what, strings.ReplaceAll(seen.words[0], dir, "DIR"))
		}
		if err := errors.Join(os.RemoveAll(dir), os.RemoveAll(dir+".place"), os.RemoveAll(dir+".back")); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("noticed %v, hit nothing that is kept %v", noticed, idle)
}

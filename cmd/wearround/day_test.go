package main

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"html"
	"io"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker"
	"wearround/worker/backup"
	"wearround/worker/sim"
)

var (
	dayTakes = flag.Duration("day", 0, "how long the 24 hours of TestDay take, as 24m; 0 leaves it out")
	dayFiles = flag.Int("dayfiles", 5000, "how many files come in TestDay")
)

func init() { programs["wearround-hastened"] = hastened }

// hastened is serve on a clock that runs faster and jumps: a file says when it
// began, how many times faster it runs and by how many seconds it is set wrong.
// The file is read again as long as the program runs.
func hastened() {
	dir, file := os.Args[1], os.Args[2]
	clock := new(atomic.Pointer[func(time.Time) time.Time])
	read := func() {
		text, err := os.ReadFile(file)
		var began, times, wrong int64
		if _, e := fmt.Sscan(string(text), &began, &times, &wrong); errors.Join(err, e) != nil {
			return // it is being written
		}
		now := func(at time.Time) time.Time {
			begin := time.Unix(began, 0)
			return begin.Add(at.Sub(begin) * time.Duration(times)).Add(time.Duration(wrong) * time.Second)
		}
		clock.Store(&now)
	}
	holdMemory()
	read()
	go func() {
		for range time.Tick(50 * time.Millisecond) {
			read()
		}
	}()
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	if err == nil {
		var a *app
		a, err = open(ctx, config{
			data: dir, drop: dir + ".drop", addr: "127.0.0.1:0", zone: time.UTC, rule: rule, settle: 500 * time.Millisecond,
			open: true, backup: dir + ".place", now: func() time.Time { return (*clock.Load())(time.Now()) },
		}, newLog(os.Stderr, false, slog.LevelWarn))
		if err == nil {
			fmt.Println(a.url())
			err = a.run(ctx)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// day is 24 hours of a practice.
type day struct {
	t    *testing.T
	dir  string
	cmd  *exec.Cmd
	url  atomic.Value // string; "" while the program is down
	done chan struct{}

	mu       sync.Mutex
	statuses map[int]int
	refused  map[string]int
	bad      []string        // answers that were error pages
	kept     map[string]bool // notes that were said to be kept
	unsure   map[string]bool // notes whose answer was lost in a crash or at the end of a session
}

// start starts the program; it runs until it is killed or asked to stop.
func (d *day) start() {
	d.t.Helper()
	d.cmd = exec.Command("wearround-hastened", d.dir, d.dir+".clock")
	log, err := os.OpenFile(d.dir+".log", os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		d.t.Fatal(err)
	}
	defer log.Close()
	d.cmd.Stderr = log
	out, err := d.cmd.StdoutPipe()
	if err = errors.Join(err, d.cmd.Start()); err != nil {
		d.t.Fatal(err)
	}
	var address string
	if _, err := fmt.Fscan(out, &address); err != nil {
		d.t.Fatal("the program did not start: ", err)
	}
	d.url.Store(address)
}

// crash kills the program and starts it again.
func (d *day) crash() {
	d.t.Helper()
	d.url.Store("")
	if err := d.cmd.Process.Kill(); err != nil {
		d.t.Fatal(err)
	}
	_ = d.cmd.Wait()
	d.start()
}

// setClock sets the clock wrong by so much.
func (d *day) setClock(began time.Time, times int64, wrong time.Duration) {
	d.t.Helper()
	next := d.dir + ".clock.next"
	if err := errors.Join(os.WriteFile(next, fmt.Appendln(nil, began.Unix(), times, int64(wrong.Seconds())), 0o600), os.Rename(next, d.dir+".clock")); err != nil {
		d.t.Fatal(err)
	}
}

// person is one of the staff with a browser.
type person struct {
	*day
	login  string
	client *http.Client
	token  string // of forms
}

var tokens = regexp.MustCompile(`name="csrf" value="([^"]+)"`)

// ask opens a page or sends a form, and gives where it led to and what it says.
// Nothing is given while the program is down, or where it goes down meanwhile.
func (p *person) ask(path string, form url.Values) (at, body string, ok bool) {
	base := p.url.Load().(string)
	if base == "" {
		return "", "", false
	}
	method, in := http.MethodGet, io.Reader(nil)
	if form != nil {
		form.Set("csrf", p.token)
		method, in = http.MethodPost, strings.NewReader(form.Encode())
	}
	q, err := http.NewRequest(method, strings.TrimSuffix(base, "/")+path, in)
	if err != nil {
		p.t.Error(err)
		return "", "", false
	}
	if form != nil {
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		q.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	resp, err := p.client.Do(q)
	if err != nil {
		return "", "", false
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		return "", "", false
	}
	p.mu.Lock()
	p.statuses[resp.StatusCode]++
	if resp.StatusCode >= 400 {
		p.refused[fmt.Sprintf("%s %s: %d, %s", method, digits.ReplaceAllString(path, "0"), resp.StatusCode, mainOf(text))]++
	}
	if resp.StatusCode >= 500 || resp.StatusCode == http.StatusNotFound {
		p.bad = append(p.bad, fmt.Sprintf("%s %s: %d", method, path, resp.StatusCode))
	}
	p.mu.Unlock()
	if m := tokens.FindSubmatch(text); m != nil {
		p.token = html.UnescapeString(string(m[1]))
	}
	return resp.Request.URL.Path, string(text), resp.StatusCode < 400
}

var problem = regexp.MustCompile(`class="(?:errors|problem|error)"[^>]*>(?s:(.{0,200}))`)

// mainOf is what a page says went wrong.
func mainOf(text []byte) string {
	if m := problem.FindSubmatch(text); m != nil {
		return digits.ReplaceAllString(string(m[1]), "0")
	}
	return ""
}

// work is what a person does until the day ends: look at the round, claim the
// next wear, write a note on it and give it back.
func (p *person) work() {
	random := rand.New(rand.NewPCG(9, uint64(len(p.login))))
	for n := 0; ; n++ {
		select {
		case <-p.done:
			return
		case <-time.After(time.Duration(300+random.IntN(1200)) * time.Millisecond): // how fast somebody works
		}
		at, _, ok := p.ask("/", nil)
		if at == "/sign-in" {
			p.token = ""
			p.ask("/sign-in", url.Values{"login": {p.login}, "password": {demoPassword}})
			continue
		}
		if !ok {
			continue
		}
		at, _, ok = p.ask("/claims/next", url.Values{})
		if !ok || !strings.HasPrefix(at, "/wears/") {
			continue
		}
		text := fmt.Sprintf("note %d of %s", n, p.login)
		after, body, ok := p.ask(at+"/note", url.Values{"note": {text}})
		p.mu.Lock()
		switch {
		case ok && after == at && strings.Contains(body, text):
			p.kept[text] = true
		case after == "" || after == "/sign-in": // kept perhaps, and the page that would say so was lost
			p.unsure[text] = true
		}
		p.mu.Unlock()
		p.ask(at+"/release", url.Values{})
	}
}

// resident is the memory of the program in MB.
func (d *day) resident() int {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", d.cmd.Process.Pid))
	m := regexp.MustCompile(`VmRSS:\s+(\d+) kB`).FindSubmatch(status)
	if err != nil || m == nil {
		return 0
	}
	kb, _ := strconv.Atoi(string(m[1]))
	return kb / 1000
}

// TestDay is 24 hours of a practice, hastened: thousands of files come, twenty
// people work through the real server, a backup is made every hour or two; the
// program is killed twice, the clock is set wrong by an hour and by a year, ahead
// and back, and the share of the watched folder goes away and comes back. No file
// is lost or there twice, nobody meets an error page, no note that was said to be
// kept is missing, and log and data hold together.
func TestDay(t *testing.T) {
	if *dayTakes == 0 {
		t.Skip("give -day 24m to play 24 hours of a practice in that time")
	}
	d := &day{t: t, dir: filepath.Join(t.TempDir(), "practice"), done: make(chan struct{}), statuses: map[int]int{}, refused: map[string]int{}, kept: map[string]bool{}, unsure: map[string]bool{}}
	practice := sim.NewPractice(7, time.Now(), time.UTC, max(20, *dayFiles))
	if practice.Len() < *dayFiles {
		t.Fatalf("the practice has %d wears, want %d", practice.Len(), *dayFiles)
	}
	s := newPracticeAt(t, d.dir, register(practice))
	people := []string{"nurse", "clinician", "lead"}
	lead, err := (&desk{Store: s}).actor(t.Context())
	hash, err1 := demoHash()
	if err := errors.Join(err, err1); err != nil {
		t.Fatal(err)
	}
	for n := len(people); n < 20; n++ {
		u := store.NewUser{Login: fmt.Sprintf("staff%d", n), Name: fmt.Sprintf("Staff %d", n), Roles: []store.Role{store.RoleNurse}, Password: hash}
		if _, err := s.AddUser(t.Context(), lead, u); err != nil {
			t.Fatal(err)
		}
		people = append(people, u.Login)
	}
	if err := errors.Join(s.Close(), os.WriteFile(filepath.Join(d.dir, "audit.key"), bytes.Repeat([]byte{7}, store.LogKeySize), 0o600), os.Mkdir(d.dir+".drop", 0o700)); err != nil {
		t.Fatal(err)
	}
	began, times := time.Now(), int64(24*time.Hour / *dayTakes)
	d.setClock(began, times, 0)
	d.start()
	t.Cleanup(func() { _ = d.cmd.Process.Kill() })

	var all sync.WaitGroup
	for _, login := range people {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		p := &person{day: d, login: login, client: &http.Client{Jar: jar, Timeout: time.Minute}}
		all.Go(p.work)
	}
	all.Go(func() { // files come at random, to where the share is then
		for i := range *dayFiles {
			w := practice.Wear(i)
			name, data := sim.Render(w, w.Layout)
			for dropOnce(d.dir+".drop", d.dir+".drop", name, data) != nil {
				time.Sleep(100 * time.Millisecond) // the share is away: whoever copies tries again
			}
		}
	})
	hour := *dayTakes / 24
	var memory []int
	for h := range 24 {
		time.Sleep(time.Until(began.Add(time.Duration(h+1) * hour))) // an hour of the day passes
		memory = append(memory, d.resident())
		switch h {
		case 2:
			d.setClock(began, times, time.Hour)
		case 4:
			d.setClock(began, times, -time.Hour)
		case 6:
			d.setClock(began, times, 0)
		case 7, 18:
			d.crash()
		case 9:
			d.setClock(began, times, 365*24*time.Hour)
		case 11:
			d.setClock(began, times, -365*24*time.Hour)
		case 13:
			d.setClock(began, times, 0)
		case 15:
			err = os.Rename(d.dir+".drop", d.dir+".away")
		case 16:
			err = os.Rename(d.dir+".away", d.dir+".drop")
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	close(d.done)
	all.Wait()
	d.settle(*dayFiles)
	if err := d.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := d.cmd.Wait(); err != nil {
		t.Error("the program did not stop cleanly:", err)
	}
	t.Logf("memory in MB, hour by hour: %v; answers by status: %v; notes kept %d, without an answer %d; refused: %v", memory, d.statuses, len(d.kept), len(d.unsure), d.refused)
	if slices.Max(memory) > 500 {
		t.Errorf("the program took %d MB", slices.Max(memory))
	}
	if len(d.bad) > 0 {
		t.Errorf("%d error pages: %q", len(d.bad), d.bad[:min(10, len(d.bad))])
	}
	d.check(*dayFiles)
}

// one reads one value from the database of a folder.
func one(t *testing.T, dir string, into any, query string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "wearround.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.QueryRow(query).Scan(into); err != nil {
		t.Fatal(err)
	}
}

// settle waits until so many files have been dealt with.
func (d *day) settle(files int) {
	d.t.Helper()
	done := regexp.MustCompile(fmt.Sprintf(`(?m)^wearround_drops %d$`, files))
	for deadline := time.Now().Add(20 * time.Minute); ; time.Sleep(time.Second) { // only how often the question is asked
		resp, err := http.Get(d.url.Load().(string) + "metrics")
		if err != nil {
			d.t.Fatal(err)
		}
		body, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			d.t.Fatal(err)
		}
		if done.Match(body) {
			return
		}
		if time.Now().After(deadline) {
			d.t.Fatalf("not all files were dealt with:\n%s", grep(string(body), "wearround_drops"))
		}
	}
}

// check holds what is left together.
func (d *day) check(files int) {
	d.t.Helper()
	var said, errs bytes.Buffer
	if status := run(context.Background(), []string{"verify", "--all", "--data", d.dir}, &said, &errs); status != exitOK {
		d.t.Errorf("verify: %s %s", said.String(), errs.String())
	}
	d.t.Logf("%s", said.String())
	for query, want := range map[string]int{
		"SELECT count(*) FROM drops": files, "SELECT count(DISTINCT path) FROM drops": files, "SELECT count(*) FROM files": files, "SELECT count(DISTINCT sha256) FROM files": files,
		"SELECT count(*) FROM drops WHERE outcome NOT IN ('filed', 'held')": 0,
	} {
		var n int
		if one(d.t, d.dir, &n, query); n != want {
			d.t.Errorf("%s: %d, want %d", query, n, want)
		}
	}
	db, err := sql.Open("sqlite", filepath.Join(d.dir, "wearround.db"))
	if err != nil {
		d.t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("SELECT text FROM notes")
	if err != nil {
		d.t.Fatal(err)
	}
	defer rows.Close()
	found := map[string]int{}
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			d.t.Fatal(err)
		}
		found[text]++
	}
	for text, n := range found {
		if n != 1 || !d.kept[text] && !d.unsure[text] {
			d.t.Errorf("%q is there %d times", text, n)
		}
	}
	for text := range maps.Keys(d.kept) {
		if found[text] == 0 {
			d.t.Errorf("%q was said to be kept and is not there", text)
		}
	}
	list, err := backup.List(d.dir + ".place")
	if want := int(min(24, dayTakes.Minutes())) / 2; err != nil || len(list) < want { // due ones are looked for each minute by the true clock
		d.t.Errorf("%d backups, want %d, %v", len(list), want, err)
	}
}

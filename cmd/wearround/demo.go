package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"

	"wearround/server"
	"wearround/store"
	"wearround/web/letter"
	"wearround/worker"
	"wearround/worker/sim"
)

// demoSeed makes every demo practice the same but for its dates.
const demoSeed = 20_26

// demo serves an invented practice: its files are dropped into a watched
// folder and read by the same worker as real ones, while the pages are open.
func demo(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	fs := newFlags("demo", "wearround demo [flags]    an invented practice with a year of wears, served at once\n")
	addr := fs.String("addr", "127.0.0.1:8470", "`host:port` to serve on")
	patients := fs.Int("patients", 800, "how many invented patients, 20 to 5000")
	data := fs.String("data", "", "`folder` to keep the practice in, new or made by an earlier demo (default: a temporary one, removed at the end)")
	if _, err := fs.parse(args, stdout, 0, 0); err != nil {
		return err
	}
	if *patients < 20 || *patients > 5000 {
		return &usageError{"demo takes --patients from 20 to 5000"}
	}
	if err := server.CheckAddress(*addr, false); err != nil {
		return asUsage(err)
	}
	return runDemo(ctx, *addr, *data, *patients, stdout, stderr)
}

func runDemo(ctx context.Context, addr, data string, patients int, stdout, stderr io.Writer) (err error) {
	if data == "" {
		if data, err = os.MkdirTemp("", "wearround-demo-"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(data)) }()
	}
	made, err := claimDemo(data, invented{time.Now().Truncate(time.Second), patients})
	if err != nil {
		return err
	}
	rule, err := worker.ParseNameRule(worker.DefaultNameRule)
	if err != nil {
		return err
	}
	zone, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		return err
	}
	a, err := open(ctx, config{
		data: data, drop: filepath.Join(data, "drop"), addr: addr, zone: zone, rule: rule,
		settle: 400 * time.Millisecond, open: true,
		practice: letter.Practice{Name: "The invented practice", Address: "1 Nowhere Street\nInventon", Phone: "5550 1000", Emergency: "000"},
	}, newLog(stderr, false, slog.LevelWarn))
	if err != nil {
		return err
	}

	now, patients := made.at, made.patients
	practice := sim.NewPractice(demoSeed, now, zone, patients)
	gone, live := divide(practice, now)
	if fresh, err := a.store.NoUsers(ctx); err != nil || !fresh { // a practice that is kept has its past already
		gone, live = nil, append(live, gone...)
	}
	before, err := openPast(ctx, a, now)
	if err != nil {
		return errors.Join(err, a.close())
	}
	if err := errors.Join(addDemoPeople(ctx, before.Store), before.register(ctx, practice), addContacts(ctx, before.Store, practice)); err != nil {
		return errors.Join(err, before.Close(), a.close())
	}
	oddities := sim.Oddities(demoSeed, now, zone)
	var later []int
	if n := len(live) - nowAndThen; n > len(live)/2 {
		live, later = live[:n], live[n:]
	}
	total := practice.Len() + len(oddities) - len(later)
	fmt.Fprintf(stdout, "An invented practice of %d patients: %d files arrive in\n  %s\nThe round fills as they are read.\n\n", patients, total, a.drop)
	printSignIn(stdout, a.url())
	fmt.Fprint(stdout, "Stop with Ctrl-C.\n\n")

	// What drops the files and what shows the progress end with the server.
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var side sync.WaitGroup
	side.Go(func() {
		if err := before.play(ctx, practice, gone); err != nil && ctx.Err() == nil {
			fmt.Fprintln(stderr, "wearround: the demo's past could not be played:", err)
		}
	})
	side.Go(func() {
		err := dropAll(ctx, a.drop, before.folder(), practice, live, oddities)
		if err == nil {
			err = dropLater(ctx, a.drop, before.folder(), practice, later)
		}
		if err != nil && ctx.Err() == nil {
			fmt.Fprintln(stderr, "wearround: the demo's files could not be written:", err)
		}
	})
	side.Go(func() { progress(ctx, a.store, total, stdout, stderr) })
	err = a.run(ctx)
	cancel()
	side.Wait()
	return err
}

func register(p *sim.Practice) []store.Patient {
	var out []store.Patient
	for _, who := range p.People {
		out = append(out, store.Patient{Code: who.Code, Name: who.Name, BirthDate: who.BirthDate, Context: who.Context})
	}
	return out
}

// addContacts says how the invented patients are reached.
func addContacts(ctx context.Context, s *store.Store, p *sim.Practice) error {
	lead, err := (&desk{Store: s}).actor(ctx)
	if err != nil {
		return err
	}
	lead.Request = "demo"
	var lines []store.RegisterLine
	for _, who := range p.People {
		k := who.Contact
		lines = append(lines, store.RegisterLine{Code: who.Code, Contact: store.PatientContact{
			Telephone: k.Telephone, Mail: k.Mail, Address: k.Address, Preferred: store.Means(k.Prefers), Note: k.Note,
		}})
	}
	_, err = s.ImportRegister(ctx, lead, lines)
	return err
}

// dropAll makes the given wears and copies their files into the watched folder:
// those that are not there yet, nor in the folder of the past, so that a practice
// that is kept receives each once.
func dropAll(ctx context.Context, dir, past string, p *sim.Practice, wears []int, odd []sim.OddFile) error {
	var (
		wg     sync.WaitGroup
		next   = make(chan int)
		errs   = make(chan error, runtime.GOMAXPROCS(0)+len(odd))
		write  = func(name string, data []byte) error { return dropOnce(dir, past, name, data) }
		makers = max(1, runtime.GOMAXPROCS(0)-1)
	)
	for range makers {
		wg.Go(func() {
			for i := range next {
				made := p.Wear(i)
				if err := write(sim.Render(made, made.Layout)); err != nil {
					errs <- err
					return
				}
			}
		})
	}
feed:
	for _, i := range wears {
		select {
		case next <- i:
		case err := <-errs:
			errs <- err
			break feed
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wg.Wait()
	for _, o := range odd {
		if err := write(o.Name, o.Data); err != nil {
			return err
		}
	}
	close(errs)
	return <-errs
}

// nowAndThen is how many files of the demo come one by one while somebody looks,
// and between how long the next waits.
const (
	nowAndThen = 8
	between    = 2 * time.Minute
)

// dropLater copies the files of the given wears into the watched folder one
// after the other, as wearers send them.
func dropLater(ctx context.Context, dir, past string, p *sim.Practice, wears []int) error {
	tick := time.NewTicker(between)
	defer tick.Stop()
	for _, i := range wears {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
		made := p.Wear(i)
		name, data := sim.Render(made, made.Layout)
		if err := dropOnce(dir, past, name, data); err != nil {
			return err
		}
	}
	return nil
}

// dropOnce writes a file into dir unless it is there or in past. It appears whole:
// a demo that is stopped half way leaves no half of it to be taken for all.
func dropOnce(dir, past, name string, data []byte) error {
	for _, folder := range []string{dir, past} {
		if _, err := os.Lstat(filepath.Join(folder, name)); err == nil {
			return nil
		}
	}
	hidden := filepath.Join(dir, ".writing-"+name)
	if err := os.WriteFile(hidden, data, 0o600); err != nil {
		return err
	}
	return os.Rename(hidden, filepath.Join(dir, name))
}

// progress shows how many of the files have been dealt with, until all have.
func progress(ctx context.Context, s *store.Store, total int, stdout, stderr io.Writer) {
	bar := progressbar.NewOptions(total,
		progressbar.OptionSetWriter(stderr), progressbar.OptionSetDescription("reading"),
		progressbar.OptionShowCount(), progressbar.OptionSetWidth(40), progressbar.OptionClearOnFinish(),
		progressbar.OptionThrottle(100*time.Millisecond))
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		n, err := s.Counts(ctx)
		if err != nil {
			continue // stopping
		}
		_ = bar.Set(min(n.Drops, total)) // a bar that cannot be drawn is no reason to stop
		if n.Drops >= total {
			_ = bar.Finish()
			fmt.Fprintf(stdout, "All %d files dealt with: %d wears on the round, %d files wait for an answer.\n", n.Drops, n.OpenWears, n.HeldFiles)
			return
		}
	}
}

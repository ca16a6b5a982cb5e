package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
	"wearround/web/letter"
	"wearround/worker"
	"wearround/worker/sim"
	"wearround/worker/wear"
)

// fresh is how old the end of a wear may be whose file arrives while the pages
// are open; all others arrived in the past.
const fresh = 60 * time.Hour

// past is the demo's year before today: files that came on days gone by, read
// by the same worker as any other, and what the invented people did with them.
// It has its own handle on the database, on its own clock, and goes from moment
// to moment in the order of time, so that the log reads as it would have.
type past struct {
	*store.Store
	config
	*rand.Rand
	worker    *worker.Worker
	now       time.Time // where its clock stands
	until     time.Time
	steps     []step // still to come, the next first
	nurse     store.Actor
	clinician store.Actor
	names     map[int64]string
}

// step is something that happens at a moment.
type step struct {
	at time.Time
	do func(context.Context) error
}

// openPast makes a past that begins a year before until.
func openPast(ctx context.Context, a *app, until time.Time) (*past, error) {
	p := &past{config: a.config, until: until, now: until.AddDate(-1, -1, 0), Rand: rand.New(rand.NewPCG(demoSeed, 1)), names: map[int64]string{}}
	clock := func() time.Time { return p.now }
	var err error
	if p.Store, err = store.Open(ctx, filepath.Join(a.data, "wearround.db"), clock); err != nil {
		return nil, err
	}
	archive, err := worker.OpenArchive(filepath.Join(a.data, "archive"))
	if err == nil {
		_, err = useLogKey(ctx, p.Store, a.key)
	}
	err = errors.Join(err, p.JudgeBy(store.Judging{Protocol: a.protocol, Zone: a.zone}))
	if err := errors.Join(err, os.MkdirAll(p.folder(), 0o700)); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	p.worker = worker.New(worker.Config{
		Drop: p.folder(), Archive: archive, Settle: a.settle, Zone: a.zone, Rule: a.rule,
		Now: clock, Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Metrics: worker.NewMetrics(prometheus.NewRegistry()),
	}, p.Store)
	return p, nil
}

// folder is where the files of the past come.
func (p *past) folder() string { return filepath.Join(p.data, "past") }

// divide says which of a practice's wears arrived in the past and which arrive
// while somebody looks.
func divide(p *sim.Practice, now time.Time) (gone, live []int) {
	for i := range p.Len() {
		if now.Sub(endOf(p.Spec(i))) < fresh {
			live = append(live, i)
		} else {
			gone = append(gone, i)
		}
	}
	return gone, live
}

func endOf(s sim.Spec) time.Time { return s.Start.Add(time.Duration(s.Days * 24 * float64(time.Hour))) }

// play has the given wears arrive, and everything that followed, until ctx
// ends. It closes the past.
func (p *past) play(ctx context.Context, practice *sim.Practice, wears []int) (err error) {
	defer func() { err = errors.Join(err, p.Close()) }()
	if err := p.people(ctx); err != nil {
		return err
	}
	slices.SortStableFunc(wears, func(a, b int) int { return endOf(practice.Spec(a)).Compare(endOf(practice.Spec(b))) })
	made := make(chan chan *sim.Wear, 8) // inventing a wear takes as long as reading it
	go func() {
		defer close(made)
		for _, i := range wears {
			one := make(chan *sim.Wear, 1)
			select {
			case made <- one:
				go func() { one <- practice.Wear(i) }()
			case <-ctx.Done():
				return
			}
		}
	}()
	if len(wears) > 0 { // a practice that is kept has its past already
		p.handOuts(practice)
		p.posts()
	}
	for _, i := range wears {
		p.later(p.worktime(endOf(practice.Spec(i)), 0.5), func(ctx context.Context) error {
			w, ok := <-made
			if !ok {
				return ctx.Err()
			}
			return p.arrive(ctx, <-w)
		})
	}
	for len(p.steps) > 0 && p.steps[0].at.Before(p.until) && ctx.Err() == nil {
		next := p.steps[0]
		p.steps = p.steps[1:]
		p.now = next.at
		switch err := next.do(ctx); store.CodeOf(err) {
		case store.Conflict, store.Forbidden, store.Invalid:
			// Somebody meant to do what was no longer to be done.
		default:
			if err != nil && ctx.Err() == nil {
				return err
			}
		}
	}
	return nil
}

// register puts the practice's people on the register at the beginning of its
// past: nobody has asked them anything yet.
func (p *past) register(ctx context.Context, practice *sim.Practice) error {
	people := register(practice)
	for i := range people {
		people[i].Context.AskedOn = ""
	}
	return p.AddPatients(ctx, people)
}

// handOuts has every sensor handed out on the day its wear began, and a few
// more that are worn now or whose files should have come.
func (p *past) handOuts(practice *sim.Practice) {
	last := map[string]time.Time{}
	for i := range practice.Len() {
		s := practice.Spec(i)
		last[s.Person.Code] = s.Start
		p.later(s.Start, func(ctx context.Context) error {
			asked := p.happens(0.97)
			_, err := p.handOut(ctx, s.Person.Code, s.Layout.Sensor, asked)
			return err
		})
	}
	out := 0
	for _, who := range practice.People {
		if p.until.Sub(last[who.Code]) < 120*24*time.Hour || out == 24 {
			continue
		}
		out++
		ago := p.between(0.2, 14)
		if out%5 == 0 {
			ago = p.between(19, 30) // its file is late
		}
		given := p.worktime(p.until, -ago)
		p.later(given, func(ctx context.Context) error {
			id, err := p.handOut(ctx, who.Code, "A", true)
			if err == nil && ago > 20 {
				p.later(p.worktime(p.now, 18), func(ctx context.Context) error {
					_, err := p.ContactRecall(ctx, p.nurse, id, store.NewContact{Means: store.ByTelephone, Note: "Left a message."})
					return err
				})
			}
			return err
		})
	}
}

// handOut gives a sensor to a patient and asks what changes the rules.
func (p *past) handOut(ctx context.Context, code, kind string, asked bool) (int64, error) {
	who, err := p.PatientByCode(ctx, code)
	if err != nil {
		return 0, err
	}
	rec, err := p.PatientRecord(ctx, who.ID)
	if err != nil {
		return 0, err
	}
	if asked {
		rec.Context.AskedOn = p.now.In(p.zone).Format(time.DateOnly)
	}
	id, _, err := p.HandOut(ctx, p.nurse, store.NewOut{
		Patient: rec, GivenAt: p.now, DueAt: p.now.AddDate(0, 0, 17), SensorKind: kind, Serial: fmt.Sprintf("%04d-%s", p.IntN(10000), code[2:]),
	})
	if err == nil {
		p.later(p.worktime(p.now, 17+p.between(14, 24)), func(ctx context.Context) error {
			return p.CancelRecall(ctx, p.nurse, id, "The sensor was lost; no file will come.", 0) // refused where it has come
		})
	}
	return id, err
}

// posts has the letters of each working day printed and posted at its end.
func (p *past) posts() {
	for day := p.now; day.Before(p.until.AddDate(0, 0, -1)); day = day.AddDate(0, 0, 1) {
		at := day.In(p.zone)
		at = time.Date(at.Year(), at.Month(), at.Day(), 16, 45, 0, 0, p.zone)
		if at.Weekday() == time.Saturday || at.Weekday() == time.Sunday {
			continue
		}
		p.later(at, func(ctx context.Context) error {
			if _, n, err := p.PrintLetters(ctx, p.nurse); err != nil || n == 0 {
				return err
			}
			_, err := p.PostLetters(ctx, p.nurse)
			return err
		})
	}
}

func (p *past) people(ctx context.Context) error {
	users, err := p.Users(ctx)
	for _, u := range users {
		a := store.Actor{UserID: u.ID, Request: "demo"}
		p.names[u.ID] = u.Name
		switch {
		case u.Has(store.RoleNurse):
			p.nurse = a
		case u.Has(store.RoleClinician) && !u.Has(store.RoleLead):
			p.clinician = a
		}
	}
	return err
}

// later has something happen at a moment, after all that happens no later.
func (p *past) later(at time.Time, do func(context.Context) error) {
	i, _ := slices.BinarySearchFunc(p.steps, at, func(s step, at time.Time) int {
		if s.at.After(at) {
			return 1
		}
		return -1
	})
	p.steps = slices.Insert(p.steps, i, step{at, do})
}

// worktime is the first moment in surgery hours some days after a moment.
func (p *past) worktime(from time.Time, days float64) time.Time {
	t := from.Add(time.Duration(days * 24 * float64(time.Hour))).In(p.zone)
	for t.Weekday() == time.Saturday || t.Weekday() == time.Sunday || t.Hour() >= 17 {
		t = time.Date(t.Year(), t.Month(), t.Day()+1, 8, 30+p.IntN(90), p.IntN(60), 0, p.zone)
	}
	if t.Hour() < 8 {
		t = time.Date(t.Year(), t.Month(), t.Day(), 8, 30+p.IntN(90), p.IntN(60), 0, p.zone)
	}
	return t
}

func (p *past) minutes(from, to int) time.Time {
	return p.now.Add(time.Duration(from*60+p.IntN((to-from)*60)) * time.Second)
}

func (p *past) between(from, to float64) float64 { return from + p.Float64()*(to-from) }

func (p *past) happens(chance float64) bool { return p.Float64() < chance }

// arrive has the file of a wear come and be read. What it leaves open somebody
// answers some days later, who knows the unit of the wearer's sensor.
func (p *past) arrive(ctx context.Context, made *sim.Wear) error {
	name, data := sim.Render(made, made.Layout)
	if err := os.WriteFile(filepath.Join(p.worker.Drop, name), data, 0o600); err != nil {
		return err
	}
	if _, err := p.worker.Take(ctx, name); err != nil {
		return err
	}
	f, _, err := p.KnownFile(ctx, worker.Hash(data))
	if err != nil || f.State != store.Held {
		return errors.Join(err, p.plan(ctx, f, made.Sensor))
	}
	p.later(p.worktime(p.now, p.between(0.1, 3)), func(ctx context.Context) error {
		if err := p.Answer(store.As(ctx, p.nurse), f.ID, map[string]string{"unit": made.Unit.String()}); err != nil {
			return err
		}
		p.worker.Reread(ctx)
		f, err := p.FileByID(ctx, f.ID)
		return errors.Join(err, p.plan(ctx, f, made.Sensor))
	})
	return nil
}

// plan has somebody plan what to do with the wears of a file. Whoever sees the
// first of a layout says which sensor kind writes so.
func (p *past) plan(ctx context.Context, f store.File, sensor string) error {
	wears, _, err := p.Brought(ctx, f.ID)
	if err != nil {
		return err
	}
	for _, id := range wears {
		w, err := p.Wear(ctx, id)
		if err != nil {
			return err
		}
		if w.SensorKind == "" && f.RecipeID != 0 {
			if err := p.SetSensorKind(store.As(ctx, p.nurse), f.RecipeID, sensor); err != nil {
				return err
			}
		}
		if w.Report.Unread > 0 && p.happens(0.9) { // else whoever takes it reads them first
			p.later(p.worktime(p.now, p.between(0.02, 0.8)), func(ctx context.Context) error { return p.read(ctx, p.nurse, id) })
		}
		tier := w.Report.Priority.Tier
		if tier.Rank() > wear.ThisWeek.Rank() && p.happens(0.006) {
			continue // overlooked
		}
		p.again(id, 2+1.2*float64(w.Report.Priority.DueDays))
		p.later(p.worktime(p.now, p.patience(w.Report.Priority)), func(ctx context.Context) error { return p.take(ctx, id, 0) })
	}
	return nil
}

// again has a wear looked at some days later, and each week from then on, until
// it is off the round, whatever kept somebody from it.
func (p *past) again(id int64, days float64) {
	p.later(p.worktime(p.now, days), func(ctx context.Context) error {
		if v, err := p.Review(ctx, id); err != nil || !v.Open {
			return err
		}
		p.again(id, 7)
		return p.take(ctx, id, p.attempts())
	})
}

// facts are what a letter about a wear says.
func (p *past) facts(a store.Actor, w *store.Wear) letter.Facts {
	return letter.Facts{
		Practice: p.practice, Patient: letter.Patient{Name: w.Patient.Name, BirthDate: w.Patient.BirthDate}, Sender: p.names[a.UserID],
		Today: p.now.In(p.zone), Tests: letter.TestCodes()[:1], By: p.now.In(p.zone).AddDate(0, 0, 14), To: "Those whom it concerns",
		Serial: "0417-" + w.Patient.Code, Fault: "it read low from the start", Report: w.Report, Zone: p.zone,
	}
}

package worker

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strconv"
	"time"

	"github.com/robfig/cron/v3"
)

// scheduled is a job that runs by the calendar.
type scheduled struct {
	name string
	spec string // five cron fields, in UTC: a time that daylight saving skips would not run that day
	do   func(context.Context) error
}

// jobs are the worker's scheduled jobs.
func (w *Worker) jobs() []scheduled {
	jobs := []scheduled{
		{name: "archive_check", spec: "15 17 * * *", do: w.checkArchive},
		{name: "verify_data", spec: "35 17 * * *", do: w.verifyData},
		{name: "tidy_database", spec: "45 17 * * *", do: w.store.Tidy},
	}
	if w.Anchors != nil {
		jobs = append(jobs,
			scheduled{name: "note_log", spec: "5 * * * *", do: w.noteLog},
			scheduled{name: "verify_log", spec: "30 17 * * *", do: w.verifyLog})
	}
	if w.Config.Backup != "" {
		jobs = append(jobs,
			scheduled{name: JobBackup, spec: "20 * * * *", do: func(ctx context.Context) error { _, err := w.backupNow(ctx); return err }},
			scheduled{name: JobDrill, spec: "50 17 2 1,4,7,10 *", do: w.drillDue})
	}
	return jobs
}

// schedule runs the jobs until ctx ends. The library's own clock only asks
// every minute which jobs are due; whether one is due is worked out from its
// stored last run, so a run missed while the program was down is caught up
// once, and a clock that jumps does no harm.
func (w *Worker) schedule(ctx context.Context, jobs []scheduled) {
	log := cronLog{w.Log}
	c := cron.New(cron.WithLocation(time.UTC), cron.WithChain(
		// Recover stands inside: a panic would otherwise leave the job "still running" for ever.
		cron.SkipIfStillRunning(log), cron.Recover(log)))
	for _, j := range jobs {
		if _, err := c.AddFunc("@every 1m", func() { w.runDue(ctx, j) }); err != nil {
			w.Log.Error("job cannot be scheduled", "job", j.name, "err", err)
		}
	}
	for _, j := range jobs {
		w.runDue(ctx, j) // what was missed while the program was down
	}
	c.Start()
	<-ctx.Done()
	<-c.Stop().Done()
}

// runDue runs the job if it is due and records the run.
func (w *Worker) runDue(ctx context.Context, j scheduled) {
	last, ran, err := w.store.LastRun(ctx, j.name)
	if err != nil {
		if ctx.Err() == nil {
			w.Log.Error("last run of a job unknown", "job", j.name, "err", err)
		}
		return
	}
	now := w.Now()
	is, err := due(j.spec, last, ran, now)
	if err != nil || !is || ctx.Err() != nil {
		if err != nil {
			w.Log.Error("job has no valid time", "job", j.name, "err", err)
		}
		return
	}
	begin := time.Now()
	fault := j.do(ctx)
	if ctx.Err() != nil {
		return // stopped half-way: due again at the next start
	}
	said := ""
	if fault != nil {
		said = fault.Error()
		w.Metrics.jobFailures.WithLabelValues(j.name).Inc()
		w.Log.Error("job failed", "job", j.name, "err", fault)
	} else {
		w.Log.Debug("job ran", "job", j.name, "ms", time.Since(begin).Milliseconds())
	}
	if err := w.store.RecordRun(ctx, j.name, now, time.Since(begin), said); err != nil && ctx.Err() == nil {
		w.Log.Error("run of a job not recorded", "job", j.name, "err", err)
	}
}

// due reports whether a job's time of running has come.
func due(spec string, last time.Time, ran bool, now time.Time) (bool, error) {
	next, err := nextRun(spec, last, ran, now)
	return err == nil && !next.After(now), err
}

// nextRun is the first time of a cron spec after a job's last run; it may lie in
// the past. One that never ran is due now. A last run in the future (the clock
// was set back) does not silence the job: it counts as a day ago.
func nextRun(spec string, last time.Time, ran bool, now time.Time) (time.Time, error) {
	s, err := cron.ParseStandard(spec)
	if err != nil {
		return time.Time{}, fmt.Errorf("cron spec %q: %w", spec, err)
	}
	if !ran {
		return now, nil
	}
	if last.After(now) {
		last = now.Add(-24 * time.Hour)
	}
	return s.Next(last.UTC()), nil
}

// NextRuns says when each scheduled job is to run next, by name. A time that is
// past is of a run that begins within a minute.
func (w *Worker) NextRuns(ctx context.Context) (map[string]time.Time, error) {
	out := map[string]time.Time{}
	for _, j := range w.jobs() {
		last, ran, err := w.store.LastRun(ctx, j.name)
		if err != nil {
			return nil, err
		}
		if out[j.name], err = nextRun(j.spec, last, ran, w.Now()); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// archiveRound is in how many days every original is read once.
const archiveRound = 28

// checkArchive makes sure that the original of every received file is in the
// archive with its size, and reads a part of them whole: each day another, so
// that all are read within four weeks.
func (w *Worker) checkArchive(ctx context.Context) error {
	today := w.Now().Unix() / (24 * 60 * 60) % archiveRound
	bad := 0
	err := w.store.EachFile(ctx, func(hash string, size int64) error {
		ok, err := w.Archive.Has(hash, size)
		if part, e := strconv.ParseInt(hash[:4], 16, 32); ok && e == nil && part%archiveRound == today {
			_, damage := w.Archive.Get(hash)
			ok = damage == nil
		}
		if err == nil && !ok {
			bad++
			w.Log.Error("original missing from the archive, or damaged there", "file", hash[:12])
		}
		return errors.Join(err, ctx.Err())
	})
	if err == nil && bad > 0 {
		err = fmt.Errorf("%d originals are missing from the archive or damaged there: bring them back from a backup", bad)
	}
	return err
}

// verifyData reads the whole database and holds all of it against its seals.
func (w *Worker) verifyData(ctx context.Context) error {
	if err := w.store.Whole(ctx); err != nil {
		return err
	}
	c, err := w.store.VerifyData(ctx, true)
	if err == nil && !c.OK() {
		err = fmt.Errorf("the data do not fit their seals: %s", c.String())
	}
	return err
}

// cronLog passes the library's messages on to slog.
type cronLog struct{ log *slog.Logger }

func (l cronLog) Info(msg string, kv ...any) { l.log.Debug("cron: "+msg, kv...) }
func (l cronLog) Error(err error, msg string, kv ...any) {
	l.log.Error("cron: "+msg, append(kv, "err", err)...)
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"github.com/gofrs/flock"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"wearround/server"
	"wearround/server/door"
	"wearround/server/password"
	"wearround/store"
	"wearround/web"
	"wearround/worker"
	"wearround/worker/wear"
)

// app is the running program: one store, one worker, one server.
type app struct {
	config
	lock     *flock.Flock
	store    *store.Store
	worker   *worker.Worker
	server   *server.Server
	listener net.Listener
}

// open makes everything ready and takes the address, so that "in use" is an
// error at the start. Nothing runs until run.
func open(ctx context.Context, c config, log *slog.Logger) (_ *app, err error) {
	c.defaults()
	a := &app{config: c}
	defer func() {
		if err != nil {
			err = errors.Join(err, a.close())
		}
	}()
	if err := os.MkdirAll(c.data, 0o700); err != nil {
		return nil, fmt.Errorf("data folder: %w", err)
	}
	if err := os.MkdirAll(c.drop, 0o700); err != nil {
		return nil, fmt.Errorf("watched folder: %w", err)
	}
	// The system drops the lock with the process, however it ends.
	a.lock = flock.New(filepath.Join(c.data, "wearround.lock"))
	if ok, err := a.lock.TryLock(); err != nil {
		return nil, fmt.Errorf("data folder: %w", err)
	} else if !ok {
		return nil, fmt.Errorf("another wearround is using the data folder %s; stop it first", c.data)
	}
	if err := a.checkFolder(); err != nil {
		return nil, err
	}
	if err := c.checkRights(); err != nil {
		return nil, err
	}
	clock := func() time.Time { return c.now().In(c.zone) } // the practice's own: days are counted on it
	if a.store, err = store.Open(ctx, filepath.Join(c.data, "wearround.db"), clock); err != nil {
		return nil, err
	}
	key, err := useLogKey(ctx, a.store, c.key)
	if err != nil {
		return nil, err
	}
	anchors := worker.NewAnchors(c.anchors)
	if err := a.verifyLog(ctx, anchors, log); err != nil {
		return nil, err
	}
	if err := a.store.JudgeBy(store.Judging{Protocol: c.protocol, Zone: c.zone}); err != nil {
		return nil, err
	}
	archive, err := worker.OpenArchive(filepath.Join(c.data, "archive"))
	if err != nil {
		return nil, err
	}

	registry := prometheus.NewRegistry()
	registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	a.worker = worker.New(worker.Config{
		Drop: c.drop, Archive: archive, Anchors: anchors, Settle: c.settle, Zone: c.zone, Rule: c.rule,
		Backup: c.backup, Data: c.data, Key: key, Recipient: c.recipient, Program: version(),
		Now: c.now, Log: log.With("part", "worker"), Metrics: worker.NewMetrics(registry),
	}, a.store)
	a.server = server.New(server.Config{
		Store: a.store, Worker: a.worker, Zone: c.zone, Drop: c.drop, Settle: c.settle,
		NameRule: c.rule.String(), TryNameRule: worker.TryNameRule,
		Passwords: password.New(password.Strong), FactorRequired: !c.open, Anchors: anchors.All, NextRuns: a.worker.NextRuns,
		Installation: func(ctx context.Context) []web.Check { return c.installation(ctx, a.store) },
		Practice:     c.practice.Name, Telephone: c.practice.Phone, Emergency: c.practice.Emergency,
		TLS: c.tls(), Proxy: c.proxy != "", ProxyFrom: c.proxyFrom, Backups: c.backup, Host: c.hosts(),
		Now: c.now, Log: log.With("part", "server"), Registry: registry,
	})
	a.listener, err = server.Listen(c.addr, c.reachable())
	return a, err
}

// url is where the program can be seen.
func (a *app) url() string {
	switch {
	case a.proxy != "":
		return "https://" + a.proxy + "/"
	case a.certificate != nil:
		return "https://" + openable(a.listener.Addr(), a.certificate.name()) + "/"
	}
	return "http://" + openable(a.listener.Addr(), "localhost") + "/"
}

// openable is an address that can be opened: one that stands for all of this
// machine's is told by a name.
func openable(addr net.Addr, name string) string {
	host, port, err := net.SplitHostPort(addr.String())
	if ip := net.ParseIP(host); err == nil && ip != nil && ip.IsUnspecified() {
		return net.JoinHostPort(name, port)
	}
	return addr.String()
}

// verifyLog checks at the start that the log holds together. One that
// does not is served none the less, and says so on its first page: the work
// goes on while somebody looks into it.
func (a *app) verifyLog(ctx context.Context, anchors *worker.Anchors, log *slog.Logger) error {
	noted, err := anchors.All()
	if err != nil { // work goes on; System says it, and verify refuses
		log.Error("the second place where the log is noted is damaged", "err", err)
	}
	if err := a.checkEmptied(ctx, noted); err != nil {
		return err
	}
	k, err := a.store.VerifyLog(ctx, noted...)
	if err != nil {
		return err
	}
	if !k.OK() {
		log.Error("the audit log does not hold together", "line", k.Broken, "why", k.Why)
	}
	if err := a.store.Whole(ctx); err != nil {
		log.Error("the database is damaged", "err", err)
	}
	c, err := a.store.VerifyData(ctx, false)
	if err == nil && !c.OK() {
		log.Error("data do not fit their seals", "what", c.String())
	}
	return err
}

// offerSetup prints the one-time link of the first start, where nobody can sign
// in yet.
func (a *app) offerSetup(ctx context.Context, stdout io.Writer) error {
	none, err := a.store.NoUsers(ctx)
	if err != nil || !none {
		return err
	}
	address, token := door.SetupLink(a.url())
	until, err := a.store.SetSetupToken(ctx, token)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "Nobody can sign in yet. Whoever opens this link before %s becomes the practice's first lead:\n  %s\n",
		until.In(a.zone).Format("15:04"), address)
	return nil
}

// run serves and works until ctx ends or the server fails, then stops in
// order: no more requests, then the worker, then the store. Every step runs
// even if one before it failed.
func (a *app) run(ctx context.Context) error {
	working, stopWorker := context.WithCancel(context.WithoutCancel(ctx))
	defer stopWorker()
	done := make(chan struct{})
	go func() {
		defer close(done)
		a.worker.Run(working)
	}()
	err := a.server.Serve(ctx, a.listener)
	stopWorker()
	<-done
	return errors.Join(err, a.close())
}

func (a *app) close() error {
	var err error
	if a.listener != nil {
		if e := a.listener.Close(); !errors.Is(e, net.ErrClosed) {
			err = errors.Join(err, e)
		}
	}
	if a.store != nil {
		err = errors.Join(err, a.store.Close())
		a.store = nil
	}
	if a.lock != nil {
		err = errors.Join(err, a.lock.Unlock())
	}
	return err
}

// newLog writes to w what the operator needs to know: ids, never names,
// readings or file names.
func newLog(w io.Writer, asJSON bool, level slog.Level) *slog.Logger {
	o := &slog.HandlerOptions{Level: level}
	if asJSON {
		return slog.New(slog.NewJSONHandler(w, o))
	}
	return slog.New(slog.NewTextHandler(w, o))
}

// memoryAim is what the program holds its memory to while it can, in bytes: two
// passwords being hashed take 128 MB, and what is left of those before would be
// several times that; what is outside this count adds some 80 MB. The environment's
// GOMEMLIMIT has precedence.
const memoryAim = 240 << 20

func holdMemory() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryAim)
	}
}

// serve is the real thing.
func serve(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	c, err := parseServe(args, stdout)
	if err != nil {
		return err
	}
	holdMemory()
	log := newLog(stderr, c.logJSON, c.logLevel)
	a, err := open(ctx, c, log)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "wearround serves on %s\nIt watches %s and keeps everything in %s.\n", a.url(), c.drop, c.data)
	if err := a.offerSetup(ctx, stdout); err != nil {
		return errors.Join(err, a.close())
	}
	schema, sqlite := a.store.Version()
	log.Info("started", "version", version(), "schema", schema, "sqlite", sqlite, "engine", wear.EngineVersion, "protocol", a.store.Judging().Protocol.Version)
	err = a.run(ctx)
	log.Info("stopped")
	return err
}

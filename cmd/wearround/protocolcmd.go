package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"wearround/server/password"
	"wearround/store"
	"wearround/worker/wear"
)

const protocolUsage = `  wearround protocol list                        every version: drafts, signed, and from when each holds
  wearround protocol show [VERSION]              one version as a file; without it the one in force
  wearround protocol compare VERSION             its numbers that differ from the one in force
  wearround protocol draft FILE                  keep a draft; the file says what differs
  wearround protocol try FILE|VERSION            what it would change, over all wears; keeps nothing
  wearround protocol sign VERSION --as CLINICIAN --from DAY   asks for password and code
Each with --data DIR; --json prints JSON. What was signed holds from its day on, also in a serve that runs, unless
that was started with --protocol; every wear is then judged anew.
`

// protocolCommand looks after the practice's limits.
func protocolCommand(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	return deskCommand(ctx, args, stdout, protocolUsage, func(ctx context.Context, action string, args []string, stdout io.Writer) error {
		return runProtocol(ctx, action, args, stdout, stderr)
	})
}

// limits is one run of the command.
type limits struct {
	*desk
	zone           *time.Location
	from           string
	json           bool
	stdout, stderr io.Writer
}

func runProtocol(ctx context.Context, action string, args []string, stdout, stderr io.Writer) (err error) {
	fs, d := deskFlags("protocol "+action, protocolUsage)
	d.actFlag(fs)
	l := limits{desk: d, stdout: stdout, stderr: stderr}
	zone := fs.String("zone", "Local", "time zone of the practice, as given to serve")
	fs.StringVar(&l.from, "from", "", "`day` from which it holds, as 2026-12-01")
	fs.BoolVar(&l.json, "json", false, "print JSON")
	runs := map[string]struct {
		least, most int
		run         func(context.Context, []string) error
	}{"list": {0, 0, l.list}, "show": {0, 1, l.show}, "compare": {1, 1, l.compare}, "draft": {1, 1, l.draft}, "try": {1, 1, l.try}, "sign": {1, 1, l.sign}}
	r, ok := runs[action]
	if !ok {
		return &usageError{"that is not how protocol is written\n\n" + protocolUsage}
	}
	rest, err := fs.parse(args, stdout, r.least, r.most)
	if err != nil {
		return err
	}
	if l.zone, err = loadZone(*zone); err != nil {
		return asUsage(err)
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	if err := d.JudgeBy(store.Judging{Zone: l.zone}); err != nil {
		return err
	}
	return r.run(ctx, rest)
}

func (l *limits) list(ctx context.Context, _ []string) error {
	list, err := l.KeptProtocols(ctx)
	if err != nil {
		return err
	}
	force, err := l.SignedProtocol(ctx, time.Now())
	if err != nil {
		return err
	}
	tab := tabwriter.NewWriter(l.stdout, 2, 0, 2, ' ', 0)
	day := func(t time.Time) string { return t.In(l.zone).Format(time.DateOnly) }
	for _, k := range list {
		state := "draft"
		if k.Signed() {
			state = k.Protocol.Status + ", holds from " + day(k.From)
		}
		if force != nil && force.ID == k.ID {
			state += ", in force"
		}
		fmt.Fprintf(tab, "%s\t%s\tdrafted by %s on %s\n", k.Protocol.Version, state, k.By.Name, day(k.At))
	}
	if force == nil {
		fmt.Fprintf(tab, "%s\t%s, in force unless serve is given another\t\n", wear.DefaultProtocol().Version, wear.DefaultProtocol().Status)
	}
	return tab.Flush()
}

// version finds a kept version; "" is the one in force.
func (l *limits) version(ctx context.Context, version string) (store.KeptProtocol, error) {
	if version == "" {
		k, err := l.SignedProtocol(ctx, time.Now())
		if err != nil || k == nil {
			return store.KeptProtocol{Protocol: wear.DefaultProtocol()}, err
		}
		return *k, nil
	}
	list, err := l.KeptProtocols(ctx)
	if err != nil {
		return store.KeptProtocol{}, err
	}
	i := slices.IndexFunc(list, func(k store.KeptProtocol) bool { return k.Protocol.Version == version })
	if i < 0 {
		return store.KeptProtocol{}, fmt.Errorf("there is no version %q; see wearround protocol list", version)
	}
	return list[i], nil
}

func (l *limits) show(ctx context.Context, args []string) error {
	k, err := l.version(ctx, strings.Join(args, ""))
	if err != nil {
		return err
	}
	return printJSON(l.stdout, k.Protocol)
}

func (l *limits) compare(ctx context.Context, args []string) error {
	k, err := l.version(ctx, args[0])
	if err != nil {
		return err
	}
	force, err := l.version(ctx, "")
	if err != nil {
		return err
	}
	list := k.Protocol.Differences(force.Protocol)
	for _, s := range list {
		fmt.Fprintf(l.stdout, "%s: %s in force, %s here %s (%s; %s)\n", s.Name, s.Was, s.Value, s.Unit, s.Status, s.Source)
	}
	if len(list) == 0 {
		fmt.Fprintln(l.stdout, "Every number is as in the one in force.")
	}
	return nil
}

func (l *limits) draft(ctx context.Context, args []string) error {
	p, err := loadProtocol(args[0])
	if err != nil {
		return err
	}
	who, err := l.actor(ctx)
	if err != nil {
		return err
	}
	if _, err := l.DraftProtocol(ctx, who, p); err != nil {
		return errors.New(wordsOf(err))
	}
	_, err = fmt.Fprintf(l.stdout, "Kept as draft %s. See what it would change: wearround protocol try %s\n", p.Version, p.Version)
	return err
}

// try says what a draft would change over all wears; how far it is goes to
// stderr.
func (l *limits) try(ctx context.Context, args []string) error {
	var p *wear.Protocol
	var err error
	if _, e := os.Stat(args[0]); e == nil {
		p, err = loadProtocol(args[0])
	} else {
		var k store.KeptProtocol
		k, err = l.version(ctx, args[0])
		p = k.Protocol
	}
	if err != nil {
		return err
	}
	counts, err := l.Counts(ctx)
	if err != nil {
		return err
	}
	var trial store.Trial
	err = l.TryAll(ctx, p, &trial, func(done int) { fmt.Fprintf(l.stderr, "\r%d of %d wears tried", done, counts.Wears) })
	fmt.Fprintln(l.stderr)
	if err != nil {
		return err
	}
	w, err := l.SumUp(ctx, p, &trial, l.zone)
	if err != nil {
		return err
	}
	if l.json {
		return printJSON(l.stdout, w)
	}
	return printWhatIf(l.stdout, w)
}

func printWhatIf(out io.Writer, w store.WhatIf) error {
	fmt.Fprintf(out, "Protocol %s over %d wears: %d would stand in another tier.\n", w.Protocol, w.Wears, len(w.Moved))
	if w.Failed > 0 {
		fmt.Fprintf(out, "%d could not be judged by it and would stay as they are.\n", w.Failed)
	}
	tab := tabwriter.NewWriter(out, 2, 0, 2, ' ', 0)
	fmt.Fprintln(tab, "\nTier\tnow\tby the draft")
	for _, t := range w.Tiers {
		fmt.Fprintf(tab, "%s\t%d\t%d\n", t.Tier.Words(), t.Was, t.Now)
	}
	fmt.Fprintln(tab, "\nWork a month, by role\tnow\tby the draft")
	for _, r := range w.Work {
		fmt.Fprintf(tab, "%s\t%.1f\t%.1f\n", r.Role, r.Was, r.Now)
	}
	fmt.Fprintln(tab, "\nWears with a known result\tnow\tby the draft")
	for _, row := range []struct {
		words string
		of    func(store.WhatIfSeen) int
	}{
		{"followed up", func(s store.WhatIfSeen) int { return s.FollowedUp }}, {"of those, confirmed", func(s store.WhatIfSeen) int { return s.Confirmed }},
		{"routine", func(s store.WhatIfSeen) int { return s.Routine }}, {"of those, confirmed: missed", func(s store.WhatIfSeen) int { return s.Missed }},
	} {
		fmt.Fprintf(tab, "%s\t%d\t%d\n", row.words, row.of(w.Yield[0]), row.of(w.Yield[1]))
	}
	if err := tab.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(out)
	for _, m := range w.Moved {
		fmt.Fprintf(out, "/wears/%d  %s to %s\n", m.WearID, m.Was.Words(), m.Now.Words())
	}
	for _, id := range w.Missed {
		fmt.Fprintf(out, "/wears/%d  confirmed in the diabetes range, and would be missed\n", id)
	}
	return nil
}

// sign asks for the clinician's password and a code, as signing in does.
func (l *limits) sign(ctx context.Context, args []string) error {
	from, err := time.ParseInLocation(time.DateOnly, l.from, l.zone)
	if err != nil || l.as == "" {
		return &usageError{"say who signs with --as LOGIN, and from when it holds with --from 2026-12-01"}
	}
	k, err := l.version(ctx, args[0])
	if err != nil {
		return err
	}
	who, err := l.Credentials(ctx, strings.ToLower(l.as))
	if err != nil {
		return errors.New(wordsOf(err))
	}
	if who.TOTPSecret == "" {
		return errors.New("whoever signs needs a second factor: sign in once in the browser and set it up")
	}
	in := bufio.NewScanner(os.Stdin)
	ask := func(what string) string {
		fmt.Fprint(l.stderr, what+": ")
		in.Scan()
		return strings.TrimRight(in.Text(), "\r")
	}
	wait, err := l.TrySignIn(ctx, who.Login, "command line")
	if err != nil {
		return err
	}
	if !wait.IsZero() {
		return fmt.Errorf("too many tries went wrong; try again at %s", wait.In(l.zone).Format("15:04:05"))
	}
	ok, _, err := password.New(password.Strong).Check(ctx, ask("Password of "+who.Name), who.Password)
	if err != nil {
		return err
	}
	step, right := password.CodeAt(who.TOTPSecret, ask("Code"), time.Now())
	if !ok || !right || l.UseTOTPStep(ctx, who.ID, step) != nil {
		return errors.Join(errors.New("password or code is not right: nothing was signed"), l.SignInFailed(ctx, who.ID, "command line"))
	}
	if err := l.SignProtocol(ctx, store.Actor{UserID: who.ID, Request: "command line"}, k.ID, k.At, from); err != nil {
		return errors.New(wordsOf(err))
	}
	_, err = fmt.Fprintf(l.stdout, "Protocol %s is signed and holds from %s.\n", k.Protocol.Version, l.from)
	return err
}

package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

const auditUsage = `  wearround audit show [--from DAY --to DAY] [--as-of DAY]   what was found and what came of it, in counts
  wearround audit keep --from DAY --to DAY --as-of DAY [--change WORDS]   close it: what it says stays
  wearround audit list                                       the audits that were kept
  wearround audit kept ID                                    one of them, byte for byte
  wearround audit differences ID                             where it differs from a count of today
Each with --data DIR; --json prints the same figures as JSON, --pass-on (show) the list with small counts hidden.
Days are written as 2026-03-31; --as-of counts what was known at the end of that day.
`

// auditCommand answers for a year from the command line.
func auditCommand(ctx context.Context, args []string, stdout, _ io.Writer) error {
	if len(args) > 0 && strings.HasPrefix(args[0], "--") && args[0] != "--help" {
		args = append([]string{"show"}, args...)
	}
	if len(args) == 0 {
		args = []string{"show"}
	}
	return deskCommand(ctx, args, stdout, auditUsage, runAudit)
}

// auditing is one run of the command.
type auditing struct {
	*desk
	from, to, asOf, change string
	zone                   *time.Location
	json, passOn           bool
	stdout                 io.Writer
}

func runAudit(ctx context.Context, action string, args []string, stdout io.Writer) (err error) {
	fs, d := deskFlags("audit "+action, auditUsage)
	d.actFlag(fs)
	a := auditing{desk: d, stdout: stdout}
	zone := fs.String("zone", "Local", "time zone of the practice, as given to serve")
	fs.StringVar(&a.from, "from", "", "first `day`")
	fs.StringVar(&a.to, "to", "", "last `day`")
	fs.StringVar(&a.asOf, "as-of", "", "`day` at whose end it is counted; without it now")
	fs.StringVar(&a.change, "change", "", "what the practice will do otherwise, in its own `words`")
	fs.BoolVar(&a.json, "json", false, "print JSON")
	fs.BoolVar(&a.passOn, "pass-on", false, "print the list to pass on, with small counts hidden")
	run := map[string]func(context.Context, []string) error{
		"show": a.show, "keep": a.keep, "list": a.list, "kept": a.kept, "differences": a.differences,
	}[action]
	if run == nil {
		return &usageError{"that is not how audit is written\n\n" + auditUsage}
	}
	n := 0
	if action == "kept" || action == "differences" {
		n = 1
	}
	rest, err := fs.parse(args, stdout, n, n)
	if err != nil {
		return err
	}
	if a.zone, err = loadZone(*zone); err != nil {
		return asUsage(err)
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	if err := d.JudgeBy(store.Judging{Zone: a.zone}); err != nil {
		return err
	}
	return run(ctx, rest)
}

// period reads the days that were asked for.
func (a *auditing) period() (web.AuditFilter, store.Span, error) {
	f, wrong := web.ParseAuditFilter(a.from, a.to, time.Now().In(a.zone))
	if wrong != "" {
		return f, store.Span{}, &usageError{wrong}
	}
	from, to := f.Days(a.zone)
	return f, store.Span{From: from, To: to}, nil
}

// counted gives audits as they were asked for: now, or as of the end of a day.
func (a *auditing) counted(ctx context.Context, spans ...store.Span) ([]wear.Audit, error) {
	if a.asOf == "" {
		return a.YearAudit(ctx, time.Now(), a.zone, spans...)
	}
	at, err := a.endOf(a.asOf)
	if err != nil {
		return nil, err
	}
	return a.AuditAsOf(ctx, at, a.zone, spans...)
}

// endOf is the last second of a day that is over.
func (a *auditing) endOf(day string) (time.Time, error) {
	t, err := time.ParseInLocation(time.DateOnly, day, a.zone)
	if err != nil {
		return t, &usageError{"--as-of: write the day as 2026-03-31"}
	}
	at := t.AddDate(0, 0, 1).Add(-time.Second)
	if !at.Before(time.Now()) {
		return t, &usageError{"--as-of: the day is not over yet; choose yesterday or an earlier one"}
	}
	return at, nil
}

func (a *auditing) show(ctx context.Context, _ []string) error {
	f, span, err := a.period()
	if err != nil {
		return err
	}
	from, to := f.Before().Days(a.zone)
	list, err := a.counted(ctx, span, store.Span{From: from, To: to})
	if err != nil {
		return err
	}
	p := web.AuditPage{Layout: web.Layout{Now: time.Now(), Zone: a.zone}, Filter: f, Found: list[0], Before: list[1]}
	switch {
	case a.passOn:
		_, err = a.stdout.Write(p.List())
	case a.json:
		err = printJSON(a.stdout, list[0])
	default:
		err = printAudit(a.stdout, p)
	}
	return err
}

func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// printAudit prints the page's sentences and tables.
func printAudit(w io.Writer, p web.AuditPage) error {
	fmt.Fprintf(w, "Audit %s, as of %s\n\n%s\n", p.Period(), p.When(p.Found.At), p.Headline())
	for _, s := range []string{p.Worth(), p.TestsFound()} {
		if s != "" {
			fmt.Fprintln(w, s)
		}
	}
	fmt.Fprintln(w, "\nWhat nobody knows")
	for _, s := range p.Unknown() {
		fmt.Fprintln(w, " - "+s)
	}
	for _, t := range p.Tables() {
		fmt.Fprintf(w, "\n%s\n", t.Title)
		tab := tabwriter.NewWriter(w, 2, 0, 2, ' ', 0)
		fmt.Fprintln(tab, "  "+strings.Join(t.Heads, "\t"))
		for _, line := range t.Rows {
			cells := []string{line.Head}
			for _, c := range line.Cells {
				cells = append(cells, c.Text())
			}
			fmt.Fprintln(tab, "  "+strings.Join(cells, "\t"))
		}
		if err := tab.Flush(); err != nil {
			return err
		}
	}
	return nil
}

func (a *auditing) keep(ctx context.Context, _ []string) error {
	if a.from == "" || a.to == "" || a.asOf == "" {
		return &usageError{"give --from, --to and --as-of: what is kept stays for good"}
	}
	_, span, err := a.period()
	if err != nil {
		return err
	}
	at, err := a.endOf(a.asOf)
	if err != nil {
		return err
	}
	who, err := a.actor(ctx)
	if err != nil {
		return err
	}
	id, err := a.KeepAudit(ctx, who, span, at, a.zone, a.change)
	if err != nil {
		return errors.New(wordsOf(err))
	}
	_, err = fmt.Fprintf(a.stdout, "Kept as audit %d.\n", id)
	return err
}

func (a *auditing) list(ctx context.Context, _ []string) error {
	list, err := a.KeptAudits(ctx)
	if err != nil {
		return err
	}
	tab := tabwriter.NewWriter(a.stdout, 2, 0, 2, ' ', 0)
	day := func(t time.Time) string { return t.In(a.zone).Format(time.DateOnly) }
	for _, k := range list {
		fmt.Fprintf(tab, "%d\t%s to %s\tas of %s\tprotocol %s, engine %s\tkept by %s on %s\t%s\n", k.ID, day(k.From), day(k.To.Add(-time.Second)), day(k.AsOf), k.Protocol, k.Engine, k.By.Name, day(k.At), k.Change)
	}
	return tab.Flush()
}

// one finds a kept audit by the number that was typed.
func (a *auditing) one(ctx context.Context, number string) (store.KeptAudit, error) {
	id, err := strconv.ParseInt(number, 10, 64)
	if err != nil {
		return store.KeptAudit{}, &usageError{"give the number that wearround audit list prints"}
	}
	k, err := a.KeptAudit(ctx, id)
	if store.CodeOf(err) == store.NotFound {
		err = fmt.Errorf("no audit was kept under %d; see wearround audit list", id)
	}
	return k, err
}

func (a *auditing) kept(ctx context.Context, args []string) error {
	k, err := a.one(ctx, args[0])
	if err != nil {
		return err
	}
	_, err = a.stdout.Write(append(slices.Clone(k.Body), '\n'))
	return err
}

func (a *auditing) differences(ctx context.Context, args []string) error {
	k, err := a.one(ctx, args[0])
	if err != nil {
		return err
	}
	now, err := a.YearAudit(ctx, time.Now(), a.zone, store.Span{From: k.From, To: k.To})
	if err != nil {
		return err
	}
	list, err := k.Differences(now[0])
	if err != nil {
		return err
	}
	if a.json {
		return printJSON(a.stdout, list)
	}
	if len(list) == 0 {
		_, err := fmt.Fprintln(a.stdout, "Nothing differs.")
		return err
	}
	for _, d := range list {
		fmt.Fprintf(a.stdout, "%s: kept %s, now %s\n", d.What, cmp.Or(d.Kept, "none"), cmp.Or(d.Now, "none"))
	}
	return nil
}

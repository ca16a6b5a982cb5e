package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"wearround/store"
	"wearround/worker"
	"wearround/worker/intake"
	"wearround/worker/wear"
)

// analysed is one line of analyse --json: one wear of a file, or the file
// itself while it is held. The keys are a published interface.
type analysed struct {
	File        string          `json:"file"`
	SHA256      string          `json:"sha256"`
	State       string          `json:"state"` // "read" or "held"
	Questions   []wear.Question `json:"questions"`
	Refusal     *wear.Refusal   `json:"refusal,omitempty"`
	PatientHint string          `json:"patient_hint"`
	Patient     known           `json:"patient,omitzero"`
	Rows        int             `json:"rows"`
	Skipped     int             `json:"skipped"`
	*wear.Report
	MayBeToldWell *bool         `json:"may_be_told_well,omitempty"`
	NotToldWell   []wear.Reason `json:"not_told_well,omitzero"` // what stands against it
}

// known says whose wear it is by the register that was given: a code, or
// nobody, which is null. Without a register nothing is said.
type known struct {
	asked bool
	code  string
}

// MarshalJSON writes the code.
func (k known) MarshalJSON() ([]byte, error) {
	if k.code == "" {
		return []byte("null"), nil
	}
	return json.Marshal(k.code)
}

// UnmarshalJSON reads what [known.MarshalJSON] writes.
func (k *known) UnmarshalJSON(b []byte) error {
	k.asked = true
	return json.Unmarshal(b, &k.code)
}

// analysis is what files are read with.
type analysis struct {
	options  intake.Options
	protocol *wear.Protocol
	rule     worker.NameRule
	people   *people // nil where no register was given
}

// analyse reads files just as the worker would and prints what it found. It
// writes nothing.
func analyse(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	fs := newFlags("analyse", "Usage: wearround analyse FILE|DIR ... [--json] [--zone ZONE] [--protocol FILE]\n                         [--register FILE] [--name-rule RULE]\n       wearround analyse --files-from FILE|- ...\n")
	asJSON := fs.Bool("json", false, "print one JSON object a line, a wear each")
	methods := fs.Bool("methods", false, "print every definition, formula, limit and source instead")
	zoneName := fs.String("zone", "Local", "time zone of the wearer's clock, as in Australia/Sydney")
	protocolFile := fs.String("protocol", "", "protocol `file` (JSON); without it the shipped proposal")
	register := fs.String("register", "", "`file` of JSON lines, each as /api/v1/patients/{id} answers: judge with what is known of the people")
	ruleText := fs.String("name-rule", worker.DefaultNameRule, "where the patient's code stands in a file's name; for --register")
	list := fs.String("files-from", "", "`file` that names the files to read, one a line, or - for standard input: each is read as its name comes")
	names, err := fs.parse(args, stdout, 0, math.MaxInt)
	if err != nil {
		return err
	}
	if len(names) == 0 && *list == "" && !*methods {
		return &usageError{"say which files to read\n" + fs.usage}
	}
	zone, err := loadZone(*zoneName)
	if err != nil {
		return asUsage(err)
	}
	protocol, err := loadProtocol(*protocolFile)
	if err != nil {
		return asUsage(err)
	}
	if *methods {
		return printMethods(stdout, protocol)
	}
	with := analysis{options: intake.Options{Zone: zone, Now: time.Now()}, protocol: protocol}
	if with.rule, err = worker.ParseNameRule(*ruleText); err != nil {
		return asUsage(err)
	}
	if *register != "" {
		if with.people, err = loadPeople(*register, with.options.Now); err != nil {
			return asUsage(err)
		}
	}
	files, err := expand(names)
	if err != nil {
		return asUsage(err)
	}
	if len(files) == 0 && *list == "" {
		return &usageError{"there is no file to read in " + strings.Join(names, ", ")}
	}
	more := io.Reader(strings.NewReader(""))
	switch *list {
	case "":
	case "-":
		more = os.Stdin
	default:
		f, err := os.Open(*list)
		if err != nil {
			return asUsage(err)
		}
		defer f.Close()
		more = f
	}

	out := bufio.NewWriter(stdout)
	var unread error
	for name, err := range sources(files, more) {
		if ctx.Err() != nil {
			unread = ctx.Err()
			break
		}
		var lines []analysed
		if err == nil {
			lines, err = with.file(name)
		}
		if err != nil {
			out.Flush()
			fmt.Fprintln(stderr, "wearround:", err)
			unread = errHeld
			continue
		}
		for _, l := range lines {
			if l.State == "held" {
				unread = errHeld
			}
			if *asJSON {
				err = json.NewEncoder(out).Encode(l)
			} else {
				err = l.print(out)
			}
			if err != nil {
				return err
			}
		}
		if *list != "" { // whoever gives names one by one may wait for each
			if err := out.Flush(); err != nil {
				return err
			}
		}
	}
	return errors.Join(unread, out.Flush())
}

// sources gives the files, then those that a list names, a line each, as they
// come: however many, no more than one is held.
func sources(files []source, list io.Reader) iter.Seq2[source, error] {
	return func(yield func(source, error) bool) {
		for _, f := range files {
			if !yield(f, nil) {
				return
			}
		}
		lines := bufio.NewScanner(list)
		for lines.Scan() {
			if lines.Text() == "" {
				continue
			}
			named, err := expand([]string{lines.Text()})
			if err != nil && !yield(source{}, err) {
				return
			}
			for _, f := range named {
				if !yield(f, nil) {
					return
				}
			}
		}
		if err := lines.Err(); err != nil {
			yield(source{}, fmt.Errorf("list of files: %w", err))
		}
	}
}

// errHeld says that something was held or could not be read; the output says
// what.
var errHeld = errors.New("not every file could be read to its end")

// source is a file to read and its path, with slashes, in the folder that was
// named, as the worker knows a file by its path in the watched folder.
type source struct{ name, inside string }

// expand replaces each folder by the regular files in it and below, in order.
func expand(names []string) ([]source, error) {
	var files []source
	for _, name := range names {
		info, err := os.Stat(name)
		if err != nil {
			return nil, err
		}
		if !info.IsDir() {
			files = append(files, source{name, filepath.Base(name)})
			continue
		}
		err = filepath.WalkDir(name, func(path string, d fs.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() && !strings.HasPrefix(d.Name(), ".") {
				inside, _ := filepath.Rel(name, path)
				files = append(files, source{path, filepath.ToSlash(inside)})
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return files, nil
}

// file reads one file. A file of several wears gives several lines.
func (a *analysis) file(f source) ([]analysed, error) {
	data, err := worker.ReadFile(f.name)
	if err != nil {
		return nil, err
	}
	o := a.options
	o.Names = strings.Split(f.inside, "/")
	if a.people != nil {
		o.Known = func(part string) bool { _, err := a.people.find(part); return err == nil }
	}
	res := intake.Read(data, o)
	head := analysed{
		File: filepath.Base(f.name), SHA256: worker.Hash(data), State: "read", Questions: []wear.Question{},
		Refusal: res.Refusal, PatientHint: res.PatientHint, Rows: res.Rows, Skipped: res.Skipped,
	}
	in := &store.WearInputs{}
	if a.people != nil {
		p, ask, err := worker.Match(a.rule, f.inside, res, a.people.find)
		if err != nil {
			return nil, err
		}
		head.Patient.asked = true
		if p != nil {
			head.Patient.code, in = p.Code, a.people.byCode[p.Code]
		}
		if ask != nil && res.Refusal == nil {
			res.Questions = append(res.Questions, *ask)
		}
	}
	if res.Refusal != nil || len(res.Questions) > 0 {
		head.State = "held"
		head.Questions = append(head.Questions, res.Questions...)
		return []analysed{head}, nil
	}
	var lines []analysed
	wears := wear.Split(res.Readings, a.protocol)
	for i, events := range worker.EventsOf(wears, res.Events) {
		one := *in
		one.Readings, one.Events = wears[i], events
		line := head
		line.Report = wear.Analyse(one.Input(a.options.Zone, a.protocol))
		well, why := wear.MayReassure(line.Report)
		line.MayBeToldWell, line.NotToldWell = &well, append([]wear.Reason{}, why...)
		lines = append(lines, line)
	}
	return lines, nil
}

// print writes what was found for a person to read.
func (a analysed) print(out io.Writer) error {
	w := &strings.Builder{}
	fmt.Fprintf(w, "%s\n", a.File)
	switch {
	case a.State == "held" || !a.Patient.asked:
	case a.Patient.code == "":
		fmt.Fprintln(w, "  Of nobody on the register: judged with nothing known.")
	default:
		fmt.Fprintf(w, "  Judged with what is known of %s.\n", a.Patient.code)
	}
	switch {
	case a.Refusal != nil:
		fmt.Fprintf(w, "  Cannot be read: %s\n  What to do: %s\n", a.Refusal.Text, a.Refusal.ToDo)
	case a.State == "held":
		for _, q := range a.Questions {
			fmt.Fprintf(w, "  Held: %s\n", q.Text)
			for _, c := range q.Choices {
				fmt.Fprintf(w, "    %s: %s\n", c.Text, c.Effect)
			}
		}
	default:
		const day = "2 January 2006"
		r := a.Report
		fmt.Fprintf(w, "  %s to %s, %d readings every %d min, %s %% captured, confidence %s\n",
			r.Start.Format(day), r.End.Format(day), r.Readings, r.IntervalS/60, r.CapturedPct.Fixed(1), r.Confidence)
		fmt.Fprintf(w, "  %s: %s\n", r.Priority.Tier.Words(), r.Headline)
		for _, f := range r.Flags {
			fmt.Fprintf(w, "    %s (%s)\n", f.Text, f.Evidence)
		}
		for _, q := range r.Quality {
			fmt.Fprintf(w, "    %s\n", q.Text)
		}
		for _, n := range r.NotFlagged {
			fmt.Fprintf(w, "    %s%s\n", map[bool]string{true: "Not a reason for follow-up: ", false: "Seen, and not flagged: "}[n.Reassures], n.Text)
		}
		figures := func(m wear.Metrics, of string) {
			fmt.Fprintf(w, "  mean %s mmol/L, SD %s, CV %s %%; above 7.8: %s %%, above 10: %s %%, below 3.9: %s %% of %s\n",
				m.MeanMmol.Fixed(1), m.SDMmol.Fixed(2), m.CVPct.Fixed(0), m.Above7_8Pct.Fixed(1), m.Above10Pct.Fixed(1), m.Below3_9Pct.Fixed(1), of)
		}
		if r.Believed == r.Readings {
			figures(r.Metrics, "all readings")
		} else {
			figures(r.Metrics, "believed readings")
			figures(r.MetricsAll, "all readings")
		}
		fmt.Fprintf(w, "  Score %s:", wear.FormatHalfUp(r.Priority.Score, 1))
		for i, p := range r.Priority.Parts {
			sep := " +"
			if i == 0 {
				sep = ""
			}
			fmt.Fprintf(w, "%s %s %s", sep, wear.FormatHalfUp(p.Points, 1), p.Name)
		}
		fmt.Fprintf(w, "\n  Protocol %s, engine %s. Orders work, does not diagnose.\n", r.Protocol, r.Engine)
	}
	_, err := io.WriteString(out, w.String())
	return err
}

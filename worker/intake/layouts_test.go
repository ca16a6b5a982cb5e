package intake_test

import (
	"cmp"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/intake/layouts"
	"wearround/worker/wear"
)

// verdict is what became of a file of an arrangement that the reader was not
// made for.
type verdict uint8

const (
	rightByItself verdict = iota
	rightGuess            // right, though a careful person would have asked
	askedRight            // some answers lead to the truth
	askedOther            // no answers do
	turnedAway            // refused at once
	wrongByItself         // must never be
	unbalanced            // must never be
)

var verdicts = [...]string{"filed right", "filed right, a guess", "asked, truth among the answers", "asked otherwise", "refused", "WRONG", "UNBALANCED"}

// judgeLayout reads a file and looks for answers that lead to its truth.
func judgeLayout(f layouts.File, zone *time.Location) (v verdict, why string) {
	o := intake.Options{Zone: zone, Now: time.Date(2027, 6, 1, 0, 0, 0, 0, time.UTC), Answers: map[string]string{}}
	res := intake.Read(f.Bytes, o)
	switch {
	case res.Refusal != nil:
		return turnedAway, res.Refusal.Code + ": " + res.Refusal.Text
	case len(res.Questions) == 0 && !res.Account.Balanced():
		return unbalanced, fmt.Sprintf("%+v", res.Account)
	case len(res.Questions) == 0:
		if d := differs(&f.Truth, res, zone); d != "" {
			return wrongByItself, d
		}
		if !f.Truth.Decidable {
			return rightGuess, ""
		}
		return rightByItself, ""
	}
	var codes []string
	for _, q := range res.Questions {
		codes = append(codes, q.Code)
	}
	tries := 0
	if os.Getenv("LAYOUTS") != "" {
		tries = 300
	}
	if leadsToTruth(&f, o, res, zone, &tries) {
		return askedRight, strings.Join(codes, ", ")
	}
	return askedOther, strings.Join(codes, ", ") + " | " + res.Questions[0].Text
}

// leadsToTruth tries the answers to the first open question.
func leadsToTruth(f *layouts.File, o intake.Options, res *intake.Result, zone *time.Location, tries *int) bool {
	if res.Refusal != nil {
		return f.Truth.Refuse || slices.Contains(f.Truth.Ask, "none")
	}
	if len(res.Questions) == 0 {
		return differs(&f.Truth, res, zone) == ""
	}
	q := res.Questions[0]
	for _, c := range q.Choices {
		if *tries--; *tries < 0 {
			return false
		}
		given := o.Answers
		o.Answers = make(map[string]string, len(given)+1)
		for k, v := range given {
			o.Answers[k] = v
		}
		o.Answers[q.Code] = c.Value
		if leadsToTruth(f, o, intake.Read(f.Bytes, o), zone, tries) {
			return true
		}
		o.Answers = given
	}
	return false
}

// told is a reading as a table tells it.
func told(r wear.Reading, zone *time.Location) string {
	for r.Scale > 0 && r.Num%10 == 0 {
		r.Num, r.Scale = r.Num/10, r.Scale-1
	}
	bound := map[wear.Bound]string{wear.Below: "<", wear.Above: ">"}[r.Bound]
	text := wear.Reading{Num: r.Num, Scale: r.Scale}.Text()
	return time.Unix(r.At, 0).In(zone).Format("2006-01-02T15:04:05") + " " + bound + text + " " + r.Unit.String()
}

func toldTrue(list []layouts.Reading) (out []string) {
	for _, r := range list {
		v := r.Value
		if strings.Contains(v, ".") {
			v = strings.TrimRight(strings.TrimRight(v, "0"), ".")
		}
		out = append(out, r.Local+" "+r.Bound+v+" "+r.Unit)
	}
	return tidied(out)
}

func tidied(list []string) []string {
	slices.Sort(list)
	return slices.Compact(list)
}

// differs tells how what would be filed differs from the truth.
func differs(truth *layouts.Truth, res *intake.Result, zone *time.Location) string {
	if truth.Refuse {
		return "filed, and nothing of it may be"
	}
	people := res.People
	if len(people) == 0 {
		people = []intake.Person{{Readings: res.Readings, Events: res.Events}}
	}
	for _, w := range truth.Words {
		if !slices.ContainsFunc(people, func(p intake.Person) bool {
			return slices.ContainsFunc(p.Events, func(e wear.Event) bool { return strings.Contains(e.Label, w) })
		}) {
			return fmt.Sprintf("%q reaches nobody", w)
		}
	}
	if truth.People < 2 {
		if len(people) > 1 {
			return "one person read as several"
		}
		return differsFrom(truth, people[0], zone)
	}
	if len(people) != len(truth.ByPerson) {
		return fmt.Sprintf("%d people filed as %d", len(truth.ByPerson), len(people))
	}
	for _, p := range people {
		best := ""
		for i := range truth.ByPerson {
			if d := differsFrom(&truth.ByPerson[i], p, zone); d == "" {
				best = ""
				break
			} else {
				best = cmp.Or(best, d)
			}
		}
		if best != "" {
			return best
		}
	}
	return ""
}

func differsFrom(truth *layouts.Truth, p intake.Person, zone *time.Location) string {
	var readings, sticks []string
	for _, r := range p.Readings {
		if r.Num == 0 && r.Bound != wear.Exact {
			continue // "LOW" and "HIGH" are known words; the truth leaves them open
		}
		readings = append(readings, told(r, zone))
	}
	for _, e := range p.Events {
		if e.Kind == wear.Fingerstick {
			sticks = append(sticks, told(e.Value, zone))
			continue
		}
		if besideReadings(e, p.Readings) || otherQuantity.MatchString(e.Label) && (e.Kind == wear.Note || e.Kind == wear.Undated) {
			continue
		}
		at := time.Unix(e.At, 0).In(zone).Format("2006-01-02T15:04:05")
		if !slices.ContainsFunc(truth.Events, func(t layouts.Event) bool {
			return t.Local[:16] == at[:16] && (t.Kind == string(e.Kind) || (e.Kind == wear.Note || e.Kind == wear.Undated) && (t.Text == "" || strings.Contains(e.Label, t.Text)))
		}) {
			return fmt.Sprintf("event %s %s %q never was", at, e.Kind, e.Label)
		}
	}
	if d := firstDifference("reading", tidied(readings), toldTrue(truth.Readings)); d != "" {
		return d
	}
	return firstDifference("fingerstick", tidied(sticks), toldTrue(truth.Fingersticks))
}

// otherQuantity is a number under a heading, kept as words.
var otherQuantity = regexp.MustCompile(`^.+: [0-9.,]+$`)

func firstDifference(what string, got, want []string) string {
	for i := range max(len(got), len(want)) {
		g, w := "nothing", "nothing"
		if i < len(got) {
			g = got[i]
		}
		if i < len(want) {
			w = want[i]
		}
		if g != w {
			return fmt.Sprintf("%s %d is %s, want %s (%d, want %d)", what, i, g, w, len(got), len(want))
		}
	}
	return ""
}

// TestLayouts reads tables in arrangements that were invented without sight of
// the reader: nothing may be filed wrong. LAYOUTS=1 takes every variant and
// tells what became of each that was not filed right.
func TestLayouts(t *testing.T) {
	zone, err := time.LoadLocation(layouts.Zone)
	if err != nil {
		t.Fatal(err)
	}
	variants := 1
	if os.Getenv("LAYOUTS") != "" {
		variants = 1 << 30
	}
	var n [len(verdicts)]int
	decidable, open, truthful := 0, 0, 0
	layouts.Each(20261126, variants, func(f layouts.File) bool {
		v, why := judgeLayout(f, zone)
		n[v]++
		switch {
		case f.Truth.Decidable:
			decidable++
		case f.Truth.Refuse && v == turnedAway:
		default:
		}
		if v != rightByItself && v != rightGuess && !(v == turnedAway && (f.Truth.Refuse || slices.Contains(f.Truth.Ask, "none"))) {
			if open++; v == askedRight {
				truthful++
			}
		}
		if v >= wrongByItself {
			t.Errorf("%s %s/%s: %s: %s", f.Name, f.Class, f.Layout, verdicts[v], why)
		} else if os.Getenv("LAYOUTS") != "" && v > rightGuess && (v != askedRight || f.Truth.Decidable) && !(v == turnedAway && f.Truth.Refuse) {
			t.Logf("%s/%s (decidable %v): %s: %s", f.Class, f.Layout, f.Truth.Decidable, verdicts[v], why[:min(len(why), 200)])
		}
		return true
	})
	for v, name := range verdicts {
		t.Logf("%s: %d", name, n[v])
	}
	if os.Getenv("LAYOUTS") == "" {
		return // what answers would lead to was not tried
	}
	t.Logf("%d of %d decidable files filed right (%.0f %%); of the %d others, %d asked with the truth among the answers (%.0f %%)",
		n[rightByItself], decidable, 100*float64(n[rightByItself])/float64(decidable), open, truthful, 100*float64(truthful)/float64(max(open, 1)))
}

// TestForeignThings adds to true tables what they did not hold: columns of
// marks, words, other substances, statistics and other people's glucose, rows,
// blocks and sheets. What is filed by itself must still be the truth.
// FOREIGN=20000 sets how many files are tried.
func TestForeignThings(t *testing.T) {
	zone, err := time.LoadLocation(layouts.Zone)
	if err != nil {
		t.Fatal(err)
	}
	files := 150
	if n, err := strconv.Atoi(os.Getenv("FOREIGN")); err == nil {
		files = n
	}
	if small {
		files = 40
	}
	var n [len(verdicts)]int
	for i := range files {
		seed := int64(1_000_000 + i)
		f := layouts.Distort(seed, layouts.TrueTable(seed/3))
		v, why := judgeLayout(f, zone)
		if n[v]++; v >= wrongByItself {
			t.Errorf("seed %d, %s: %s: %s", seed, f.Layout, verdicts[v], why)
		}
	}
	for v, name := range verdicts {
		t.Logf("%s: %d", name, n[v])
	}
}

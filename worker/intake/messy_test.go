package intake_test

import (
	"cmp"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/intake"
	"wearround/worker/sim/messy"
	"wearround/worker/wear"
)

// small tells to take fewer messy files: with -short, and with the race
// detector, which makes reading ten times slower and finds nothing more here.
var small bool

func TestMain(m *testing.M) {
	flag.Parse()
	small = testing.Short() || intake.RaceDetector
	os.Exit(m.Run())
}

// outcome is what became of a messy file.
type outcome uint8

const (
	filedRight   outcome = iota // filed by itself, to the digit
	heldRight                   // held, with the right choice among the answers
	refusedRight                // refused at once, for a right reason
	heldOther                   // held or refused, without it
	filedWrong                  // filed by itself and wrong: must never be
	answeredBad                 // held, rightly answered, and then wrong: must never be
	outcomeKinds
)

// settle reads a file, gives the right answer to every question, and tells
// what came of it.
func settle(m *messy.File, o intake.Options) (got outcome, why string) {
	o.Zone = m.Zone
	o.Answers = make(map[string]string)
	asked := false
	var list []string
	for range 8 {
		res := intake.Read(m.Data, o)
		if res.Refusal != nil {
			switch {
			case asked && (m.Refusals[res.Refusal.Code] || len(m.Refusals) > 0 && res.Refusal.Code == "set_aside"):
				return heldRight, ""
			case m.Refusals[res.Refusal.Code]:
				return refusedRight, ""
			}
			return heldOther, strings.Join(append(list, "refused "+res.Refusal.Code), ", ")
		}
		if len(res.Questions) == 0 {
			difference := compare(m, res, asked)
			switch {
			case difference == "" && !asked:
				return filedRight, ""
			case difference == "":
				return heldRight, ""
			case asked:
				return answeredBad, strings.Join(list, ", ") + ": " + difference
			}
			return filedWrong, difference
		}
		asked = true
		for _, q := range res.Questions {
			answer := rightAnswer(m, q)
			list = append(list, q.Code+"="+answer)
			if !slices.ContainsFunc(q.Choices, func(c wear.Choice) bool { return c.Value == answer }) {
				return heldOther, strings.Join(list, ", ")
			}
			o.Answers[q.Code] = answer
		}
	}
	return heldOther, "asked without end: " + strings.Join(list, ", ")
}

// rightAnswer is the true choice of a question; "" where the truth has none.
func rightAnswer(m *messy.File, q wear.Question) string {
	if a, ok := m.Answers[q.Code]; ok {
		return a
	}
	for code, a := range m.Answers {
		if stem, ok := strings.CutSuffix(code, "*"); ok && strings.HasPrefix(q.Code, stem) {
			return a
		}
	}
	if len(m.Refusals) > 0 { // nothing of the file is fit to be filed
		return "none"
	}
	return ""
}

// compare tells how a filed result differs from the truth, or gives "". Only by
// a person's answer may readings be lost.
func compare(m *messy.File, res *intake.Result, asked bool) string {
	people := res.People
	if len(people) == 0 {
		people = []intake.Person{{Hint: res.PatientHint, Readings: res.Readings, Events: res.Events}}
	}
	if len(people) != len(m.People) {
		return fmt.Sprintf("%d people, want %d", len(people), len(m.People))
	}
	for i, p := range people {
		want := m.People[0]
		if len(people) > 1 {
			k := slices.IndexFunc(m.People, func(t messy.Truly) bool { return t.Code == p.Hint })
			if k < 0 {
				return fmt.Sprintf("nobody is called %q", p.Hint)
			}
			want = m.People[k]
		}
		if d := compareReadings(p.Readings, want.Readings, m, asked); d != "" {
			return fmt.Sprintf("person %d: %s", i+1, d)
		}
		if !m.Unstated && m.Known && len(people) == 1 && p.Hint != want.Code {
			return fmt.Sprintf("the person's code is %q, want %q", p.Hint, want.Code)
		}
		if !m.Known || m.Lossy {
			continue
		}
		for _, e := range p.Events {
			if !besideReadings(e, p.Readings) && !slices.ContainsFunc(want.Events, func(w wear.Event) bool { return w.At == e.At && w.Kind == e.Kind && w.Label == e.Label }) {
				return fmt.Sprintf("event %+v never was", e)
			}
		}
		for _, e := range want.Events {
			if !slices.ContainsFunc(p.Events, func(g wear.Event) bool { return g.At == e.At && g.Kind == e.Kind && g.Label == e.Label }) {
				return fmt.Sprintf("event %+v is not among %+v", e, p.Events[:min(len(p.Events), 4)])
			}
		}
	}
	return ""
}

// compareReadings compares without regard to order and to exact repeats.
func compareReadings(got, want []wear.Reading, m *messy.File, asked bool) string {
	tidy := func(list []wear.Reading) []wear.Reading {
		list = slices.Clone(list)
		for i := range list {
			for m.Approx && list[i].Scale > 0 && list[i].Num%10 == 0 {
				list[i].Num /= 10
				list[i].Scale--
			}
		}
		slices.SortFunc(list, func(a, b wear.Reading) int {
			return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Native(), b.Native()), cmp.Compare(a.Mark, b.Mark), cmp.Compare(a.Bound, b.Bound))
		})
		return slices.Compact(list)
	}
	g, w := tidy(got), tidy(want)
	if m.Lossy && asked { // the repeated hour, on a clock that is set back and one that is not
		const most = 2 * 60
		all := len(w)
		w = slices.DeleteFunc(w, func(r wear.Reading) bool { return !slices.Contains(g, r) })
		if all-len(w) > most {
			return fmt.Sprintf("%d of %d readings were lost", all-len(w), all)
		}
	}
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return fmt.Sprintf("reading %d is %s %+v, want %s %+v", i, time.Unix(g[i].At, 0).UTC().Format(time.RFC3339), g[i], time.Unix(w[i].At, 0).UTC().Format(time.RFC3339), w[i])
		}
	}
	if len(g) != len(w) {
		return fmt.Sprintf("%d readings, want %d", len(g), len(w))
	}
	return ""
}

// TestThirtyThree puts invented wears through each of the 33 classes of messy
// export, alone and in pairs, and prints what became of them class by class.
// Filed and wrong must be nought.
func TestThirtyThree(t *testing.T) {
	classes := messy.Classes()
	alone, pairs := 12, 4
	if small {
		alone, pairs = 3, 1
	}
	type tally struct{ n [outcomeKinds]int }
	byClass := make(map[int]*tally)
	for _, k := range classes {
		byClass[k.Number] = &tally{}
	}
	var total tally
	var failures []string
	decidable, decided := 0, 0
	try := func(seed uint64, numbers ...int) {
		m := messy.New(seed, numbers...)
		got, why := settle(m, intake.Options{Now: now})
		total.n[got]++
		for _, n := range numbers {
			byClass[n].n[got]++
		}
		if m.Decidable {
			decidable++
			if got == filedRight {
				decided++
			}
		}
		if got >= heldOther {
			failures = append(failures, fmt.Sprintf("%v seed %d: %d %s", numbers, seed, got, why))
		}
	}
	for i := range classes {
		for s := range alone {
			try(uint64(1000*i+s), classes[i].Number)
		}
		for j := i + 1; j < len(classes); j++ {
			for s := range pairs {
				try(uint64(100000+1000*i+20*j+s), classes[i].Number, classes[j].Number)
			}
		}
	}
	files := 0
	for _, n := range total.n {
		files += n
	}
	var out strings.Builder
	out.WriteString("| class, alone and in pairs | files | filed right | held, with the right choice | refused rightly | held otherwise | filed and wrong |\n|---|--:|--:|--:|--:|--:|--:|\n")
	line := func(name string, r *tally) {
		all := 0
		for _, n := range r.n {
			all += n
		}
		fmt.Fprintf(&out, "| %s | %d | %d | %d | %d | %d | %d |\n", name, all, r.n[filedRight], r.n[heldRight], r.n[refusedRight], r.n[heldOther], r.n[filedWrong]+r.n[answeredBad])
	}
	for _, k := range classes {
		line(k.String(), byClass[k.Number])
	}
	line("all files", &total)
	t.Log("\n" + out.String())
	t.Logf("%d of %d files that hold enough to be decided were filed right (%.1f %%)", decided, decidable, 100*float64(decided)/float64(decidable))
	if os.Getenv("MESSY") != "" {
		slices.Sort(failures)
		for _, f := range failures {
			t.Log(f)
		}
	}
	if n := total.n[filedWrong] + total.n[answeredBad]; n > 0 {
		t.Errorf("%d files were filed and wrong", n)
	}
	if total.n[heldOther] > 0 {
		t.Errorf("%d files were held without the right choice", total.n[heldOther])
	}
	if decided*100 < 85*decidable {
		t.Errorf("%d of %d decidable files were filed right, want 85 %%", decided, decidable)
	}
	if !small && files < 2000 {
		t.Errorf("%d files, want at least 2,000", files)
	}
}

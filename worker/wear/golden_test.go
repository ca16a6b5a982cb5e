package wear_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/worker/wear"
)

// golden holds a text against its file, or writes that with -update.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v (run with -update to write it)", err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s changed (-want +got); run with -update if that is meant:\n%s", name, d)
	}
}

// Every number, word, source and standing of the protocol that ships: none
// changes unseen.
func TestProtocolThatShips(t *testing.T) {
	p := wear.DefaultProtocol()
	text, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", text)
	for _, s := range p.Settings() {
		fmt.Fprintf(&b, "%s = %s %s (%s; %s; %s)\n", s.Name, s.Value, s.Unit, s.Source, s.Status, s.ProposedBy)
	}
	golden(t, "protocol.golden", b.String())
}

var rangeOf = regexp.MustCompile(`([a-z0-9_.]+): must lie between (\S+) and (\S+) `)

// Every number of the protocol is held within its range: both ends are taken,
// what lies beyond them is refused under the number's own name. At an end a
// number may come out of order with another, which is said too.
func TestEveryNumberHasItsRange(t *testing.T) {
	var b strings.Builder
	numbers := 0
	each(reflect.ValueOf(wear.DefaultProtocol()).Elem(), nil, func(path []int, step float64, set func(reflect.Value, float64)) {
		numbers++
		with := func(v float64) (name, problem string, least, most float64) {
			p := wear.DefaultProtocol()
			set(reflect.ValueOf(p).Elem().FieldByIndex(path), v)
			err := p.Validate()
			if err == nil {
				return "", "", 0, 0
			}
			m := rangeOf.FindStringSubmatch(err.Error())
			if m == nil {
				return "", err.Error(), 0, 0
			}
			least, _ = strconv.ParseFloat(m[2], 64)
			most, _ = strconv.ParseFloat(m[3], 64)
			return m[1], err.Error(), least, most
		}
		name, problem, least, most := with(1e9)
		if name == "" {
			t.Errorf("field %v takes 1e9: %s", path, problem)
			return
		}
		fmt.Fprintf(&b, "%s: %v to %v\n", name, least, most)
		for v, taken := range map[float64]bool{least: true, most: true, least - step: false, most + step: false, math.NaN(): false} {
			if math.IsNaN(v) && step >= 0.1 {
				continue // of floating point alone
			}
			got, problem, _, _ := with(v)
			if (got == name) == taken {
				t.Errorf("%s = %v: taken %v, want %v (%s)", name, v, got != name, taken, problem)
			}
		}
		for _, v := range []float64{least, most} {
			if _, problem, _, _ := with(v); problem != "" {
				fmt.Fprintf(&b, "\tat %v: %s\n", v, strings.ReplaceAll(problem, "\n", "\n\t\t"))
			}
		}
	})
	if numbers < 100 {
		t.Errorf("only %d numbers were tried", numbers)
	}
	golden(t, "ranges.golden", b.String())
}

// each visits every number and every limit of the protocol, with the least step
// of it and what sets it. A limit is set in mmol/L, its other unit with it.
func each(v reflect.Value, path []int, visit func(path []int, step float64, set func(reflect.Value, float64))) {
	for i := range v.NumField() {
		at := append(slices.Clone(path), i)
		switch f := v.Field(i); {
		case f.Type() == reflect.TypeFor[wear.Limit]():
			visit(at, 0.1, func(f reflect.Value, mmol float64) {
				f.Set(reflect.ValueOf(wear.Limit{MmolTenths: int64(math.Round(10 * mmol)), Mgdl: int64(math.Round(mmol * wear.MgdlPerMmol))}))
			})
		case f.Kind() == reflect.Struct:
			each(f, at, visit)
		case f.Kind() == reflect.Float64:
			visit(at, 0.001, reflect.Value.SetFloat)
		case f.Kind() == reflect.Int:
			visit(at, 1, func(f reflect.Value, n float64) { f.SetInt(int64(n)) })
		}
	}
}

// Every sentence that belongs to a flag, on whatever page it stands.
func TestWordsOfEveryFlag(t *testing.T) {
	var b strings.Builder
	for _, k := range wear.Flags() {
		fmt.Fprintf(&b, "%s\n  %s | %s | %s | turn %d\n  %s\n  %s (%s; %s)\n  means: %s\n  silences: %s\n",
			k.Code, k.Name, k.Words, k.Short, k.Turn, k.Definition, k.Source, k.Standing, k.Settings, k.Means, strings.Join(k.Silences, ", "))
		if k.Code == "" || k.Name == "" || k.Words == "" || k.Short == "" || k.Definition == "" || k.Source == "" {
			t.Errorf("the flag %q lacks words", k.Code)
		}
		if k.Saw != nil {
			if said := k.Saw(wear.Analyse(wear.Input{Protocol: wear.DefaultProtocol()}), 0, "your glucose"); said == "" {
				t.Errorf("a letter says nothing of %s", k.Code)
			} else {
				fmt.Fprintf(&b, "  letter: %s\n", said)
			}
		}
		b.WriteString("\n")
	}
	golden(t, "flags.golden", b.String())
}

// The tiers in their order, in words, and how long each may wait.
func TestTiers(t *testing.T) {
	var b strings.Builder
	due := wear.DefaultProtocol().Due
	for _, tier := range wear.Tiers() {
		fmt.Fprintf(&b, "%d %s %q %d days\n", tier.Rank(), tier, tier.Words(), due.Days(tier))
	}
	const want = `0 today "Today" 0 days
1 this_week "This week" 5 days
2 this_month "This month" 28 days
3 cannot_tell "Cannot tell" 14 days
4 routine "Routine" 42 days
`
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

// Each word of each list, alone in a note beside readings that show nothing:
// whatever else is made of it, somebody must look, and a severe word is today's.
func TestEachWordAlone(t *testing.T) {
	rules := wear.DefaultProtocol().Symptom
	start := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC).Unix()
	var quiet []wear.Reading
	for i := range int64(14 * 24 * 4) {
		quiet = append(quiet, wear.Reading{At: start + i*900, Num: 54 + i%5, Scale: 1, Unit: wear.MmolL})
	}
	report := func(events ...wear.Event) *wear.Report {
		return wear.Analyse(wear.Input{
			Readings: quiet, Events: events, Zone: time.UTC, Protocol: wear.DefaultProtocol(), Context: wear.Context{AskedOn: "2026-04-01", BirthDate: "1970-01-01"},
		})
	}
	if r := report(); r.Priority.Tier != wear.Routine {
		t.Fatalf("the readings alone are %s", r.Priority.Tier)
	}
	for code, list := range map[string][]string{wear.FlagSevere: rules.SevereWords, "": slices.Concat(rules.BrainWords, rules.HighWords, rules.LowWords, rules.MedicineWords)} {
		for _, word := range list {
			r := report(wear.Event{At: start + 5*86400, Kind: wear.Note, Label: "then " + strings.ReplaceAll(word, "*", "one") + " today"})
			if r.Priority.Tier == wear.Routine {
				t.Errorf("%q is routine", word)
			}
			if raised := slices.ContainsFunc(r.Flags, func(f wear.Flag) bool { return f.Code == code }); code != "" && !raised {
				t.Errorf("%q raises no flag %s", word, code)
			}
		}
	}
}

package web

import (
	"encoding/json"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/worker/wear"
)

// described gives the text that stands for a picture.
func described(t *testing.T, p Picture) string {
	t.Helper()
	m := regexp.MustCompile(`<desc[^>]*>([^<]*)</desc>`).FindStringSubmatch(string(p.SVG))
	if m == nil {
		t.Fatalf("no description in %.200s", p.SVG)
	}
	return strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&amp;", "&").Replace(m[1])
}

// What stands over a picture, and what stands for it where it cannot be seen,
// are the report's own sentences.
func TestPicturesSayTheFinding(t *testing.T) {
	p := LookPage{Layout: Layout{Now: clock(18, 9, 0)}}.Wear()
	r := p.Report
	var sentences []string
	for _, e := range r.Explained {
		sentences = append(sentences, form.Sentence(e.Text))
	}
	headline := []string{form.Sentence(r.Headline)}
	for name, c := range map[string]struct {
		says     []string
		pictures []Picture
		among    []string
	}{
		"tracks": {headline, p.Pictures(), headline}, "tape": {p.Tape().Says, p.Tape().Pictures, headline}, "riser": {headline, p.Riser().Pictures, headline},
		"meals": {p.Meals().Says, p.Meals().Pictures, sentences}, "nights": {p.Nights().Says, p.Nights().Pictures, sentences},
	} {
		if len(c.says) == 0 || len(c.pictures) < 2 {
			t.Errorf("%s: %q over %d pictures", name, c.says, len(c.pictures))
		}
		for _, s := range c.says {
			if !slices.Contains(c.among, s) {
				t.Errorf("%s: %q is not a sentence of the report", name, s)
			}
		}
		for _, picture := range c.pictures {
			if got := described(t, picture); !strings.HasPrefix(got, strings.Join(c.says, " ")+" ") {
				t.Errorf("%s: %q does not open with %q", name, got, c.says)
			}
		}
	}
	said := slices.Concat(p.Meals().Says, p.Nights().Says, p.ExerciseSays(), remarks(p.Explained()))
	for _, s := range sentences {
		if !slices.Contains(said, s) {
			t.Errorf("%q stands nowhere on the page", s)
		}
	}
}

// Each line of the riser ends at the minutes that the report gives the day.
func TestRiserEndsAtTheReport(t *testing.T) {
	p := LookPage{Layout: Layout{Now: clock(18, 9, 0)}}.Wear()
	days := p.riserDays()
	if len(days) != len(p.Report.Days) {
		t.Fatalf("%d lines for %d days", len(days), len(p.Report.Days))
	}
	for i, d := range days {
		sum := 0.0
		for _, m := range d.Above {
			if !math.IsNaN(m) {
				sum += m
			}
		}
		if want := p.Report.Days[i].Above7_8Min; math.Abs(sum-want.V) > 1e-6 || d.Total != length(int(want.V+0.5)) {
			t.Errorf("%s: %v minutes, called %s; the report has %v", p.Report.Days[i].Date, sum, d.Total, want)
		}
	}
}

func TestSince(t *testing.T) {
	f := wear.Of
	measures := []wear.Change{
		{Code: "mean", Name: "Mean glucose", Unit: "mmol/L", Before: f(6.6), After: f(5.6), Least: 0.7},
		{Code: "above_10", Name: "Time above 10", Unit: "%", Before: f(0), Least: 2},
	}
	page := func(changes ...wear.Remark) WearPage {
		return WearPage{Layout: Layout{Zone: zone}, Report: &wear.Report{Start: clock(3, 9, 0), End: clock(17, 9, 0)},
			Before: &Before{WearID: 3, Start: clock(1, 9, 0), End: clock(2, 9, 0), Changes: changes, Measures: measures}}
	}
	mean, peak, gone := wear.Remark{Code: "mean", Text: "Mean fell."}, wear.Remark{Code: "above_10", Text: "Cannot be compared."}, wear.Remark{Code: "flags_gone", Text: "Gone."}
	for name, c := range map[string]struct {
		page     WearPage
		says     []string
		pictures int
	}{
		"no earlier wear": {WearPage{Report: &wear.Report{}}, []string{"No wear before this one is on record, so nothing can be compared."}, 0},
		"one kind":        {page(mean, peak, gone), []string{"Mean fell.", "Gone."}, 3},
		"two kinds":       {page(wear.Remark{Code: "kinds_differ", Text: "Caution."}, mean), []string{"Caution.", "Mean fell."}, 0},
		"kind not set":    {page(wear.Remark{Code: "kind_unknown", Text: "Caution."}), []string{"Caution."}, 0},
		"low confidence":  {page(wear.Remark{Code: "low_confidence", Text: "Caution."}), []string{"Caution."}, 0},
	} {
		got := c.page.Since()
		if !slices.Equal(got.Says, c.says) || len(got.Pictures) != c.pictures {
			t.Errorf("%s: %q over %d pictures, want %q over %d", name, got.Says, len(got.Pictures), c.says, c.pictures)
		}
	}
	if got := described(t, page(mean, peak, gone).Since().Pictures[0]); !strings.Contains(got, "Gone. Mean glucose 6.6 to 5.6 mmol/L, a fall beyond expected variation.") || !strings.Contains(got, "not enough data") {
		t.Error(got)
	}
}

// The strip always shows the whole wear, and frames what is drawn below it
// where that is a part; its days are links.
func TestStripShowsTheWholeWear(t *testing.T) {
	p := LookPage{Layout: Layout{Now: clock(18, 9, 0)}}.Wear()
	if got := p.Overview(); len(got) != 3 || strings.Contains(described(t, got[0]), "Framed: ") || strings.Contains(string(got[0].SVG), `class="frame"`) {
		t.Errorf("%d overviews of the whole wear, framed: %q", len(got), described(t, got[0]))
	}
	p.Window = Window{From: p.Report.Days[1].Date, Days: 3}
	if got := p.Overview(); len(got) != 3 || !strings.Contains(described(t, got[0]), "Framed: ") {
		t.Errorf("%d overviews", len(got))
	}
	var current []int
	for i, d := range p.DayPicks() {
		if d.Current {
			current = append(current, i)
		}
	}
	if !slices.Equal(current, []int{1, 2, 3}) || len(p.DayPicks()) != len(p.Report.Days) {
		t.Errorf("days %v of %d are marked as shown", current, len(p.DayPicks()))
	}
}

// Two sensors worn at once are drawn on one scale, and the other wear is named
// and linked.
func TestTwoSensorsWornAtOnce(t *testing.T) {
	p := LookPage{Layout: Layout{Now: clock(18, 9, 0)}}.Wear()
	p.Beside = []Beside{{WearID: 77, SensorKind: "B", Report: p.Report, Readings: p.Readings}}
	var b strings.Builder
	if err := Render(&b, WearTracks{p}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`class="line-beside"`, "dashed: sensor kind B", `<a href="/wears/77">sensor kind B</a>`} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the tracks have no %s", want)
		}
	}
}

// decoded reads a trace as the script does.
func decoded(t *rapid.T, trace string) (out []chart.Point, offsets []int64) {
	token := regexp.MustCompile(`^(-?[\d.]+|[LH])(a?b?c?x?)(?:@(\d+))?$`)
	for run := range strings.SplitSeq(trace, "|") {
		if run == "" {
			continue
		}
		parts := strings.Split(run, " ")
		var head [3]int64
		for i := range head {
			n, err := strconv.ParseInt(parts[i], 10, 64)
			if err != nil {
				t.Fatalf("%q begins %q", run, parts[:3])
			}
			head[i] = n
		}
		at := head[0] - head[2]
		for _, p := range parts[3:] {
			m := token.FindStringSubmatch(p)
			if m == nil {
				t.Fatalf("%q is no reading", p)
			}
			step := head[2]
			if m[3] != "" {
				step, _ = strconv.ParseInt(m[3], 10, 64)
			}
			at += step
			q := chart.Point{At: at, Suspect: strings.Contains(m[2], "x")}
			for mark, past := range map[string]chart.Past{"a": chart.Above78, "b": chart.Above10, "c": chart.Below39} {
				if strings.Contains(m[2], mark) {
					q.Past |= past
				}
			}
			switch m[1] {
			case "L":
				q.Edge = chart.LowEdge
			case "H":
				q.Edge = chart.HighEdge
			default:
				q.Mmol, _ = strconv.ParseFloat(m[1], 64)
			}
			out, offsets = append(out, q), append(offsets, head[1])
		}
	}
	return out, offsets
}

// The script's trace holds every reading of the window: its instant, its value
// as the tables write it, its limits and doubts, and the clock's offset.
func TestTraceHoldsEveryReading(t *testing.T) {
	sydney, err := time.LoadLocation("Australia/Sydney")
	if err != nil {
		t.Skip("this machine has no time zones")
	}
	rapid.Check(t, func(t *rapid.T) {
		// The clock goes back an hour on the second day.
		at := time.Date(2026, 4, 4, 9, 0, 0, 0, sydney).Unix()
		p := WearPage{Layout: Layout{Zone: sydney}, Report: &wear.Report{IntervalS: rapid.SampledFrom([]int{60, 300, 900}).Draw(t, "step"), Start: time.Unix(at, 0)}}
		for range rapid.IntRange(1, 300).Draw(t, "readings") {
			r := wear.Reading{At: at, Num: rapid.Int64Range(20, 250).Draw(t, "tenths"), Scale: 1, Unit: wear.MmolL}
			if rapid.IntRange(0, 9).Draw(t, "odd") == 0 {
				r = wear.Reading{At: at, Bound: rapid.SampledFrom([]wear.Bound{wear.Below, wear.Above}).Draw(t, "bound"), Unit: wear.MmolL}
			}
			if rapid.IntRange(0, 9).Draw(t, "marked") == 0 {
				r.Mark = wear.MarkError
			}
			p.Readings = append(p.Readings, r)
			at += int64(p.Report.IntervalS) * int64(rapid.SampledFrom([]int{1, 1, 1, 2, 50}).Draw(t, "steps"))
			at += int64(rapid.IntRange(0, 3).Draw(t, "late"))
		}
		p.Report.End = time.Unix(p.Readings[len(p.Readings)-1].At, 0)
		p.Window = Window{From: "2026-04-05", Days: rapid.IntRange(0, 2).Draw(t, "days")}
		first, n := p.window()
		var want []chart.Point
		for _, q := range p.points() {
			if q.At >= first.Unix() && q.At < first.AddDate(0, 0, n).Unix() {
				want = append(want, q)
			}
		}
		got, offsets := decoded(t, p.Trace())
		if len(got) != len(want) {
			t.Fatalf("%d readings, want %d", len(got), len(want))
		}
		for i, q := range want {
			if _, offset := time.Unix(q.At, 0).In(sydney).Zone(); int64(offset) != offsets[i] {
				t.Fatalf("offset %d at %d, want %d", offsets[i], q.At, offset)
			}
			if q.Edge == 0 {
				q.Mmol, _ = strconv.ParseFloat(wear.FormatHalfUp(q.Mmol, 1), 64)
			} else {
				q.Mmol = 0
			}
			if got[i] != q {
				t.Fatalf("%+v, want %+v", got[i], q)
			}
		}
	})
}

// What the cursor says beside the value lies within the window.
func TestNotes(t *testing.T) {
	p := LookPage{Layout: Layout{Now: clock(18, 9, 0)}}.Wear()
	p.Window = Window{From: p.Report.Days[1].Date, Days: 1}
	text, err := p.Notes()
	if err != nil {
		t.Fatal(err)
	}
	var notes [][3]any
	if err := json.Unmarshal([]byte(text), &notes); err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, n := range notes {
		said = append(said, n[2].(string))
	}
	all := strings.Join(said, "; ")
	for _, want := range []string{"meal: porridge at 07:30", "symptom: shaky at 15:45", "below 3.9 for 45 min"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in %s", want, all)
		}
	}
	if strings.Contains(all, "no data") {
		t.Errorf("the gap is on another day: %s", all)
	}
}

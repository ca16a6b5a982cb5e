package wear

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// meals measures what glucose did after each logged meal. Items logged close
// together are one meal, timed at the first.
func (t *trace) meals(in *Input) []MealFig {
	m := &in.Protocol.Meal
	var eaten []eating
	for _, e := range in.Events {
		if e.Kind != Meal || len(t.r) == 0 || e.At < t.r[0].At || e.At > t.r[len(t.r)-1].At {
			continue
		}
		label := oneSpaced(e.Label)
		if n := len(eaten); n > 0 && float64(e.At-eaten[n-1].at) <= m.MergeMinutes*60 {
			eaten[n-1].carbs += e.Carbs
			if label != "" && !slices.ContainsFunc(eaten[n-1].items, func(x string) bool { return strings.EqualFold(x, label) }) {
				eaten[n-1].items = append(eaten[n-1].items, label)
			}
			continue
		}
		x := eating{at: e.At, carbs: e.Carbs}
		if label != "" {
			x.items = []string{label}
		}
		eaten = append(eaten, x)
	}
	figures := make([]MealFig, 0, len(eaten))
	for i, e := range eaten {
		next := int64(math.MaxInt64)
		if i+1 < len(eaten) {
			next = eaten[i+1].at
		}
		f := t.meal(e, next, m)
		f.Like = e.name()
		if i > 0 && f.Like != "" && float64(e.at-eaten[i-1].at) <= m.PreloadMinutes*60 {
			if before := eaten[i-1].name(); before != "" {
				f.Like += " after " + before
			}
		}
		figures = append(figures, f)
	}
	return figures
}

// eating is one meal as logged.
type eating struct {
	at    int64
	items []string
	carbs float64
}

// name is what like meals share: their items, whatever the order and the case.
func (e eating) name() string {
	items := make([]string, len(e.items))
	for i, x := range e.items {
		items[i] = strings.ToLower(x)
	}
	slices.Sort(items)
	return strings.Join(items, ", ")
}

// meal measures one meal up to the next.
func (t *trace) meal(e eating, next int64, m *MealRules) MealFig {
	f := MealFig{At: t.cal.time(e.at), Label: strings.Join(e.items, ", ")}
	if g := Of(e.carbs); g.OK && g.V > 0 {
		f.Carbs = g.V
	}
	window := seconds(m.WindowMinutes * 60)

	sum, n := 0.0, 0
	for i := t.from(e.at - seconds(m.BaselineMinutes*60)); i < len(t.r) && t.r[i].At <= e.at; i++ {
		if t.why[i] == 0 {
			sum += t.mmol[i]
			n++
		}
	}
	// At 15-minute intervals 30 minutes hold two readings, not three.
	needed := max(1, min(int(m.BaselineReadings), t.count(m.BaselineMinutes)))
	if n >= needed {
		f.BaselineMmol = ratio(sum, n)
	}
	w := t.since(e.at, e.at+window, f.BaselineMmol)
	switch {
	case next <= e.at+window:
		f.WhyNot = "Something else was eaten within " + duration(window) + "."
	case !f.BaselineMmol.OK:
		f.WhyNot = "Too few readings in the " + duration(seconds(m.BaselineMinutes*60)) + " before."
	case !w.enough(m):
		f.WhyNot = "Too few readings in the " + duration(window) + " after."
	case float64(w.widest) > m.MaxGapMinutes*60:
		f.WhyNot = "A gap lies in the " + duration(window) + " after."
	default:
		f.Judged = true
	}
	if len(w.values) < 2 || !f.BaselineMmol.OK {
		return f
	}
	peak := 1
	for i := 1; i < len(w.values); i++ {
		if w.values[i] > w.values[peak] {
			peak = i
		}
	}
	f.PeakMmol, f.PeakAfterMin = Of(w.values[peak]), Of(w.minutes[peak])
	f.RiseMmol = Of(w.values[peak] - f.BaselineMmol.V)
	f.At2hMmol = t.near(e.at + window)
	if !f.Judged {
		return f
	}
	f.IAUC2h = IAUC(w.minutes, w.values, f.BaselineMmol.V)
	f.Nadir5hMmol = t.leastBetween(e.at+window, min(e.at+seconds(m.NadirToMinutes*60), next))
	if long := seconds(m.LongMinutes * 60); next > e.at+long {
		if w := t.since(e.at, e.at+long, f.BaselineMmol); w.enough(m) && float64(w.widest) <= m.MaxGapMinutes*60 {
			f.IAUC3h = IAUC(w.minutes, w.values, f.BaselineMmol.V)
			f.ReturnMin = w.back(peak, f.BaselineMmol.V+m.ReturnMmol, int(m.ReturnReadings))
		}
	}
	return f
}

// mealWindow is the believed readings after a meal, behind the baseline at the
// moment of the meal.
type mealWindow struct {
	minutes, values []float64
	widest          int64 // longest time without one, in seconds
	expected        float64
}

// since takes the believed readings in [at, until]. What it gives holds until
// it is called again.
func (t *trace) since(at, until int64, baseline Figure) (w mealWindow) {
	w.minutes, w.values = append(t.eaten[0][:0], 0), append(t.eaten[1][:0], baseline.V)
	w.expected = float64(until-at) / float64(t.step)
	lastAt := at
	for i := t.from(at); i < len(t.r) && t.r[i].At <= until; i++ {
		if t.why[i] != 0 {
			continue
		}
		w.widest = max(w.widest, t.r[i].At-lastAt)
		lastAt = t.r[i].At
		w.minutes = append(w.minutes, float64(t.r[i].At-at)/60)
		w.values = append(w.values, t.mmol[i])
	}
	w.widest = max(w.widest, until-lastAt)
	t.eaten = [2][]float64{w.minutes, w.values}
	return w
}

// enough reports whether enough of the expected readings are there.
func (w mealWindow) enough(m *MealRules) bool {
	return float64(len(w.values)-1) >= m.MinCapturedPct/100*math.Floor(w.expected+0.5)
}

// back is the first minute after the peak from which so many readings on end
// are at most level.
func (w mealWindow) back(peak int, level float64, readings int) Figure {
	run := 0
	for i := peak + 1; i < len(w.values); i++ {
		if w.values[i] > level+hair {
			run = 0
			continue
		}
		if run++; run >= max(1, readings) {
			return Of(w.minutes[i-run+1])
		}
	}
	return Figure{}
}

// mealGroups averages like meals, where enough of them can be judged, in the
// order of their names.
func mealGroups(meals []MealFig, m *MealRules) []MealGroup {
	count := make(map[string]int)
	for i := range meals {
		if f := &meals[i]; f.Judged && f.Like != "" {
			count[f.Like]++
		}
	}
	maps.DeleteFunc(count, func(_ string, n int) bool { return float64(n) < m.LikeMeals })
	groups := make([]MealGroup, 0, len(count))
	for _, name := range slices.Sorted(maps.Keys(count)) {
		list := make([]*MealFig, 0, count[name])
		for i := range meals {
			if f := &meals[i]; f.Judged && f.Like == name {
				list = append(list, f)
			}
		}
		of := func(what func(*MealFig) Figure) []float64 {
			v := make([]float64, 0, len(list))
			for _, f := range list {
				v = append(v, what(f).V)
			}
			return v
		}
		rises := of(func(f *MealFig) Figure { return f.RiseMmol })
		groups = append(groups, MealGroup{
			Like: name, Meals: len(list), RiseMmol: Mean(rises), RiseSDMmol: SD(rises),
			PeakAfterMin: Mean(of(func(f *MealFig) Figure { return f.PeakAfterMin })),
			IAUC2h:       Mean(of(func(f *MealFig) Figure { return f.IAUC2h })),
		})
	}
	return groups
}

// near is the believed value closest to an instant, at most one interval away.
func (t *trace) near(at int64) Figure {
	best, distance := -1, t.step+1
	for i := t.from(at - t.step); i < len(t.r) && t.r[i].At <= at+t.step; i++ {
		if d := max(t.r[i].At-at, at-t.r[i].At); t.why[i] == 0 && d < distance {
			best, distance = i, d
		}
	}
	if best < 0 {
		return Figure{}
	}
	return Of(t.mmol[best])
}

// leastBetween is the least believed value in [from, to].
func (t *trace) leastBetween(from, to int64) Figure {
	var f Figure
	for i := t.from(from); i < len(t.r) && t.r[i].At <= to; i++ {
		if t.why[i] == 0 && (!f.OK || t.mmol[i] < f.V) {
			f = Of(t.mmol[i])
		}
	}
	return f
}

// IAUC is the incremental area under the curve above a baseline by
// trapezoids, in the unit of g times minutes. Area below the baseline is left
// out; where the trace crosses it, only the triangle above counts.
// Source: Br J Nutr 2004;91:295 (doi:10.1079/bjn20031054). Not available for
// fewer than two points or times that do not rise.
func IAUC(minutes, g []float64, baseline float64) Figure {
	if len(g) < 2 || len(minutes) != len(g) {
		return Figure{}
	}
	area := 0.0
	for i := 1; i < len(g); i++ {
		dt := minutes[i] - minutes[i-1]
		if dt < 0 {
			return Figure{}
		}
		area += dt * positive(g[i-1]-baseline, g[i]-baseline)
	}
	return Of(area)
}

// positive is the mean of the part above zero of a line from a to b.
func positive(a, b float64) float64 {
	switch {
	case a >= 0 && b >= 0:
		return (a + b) / 2
	case a > 0:
		return a / (a - b) * a / 2
	case b > 0:
		return b / (b - a) * b / 2
	}
	return 0
}

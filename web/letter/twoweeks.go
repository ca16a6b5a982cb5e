package letter

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// TwoWeeks is what the page "Your two weeks" says to the wearer, beside its
// pictures. It comforts only where [wear.MayReassure] lets it.
type TwoWeeks struct {
	Days, Meals      string // how the pictures are read
	Like             []LikeMeals
	Compared         []string // the same meal with something eaten before it, and without
	Nights, Exercise []string
	Alone            []string // what can be left alone; none where nobody may be told so
	Next             string   // what the practice would like to do
	Unwell           []string
}

// LikeMeals are the meals of one name, in the wearer's words.
type LikeMeals struct {
	Name         string
	Times        int
	Before, Rise float64 // means of those that could be measured, in mmol/L
}

// mostLike is how many names the page has room for: the greatest rises and the
// least.
const mostLike = 7

// leastLike is how many names that came more than once leave the others out.
const leastLike = 3

// mostBouts is how many bouts of exercise it has room for.
const mostBouts = 3

// withPage are the letters that the page goes with, in the order in which one is
// looked for.
var withPage = []Kind{Unremarkable, Near, Tests}

// PageKind is the letter that the page about a wear would go with, or the reason
// why there is none.
func PageKind(r *wear.Report) (Kind, error) {
	for _, k := range withPage {
		if Allowed(k, r) == nil {
			return k, nil
		}
	}
	return "", &Problem{Text: "No letter to the wearer about what was seen fits this wear, so neither does the page.", err: ErrNotFor}
}

// WriteTwoWeeks writes the page that goes with a letter of a kind. It gives a
// [*Problem] where the findings forbid it, or where somebody has not read the
// wearer's words, which it repeats.
func WriteTwoWeeks(kind Kind, f Facts) (TwoWeeks, error) {
	refuse := func(text string) (TwoWeeks, error) { return TwoWeeks{}, &Problem{Text: text, err: ErrNotFor} }
	if !slices.Contains(withPage, kind) {
		return refuse("The page goes only with a letter to the wearer about what was seen.")
	}
	if err := Allowed(kind, f.Report); err != nil {
		return TwoWeeks{}, err
	}
	if f.Report.Unread > 0 {
		return refuse("The page repeats the wearer’s words, and not all are read yet. Read the words first.")
	}
	if f.Practice.Phone == "" || f.Practice.Emergency == "" {
		return refuse("The page says whom to ring: ask the lead to set the practice’s telephone and emergency number.")
	}
	// What the wearer wrote is theirs; the claims are ours, and are checked without it.
	if wrong := forbidden(f.twoWeeks(kind, func(string) string { return "a meal" }).text()); len(wrong) > 0 {
		return TwoWeeks{}, errors.New("letter: the page says what it may not: " + wrong[0])
	}
	return f.twoWeeks(kind, func(words string) string { return "“" + words + "”" }), nil
}

func (f Facts) twoWeeks(kind Kind, own func(string) string) TwoWeeks {
	r := f.Report
	may, _ := wear.MayReassure(r)
	p := TwoWeeks{
		Days: "There is a line for each day. A dark mark is a quarter of an hour above 7.8. A tall mark went above 10. A mark under the line went below 3.9. Where a line is striped, the sensor told us nothing. At its end stands how long you were above 7.8.",
		Like: likeMeals(r.Meals), Compared: compared(r.MealGroups, own), Nights: nights(r), Exercise: f.exercise(own), Next: next(kind),
		Unwell: []string{
			"This page does not diagnose. The sensor does not measure insulin. Nobody watched the numbers as they were made.",
			"How you feel counts more than any number here. If you feel unwell, ring us on " + f.Practice.Phone + ". If you faint, feel confused or cannot stay awake, ring " + f.Practice.Emergency + " at once.",
		},
	}
	if may {
		p.Days += " Most people have some dark marks, most often after meals."
		for _, code := range ignoredOrder {
			if slices.ContainsFunc(r.NotFlagged, func(x wear.Remark) bool { return x.Code == code && x.Reassures }) {
				p.Alone = append(p.Alone, ignored[code])
			}
		}
		p.Alone = append(p.Alone, "A single high or low number says little. Sensor and blood can differ, most of all while glucose is changing.")
	}
	p.Meals = "You wrote down no meal that we could measure. If you note what you eat, and when, we can show you more next time."
	if len(p.Like) > 0 {
		p.Meals = "The ring is before you ate. The arrow is the highest point after it. The number is the rise, in mmol/L. Only meals that you wrote down, and that we could measure, are here. A meal that you had once tells little."
	}
	return p
}

// next is what the practice would like to do, by the letter that the page goes
// with.
func next(kind Kind) string {
	switch kind {
	case Near:
		return "You came near one of our limits. We would like to do a blood test for glucose. Our letter says more."
	case Tests:
		return "We would like to do some tests, or to talk with you. Our letter says which, and by when."
	}
	return "There is nothing more that we would like to do because of this record. Please keep to the checks you have planned with us."
}

// likeMeals averages the measured meals of each name, the greatest rise first;
// of many names the greatest and the least.
func likeMeals(meals []wear.MealFig) []LikeMeals {
	sums := map[string]*LikeMeals{}
	for _, m := range meals {
		if !m.Judged || m.Like == "" || !m.BaselineMmol.OK || !m.RiseMmol.OK {
			continue
		}
		x := sums[m.Like]
		if x == nil {
			x = &LikeMeals{Name: m.Like}
			sums[m.Like] = x
		}
		x.Times++
		x.Before += m.BaselineMmol.V
		x.Rise += m.RiseMmol.V
	}
	var out []LikeMeals
	for _, name := range slices.Sorted(maps.Keys(sums)) {
		x := *sums[name]
		x.Before /= float64(x.Times)
		x.Rise /= float64(x.Times)
		out = append(out, x)
	}
	once := func(x LikeMeals) bool { return x.Times == 1 }
	if often := slices.DeleteFunc(slices.Clone(out), once); len(often) >= leastLike { // what came often says more
		out = often
	}
	slices.SortStableFunc(out, func(a, b LikeMeals) int { return -cmp.Compare(a.Rise, b.Rise) })
	if n := len(out); n > mostLike {
		out = append(out[:mostLike-3], out[n-3:]...)
	}
	return out
}

// compared sets a meal beside the same with something eaten before it.
func compared(groups []wear.MealGroup, own func(string) string) []string {
	rises := map[string]wear.Figure{}
	for _, g := range groups {
		rises[g.Like] = g.RiseMmol
	}
	var out []string
	for _, g := range groups {
		for _, base := range groups {
			first, found := strings.CutPrefix(g.Like, base.Like+" after ")
			if !found || first == "" || !g.RiseMmol.OK || !rises[base.Like].OK || len(out) == 2 {
				continue
			}
			out = append(out, "After "+own(base.Like)+" the rise was "+base.RiseMmol.Fixed(1)+". When you had "+own(first)+" before it, the rise was "+g.RiseMmol.Fixed(1)+".")
		}
	}
	if len(out) > 0 {
		out = append(out, "Two weeks are too short to be sure. Your own next wear would tell.")
	}
	return out
}

// nights says what the night in the middle of all was like.
func nights(r *wear.Report) []string {
	var means []float64
	for _, n := range r.Nights {
		if n.MeanMmol.OK {
			means = append(means, n.MeanMmol.V)
		}
	}
	if len(means) == 0 {
		return []string{"The sensor told us too little about your nights."}
	}
	slices.Sort(means)
	s := "On a usual night your glucose was about " + wear.Of(means[len(means)/2]).Fixed(1) + "."
	if m := r.Mornings.MedianMmol; m.OK {
		s += " Before breakfast it was about " + m.Fixed(1) + "."
	}
	return []string{s}
}

// exercise says what glucose did in the bouts that were written down.
func (f Facts) exercise(own func(string) string) []string {
	var out []string
	for _, e := range f.Report.Exercise {
		if len(out) == mostBouts || !e.BeforeMmol.OK || !e.LowestMmol.OK || !e.HighestMmol.OK {
			continue
		}
		what := "Exercise"
		if e.Label != "" {
			what = own(e.Label)
		}
		out = append(out, what+" on "+f.in(e.At).Format("2 January")+": from "+e.BeforeMmol.Fixed(1)+" before, to "+e.HighestMmol.Fixed(1)+" at most and "+e.LowestMmol.Fixed(1)+" at least.")
	}
	return out
}

// text is all that the page says, as a letter is written.
func (p TwoWeeks) text() string {
	parts := append([]string{p.Days, p.Meals}, p.Compared...)
	for _, list := range [][]string{p.Nights, p.Exercise, p.Alone, {p.Next}, p.Unwell} {
		parts = append(parts, list...)
	}
	return strings.Join(parts, "\n\n") + "\n"
}

// Grade is the school grade at which the page reads.
func (p TwoWeeks) Grade() float64 { return Grade(p.text()) }

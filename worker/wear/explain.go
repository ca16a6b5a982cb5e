package wear

import (
	"math"
	"strconv"
	"strings"
)

// explained puts meals, mornings, exercise and swings into words.
func (j *judge) explained() []Remark {
	remarks := make([]Remark, 0, 8)
	add := func(code, text string) { remarks = append(remarks, Remark{Code: code, Text: text}) }
	r, p := j.r, j.in.Protocol
	for _, text := range likeMeals(r.MealGroups) {
		add("like_meals", text)
	}
	if n := judged(r.Meals); len(r.Meals) > 0 {
		text := strconv.Itoa(n) + " of " + plural(len(r.Meals), "logged meal") + " can be judged"
		if rise := medianRise(r.Meals); rise.OK {
			text += "; the median rise is " + rise.Fixed(1) + " mmol/L"
		}
		add("meals", text+".")
	}
	for _, s := range r.Swings {
		text := "On " + s.PeakAt.Format("2 January") + " glucose rose from " + s.FromMmol.Fixed(1) + " to " + s.PeakMmol.Fixed(1) +
			" and fell to " + s.DipMmol.Fixed(1) + " by " + s.DipAt.Format("15:04")
		if s.After != "" {
			text += ", after " + s.After
		}
		add("swing", text+".")
	}
	if m := r.Mornings; m.MedianRiseMmol.OK {
		add("dawn", "Over "+plural(m.Nights, "night")+" glucose rose by a median of "+m.MedianRiseMmol.Fixed(1)+
			" mmol/L from its lowest to breakfast; on "+m.RisePct.Fixed(0)+" % of nights by "+fixed(p.Night.DawnMmol, 2)+
			" or more. Published, of people and not of nights: 9 % with normal tolerance and 30 % with impaired tolerance have such a rise (781 people, doi:10.1016/j.diabres.2020.108308); the 1.11 comes from type 2.")
	}
	if m := r.Mornings; m.FastingMmol.OK {
		add("fasting", plural(m.Fasting, "morning")+" after "+fixed(p.Night.FastingHours, 0)+" h without logged intake: median "+
			m.FastingMmol.Fixed(1)+" mmol/L. A sensor value is no fasting glucose: only the laboratory's counts.")
	}
	said := 0
	for _, e := range r.Exercise {
		if !e.BeforeMmol.OK || !e.LowestMmol.OK || !j.t.over(e.HighestMmol, Limit7_8) && !j.t.under(e.LowestMmol, Limit3_9) {
			continue
		}
		if said++; said > mostBouts {
			continue
		}
		label := e.Label
		if label == "" {
			label = "exercise"
		}
		add("exercise", capital(label)+" on "+e.At.Format("2 January at 15:04")+": "+e.BeforeMmol.Fixed(1)+" before, between "+
			e.LowestMmol.Fixed(1)+" and "+e.HighestMmol.Fixed(1)+" during it and in the "+duration(seconds(p.Exercise.AfterMinutes*60))+" after.")
	}
	if said > mostBouts {
		add("exercise", plural(said-mostBouts, "more bout")+" of exercise with glucose above 7.8 or below 3.9 in or after "+itOrThem(said-mostBouts)+".")
	}
	if h := r.HomaIR; h.OK {
		text := "HOMA-IR " + h.Fixed(1) + " from the laboratory's fasting glucose and insulin"
		if h.V >= p.Risk.HomaIR {
			text += ": at or above " + fixed(p.Risk.HomaIR, 1) + ", which goes with resistance to insulin"
		}
		add("homa_ir", text+". No cut-off is agreed and it is no diagnosis.")
	}
	return remarks
}

// mostBouts is how many bouts of exercise are put into words one by one.
const mostBouts = 3

func itOrThem(n int) string {
	if n == 1 {
		return "it"
	}
	return "them"
}

// judged counts the meals that can be judged.
func judged(meals []MealFig) int {
	n := 0
	for _, m := range meals {
		if m.Judged {
			n++
		}
	}
	return n
}

// medianRise is the median rise of the judged meals.
func medianRise(meals []MealFig) Figure {
	var v []float64
	for _, m := range meals {
		if m.Judged {
			v = append(v, m.RiseMmol.V)
		}
	}
	return Of(quantile(v, 0.5))
}

// likeMeals compares each group of like meals with those that are the same
// with something more: the same breakfast after protein, say.
func likeMeals(groups []MealGroup) []string {
	var out []string
	for _, plain := range groups {
		for _, more := range groups {
			if !isMoreThan(more.Like, plain.Like) {
				continue
			}
			difference := more.RiseMmol.V - plain.RiseMmol.V
			// Two standard errors of the difference (a proposal).
			scatter := 2 * math.Sqrt(plain.RiseSDMmol.V*plain.RiseSDMmol.V/float64(plain.Meals)+more.RiseSDMmol.V*more.RiseSDMmol.V/float64(more.Meals))
			text := capital(plain.Like) + " (" + plural(plain.Meals, "time") + ") raised glucose by " + plain.RiseMmol.Fixed(1) + " mmol/L on average, " +
				more.Like + " (" + plural(more.Meals, "time") + ") by " + more.RiseMmol.Fixed(1) + ": "
			switch {
			case math.Abs(difference) <= scatter:
				text += "no more apart than the same meal from day to day."
			case difference < 0:
				text += fixed(-difference, 1) + " less, more than the same meal differs from day to day."
			default:
				text += fixed(difference, 1) + " more, more than the same meal differs from day to day."
			}
			out = append(out, text)
		}
	}
	return out
}

// isMoreThan reports whether one name of like meals is another with more to
// it: all its items and further ones, or the same after something.
func isMoreThan(more, plain string) bool {
	if more == plain {
		return false
	}
	if after, ok := strings.CutPrefix(more, plain+" "); ok && strings.HasPrefix(after, "after ") {
		return true
	}
	if strings.Contains(more, " after ") || strings.Contains(plain, " after ") {
		return false
	}
	has := ", " + more + ", "
	for item := range strings.SplitSeq(plain, ", ") {
		if !strings.Contains(has, ", "+item+", ") {
			return false
		}
	}
	return true
}

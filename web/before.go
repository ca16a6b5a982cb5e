package web

import (
	"slices"
	"time"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/worker/wear"
)

// Address is where that wear is shown.
func (b Before) Address() string { return wearAddress(b.WearID, Window{}) }

// Since is what changed from the patient's wear before this one. Two kinds of
// sensor are never drawn on one ruler; the sentences then open with the caution.
func (p WearPage) Since() Drawing {
	b := p.Before
	if b == nil {
		return Drawing{Says: []string{"No wear before this one is on record, so nothing can be compared."}}
	}
	measures := p.Compared()
	if measures == nil {
		says := remarks(b.Changes)
		if len(says) == 0 {
			says = []string{"Nothing can be compared."}
		}
		return Drawing{Says: says}
	}
	d := Drawing{Says: p.beyond(), Key: chart.CompareKey}
	if len(d.Says) == 0 {
		d.Says = []string{"No measure changed beyond expected variation."}
	}
	c := chart.Compare{
		Before: "the wear of " + p.Span(b.Start, b.End), After: "this wear, " + p.Span(p.Report.Start, p.Report.End),
		Finding: finding(remarks(b.Changes, "protocols_differ", "flags_gone", "flags_new")),
	}
	for _, m := range measures {
		pair := chart.Pair{
			Name: m.Name, Before: drawn(m.Before), After: drawn(m.After), Margin: m.Least, Beyond: m.Beyond(),
			Figures: m.Before.Fixed(1) + " to " + m.After.Fixed(1) + " " + m.Unit, Words: m.Words(),
		}
		pair.Low, pair.High = rulerOf(m.Code)
		c.Pairs = append(c.Pairs, pair)
	}
	d.Pictures = draw("compare", whole, func(id string, width int) string {
		c.ID, c.Width = id, width
		return c.Draw().SVG
	})
	return d
}

// Compared are the measures of both wears, or nil where they share no ruler.
func (p WearPage) Compared() []wear.Change {
	if p.Before == nil || slices.ContainsFunc(p.Before.Changes, notOneRuler) {
		return nil
	}
	return p.Before.Measures
}

// beyond are the report's sentences about what changed beyond expected
// variation, and those that are about no measure.
func (p WearPage) beyond() []string {
	within := map[string]bool{}
	for _, m := range p.Before.Measures {
		within[m.Code] = !m.Beyond()
	}
	var out []string
	for _, r := range p.Before.Changes {
		if !within[r.Code] {
			out = append(out, form.Sentence(r.Text))
		}
	}
	return out
}

// rulerOf is the ruler of a measure: wide enough for ordinary wears, and the
// same for all of them.
func rulerOf(measure string) (low, high float64) {
	switch measure {
	case "mean":
		return 4, 11
	case "above_7_8", "within_3_9_7_8":
		return 0, 100
	}
	return 0, 20
}

// notOneRuler reports whether a remark says why two wears share no ruler.
func notOneRuler(r wear.Remark) bool {
	return r.Code == "kinds_differ" || r.Code == "kind_unknown" || r.Code == "low_confidence"
}

// Before is the patient's wear before this one, and what changed since.
type Before struct {
	WearID     int64
	Start, End time.Time
	Changes    []wear.Remark
	Measures   []wear.Change // nil where none can be drawn
}

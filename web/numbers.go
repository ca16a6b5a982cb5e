package web

import (
	"wearround/web/form"
	"wearround/worker/wear"
)

// NumberRow is one measure of a wear: as believed, how far single days carry
// it, over all readings, and what it is.
type NumberRow struct {
	Key           string // of its definition
	Name          string
	Unit          string
	Believed, All string
	Days          string // its range when each day in turn is left out, or ""
	Engine        string // as the engine alone would have it, where a person overruled it
	What          string // definition, with its source where it has one
}

// answered is a question that the numbers table answers, with its measures in
// their order: the key that the engine defines each by, and its decimals. A
// measure that neither a rule of the protocol nor a question of a reader asks
// for stands in `analyse --json` alone.
type answered struct {
	question string
	rows     []measured
}

type measured struct {
	key      string
	decimals int
	of       func(*wear.Metrics) wear.Figure
	days     func(*wear.Uncertainty) wear.Range // nil where the engine gives none
}

var measures = []answered{
	{"How high, and for how much of the time?", []measured{
		{"mean_mmol", 1, func(m *wear.Metrics) wear.Figure { return m.MeanMmol }, func(u *wear.Uncertainty) wear.Range { return u.MeanMmol }},
		{"median_mmol", 1, func(m *wear.Metrics) wear.Figure { return m.MedianMmol }, nil},
		{"max_mmol", 1, func(m *wear.Metrics) wear.Figure { return m.MaxMmol }, nil},
		{"above_7_8_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Above7_8Pct }, func(u *wear.Uncertainty) wear.Range { return u.Above7_8Pct }},
		{"above_10_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Above10Pct }, func(u *wear.Uncertainty) wear.Range { return u.Above10Pct }},
		{"above_13_9_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Above13_9Pct }, func(u *wear.Uncertainty) wear.Range { return u.Above13_9Pct }},
		{"auc_above_7_8_mmol_h_day", 1, func(m *wear.Metrics) wear.Figure { return m.AUCAbove7_8 }, nil},
	}},
	{"How low, and for how much of the time?", []measured{
		{"min_mmol", 1, func(m *wear.Metrics) wear.Figure { return m.MinMmol }, nil},
		{"below_3_9_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Below3_9Pct }, func(u *wear.Uncertainty) wear.Range { return u.Below3_9Pct }},
		{"below_3_0_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Below3_0Pct }, func(u *wear.Uncertainty) wear.Range { return u.Below3_0Pct }},
	}},
	{"How much of the time between?", []measured{
		{"within_3_9_7_8_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Within3_9To7_8 }, func(u *wear.Uncertainty) wear.Range { return u.Within3_9To7_8 }},
		{"within_3_9_10_pct", 1, func(m *wear.Metrics) wear.Figure { return m.Within3_9To10 }, func(u *wear.Uncertainty) wear.Range { return u.Within3_9To10 }},
	}},
	{"Is it the nights or the days?", []measured{
		{"night_mean_mmol", 1, func(m *wear.Metrics) wear.Figure { return m.NightMeanMmol }, nil},
		{"day_mean_mmol", 1, func(m *wear.Metrics) wear.Figure { return m.DayMeanMmol }, nil},
		{"night_above_7_8_pct", 1, func(m *wear.Metrics) wear.Figure { return m.NightAbove7_8 }, nil},
		{"day_above_7_8_pct", 1, func(m *wear.Metrics) wear.Figure { return m.DayAbove7_8 }, nil},
	}},
	{"How much does it move?", []measured{
		{"sd_mmol", 2, func(m *wear.Metrics) wear.Figure { return m.SDMmol }, nil},
		{"cv_pct", 1, func(m *wear.Metrics) wear.Figure { return m.CVPct }, nil},
		{"mage_mmol", 2, func(m *wear.Metrics) wear.Figure { return m.MAGEMmol }, nil},
	}},
	{"Is one day like the next?", []measured{
		{"modd_mmol", 2, func(m *wear.Metrics) wear.Figure { return m.MODDMmol }, nil},
	}},
	{"What HbA1c would people with diabetes have at this mean?", []measured{
		{"gmi_pct", 1, func(m *wear.Metrics) wear.Figure { return m.GMIPct }, nil},
	}},
}

// defined are the engine's definitions by key.
var defined = func() map[string]wear.Method {
	out := make(map[string]wear.Method)
	for _, m := range wear.Methods() {
		out[m.Key] = m
	}
	return out
}()

// methodAddress is where a flag, a measure or a kind of doubt is defined, or ""
// for what has no definition.
func methodAddress(key string) string {
	if _, ok := defined[key]; !ok {
		return ""
	}
	return "/about#method-" + key
}

// NumberGroup is one question of the numbers table with its answers.
type NumberGroup struct {
	Question string
	Rows     []NumberRow
}

// Numbers are the measures by the question that they answer. The glucose
// management indicator stands among them only where the protocol asked for it.
func (p WearPage) Numbers() []NumberGroup {
	var out []NumberGroup
	for _, a := range measures {
		g := NumberGroup{Question: a.question}
		for _, m := range a.rows {
			if m.key != "gmi_pct" || p.Report.Metrics.GMIPct.OK {
				g.Rows = append(g.Rows, p.number(m))
			}
		}
		if g.Rows != nil {
			out = append(out, g)
		}
	}
	return out
}

func (p WearPage) number(m measured) NumberRow {
	r, d := p.Report, defined[m.key]
	row := NumberRow{
		Key: m.key, Name: d.Name, Unit: d.Unit, What: form.Sentence(d.Definition) + " " + form.Sentence(d.Source),
		Believed: m.of(&r.Metrics).Fixed(m.decimals), All: m.of(&r.MetricsAll).Fixed(m.decimals),
	}
	if m.days != nil {
		if x := m.days(&r.Uncertainty); x.Low.OK {
			row.Days = x.Low.Fixed(m.decimals) + " to " + x.High.Fixed(m.decimals)
		}
	}
	if r.MetricsEngine != nil {
		row.Engine = m.of(r.MetricsEngine).Fixed(m.decimals)
	}
	return row
}

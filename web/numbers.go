package web

import "wearround/worker/wear"

// NumberRow is one measure of a wear: as believed, over all readings, and
// what it is.
type NumberRow struct {
	Name          string
	Unit          string
	Believed, All string
	What          string // definition, with its source where it has one
}

// sources of the definitions.
const (
	byConsensus = "Diabetes Care 2017;40:1631."
	byRisk      = "Diabetes Care 1997;20:1655, DOI 10.2337/diacare.20.11.1655; constants from memory."
)

// measures are the rows of the numbers table in their order.
var measures = []struct {
	name, unit string
	decimals   int
	of         func(wear.Metrics) wear.Figure
	what       string
}{
	{"Mean", "mmol/L", 1, func(m wear.Metrics) wear.Figure { return m.MeanMmol }, "Sum of the readings over their number. " + byConsensus},
	{"Median", "mmol/L", 1, func(m wear.Metrics) wear.Figure { return m.MedianMmol }, "Half of the readings lie below it. Definition 7, American Statistician 1996;50:361."},
	{"Lowest", "mmol/L", 1, func(m wear.Metrics) wear.Figure { return m.MinMmol }, "The lowest single reading."},
	{"Highest", "mmol/L", 1, func(m wear.Metrics) wear.Figure { return m.MaxMmol }, "The highest single reading."},
	{"Above 7.8", "%", 1, func(m wear.Metrics) wear.Figure { return m.Above7_8Pct }, "Share of readings above 7.8 mmol/L (140 mg/dL); one at the limit is not above it. " + byConsensus},
	{"Above 10.0", "%", 1, func(m wear.Metrics) wear.Figure { return m.Above10Pct }, "Share above 10.0 mmol/L (180 mg/dL). " + byConsensus},
	{"Above 13.9", "%", 1, func(m wear.Metrics) wear.Figure { return m.Above13_9Pct }, "Share above 13.9 mmol/L (250 mg/dL). " + byConsensus},
	{"Below 3.9", "%", 1, func(m wear.Metrics) wear.Figure { return m.Below3_9Pct }, "Share below 3.9 mmol/L (70 mg/dL). " + byConsensus},
	{"Below 3.0", "%", 1, func(m wear.Metrics) wear.Figure { return m.Below3_0Pct }, "Share below 3.0 mmol/L (54 mg/dL). " + byConsensus},
	{"3.9 to 7.8", "%", 1, func(m wear.Metrics) wear.Figure { return m.Within3_9To7_8 }, "Share from 3.9 to 7.8 mmol/L, both included. " + byConsensus},
	{"3.9 to 10.0", "%", 1, func(m wear.Metrics) wear.Figure { return m.Within3_9To10 }, "Share from 3.9 to 10.0 mmol/L, both included. " + byConsensus},
	{"Night mean", "mmol/L", 1, func(m wear.Metrics) wear.Figure { return m.NightMeanMmol }, "Mean of 00:00 to 06:00. " + byConsensus},
	{"Day mean", "mmol/L", 1, func(m wear.Metrics) wear.Figure { return m.DayMeanMmol }, "Mean of 06:00 to 24:00. " + byConsensus},
	{"SD", "mmol/L", 2, func(m wear.Metrics) wear.Figure { return m.SDMmol }, "Standard deviation, divisor n − 1. " + byConsensus},
	{"CV", "%", 1, func(m wear.Metrics) wear.Figure { return m.CVPct }, "Standard deviation over mean. " + byConsensus},
	{"MAGE", "mmol/L", 2, func(m wear.Metrics) wear.Figure { return m.MAGEMmol }, "Mean size of swings larger than one SD, in the direction of the first. Diabetes 1970;19:644; methods differ, compare only with this one."},
	{"MODD", "mmol/L", 2, func(m wear.Metrics) wear.Figure { return m.MODDMmol }, "Mean difference from the reading 24 hours before. Diabetologia 1972;8:342."},
	{"MAG", "mmol/L an hour", 2, func(m wear.Metrics) wear.Figure { return m.MAGMmolH }, "Mean change in an hour, up and down added. Crit Care Med 2010;38:838, from memory."},
	{"LBGI", "", 2, func(m wear.Metrics) wear.Figure { return m.LBGI }, "Low blood glucose index. " + byRisk},
	{"HBGI", "", 2, func(m wear.Metrics) wear.Figure { return m.HBGI }, "High blood glucose index. " + byRisk},
}

// Numbers is the table of measures.
func (p WearPage) Numbers() []NumberRow {
	out := make([]NumberRow, len(measures))
	for i, m := range measures {
		out[i] = NumberRow{
			Name: m.name, Unit: m.unit, What: m.what,
			Believed: m.of(p.Report.Metrics).Fixed(m.decimals), All: m.of(p.Report.MetricsAll).Fixed(m.decimals),
		}
	}
	return out
}

// definitions are the measures without values.
func definitions() []NumberRow {
	out := make([]NumberRow, len(measures))
	for i, m := range measures {
		out[i] = NumberRow{Name: m.name, Unit: m.unit, What: m.what}
	}
	return out
}

package web

import (
	"strings"

	"wearround/worker/wear"
)

// MethodGroup is one part of the work with its definitions.
type MethodGroup struct {
	Part    string
	ID      string
	Methods []wear.Method
}

// methodGroups are all definitions by part, in the order of the work.
func methodGroups() []MethodGroup {
	var out []MethodGroup
	for _, part := range wear.MethodParts() {
		g := MethodGroup{Part: part, ID: "methods-" + strings.ToLower(part)}
		for _, m := range wear.Methods() {
			if m.Part == part {
				g.Methods = append(g.Methods, m)
			}
		}
		out = append(out, g)
	}
	return out
}

// Facts are the dips with a symptom and what else is known of each.
func (p WearPage) Facts() []FactRow {
	var out []FactRow
	for _, m := range p.Report.Matches {
		row := FactRow{Match: m, Blood: "not measured"}
		if m.BloodMmol.OK {
			row.Blood = m.BloodMmol.Fixed(1) + " mmol/L"
		}
		out = append(out, row)
	}
	return out
}

// FactRow is a dip with a symptom and the other two facts of a true low.
type FactRow struct {
	wear.Match
	Blood string
}

// Overruled reports whether a person's decision stands in this report.
func (p WearPage) Overruled() bool { return p.Report.MetricsEngine != nil }

// labWords name the kinds of laboratory result.
var labWords = map[string]string{
	wear.LabHbA1c: "HbA1c", wear.LabFastingGlucose: "Fasting glucose", wear.LabTwoHourGlucose: "Glucose after two hours",
	wear.LabRandomGlucose: "Glucose at random", wear.LabFastingInsulin: "Fasting insulin",
}

// LabName names a kind of laboratory result.
func (p WearPage) LabName(kind string) string {
	if w := labWords[kind]; w != "" {
		return w
	}
	return "Other result"
}

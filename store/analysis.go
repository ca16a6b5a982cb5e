package store

import (
	"cmp"
	"strings"
	"time"

	"wearround/worker/wear"
)

// Input is what [wear.Analyse] makes the report from. The practice's zone holds
// where the wear has none of its own.
func (in *WearInputs) Input(practice *time.Location, p *wear.Protocol) wear.Input {
	out := wear.Input{
		Readings: in.Readings, Events: withAdded(in.Events, in.Added), Zone: cmp.Or(in.Zone, practice), Context: in.Patient.Context, Asked: in.Asked, Notes: in.Notes, Read: in.Read, RedFlags: in.RedFlags, SensorKind: in.SensorKind, Protocol: p,
	}
	out.Context.BirthDate = in.Patient.BirthDate
	for _, r := range in.Results {
		if l, ok := r.Lab(); ok && r.Kind.read() {
			out.Labs = append(out.Labs, l)
		}
	}
	for _, o := range in.Overrides {
		out.Overrides = append(out.Overrides, wear.Override{From: o.From.Unix(), To: o.To.Unix(), Believe: o.Believe})
	}
	return out
}

// Lab is the result as the engine reads it, where it reads such a kind; false
// where its value is no number.
func (n *NewResult) Lab() (wear.Lab, bool) {
	l := wear.Lab{At: n.TakenAt.Unix(), Kind: string(n.Kind), Unit: n.Unit, Source: n.Note}
	number := n.Value
	if rest, above := strings.CutPrefix(n.Value, ">"); above {
		l.Bound, number = wear.Above, strings.TrimPrefix(rest, "=")
	} else if rest, below := strings.CutPrefix(n.Value, "<"); below {
		l.Bound, number = wear.Below, strings.TrimPrefix(rest, "=")
	}
	num, scale, ok := wear.ParseValue(number)
	l.Value = wear.Reading{Num: num, Scale: scale}.Native()
	return l, ok
}

// Classify says where a result lies by a set of criteria, as a protocol names
// it ([wear.RiskRules]).
func (n *NewResult) Classify(by wear.LabRules) {
	n.Criteria, n.Class = "", ""
	l, ok := n.Lab()
	if !ok || !n.Kind.read() {
		return // read by no criteria: a person reads it
	}
	if c := l.Class(by); c != "" {
		n.Criteria, n.Class = criteriaName(by.Criteria, by.Pregnant), string(c)
	}
}

func criteriaName(criteria string, pregnant bool) string {
	switch {
	case pregnant:
		return "ADIPS 2025, in pregnancy"
	case criteria == "ada":
		return adaName
	case criteria == "uk":
		return ukName
	}
	return "Australian criteria"
}

// Names of sets of criteria, as a result keeps them.
const (
	adaName = "ADA Standards of Care 2025"
	ukName  = "UK criteria"
)

// criteriaOf is the set that a name stands for.
func criteriaOf(name string) string {
	switch name {
	case adaName:
		return "ada"
	case ukName:
		return "uk"
	}
	return "australia"
}

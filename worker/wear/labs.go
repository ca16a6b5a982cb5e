package wear

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
)

// Kinds of laboratory result.
const (
	LabHbA1c          = "hba1c"           // mmol/mol or %
	LabFastingGlucose = "fasting_glucose" // venous plasma, mmol/L or mg/dL
	LabTwoHourGlucose = "ogtt_2h"         // two hours after 75 g of glucose
	LabRandomGlucose  = "random_glucose"
	LabFastingInsulin = "insulin" // fasting; mU/L or pmol/L
)

// Lab is one laboratory result on the patient's record. It is read by the
// published bands of the unit it was reported in, never converted first.
type Lab struct {
	At     int64   `json:"at"`    // when the blood was drawn; seconds since 1970-01-01 UTC
	Timed  bool    `json:"timed"` // whether At is a time of day and not only a date
	Kind   string  `json:"kind"`
	Value  float64 `json:"value"`
	Bound  Bound   `json:"bound,omitempty"` // where only a bound is known: the value lies below or above Value
	Unit   string  `json:"unit"`
	Source string  `json:"source"` // the laboratory or letter it comes from
}

// Known is the value nearest to what is known of it: just past a bound.
func (l Lab) Known() float64 {
	switch l.Bound {
	case Below:
		return math.Nextafter(l.Value, 0)
	case Above:
		return math.Nextafter(l.Value, math.Inf(1))
	}
	return l.Value
}

// LabFig is a laboratory result as the report reads it.
type LabFig struct {
	At     time.Time `json:"at"`
	Kind   string    `json:"kind"`
	Value  Figure    `json:"value"`
	Bound  LabBound  `json:"bound,omitempty"`
	Unit   string    `json:"unit"`
	Source string    `json:"source"`
	Class  Class     `json:"class,omitempty"` // by the protocol's criteria; "" where none apply
	Newest bool      `json:"newest"`          // the last of its kind: older ones are shown with their dates and raise nothing
}

// LabBound says on which side of the printed value a result lies: "below" or
// "above", and "" where it was measured.
type LabBound string

var labBounds = map[Bound]LabBound{Below: "below", Above: "above"}

// value is what is known of the value: just past a bound.
func (l LabFig) value() float64 {
	for b, word := range labBounds {
		if word == l.Bound {
			return Lab{Value: l.Value.V, Bound: b}.Known()
		}
	}
	return l.Value.V
}

// pmolPerMU is the pmol of insulin in one mU (from memory; assays differ).
const pmolPerMU = 6.0

// HomaIR is fasting glucose in mmol/L × fasting insulin in mU/L ÷ 22.5.
// Source: Diabetologia 1985;28:412 (from memory). It estimates resistance to
// insulin in groups; insulin assays differ and no cut-off is agreed.
func HomaIR(glucoseMmol, insulinMU float64) Figure {
	if glucoseMmol <= 0 || insulinMU <= 0 {
		return Figure{}
	}
	return Of(glucoseMmol * insulinMU / 22.5)
}

// mmol is a glucose result in mmol/L, not available for anything else.
func (l Lab) mmol() Figure {
	switch {
	case l.Kind == LabHbA1c || l.Kind == LabFastingInsulin || l.Value <= 0 || l.Bound != Exact:
		return Figure{}
	case l.Unit == MmolL.String():
		return Of(l.Value)
	case l.Unit == MgdL.String():
		return Of(MmolFromMgdl(l.Value))
	}
	return Figure{}
}

// insulin is an insulin result in mU/L.
func (l Lab) insulin() Figure {
	switch {
	case l.Kind != LabFastingInsulin || l.Value <= 0 || l.Bound != Exact:
		return Figure{}
	case l.Unit == "mU/L":
		return Of(l.Value)
	case l.Unit == "pmol/L":
		return Of(l.Value / pmolPerMU)
	}
	return Figure{}
}

// LabRules say by which published bands a result is read.
type LabRules struct {
	Criteria string // the set, as [RiskRules] names it
	Pregnant bool
	Child    bool // under the adult age
}

// Class reads a result by published bands, in its own unit; "" is given where
// no set has a band for it. Where only a bound is known, what may lie on the
// other side of it is never taken for normal: a person reads it.
func (l Lab) Class(by LabRules) Class {
	bound := l.Bound
	l.Value, l.Bound = l.Known(), Exact
	c := l.class(by)
	switch {
	case bound == Exact || l.Kind == LabFastingInsulin:
		return c
	case bound == Below && c != ClassLow, bound == Above && (c == "" || c == ClassLow || c == ClassNormal):
		return ClassReview
	}
	return c
}

func (l Lab) class(by LabRules) Class {
	set, known := criteriaSets[by.Criteria]
	if !known {
		set = criteriaSets["australia"]
	}
	least := lowGlucose
	if l.Kind == LabHbA1c {
		least = lowHbA1c
	}
	if c := least.class(l.Value, l.Unit); l.Kind != LabFastingInsulin && c == ClassLow {
		return c
	}
	switch l.Kind {
	case LabHbA1c:
		switch {
		case by.Pregnant:
			return pregnancyHbA1c.class(l.Value, l.Unit)
		case l.Unit == "mmol/mol" && by.Criteria != "ada" && by.Criteria != "uk":
			return HbA1cAustralia(l.Value)
		}
		return set.hba1c.class(l.Value, l.Unit)
	case LabFastingGlucose:
		switch {
		case by.Pregnant:
			return pregnancyFasting.class(l.Value, l.Unit)
		case by.Child:
			return fastingADA.class(l.Value, l.Unit) // 5.6 to 6.9 in Australian text too
		}
		return set.fasting.class(l.Value, l.Unit)
	case LabTwoHourGlucose:
		if by.Pregnant {
			return pregnancyTwoHour.class(l.Value, l.Unit)
		}
		return twoHour.class(l.Value, l.Unit)
	case LabRandomGlucose:
		return random.class(l.Value, l.Unit)
	}
	return ""
}

// mostApart is how far apart two results may be that confirm each other: a year,
// a proposal. An older one says what was, not what is.
const mostApart = 366 * dayLength

// Confirms reports whether a result in the diabetes range and another such one
// make the two that a diagnosis without symptoms asks for. A glucose at random
// counts only with symptoms. Under one set of criteria two tests of one sample
// are enough (ADA Standards of Care 2025); under the others they are of
// different days (Australian text; WHO).
func (l Lab) Confirms(other Lab, criteria string) bool {
	for _, x := range []Lab{l, other} {
		if x.Kind == LabRandomGlucose || x.Class(LabRules{Criteria: criteria}) != ClassDiabetes {
			return false
		}
	}
	apart := max(l.At-other.At, other.At-l.At)
	// Another day, whatever the clock did.
	return apart <= mostApart && (apart >= 20*3600 || criteria == "ada" && l.Kind != other.Kind)
}

// orderedLabs sorts results so that their order on a record can never show.
func orderedLabs(labs []Lab) []Lab {
	labs = slices.Clone(labs)
	for i := range labs {
		labs[i].Kind, labs[i].Unit = strings.ToValidUTF8(labs[i].Kind, "\uFFFD"), strings.ToValidUTF8(labs[i].Unit, "\uFFFD")
		labs[i].Source = strings.ToValidUTF8(labs[i].Source, "\uFFFD")
	}
	slices.SortFunc(labs, func(a, b Lab) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Unit, b.Unit),
			cmp.Compare(a.Value, b.Value), cmp.Compare(a.Bound, b.Bound), cmp.Compare(a.Source, b.Source))
	})
	return labs
}

// LabRules are those that somebody's results of a time are read by.
func (p *Protocol) LabRules(c Context, at time.Time) LabRules {
	age := c.ageOn(at)
	return LabRules{p.Risk.Criteria, c.Pregnant, age >= 0 && float64(age) < p.Flag.AdultAge}
}

// labs lists the results on record, the earliest first, and the HOMA-IR of the
// latest fasting glucose and insulin drawn within a day of each other.
func (t *trace) labs(in *Input, by LabRules) (figures []LabFig, homa Figure) {
	figures = make([]LabFig, 0, len(in.Labs))
	var glucose, insulin Lab
	for _, l := range in.Labs {
		if l.At < earliest || l.At >= latest {
			continue
		}
		figures = append(figures, LabFig{
			At: time.Unix(l.At, 0).In(in.Zone), Kind: l.Kind, Value: Of(l.Value), Bound: labBounds[l.Bound], Unit: l.Unit, Source: l.Source,
			Class: l.Class(by),
		})
		switch {
		case l.Kind == LabFastingGlucose && l.mmol().OK:
			glucose = l
		case l.insulin().OK:
			insulin = l
		}
	}
	newest := map[string]int{}
	for i, f := range figures {
		newest[f.Kind] = i // in order of time
	}
	for _, i := range newest {
		figures[i].Newest = true
	}
	// Two of one kind at one time: neither is newer.
	for i := range figures {
		if k := newest[figures[i].Kind]; figures[i].At.Equal(figures[k].At) {
			figures[i].Newest = true
		}
	}
	if glucose.Kind != "" && insulin.Kind != "" && max(glucose.At-insulin.At, insulin.At-glucose.At) <= dayLength {
		homa = HomaIR(glucose.mmol().V, insulin.insulin().V)
	}
	return figures, homa
}

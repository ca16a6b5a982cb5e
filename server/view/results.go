package view

import (
	"slices"

	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// classWords say where a result lies. They name a range, never a diagnosis.
var classWords = map[wear.Class]string{
	wear.ClassNormal:       "below the ranges that ask for more",
	wear.ClassIntermediate: "between normal and the diabetes range",
	wear.ClassReview:       "below the diabetes range, but above the printed band: look at it again",
	wear.ClassDiabetes:     "in the diabetes range",
	wear.ClassGestational:  "in the range of gestational diabetes",
	wear.ClassOvert:        "in the diabetes range, in pregnancy",
}

// Results are a patient's results that count, newest sample first.
func Results(list []store.Result) []web.Result {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b store.Result) int { return b.TakenAt.Compare(a.TakenAt) })
	var out []web.Result
	for _, r := range list {
		if !r.Withdrawn.IsZero() {
			continue
		}
		out = append(out, web.Result{
			ID: r.ID, WearID: r.WearID, Test: string(r.Kind), Value: r.Value, Unit: r.Unit, TakenAt: r.TakenAt,
			Class: classWords[wear.Class(r.Class)], Criteria: r.Criteria, Confirm: confirmation(r, list),
			Note: r.Note, By: r.By.Name, At: r.At, From: r.From,
		})
	}
	return out
}

// confirmation is the confirmatory rule in words, for one result among all of a
// patient's. Sources: ADA Standards of Care 2025 section 2
// (doi:10.2337/dc25-S002) and Australian therapeutic guideline text: without
// symptoms two abnormal results, preferably of the same test on another day;
// with symptoms one; HbA1c of 42-46 mmol/mol can miss what a glucose finds;
// random glucose counts with symptoms only; insulin does not diagnose.
func confirmation(r store.Result, all []store.Result) string {
	const judgement = " The diagnosis is a clinician’s to make."
	switch class := wear.Class(r.Class); {
	case class == wear.ClassDiabetes && r.ConfirmedBy(all):
		return "A second result, from another day, is in the diabetes range as well: the confirmatory rule is met." + judgement
	case class == wear.ClassDiabetes:
		return "With symptoms, one such result is enough. Without, repeat it on another day, best with the same test." + judgement
	case class == wear.ClassIntermediate && r.Kind == store.HbA1c:
		return "A fasting glucose or a glucose tolerance test can find what HbA1c misses."
	case class == wear.ClassOvert, class == wear.ClassGestational:
		return "The criteria for pregnancy apply." + judgement
	case r.Kind == store.RandomGl && atLeast(r, 11.1, 200):
		return "A random glucose of 11.1 mmol/L (200 mg/dL) or more counts together with symptoms; without, test again on another day." + judgement
	case r.Kind == store.Insulin:
		return "Insulin does not diagnose diabetes; it is kept for the record."
	}
	return ""
}

// atLeast compares a glucose with a limit in the unit it was reported in.
func atLeast(r store.Result, mmol, mgdl float64) bool {
	l, ok := r.Lab()
	if r.Unit == wear.MgdL.String() {
		mmol = mgdl
	}
	return ok && l.Known() >= mmol
}

package store

import (
	"context"
	"database/sql"
	"slices"

	"wearround/worker/wear"
)

// comforts are the kinds of letter that tell a patient that nothing, or nearly
// nothing, was found: each goes only beside an outcome that it does not deny.
var comforts = []struct {
	kind   string        // as it is stored with a letter; see package letter
	beside []OutcomeKind // in force; "" stands for a wear on the round
	says   string        // the reason of [wear.MayReassure] that the letter itself tells, or ""
}{
	{"patient_unremarkable", []OutcomeKind{ToldWell}, ""},
	{"patient_near", []OutcomeKind{"", ToldWell, AdviceGiven, WearAgain, Appointment, CouldNotReach}, wear.ReasonNear},
}

// LetterDenied says why a letter of a kind may not go beside the outcome in
// force of a wear, "" for one on the round; it is "" where it may.
func LetterDenied(kind string, outcome OutcomeKind) string {
	for _, c := range comforts {
		if c.kind != kind || slices.Contains(c.beside, outcome) {
			continue
		}
		rule, known := RuleOf(outcome)
		if !known {
			return "The wear is on the round. Record first that the patient is told that all is well."
		}
		return "What is on record of this wear is “" + rule.Words + "”, and the letter says otherwise."
	}
	return ""
}

// inForceOf is an expression over a row of wears: the outcome that its letters
// must fit, or "" while the wear is on the round.
const inForceOf = `iif(open, '', coalesce((SELECT kind FROM outcomes o WHERE o.wear_id = wears.id
	AND ` + outcomeStands + ` ORDER BY o.id DESC LIMIT 1), ''))`

// letterAgainst says why a letter about a wear may not go as things stand: it
// comforts, and an outcome, the report or what stands around the wear says
// otherwise. It is "" where it may.
func letterAgainst(ctx context.Context, t *sql.Tx, by *basis, kind string, wearID int64) (string, error) {
	var outcome OutcomeKind
	if err := t.QueryRowContext(ctx, "SELECT "+inForceOf+" FROM wears WHERE id = ?", wearID).Scan(&outcome); err != nil {
		return "", err
	}
	if why := LetterDenied(kind, outcome); why != "" {
		return why, nil
	}
	for _, c := range comforts {
		if c.kind != kind {
			continue
		}
		r, err := readReport(ctx, t, wearID)
		if err == nil {
			err = readAround(ctx, t, by, wearID, r)
		}
		if err != nil {
			return "", err
		}
		_, why := wear.MayReassure(r)
		for _, x := range why {
			if x.Code != c.says {
				return x.Text, nil
			}
		}
	}
	return "", nil
}

// fits refuses a letter that may not go as things stand.
func (t *tx) fits(ctx context.Context, kind string, wearID int64) error {
	if wearID == 0 {
		return nil
	}
	why, err := letterAgainst(ctx, t.Tx, t.by, kind, wearID)
	if err == nil && why != "" {
		return conflict("This letter may not go now. %s", why)
	}
	return err
}
